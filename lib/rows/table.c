/* Tables: see table.h.  Whole lines without quotes are cut where they lie, many at once; whatever else comes
 * (quotes, a line across two pushes or at the end of one, CR alone) goes through libcsv line by
 * line.  Both give the same rows, which tests/check_table.c and tests/fuzz/lanes.c hold them to. */
#include "rows/table.h"

#include "base/error.h"
#include "rows/scan.h"

#include <csv.h>
#include <stdlib.h>
#include <string.h>

enum { NOT_WANTED = -1, BUFFER_STEP = 4096 };
/* Of plain lines so many cells are found at once, whose text stays in the nearest caches; of wide ones
 * more, down to two lines of the widest. */
enum { CELLS = 2048, LINES = 64, CELLS_MOST = 65536 };
/* More bytes are not looked through at once. */
#define STRETCH ((size_t)1 << 20)

static const char nothing[BT_CELL_SLACK]; /* it ends with the cell that a row does not have */

struct bt_table {
    bt_row_fn take;
    void *user;
    struct csv_parser csv;
    size_t skip;    /* bytes before the data still to pass over */
    size_t columns; /* of the header */
    char delimiter;
    int *slot; /* of each column up to the last wanted one: its place in `got` */
    size_t slots;
    size_t *wanted_slot; /* of each wanted column */
    size_t *wanted_column;
    size_t wanted;
    bt_rows_fn take_rows; /* NULL = rows one by one */
    size_t cells;
    uint32_t *at; /* plain lines: where their cells end, at[0] = before the first one */
    struct {
        size_t at, len; /* in `text` */
    } * got;            /* behind BT_CELL_SLACK bytes */
    size_t got_count;
    char *text; /* the wanted cells of the row under way */
    size_t used, room;
    bt_cell *cell; /* what is handed over, in the order wanted */
    uint64_t line; /* under way */
    uint64_t row_line;
    size_t fields;                  /* of the row under way; 0 = none */
    bool between;                   /* libcsv has seen whole lines only: a plain one may follow */
    bool after_cr;                  /* a line end CR was seen, so a LF now belongs to it */
    bool quotes;                    /* seen at all: only then can cells hold line ends */
    bool ending;                    /* the row that comes now has no line end */
    bool short_row, previous_whole; /* of the last row, and the one before it */
    bool truncated;
    bt_error fault;
};

static void *bounded_realloc(void *old, size_t n)
{
    return n > BT_CELL_BYTES_MAX ? NULL : realloc(old, n);
}

static size_t cells_at_once(size_t columns)
{
    size_t cells = LINES * columns; /* a header has a ceiling */
    if (cells < CELLS) cells = CELLS;
    if (cells > CELLS_MOST) cells = CELLS_MOST;
    return (cells < 2 * columns ? 2 * columns : cells) + BT_SCAN_SPARE;
}

/* Column numbers to slots: a column wanted twice is kept once. */
static bool plan(bt_table *t, const size_t *wanted, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (wanted[i] >= t->slots) t->slots = wanted[i] + 1;
    t->wanted = n;
    t->slot = malloc((t->slots + 1) * sizeof *t->slot);
    t->cells = cells_at_once(t->columns);
    t->at = malloc((t->cells + 1) * sizeof *t->at);
    t->wanted_slot = malloc((n + 1) * sizeof *t->wanted_slot);
    t->wanted_column = malloc((n + 1) * sizeof *t->wanted_column);
    t->got = malloc((n + 1) * sizeof *t->got);
    t->cell = malloc((n + 1) * sizeof *t->cell);
    if (!t->slot || !t->at || !t->wanted_slot || !t->wanted_column || !t->got || !t->cell)
        return false;
    for (size_t i = 0; i < t->slots; i++) t->slot[i] = NOT_WANTED;
    for (size_t i = 0; i < n; i++) {
        int *slot = &t->slot[wanted[i]];
        /* NOLINTNEXTLINE: wanted[i] is below slots, so all of them are NOT_WANTED by now */
        if (*slot == NOT_WANTED) *slot = (int)t->got_count++;
        t->wanted_slot[i] = (size_t)*slot;
        t->wanted_column[i] = wanted[i];
    }
    return true;
}

bt_status bt_table_new(bt_table **out, const bt_dialect *dialect, const size_t *wanted,
                       size_t n_wanted, bt_row_fn take, void *user, bt_error *err)
{
    *out = NULL;
    bt_table *t = calloc(1, sizeof *t);
    if (!t || csv_init(&t->csv, CSV_REPALL_NL) != 0) {
        free(t);
        return bt_fail(err, BT_NOMEM, "no memory for a table");
    }
    csv_set_delim(&t->csv, (unsigned char)dialect->delimiter);
    csv_set_realloc_func(&t->csv, bounded_realloc);
    csv_set_blk_size(&t->csv, BUFFER_STEP);
    t->take = take;
    t->user = user;
    t->skip = dialect->data_offset;
    t->columns = dialect->columns;
    t->delimiter = dialect->delimiter;
    t->line = dialect->data_line;
    t->previous_whole = t->between = true;
    t->room = 4096;
    t->text = calloc(1, BT_CELL_SLACK + t->room);
    if (!plan(t, wanted, n_wanted) || !t->text) {
        bt_table_free(t);
        return bt_fail(err, BT_NOMEM, "no memory for a table");
    }
    *out = t;
    return BT_OK;
}

void bt_table_take_rows(bt_table *t, bt_rows_fn take)
{
    t->take_rows = take;
}

/* The row's cells lie one behind the other. */
static bool keep(bt_table *t, size_t slot, const char *field, size_t n)
{
    if (t->room - t->used < n) {
        const size_t room = 2 * (t->used + n); /* n has a ceiling, and so have the columns */
        char *larger = realloc(t->text, BT_CELL_SLACK + room);
        if (!larger) return false;
        t->text = larger;
        t->room = room;
    }
    if (n > 0) memcpy(t->text + BT_CELL_SLACK + t->used, field, n);
    t->got[slot].at = t->used;
    t->got[slot].len = n;
    t->used += n;
    return true;
}

static void begin_row(bt_table *t)
{
    t->row_line = t->line;
    t->used = 0;
    for (size_t i = 0; i < t->got_count; i++) t->got[i].at = t->got[i].len = 0;
}

static void take_field(void *field, size_t n, void *user)
{
    bt_table *t = user;
    if (t->fault.status != BT_OK) return;
    if (t->fields == 0) begin_row(t);
    const size_t column = t->fields++;
    t->after_cr = false;
    if (t->quotes)
        for (const char *p = field, *end = p + n; (p = memchr(p, '\n', (size_t)(end - p))); p++)
            t->line++;
    if (column < t->slots && t->slot[column] != NOT_WANTED &&
        !keep(t, (size_t)t->slot[column], field, n))
        bt_fail(&t->fault, BT_NOMEM, "no memory for a row");
}

/* t->cell is filled. */
static void hand_over(bt_table *t, uint64_t line, size_t fields)
{
    const bt_row row = {line, fields, t->cell};
    const bt_status status = t->take(t->user, &row, &t->fault);
    if (status != BT_OK) bt_fail(&t->fault, status, "%s", bt_status_meaning(status));
}

static void note_length(bt_table *t, size_t fields)
{
    t->previous_whole = !t->short_row;
    t->short_row = fields < t->columns;
}

static void take_row(int terminator, void *user)
{
    bt_table *t = user;
    if (t->fault.status != BT_OK) return;
    if (t->fields > 0) {
        note_length(t, t->fields);
        for (size_t i = 0; i < t->wanted; i++) {
            const size_t slot = t->wanted_slot[i];
            t->cell[i] = (bt_cell){t->text + BT_CELL_SLACK + t->got[slot].at, t->got[slot].len};
        }
        if (t->ending && t->short_row)
            t->truncated = true; /* its last cell may be cut: not handed over */
        else
            hand_over(t, t->row_line, t->fields);
    }
    if (!t->ending && !(terminator == '\n' && t->after_cr)) t->line++;
    t->after_cr = terminator == '\r';
    t->between = terminator == '\n';
    t->fields = 0;
}

static bool is_blank(char c)
{
    return c == ' ' || c == '\t'; /* no cell holds the delimiter */
}

static bt_cell trimmed(const char *s, const char *end)
{
    while (s < end && is_blank(*s)) s++;
    while (s < end && is_blank(end[-1])) end--;
    return (bt_cell){s, (size_t)(end - s)};
}

bt_cell bt_rows_cell(const bt_rows *rows, size_t row, size_t column)
{
    if (column >= rows->fields) return (bt_cell){nothing + BT_CELL_SLACK, 0};
    const bt_cells cells = bt_rows_column(rows, row, column);
    size_t n;
    const char *s = bt_cells_at(&cells, 0, &n);
    return trimmed(s, s + n);
}

/* One of the plain lines: its cells end at[0..fields). */
static void take_plain_line(bt_table *t, const bt_rows *row)
{
    const uint64_t line = t->line++;
    if (row->fields == 1 && bt_rows_cell(row, 0, 0).len == 0) return; /* a blank line */
    for (size_t i = 0; i < t->wanted; i++) t->cell[i] = bt_rows_cell(row, 0, t->wanted_column[i]);
    note_length(t, row->fields);
    hand_over(t, line, row->fields);
}

/* Lines one by one, whatever their lengths; gives the cells taken. */
static size_t take_each(bt_table *t, const char *text, const uint32_t *end, size_t lines)
{
    const uint32_t *p = end;
    for (; lines > 0 && t->fault.status == BT_OK; lines--) {
        bt_rows row = {.n = 1, .fields = 1, .text = text, .end = p};
        while (text[p[row.fields - 1]] != '\n') row.fields++;
        p += row.fields;
        row.crlf = p[-1] > p[-2] + 1 && text[p[-1] - 1] == '\r';
        take_plain_line(t, &row);
    }
    return (size_t)(p - end);
}

/* Are these lines rows of equal length?  With as many line ends as lines there are none in between. */
static bool are_even(bt_rows *rows, size_t cells)
{
    size_t crlf = 0;
    rows->fields = 1;
    while (rows->text[rows->end[rows->fields - 1]] != '\n') rows->fields++;
    if (rows->fields < 2 || cells / rows->fields < rows->n)
        return false; /* one field: a blank line? */
    for (size_t i = 1; i <= rows->n; i++) {
        const char *end = rows->text + rows->end[i * rows->fields - 1];
        if (*end != '\n') return false;
        crlf += end[-1] == '\r';
    }
    rows->crlf = crlf > 0;
    return crlf == 0 || crlf == rows->n;
}

static size_t take_even(bt_table *t, bt_rows *rows)
{
    rows->line = t->line;
    t->line += rows->n;
    note_length(t, rows->fields);
    if (rows->n > 1) note_length(t, rows->fields);
    const bt_status status = t->take_rows(t->user, rows, &t->fault);
    if (status != BT_OK) bt_fail(&t->fault, status, "%s", bt_status_meaning(status));
    return rows->n * rows->fields;
}

/* What a push holds.  `plain`: up to there are no quotes, and no CRs but in front of a LF; looked for
 * once, not line by line. */
typedef struct {
    const char *begin, *end, *quote, *odd_cr;
} ahead;

static const char *find(const char *s, const char *end, char c)
{
    const char *at = memchr(s, c, (size_t)(end - s));
    return at ? at : end;
}

static const char *find_odd_cr(const char *s, const char *end)
{
    while ((s = find(s, end, '\r')) < end && s + 1 < end && s[1] == '\n') s += 2;
    return s;
}

/* Plain lines from s on; gives where they end. */
static const char *take_plain_lines(bt_table *t, const char *s, ahead *a)
{
    if (a->quote < s) a->quote = find(s, a->end, '"');
    if (a->odd_cr < s) a->odd_cr = find_odd_cr(s, a->end);
    const char *limit = a->quote < a->odd_cr ? a->quote : a->odd_cr;
    if (s - a->begin < BT_CELL_SLACK || (size_t)(a->end - s) <= BT_SCAN_SLACK) return s;
    if (limit > a->end - BT_SCAN_SLACK) limit = a->end - BT_SCAN_SLACK;
    while (s < limit && t->fault.status == BT_OK) {
        bt_rows rows = {.text = s, .end = t->at + 1};
        const size_t n = (size_t)(limit - s) < STRETCH ? (size_t)(limit - s) : STRETCH;
        t->at[0] = UINT32_MAX;
        const size_t cells = bt_scan(s, n, t->delimiter, t->at + 1, t->cells, &rows.n);
        if (rows.n == 0) break;
        const size_t taken = t->take_rows && are_even(&rows, cells)
                                 ? take_even(t, &rows)
                                 : take_each(t, s, rows.end, rows.n);
        s += t->at[taken] + 1;
    }
    return s;
}

/* One line, or what there is of it, through libcsv; gives the bytes taken. */
static size_t take_line(bt_table *t, const char *s, size_t n)
{
    const char *end = memchr(s, '\n', n);
    if (end) n = (size_t)(end - s) + 1;
    t->between = false;
    t->quotes = t->quotes || memchr(s, '"', n) != NULL;
    if (csv_parse(&t->csv, s, n, take_field, take_row, t) == n || t->fault.status != BT_OK)
        return n;
    if (csv_get_buffer_size(&t->csv) + BUFFER_STEP <= BT_CELL_BYTES_MAX) {
        bt_fail(&t->fault, BT_NOMEM, "no memory for a cell");
    } else {
        bt_fail(&t->fault, BT_SYNTAX,
                "expected a cell of at most %zu bytes, found more: a quote left open?",
                BT_CELL_BYTES_MAX);
        bt_at(&t->fault, BT_SYNTAX, NULL, t->fields > 0 ? t->row_line : t->line, 0);
    }
    return n;
}

static bt_status tell(const bt_table *t, bt_error *err)
{
    if (t->fault.status == BT_OK) return BT_OK;
    bt_fail(err, t->fault.status, "%s", t->fault.message);
    return bt_at(err, t->fault.status, t->fault.file, t->fault.line, t->fault.column);
}

bt_status bt_table_push(bt_table *t, const void *bytes, size_t n, bt_error *err)
{
    const size_t skip = n < t->skip ? n : t->skip;
    if (n == skip) { /* the bytes of nothing may be NULL */
        t->skip -= skip;
        return tell(t, err);
    }
    const char *p = (const char *)bytes + skip;
    ahead a = {.begin = bytes, .end = (const char *)bytes + n};
    a.quote = find(p, a.end, '"');
    a.odd_cr = find_odd_cr(p, a.end);
    t->skip -= skip;
    while (p < a.end && t->fault.status == BT_OK) {
        if (t->between && !t->after_cr) p = take_plain_lines(t, p, &a);
        if (p < a.end && t->fault.status == BT_OK) p += take_line(t, p, (size_t)(a.end - p));
    }
    return tell(t, err);
}

bt_status bt_table_end(bt_table *t, bt_error *err)
{
    if (t->fault.status != BT_OK) return tell(t, err);
    const bool whole_before = t->previous_whole, last_short = t->short_row;
    t->ending = true;
    /* Strict only here, where it tells a quote left open: all along it would refuse quotes
     * inside unquoted cells. */
    csv_set_opts(&t->csv, CSV_REPALL_NL | CSV_STRICT | CSV_STRICT_FINI);
    if (csv_fini(&t->csv, take_field, take_row, t) != 0)
        t->truncated = true;
    else if (!t->truncated)
        t->truncated = last_short && whole_before;
    return tell(t, err);
}

bool bt_table_truncated(const bt_table *t)
{
    return t->truncated;
}

void bt_table_free(bt_table *t)
{
    if (!t) return;
    csv_free(&t->csv);
    free(t->slot);
    free(t->at);
    free(t->wanted_slot);
    free(t->wanted_column);
    free(t->got);
    free(t->text);
    free(t->cell);
    free(t);
}
