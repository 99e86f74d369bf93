/* Axes of plots: what range to show, and round numbers to mark on it. */
#ifndef BT_AXIS_H
#define BT_AXIS_H

#include <stdbool.h>
#include <stddef.h>

/* The values a plot has to cover.  Start with BT_RANGE_NONE; NaN, and what is beyond 1e300, do not count. */
typedef struct {
    double low, high;
} bt_range;
#define BT_RANGE_NONE ((bt_range){NAN, NAN})
void bt_range_add(bt_range *range, double x);
void bt_range_cover(bt_range *range, const double *x, size_t n);

/* Ticks stand at whole multiples of step, which is 1, 2 or 5 times a power of ten. */
typedef struct {
    double low, high; /* low < high */
    double step;
    int decimals; /* that its ticks need */
} bt_axis;

#define BT_AXIS_TICKS 16
/* About `want` (2..10) steps over the range.  `widen`: the ends move out to the next ticks.  An empty range
 * counts as 0..1, a single value has half a step of its size around it. */
bt_axis bt_axis_over(bt_range range, int want, bool widen);
/* The same for things that are counted: no step below 1. */
bt_axis bt_axis_count(bt_range range, int want);
/* The ticks from low to high; at most BT_AXIS_TICKS. */
size_t bt_axis_ticks(const bt_axis *axis, double ticks[BT_AXIS_TICKS]);

#endif
