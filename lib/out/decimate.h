/* Series of any length in constant memory without losing peaks: time is cut into buckets, each bucket keeps
 * the smallest and the largest value of each channel with their times, and when the buckets run out two
 * become one.  What a plot of as many columns as buckets draws from that covers the same height in
 * every column as the whole series would. */
#ifndef BT_DECIMATE_H
#define BT_DECIMATE_H

#include "base/error.h"

/* A series: n points in the order of time, NaN in v = gap.  Zeroed = empty. */
typedef struct {
    size_t n;
    double *t, *v; /* owned by the series, one allocation */
} bt_series;
/* Room for n points, whose number is then `n` and whose values are not set yet. */
bt_status bt_series_new(bt_series *out, size_t n, bt_error *err) BT_MUST_USE;
void bt_series_free(bt_series *series);

typedef struct bt_decimate bt_decimate;

/* `buckets` (even, at least 2) for `channels` series over one time.  BT_NOMEM. */
bt_status bt_decimate_new(bt_decimate **out, size_t buckets, size_t channels,
                          bt_error *err) BT_MUST_USE;
/* One sample, a value per channel, NaN = none.  Times rise; one that does not is left out and
 * counted, and so is NaN.  A hole in time (more than 1 s and 5 steps) or a NaN is a gap. */
void bt_decimate_push(bt_decimate *d, double t, const double *values);
void bt_decimate_reset(bt_decimate *d);
void bt_decimate_free(bt_decimate *d);

/* One channel: at most 3 points per bucket, those of a gap included.  The caller frees the series. */
bt_status bt_decimate_series(const bt_decimate *d, size_t channel, bt_series *out,
                             bt_error *err) BT_MUST_USE;
/* Samples left out since the last reset. */
size_t bt_decimate_left_out(const bt_decimate *d);
#endif
