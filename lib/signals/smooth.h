/* Local least-squares quadratic over a window of time, centred on each sample: the smoothed value
 * and its slope (METHODS 3).  On an even grid this is a Savitzky-Golay filter of degree 2
 * (CHECKS 10.3); it takes uneven steps as they come.  Also the stage that puts smoothed speed and
 * deceleration into the blocks. */
#ifndef BT_SMOOTH_H
#define BT_SMOOTH_H

#include "samples/samples.h"

/* Value and slope at t[i] of the quadratic through the points j in [lo, hi] (needs 3 with different t
 * for a quadratic; with fewer, or where the system is singular, a line or the mean, whose slope is
 * NaN).  Points that are not finite are left out; with none, both are NaN. */
void bt_smooth_at(const double *t, const double *x, size_t lo, size_t hi, size_t i, double *value,
                  double *slope);

/* A stage that holds samples back by half a window (s, whole width, option `smooth_window`), replaces
 * BT_SIG_SPEED by its smoothed value and adds BT_SIG_DECEL = -slope.  The window of a sample is what
 * lies within half a width (and a millionth of it, for rounded times) of its time, at least its
 * neighbour and at most 4096 samples to either side.  It never reaches over the end of a stretch;
 * there it keeps its width (or three samples) and stands off centre.  Points that are not finite are
 * left out; a sample that has no value itself gets one only from points on both sides, else NaN.
 * BT_RANGE for a window that is not more than 0. */
bt_status bt_smooth_new(bt_stage **out, double window, bt_stage *next, bt_error *err) BT_MUST_USE;
void bt_smooth_free(bt_stage *stage);

#endif
