/* The channel map: what the user says serves as which channel (CONTRACT 4).  Read from a sheet, laid
 * over the columns of a log by `channels`. */
#ifndef BT_MAP_H
#define BT_MAP_H

#include "rows/sheet.h"

/* One row.  Texts are UTF-8, never NULL, owned by the map's sheet. */
typedef struct {
    const char *channel;  /* as written; channels.h knows the names */
    const char *column;   /* header text, "#n", or "-": the channel is not served at all */
    const char *unit;     /* "" = the header's */
    double scale, offset; /* 1 and 0 where blank */
    double tolerance;     /* standard uncertainty in `unit`; NaN = not given */
    size_t row;           /* of the sheet, for the place in a message */
} bt_map_row;

struct bt_map {
    bt_sheet sheet;
    bt_map_row *row;
    size_t n;
    size_t channel_column, column_column,
        unit_column; /* of the sheet, for the place in a message */
};

#endif
