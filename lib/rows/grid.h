/* A piece of delimited text as rows of cells in memory, through libcsv: for the head of
 * a log and for small sheets.  Long logs go through table.h. */
#ifndef BT_GRID_H
#define BT_GRID_H

#include "braketally.h"

typedef struct {
    uint64_t line;        /* where it starts */
    size_t offset;        /* of its first byte in the text read */
    size_t first, fields; /* cells first..first+fields-1 of the grid; fields >= 1 */
} bt_grid_row;

typedef struct {
    bt_grid_row *row; /* blank lines make no row */
    size_t rows, rows_room;
    size_t *cell; /* offsets into `text` */
    size_t cells, cells_room;
    char *text; /* the cells one behind the other, each with a NUL */
    size_t used, room;
    bool open_quote; /* the text ended inside quotes; the row is there nonetheless */
} bt_grid;

/* Rows of bytes[0..n), the first line being number `line`, at most rows_max of them.  With `cut`
 * a last row without line end is left out.  BT_NOMEM or BT_SYNTAX with the line (a field
 * of more than 1 MiB).  *out needs bt_grid_free in any case. */
bt_status bt_grid_read(bt_grid *out, const char *bytes, size_t n, uint64_t line, char delimiter,
                       bool cut, size_t rows_max, bt_error *err) BT_MUST_USE;

void bt_grid_free(bt_grid *grid);

/* A cell's text; "" beyond the row's end. */
const char *bt_grid_cell(const bt_grid *grid, size_t row, size_t column);

#endif
