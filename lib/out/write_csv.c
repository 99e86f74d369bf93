/* CSV: RFC 4180 quoting where needed only, lines end in LF, header row always
 * (CONTRACT 2).  A text cell that a spreadsheet would run as a formula gets a ' in
 * front; numbers never, ours go below zero. */
#include "out/write.h"

#include <string.h>

/* RFC 4180 keeps blanks around a field, many readers do not unless it is quoted. */
static bool needs_quotes(const char *s, size_t n, char delimiter)
{
    if (n == 0) return false;
    if (s[0] == ' ' || s[0] == '\t' || s[n - 1] == ' ' || s[n - 1] == '\t') return true;
    for (size_t i = 0; i < n; i++)
        if (s[i] == delimiter || s[i] == '"' || s[i] == '\n' || s[i] == '\r') return true;
    return false;
}

static void add_quoted(bt_bytes *line, const char *s, size_t n)
{
    bt_bytes_add(line, "\"", 1);
    for (const char *end = s + n, *quote; s < end; s = quote) {
        quote = memchr(s, '"', (size_t)(end - s));
        if (!quote) quote = end;
        bt_bytes_add(line, s, (size_t)(quote - s));
        if (quote < end) {
            bt_bytes_add(line, "\"\"", 2);
            quote++;
        }
    }
    bt_bytes_add(line, "\"", 1);
}

void bt_csv_cell(bt_bytes *line, const char *s, size_t n, char delimiter)
{
    if (needs_quotes(s, n, delimiter))
        add_quoted(line, s, n);
    else
        bt_bytes_add(line, s, n);
}

static void guard_text(bt_bytes *cell)
{
    if (cell->n == 0 || !memchr("=+-@\t\r", cell->p[0], 6)) return;
    bt_bytes_add(cell, "'", 1);
    if (cell->failed) return;
    memmove(cell->p + 1, cell->p, cell->n - 1);
    cell->p[0] = '\'';
}

void bt_csv_make_cell(bt_bytes *cell, const bt_column *column, const void *row, bool decimal_comma)
{
    cell->n = 0;
    bt_cell_add(cell, column, row);
    if (!bt_cell_is_number(column)) {
        guard_text(cell);
        return;
    }
    char *point = decimal_comma && cell->n ? memchr(cell->p, '.', cell->n) : NULL;
    if (point) *point = ',';
}

static bt_status header(bt_writer *w, bt_error *err)
{
    if (w->style.bom) bt_bytes_text(&w->line, "\xef\xbb\xbf");
    for (size_t i = 0; i < w->n; i++) {
        if (i) bt_bytes_add(&w->line, &w->style.delimiter, 1);
        bt_bytes_text(&w->line, w->columns[i].name);
    }
    bt_bytes_add(&w->line, "\n", 1);
    return bt_bytes_write(&w->line, w->write, w->user, err);
}

static bt_status row(bt_writer *w, const void *data, bt_error *err)
{
    for (size_t i = 0; i < w->n; i++) {
        if (i) bt_bytes_add(&w->line, &w->style.delimiter, 1);
        bt_csv_make_cell(&w->cell, &w->columns[i], data, w->style.decimal_comma);
        if (bt_cell_is_number(&w->columns[i])) /* never holds a delimiter */
            bt_bytes_add(&w->line, w->cell.p, w->cell.n);
        else
            bt_csv_cell(&w->line, w->cell.p, w->cell.n, w->style.delimiter);
        if (w->cell.failed) w->line.failed = true;
    }
    bt_bytes_add(&w->line, "\n", 1);
    return bt_bytes_write(&w->line, w->write, w->user, err);
}

const bt_writer_format bt_csv_format = {.header = header, .row = row};
