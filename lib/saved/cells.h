/* Saved tables read back: bytes to a grid, cells to the members of a row.  What the tables of zones and
 * of runs share (CONTRACT 2, 6, 8). */
#ifndef BT_CELLS_H
#define BT_CELLS_H

#include "rows/grid.h"
#include "rows/source.h"

/* All bytes of a source, or the first `most`; *bytes (NULL before) is the caller's to free.  BT_READ too for a
 * gzip member cut short. */
bt_status bt_saved_bytes(bt_source *source, size_t most, char **bytes, size_t *n,
                         bt_error *err) BT_MUST_USE;

/* Bytes of a byte order mark that they begin with, 3 or 0: behind it a quote opens a cell, at it none would. */
size_t bt_saved_mark(const char *bytes, size_t n);

/* The one of comma, semicolon and tab that the first line has most of. */
char bt_saved_delimiter(const char *bytes, size_t n);

/* Does this row of the grid hold each of the words (at most 32)? */
bool bt_saved_header(const bt_grid *grid, size_t row, const char *const *words, unsigned n);

/* Which column of the table each field of that header row is, NULL for a name that is none: an array as
 * long as the row, the caller's to free.  BT_SYNTAX with the place for a column that comes twice. */
bt_status bt_saved_columns(bt_table_kind table, const bt_grid *grid, size_t row,
                           const bt_column ***out, bt_error *err) BT_MUST_USE;

/* Fill a row, which has been made blank, from a row of the grid under such columns, as many as `fields`.
 * `comma`: numbers may have a decimal comma.  BT_SYNTAX with the place for a number that is none and for
 * more cells than the header has. */
bt_status bt_saved_row(void *row, const bt_column *const *column, size_t fields,
                       const bt_grid *grid, size_t at, bool comma, bt_error *err) BT_MUST_USE;

/* A number as its cell gives it, to the column's decimals and in its unit; NaN = blank.  And back to
 * SI. */
double bt_cell_printed(const bt_column *column, const void *row);
double bt_cell_from_printed(const bt_column *column, double printed);

#endif
