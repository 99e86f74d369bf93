/* The labels of places in their order.  Labelling itself, bt_places_assign, is public (braketally.h). */
#ifndef BT_PLACES_H
#define BT_PLACES_H

#include "braketally.h"

/* Order of two labels, as strcmp(): P02 before P10, P99 before P100, P before Q. */
int bt_place_order(const char *a, const char *b);

/* The different labels among n zones into label[0..n), borrowed from the rows, in their
 * order.  Zones without a label are left out.  Returns how many there are. */
size_t bt_places_list(const bt_zone *zones, size_t n, const char **label);

#endif
