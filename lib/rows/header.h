/* Where the header of a log is: among the rows of its head, read with one delimiter.
 * CONTRACT 3: the header is the first row whose fields are mostly names followed by
 * rows that are mostly numbers; a units row may come between. */
#ifndef BT_HEADER_H
#define BT_HEADER_H

#include "rows/grid.h"

#define BT_NO_ROW ((size_t)-1)

typedef struct {
    bool found;
    size_t header, units; /* rows of the grid; BT_NO_ROW = there is none */
    size_t data;          /* first row of data */
    size_t columns;       /* stray delimiters at the end of the header left out; >= 1 */
    size_t score;         /* cells that are numbers or times below: the right delimiter has most */
    size_t numbers;       /* first row that looks like data, for messages; BT_NO_ROW = none */
} bt_header;

/* Find it.  decimal: '.' or ','; 0 = either will do (only where the delimiter is no comma). */
bt_header bt_header_find(const bt_grid *grid, char decimal);

/* The decimal sign of the data rows: ',' if more cells need that than need '.'. */
char bt_header_decimal(const bt_grid *grid, size_t data);

/* The cells of a column below the header are mostly text, not numbers or times. */
bool bt_header_text_column(const bt_grid *grid, size_t data, size_t column);

#endif
