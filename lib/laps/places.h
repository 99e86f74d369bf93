/* Places of the zones of all runs, and their labels in order.  bt_places_assign is public (braketally.h). */
#ifndef BT_PLACES_H
#define BT_PLACES_H

#include "laps/succession.h"

/* What places are found from, of a zone's row whether it was saved or not. */
bt_where bt_where_of(const bt_zone *row);

/* The zones of one run among all of them, and the letter of its track, 'P', 'Q', ..., which is filled in. */
typedef struct {
    const char *name; /* borrowed */
    size_t first, n;
    char letter;
} bt_places_run;

/* The place of each of n zones, 0.. in track order or BT_NO_PLACE, as bt_places_assign labels them; laps of runs
 * that have none are filled in.  Each zone is one run's. */
bt_status bt_places_find(bt_where *zone, size_t n, bt_places_run *run, size_t runs, size_t *place,
                         bt_error *err) BT_MUST_USE;

/* "P01"; "" for BT_NO_PLACE. */
void bt_place_label(char label[BT_LABEL_MAX], char letter, size_t place);

/* Order of two labels, as strcmp(): P02 before P10, P99 before P100, P before Q. */
int bt_place_order(const char *a, const char *b);

/* The different labels among n zones into label[0..n), borrowed from the rows, in their
 * order.  Zones without a label are left out.  Returns how many there are. */
size_t bt_places_list(const bt_zone *zones, size_t n, const char **label);

#endif
