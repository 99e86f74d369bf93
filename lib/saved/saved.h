/* Zone rows read back from saved tables, and rows made as if they had been saved, so
 * that what is pooled is the same whether a log was analysed here or elsewhere.
 * The functions are public: bt_zones_* in braketally.h (CONTRACT 2, 6). */
#ifndef BT_SAVED_H
#define BT_SAVED_H

#include "braketally.h"

/* A row as its saved cells give it: every number to the decimals of its column. */
void bt_zone_round(bt_zone *row);

/* A number of the zones table in the unit and to the decimals printed, exactly what its
 * cell says; NaN = blank. */
double bt_zone_printed(const bt_zone *row, const bt_column *column);

/* The number column of the zones table with that name; NULL if there is none. */
const bt_column *bt_zone_column(const char *name);

/* The next name of a list with commas between; *list becomes NULL behind the last.  BT_RANGE for what is no
 * number column of the zones table, the nearest one offered. */
bt_status bt_next_figure(const char **list, const bt_column **figure, bt_error *err) BT_MUST_USE;

#endif
