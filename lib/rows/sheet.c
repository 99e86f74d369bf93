/* Sheets: see sheet.h. */
#include "rows/sheet.h"

#include "base/error.h"
#include "rows/source.h"

#include <stdlib.h>
#include <string.h>

static bt_status fail_at(bt_error *err, bt_status status, uint64_t line, const char *message)
{
    bt_fail(err, status, "%s", message);
    return bt_at(err, status, NULL, line, 0);
}

/* The delimiter that the header line has most of, outside quotes. */
static char find_delimiter(const char *s, size_t n)
{
    static const char delimiters[] = {',', ';', '\t'};
    size_t count[3] = {0};
    bool quoted = false;
    for (size_t i = 0; i < n && (quoted || (s[i] != '\n' && s[i] != '\r')); i++) {
        if (s[i] == '"') quoted = !quoted;
        for (size_t k = 0; k < 3; k++) count[k] += !quoted && s[i] == delimiters[k];
    }
    size_t best = 0;
    for (size_t k = 1; k < 3; k++)
        if (count[k] > count[best]) best = k;
    return delimiters[best];
}

/* Bytes before the header: blank lines and lines that start with #. */
static size_t before_header(const char *s, size_t n, uint64_t *line)
{
    size_t at = 0;
    for (;;) {
        size_t p = at;
        while (p < n && (s[p] == ' ' || s[p] == '\t')) p++;
        if (p < n && s[p] == '#')
            while (p < n && s[p] != '\n' && s[p] != '\r') p++;
        if (p == n) return n;
        if (s[p] != '\n' && s[p] != '\r') return at;
        at = p + 1;
        if (s[p] == '\r' && at < n && s[at] == '\n') at++;
        ++*line;
    }
}

static bt_status check_text(const char *s, size_t n, bt_error *err)
{
    const unsigned char *u = (const unsigned char *)s;
    if (n >= 2 && ((u[0] == 0xff && u[1] == 0xfe) || (u[0] == 0xfe && u[1] == 0xff)))
        return fail_at(err, BT_SYNTAX, 1, "expected UTF-8, found UTF-16: save as CSV in UTF-8");
    const size_t valid = bt_utf8_valid(s, n, false);
    const char *zero = memchr(s, 0, valid);
    if (valid == n && !zero) return BT_OK;
    const size_t bad = zero ? (size_t)(zero - s) : valid;
    uint64_t line = 1;
    for (size_t i = 0; i < bad; i++) line += s[i] == '\n';
    bt_fail(err, BT_SYNTAX, "expected UTF-8, found the byte 0x%02x: save as CSV in UTF-8", u[bad]);
    return bt_at(err, BT_SYNTAX, NULL, line, 0);
}

/* A comma only if no number needs a point. */
static char find_decimal(const bt_sheet *s)
{
    bool comma = false, point = false;
    for (size_t row = 0; row < s->rows; row++)
        for (size_t i = 0; i < s->columns; i++) {
            double x;
            const char *cell = bt_sheet_cell(s, row, i);
            const size_t n = strlen(cell);
            const bool with_point = bt_number_parse(cell, n, '.', &x) == BT_CELL_VALUE;
            const bool with_comma = bt_number_parse(cell, n, ',', &x) == BT_CELL_VALUE;
            point = point || (with_point && !with_comma);
            comma = comma || (with_comma && !with_point);
        }
    return comma && !point ? ',' : '.';
}

/* Cells up to the last that is not empty. */
static size_t width(const bt_grid *g, size_t row)
{
    size_t n = g->row[row].fields;
    while (n > 0 && bt_grid_cell(g, row, n - 1)[0] == '\0') n--;
    return n;
}

/* Rows below the header that begin with # are remarks, or rows put out of use. */
static void drop_remarks(bt_grid *g)
{
    size_t kept = 1;
    for (size_t row = 1; row < g->rows; row++)
        if (bt_grid_cell(g, row, 0)[0] != '#') g->row[kept++] = g->row[row];
    if (g->rows > 0) g->rows = kept;
}

static bt_status check_rows(const bt_sheet *s, bt_error *err)
{
    const bt_grid *g = &s->grid;
    for (size_t row = 1; row < g->rows; row++)
        if (width(g, row) > s->columns) {
            bt_fail(err, BT_SYNTAX,
                    "expected at most %zu cells as in the header, found %zu: quote a cell that "
                    "holds the delimiter",
                    s->columns, width(g, row));
            return bt_at(err, BT_SYNTAX, NULL, g->row[row].line, 0);
        }
    if (g->open_quote)
        return fail_at(err, BT_SYNTAX, s->last_line,
                       "expected a closing quote, found the end of the file");
    return BT_OK;
}

static bt_status parse(bt_sheet *s, const char *bytes, size_t n, bt_error *err)
{
    uint64_t line = 1;
    if (n == 0) return fail_at(err, BT_SYNTAX, 0, "expected a table with a header, found nothing");
    BT_TRY(check_text(bytes, n, err));
    size_t start = n >= 3 && memcmp(bytes, "\xef\xbb\xbf", 3) == 0 ? 3 : 0;
    start += before_header(bytes + start, n - start, &line);
    s->delimiter = find_delimiter(bytes + start, n - start);
    BT_TRY(
        bt_grid_read(&s->grid, bytes + start, n - start, line, s->delimiter, false, SIZE_MAX, err));
    if (s->grid.rows > 0) s->columns = width(&s->grid, 0);
    if (s->columns == 0)
        return fail_at(err, BT_SYNTAX, 0, "expected a table with a header, found nothing");
    s->last_line = s->grid.row[s->grid.rows - 1].line;
    drop_remarks(&s->grid);
    s->rows = s->grid.rows - 1;
    s->header_line = s->grid.row[0].line;
    BT_TRY(check_rows(s, err));
    s->decimal = s->delimiter == ',' ? '.' : find_decimal(s);
    return BT_OK;
}

bt_status bt_sheet_memory(bt_sheet *out, const char *file, const void *bytes, size_t n,
                          bt_error *err)
{
    *out = (bt_sheet){0};
    out->file = bt_arena_text(&out->arena, file, strlen(file), BT_UTF8);
    if (!out->file) return bt_fail(err, BT_NOMEM, "no memory for a table");
    return bt_at(err, parse(out, bytes, n, err), file, 0, 0);
}

/* All bytes of a source, in malloc'ed *bytes, even on failure. */
static bt_status read_all(bt_source *source, char **bytes, size_t *n, bt_error *err)
{
    size_t room = 0;
    for (;;) {
        if (room - *n < 4096) {
            room = room ? 2 * room : 16384;
            char *larger = realloc(*bytes, room);
            if (!larger) return bt_fail(err, BT_NOMEM, "no memory for a table");
            *bytes = larger;
        }
        size_t got;
        BT_TRY(bt_source_read(source, *bytes + *n, room - *n, &got, err));
        if (got == 0) break;
        *n += got;
        if (*n > BT_SHEET_BYTES_MAX)
            return bt_fail(err, BT_SYNTAX, "expected a table of at most %zu bytes, found more",
                           BT_SHEET_BYTES_MAX);
    }
    if (bt_source_truncated(source)) return bt_fail(err, BT_READ, "the gzip file ends too early");
    return BT_OK;
}

bt_status bt_sheet_read(bt_sheet *out, const char *path, bt_error *err)
{
    *out = (bt_sheet){0};
    bt_source *source;
    BT_TRY(bt_source_open(&source, path, err));
    char *bytes = NULL;
    size_t n = 0;
    bt_status status = bt_at(err, read_all(source, &bytes, &n, err), path, 0, 0);
    bt_source_free(source);
    if (status == BT_OK) status = bt_sheet_memory(out, path, bytes, n, err);
    free(bytes);
    return status;
}

void bt_sheet_free(bt_sheet *sheet)
{
    bt_grid_free(&sheet->grid);
    bt_arena_free(&sheet->arena);
    *sheet = (bt_sheet){0};
}

const char *bt_sheet_name(const bt_sheet *sheet, size_t column)
{
    return bt_grid_cell(&sheet->grid, 0, column);
}

size_t bt_sheet_find(const bt_sheet *sheet, const char *name)
{
    for (size_t i = 0; i < sheet->columns; i++)
        if (bt_name_alike(bt_sheet_name(sheet, i), name)) return i;
    return BT_NO_COLUMN;
}

bt_status bt_sheet_need(const bt_sheet *sheet, const char *name, size_t *column, bt_error *err)
{
    *column = bt_sheet_find(sheet, name);
    if (*column != BT_NO_COLUMN) return BT_OK;
    char found[128] = "";
    size_t at = 0;
    for (size_t i = 0; i < sheet->columns; i++) {
        char quoted[BT_QUOTE_MAX];
        const char *cell = bt_sheet_name(sheet, i);
        const char *text = bt_quote(quoted, cell, strlen(cell));
        const size_t n = strlen(text), comma = at ? 2 : 0;
        if (at + comma + n >= sizeof found) break;
        memcpy(found + at, ", ", comma);
        memcpy(found + at + comma, text, n + 1);
        at += comma + n;
    }
    bt_fail(err, BT_SYNTAX, "expected a column '%s', found %s", name, found);
    return bt_at(err, BT_SYNTAX, sheet->file, sheet->header_line, 0);
}

const char *bt_sheet_cell(const bt_sheet *sheet, size_t row, size_t column)
{
    return bt_grid_cell(&sheet->grid, row + 1, column);
}

uint64_t bt_sheet_line(const bt_sheet *sheet, size_t row)
{
    return sheet->grid.row[row + 1].line;
}

bt_status bt_sheet_at(const bt_sheet *sheet, size_t row, size_t column, bt_error *err,
                      bt_status status)
{
    return bt_at(err, status, sheet->file, bt_sheet_line(sheet, row),
                 column == BT_NO_COLUMN ? 0 : column + 1);
}

bt_status bt_sheet_number(const bt_sheet *sheet, size_t row, size_t column, double *out,
                          bt_error *err)
{
    const char *cell = bt_sheet_cell(sheet, row, column);
    const size_t n = strlen(cell);
    if (bt_number_parse(cell, n, sheet->decimal, out) != BT_CELL_BAD) return BT_OK;
    char quoted[BT_QUOTE_MAX];
    return bt_sheet_at(
        sheet, row, column, err,
        bt_fail(err, BT_SYNTAX, "expected a number, found '%s'", bt_quote(quoted, cell, n)));
}
