/* A lane: one channel's row of values in the samples' buffer, and the holes in it (METHODS 2.2).  Part of
 * samples. */
#ifndef BT_LANE_H
#define BT_LANE_H

#include "samples/channels.h"
#include "base/quick.h"

#include <math.h>

#define BT_HOLD_ROWS 65536 /* a hole of more rows stays: memory is bounded */
#define BT_INTERVALS 31    /* as many of a channel's last ones tell how often it is logged */

/* Owned by the samples stage.  Rows are counted from the log's start. */
typedef struct {
    bt_channel channel;
    bool state;
    size_t column; /* of the log; the signal in the long layout */
    double factor, shift;
    bool quick;   /* whatever is read the quick way is a possible value */
    bt_form form; /* of the last cell that was not of the form before */
    double *x;    /* the buffer's rows; NaN = no value, of the newest rows also: not settled yet */

    uint64_t blank; /* rows from this one on have values, as far as they are written */

    /* The last value of this stretch that was settled. */
    bool has, lapsed; /* lapsed: the hole behind it is too long already */
    uint64_t row;
    int64_t ns;
    double t, value;                /* value: of a state it holds over stretches; NaN = none yet */
    int64_t interval[BT_INTERVALS]; /* ns, the last ones between values */
    size_t intervals, oldest;
} bt_lane;

/* The times of the buffer's rows. */
typedef struct {
    const double *t;   /* s */
    const int64_t *ns; /* the same */
    uint64_t origin;   /* buffer row i is row origin + i of the log */
} bt_lane_rows;

/* Write buffer row `at`, which is row `row` of the log. */
static inline void bt_lane_put(bt_lane *l, size_t at, uint64_t row, double value)
{
    l->x[at] = value;
    if (isnan(value)) l->blank = row + 1;
}

/* Settle buffer rows [from, to), which come behind those settled before: a value closes the hole
 * behind it if that is short enough (t[] and x[] reach back to the value before), a state holds. */
void bt_lane_settle(bt_lane *l, const bt_lane_rows *rows, size_t from, size_t to);

/* Rows behind the last value that a later one may still fill, seen from the newest row; 0 = none. */
uint64_t bt_lane_open_rows(bt_lane *l, uint64_t row, int64_t ns);

#endif
