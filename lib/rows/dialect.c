/* Dialects: see dialect.h. */
#include "rows/dialect.h"

#include "base/error.h"
#include "rows/header.h"
#include "base/units.h"

#include <string.h>

enum { ROWS_MAX = 1000, LINES_WANTED = 8 };

/* The head as UTF-8 from behind the byte order mark on. */
typedef struct {
    const char *bytes;
    size_t n;
    bool at_end, latin1; /* latin1: made UTF-8 for looking, one or two bytes for each */
    size_t mark;         /* bytes of the mark */
    size_t start;        /* where the rows start: behind a sep= line */
    uint64_t line;       /* number of the line there */
    char delimiter;      /* told, or 0 */
    char decimal;
} head;

/* One way to read the head. */
typedef struct {
    char delimiter;
    bt_grid grid;
    bt_header header;
} reading;

static bt_status fail_at(bt_error *err, uint64_t line, const char *message)
{
    bt_fail(err, BT_SYNTAX, "%s", message);
    return bt_at(err, BT_SYNTAX, NULL, line, 0);
}

/* Text at all?  Zero bytes here and there are what a logger leaves when its power goes;
 * many are UTF-16 or no text. */
static bt_status check_text(const head *h, bt_error *err)
{
    static const char advice[] =
        "expected UTF-8 or Latin-1, found UTF-16: save the log as CSV in UTF-8";
    const unsigned char *p = (const unsigned char *)h->bytes;
    if (h->n >= 2 && ((p[0] == 0xff && p[1] == 0xfe) || (p[0] == 0xfe && p[1] == 0xff)))
        return fail_at(err, 1, advice);
    const size_t n = h->n < 1024 ? h->n : 1024;
    size_t zeros[2] = {0, 0}, blanks = 0;
    for (size_t i = 0; i < n; i++) {
        zeros[i % 2] += p[i] == 0;
        blanks += p[i] == ' ' || p[i] == '\t' || p[i] == '\r' || p[i] == '\n';
    }
    if (blanks == n && h->at_end) return fail_at(err, 0, "expected a log, found nothing");
    if (zeros[0] + zeros[1] <= n / 4) return BT_OK;
    const bool one_side = zeros[0] <= n / 16 || zeros[1] <= n / 16;
    return fail_at(err, 1,
                   one_side ? advice : "expected text, found binary data: save the log as CSV");
}

/* Take off the mark and make UTF-8 of Latin-1; a mark makes it UTF-8 whatever follows. */
static bt_status decode(head *h, bt_arena *scratch, bt_error *err)
{
    if (h->n >= 3 && memcmp(h->bytes, "\xef\xbb\xbf", 3) == 0) h->mark = 3;
    h->bytes += h->mark;
    h->n -= h->mark;
    h->latin1 = h->mark == 0 && bt_utf8_valid(h->bytes, h->n, !h->at_end) < h->n;
    if (!h->latin1) return BT_OK;
    h->bytes = bt_arena_text(scratch, h->bytes, h->n, BT_LATIN1);
    if (!h->bytes) return bt_fail(err, BT_NOMEM, "no memory for the head of a log");
    h->n = strlen(h->bytes);
    return BT_OK;
}

/* "sep=;" as the first line, quoted or not. */
static void take_sep_line(head *h)
{
    const char *s = h->bytes + h->start;
    const size_t left = h->n - h->start;
    size_t quote = left > 0 && s[0] == '"';
    if (left < quote + 5 || !bt_name_alike_n(s + quote, 4, "sep=", 4)) return;
    const char delimiter = s[quote + 4];
    size_t at = quote + 5 + quote;
    if (at < left && s[at] == '\r') at++;
    if (at >= left || s[at] != '\n') return;
    if (h->delimiter == 0 && strchr(",;\t", delimiter) && delimiter) h->delimiter = delimiter;
    h->start += at + 1;
    h->line++;
}

static bt_status read_with(reading *r, const head *h, bt_error *err)
{
    BT_TRY(bt_grid_read(&r->grid, h->bytes + h->start, h->n - h->start, h->line, r->delimiter,
                        !h->at_end, ROWS_MAX, err));
    r->header = bt_header_find(&r->grid, h->decimal ? h->decimal : r->delimiter == ',' ? '.' : 0);
    return BT_OK;
}

/* Read with each delimiter that may be, keep the best in *best. */
static bt_status read_best(reading *best, const head *h, bt_error *err)
{
    static const char delimiters[] = {',', ';', '\t'};
    bt_error last = {0};
    bool any = false;
    for (size_t i = 0; i < sizeof delimiters; i++) {
        if (h->delimiter && h->delimiter != delimiters[i]) continue;
        reading r = {.delimiter = delimiters[i]};
        bt_error failure = {0};
        const bt_status status = read_with(&r, h, &failure);
        if (status == BT_NOMEM) {
            bt_grid_free(&r.grid);
            return bt_fail(err, BT_NOMEM, "%s", failure.message);
        }
        if (status != BT_OK) { /* a quote left open, seen with this delimiter only */
            last = failure;
            bt_grid_free(&r.grid);
            continue;
        }
        const bool nothing_yet = best->header.score == 0 && best->header.numbers == BT_NO_ROW;
        const bool better = !any || r.header.score > best->header.score ||
                            (nothing_yet && r.header.numbers != BT_NO_ROW);
        reading *const worse = better ? best : &r;
        bt_grid_free(&worse->grid);
        if (better) *best = r;
        any = true;
    }
    if (any) return BT_OK;
    bt_fail(err, last.status, "%s", last.message);
    return bt_at(err, last.status, NULL, last.line, 0);
}

static bt_status fail_no_header(const reading *r, const head *h, bt_error *err)
{
    const bt_grid *g = &r->grid;
    char quoted[BT_QUOTE_MAX];
    if (g->rows < 2 && !h->at_end) {
        bt_fail(
            err, BT_SYNTAX,
            "expected a header and rows of numbers in the first %zu bytes, found %zu line%s end",
            h->n, g->rows, g->rows == 1 ? "" : "s");
        return bt_at(err, BT_SYNTAX, NULL, h->line, 0);
    }
    if (g->rows == 0) return fail_at(err, 0, "expected a log, found nothing");
    const size_t row = r->header.numbers;
    if (row != BT_NO_ROW && row > 0) {
        const char *cell = bt_grid_cell(g, row - 1, 0);
        bt_fail(err, BT_SYNTAX,
                "expected a header with the names of the %zu columns below, found %zu field%s, the "
                "first '%s'",
                g->row[row].fields, g->row[row - 1].fields, g->row[row - 1].fields == 1 ? "" : "s",
                bt_quote(quoted, cell, strlen(cell)));
        return bt_at(err, BT_SYNTAX, NULL, g->row[row - 1].line, 0);
    }
    const char *cell = bt_grid_cell(g, 0, 0);
    bt_fail(
        err, BT_SYNTAX,
        "expected a header and rows of numbers below it, with commas, semicolons or tabs between, "
        "found none in %zu row%s, the first of which starts with '%s'",
        g->rows, g->rows == 1 ? "" : "s", bt_quote(quoted, cell, strlen(cell)));
    return bt_at(err, BT_SYNTAX, NULL, g->row[0].line, 0);
}

static const char *trimmed(const char *s, size_t *n)
{
    *n = strlen(s);
    while (*n > 0 && (*s == ' ' || *s == '\t')) s++, --*n;
    while (*n > 0 && (s[*n - 1] == ' ' || s[*n - 1] == '\t')) --*n;
    return s;
}

/* A units row's cell without the brackets around it. */
static const char *unit_text(const char *s, size_t *n)
{
    s = trimmed(s, n);
    if (*n >= 2 && ((s[0] == '[' && s[*n - 1] == ']') || (s[0] == '(' && s[*n - 1] == ')'))) {
        s++;
        *n -= 2;
    }
    return s;
}

static bool name_column(bt_dialect *d, bt_log_column *column, const reading *r, size_t i)
{
    const bt_header *h = &r->header;
    size_t n, name_len, unit_len;
    const char *text =
        trimmed(h->header == BT_NO_ROW ? "" : bt_grid_cell(&r->grid, h->header, i), &n);
    if (i == 0 && n > 0 && *text == '#') text = trimmed(text + 1, &n);
    column->text = bt_arena_text(&d->arena, text, n, BT_UTF8);
    if (!column->text) return false;
    const char *unit;
    bt_unit_in_name(column->text, strlen(column->text), &name_len, &unit, &unit_len);
    column->name = bt_arena_text(&d->arena, column->text, name_len, BT_UTF8);
    column->unit = bt_arena_text(&d->arena, unit, unit_len, BT_UTF8);
    if (h->units != BT_NO_ROW) {
        const char *below = unit_text(bt_grid_cell(&r->grid, h->units, i), &n);
        if (n > 0) column->unit = bt_arena_text(&d->arena, below, n, BT_UTF8);
    }
    return column->name && column->unit;
}

static size_t column_named(const bt_dialect *d, const char *const *names)
{
    for (; *names; names++)
        for (size_t i = 0; i < d->columns; i++)
            if (bt_name_alike(d->column[i].name, *names)) return i;
    return BT_NO_COLUMN;
}

/* time, signal, value by their names. */
static bool long_by_names(bt_dialect *d, const reading *r)
{
    static const char *const time[] = {"time", "timestamp", "t", "ts", NULL};
    static const char *const signal[] = {"signal",   "channel", "name", "variable", "parameter",
                                         "quantity", "sensor",  "key",  NULL};
    static const char *const value[] = {"value", "val", "reading", NULL};
    static const char *const unit[] = {"unit", "units", NULL};
    d->time_column = column_named(d, time);
    d->signal_column = column_named(d, signal);
    d->value_column = column_named(d, value);
    d->unit_column = column_named(d, unit);
    return d->time_column != BT_NO_COLUMN && d->signal_column != BT_NO_COLUMN &&
           d->value_column != BT_NO_COLUMN &&
           bt_header_text_column(&r->grid, r->header.data, d->signal_column);
}

static bt_status find_layout(bt_dialect *d, const reading *r, bt_layout told, bt_error *err)
{
    d->layout = BT_LAYOUT_LONG;
    if (told != BT_LAYOUT_WIDE && long_by_names(d, r)) return BT_OK;
    /* Without names: three columns of which the second is text. */
    const bool three = d->columns >= 3 && bt_header_text_column(&r->grid, r->header.data, 1);
    const bool bare = d->columns == 3 && r->header.header == BT_NO_ROW;
    d->time_column = 0;
    d->signal_column = 1;
    d->value_column = 2;
    d->unit_column = BT_NO_COLUMN;
    if (told == BT_LAYOUT_LONG && !three)
        return fail_at(err, d->data_line,
                       "expected the long layout, columns time, signal and value; found no column "
                       "of signal names");
    if (told == BT_LAYOUT_LONG || (told == BT_LAYOUT_AUTO && bare && three)) return BT_OK;
    d->layout = BT_LAYOUT_WIDE;
    d->time_column = d->signal_column = d->value_column = BT_NO_COLUMN;
    return BT_OK;
}

/* Where the byte at `at` of the head stands in the log. */
static size_t stored_offset(const head *h, size_t at)
{
    size_t characters = 0;
    for (size_t i = 0; i < at; i++) characters += ((unsigned char)h->bytes[i] & 0xc0) != 0x80;
    return h->mark + (h->latin1 ? characters : at);
}

static bt_status fill(bt_dialect *d, const reading *r, const head *h, bt_layout told, bt_error *err)
{
    const bt_grid *g = &r->grid;
    const bt_header *found = &r->header;
    d->delimiter = r->delimiter;
    d->decimal = h->decimal            ? h->decimal
                 : r->delimiter == ',' ? '.'
                                       : bt_header_decimal(g, found->data);
    d->header_line = found->header == BT_NO_ROW ? 0 : g->row[found->header].line;
    d->units_line = found->units == BT_NO_ROW ? 0 : g->row[found->units].line;
    d->data_line = g->row[found->data].line;
    d->data_offset = stored_offset(h, h->start + g->row[found->data].offset);
    d->columns = found->columns;
    bt_log_column *columns = bt_arena_new(&d->arena, d->columns * sizeof *columns);
    if (!columns) return bt_fail(err, BT_NOMEM, "no memory for %zu columns", d->columns);
    d->column = columns;
    for (size_t i = 0; i < d->columns; i++)
        if (!name_column(d, &columns[i], r, i))
            return bt_fail(err, BT_NOMEM, "no memory for %zu columns", d->columns);
    return find_layout(d, r, told, err);
}

bool bt_dialect_wants_more(const void *bytes, size_t n)
{
    if (n >= BT_DIALECT_HEAD_MAX) return false;
    const char *const p = bytes;
    size_t longest = 0; /* free lines are short: it is one of the rows, ended or not */
    for (size_t i = 0, start = 0; i < n; i++) {
        if (p[i] == '\n' || p[i] == '\r') start = i + 1;
        if (i + 1 - start > longest) longest = i + 1 - start;
    }
    return longest > n / LINES_WANTED;
}

bt_status bt_dialect_sniff(bt_dialect *out, const void *bytes, size_t n, bool at_end,
                           const bt_dialect_options *options, bt_error *err)
{
    static const bt_dialect_options none = {0};
    if (!options) options = &none;
    *out = (bt_dialect){0};
    head h = {.bytes = bytes,
              .n = n,
              .at_end = at_end,
              .line = 1,
              .delimiter = options->delimiter,
              .decimal = options->decimal};
    BT_TRY(check_text(&h, err));
    bt_arena scratch = {0};
    BT_TRY(decode(&h, &scratch, err));
    out->encoding = h.latin1 ? BT_LATIN1 : BT_UTF8;
    take_sep_line(&h);
    reading best = {0};
    bt_status status = read_best(&best, &h, err);
    if (status == BT_OK)
        status = best.header.found ? fill(out, &best, &h, options->layout, err)
                                   : fail_no_header(&best, &h, err);
    bt_grid_free(&best.grid);
    bt_arena_free(&scratch);
    return status;
}

void bt_dialect_free(bt_dialect *dialect)
{
    bt_arena_free(&dialect->arena);
    *dialect = (bt_dialect){0};
}
