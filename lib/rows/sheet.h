/* Small CSV files read as a whole: car sheets, channel maps, curves, saved tables.
 * Comma, semicolon or tab, found by looking; UTF-8, a byte order mark allowed; gzip
 * allowed.  CONTRACT 4 and 5. */
#ifndef BT_SHEET_H
#define BT_SHEET_H

#include "rows/dialect.h"
#include "rows/grid.h"
#include "base/number.h"

/* A larger one is no sheet: an error. */
#define BT_SHEET_BYTES_MAX ((size_t)256 << 20)

/* Rows and columns count from 0 here.  Every text is UTF-8, owned by the sheet. */
typedef struct {
    const char *file; /* as the user spelled it */
    char delimiter;   /* as found */
    char decimal;     /* '.'; ',' if the delimiter is none and the numbers have it */
    size_t columns;   /* of the header, stray delimiters at its end left out; >= 1 */
    size_t rows;      /* below the header; may be 0 */
    uint64_t header_line, last_line;
    bt_grid grid; /* the header is its row 0 */
    bt_arena arena;
} bt_sheet;

/* Read the file at `path` ("-" = standard input).  Blank lines are passed over, and
 * lines that start with #.  BT_READ, BT_NOMEM, or BT_SYNTAX
 * with file and line: empty, not UTF-8, a quote left open, a row with more
 * fields than the header.  *out needs bt_sheet_free in any case. */
bt_status bt_sheet_read(bt_sheet *out, const char *path, bt_error *err) BT_MUST_USE;

/* The same from memory; `file` is the name for messages.  Bytes are copied. */
bt_status bt_sheet_memory(bt_sheet *out, const char *file, const void *bytes, size_t n,
                          bt_error *err) BT_MUST_USE;

void bt_sheet_free(bt_sheet *sheet);

/* The header's text of a column. */
const char *bt_sheet_name(const bt_sheet *sheet, size_t column);

/* The first column of that name (any case, blank, dash and underscore alike);
 * BT_NO_COLUMN if there is none. */
size_t bt_sheet_find(const bt_sheet *sheet, const char *name);

/* The same, but a missing one is BT_SYNTAX at the header's line, with the names found. */
bt_status bt_sheet_need(const bt_sheet *sheet, const char *name, size_t *column,
                        bt_error *err) BT_MUST_USE;

/* A cell's text, blanks around it gone; "" beyond the row's end and for BT_NO_COLUMN. */
const char *bt_sheet_cell(const bt_sheet *sheet, size_t row, size_t column);

/* A cell as a number in the sheet's decimal sign: NaN with BT_OK if blank; BT_SYNTAX
 * with the place if it is no number. */
bt_status bt_sheet_number(const bt_sheet *sheet, size_t row, size_t column, double *out,
                          bt_error *err) BT_MUST_USE;

/* The line a row starts on. */
uint64_t bt_sheet_line(const bt_sheet *sheet, size_t row);

/* Add the place of a cell to an error and return `status`; BT_NO_COLUMN = the row. */
bt_status bt_sheet_at(const bt_sheet *sheet, size_t row, size_t column, bt_error *err,
                      bt_status status);

#endif
