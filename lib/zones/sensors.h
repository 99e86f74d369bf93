/* Pressure zeros and plausibility (METHODS 2.4, 2.5). */
#ifndef BT_SENSORS_H
#define BT_SENSORS_H

#include "samples/car.h"
#include "samples/samples.h"

#define BT_ZERO_WINDOW 0.5 /* s of released pedal that a zero is taken from */
#define BT_ZERO_GUARD  0.1 /* s between that and the zone */
#define BT_ZERO_MAX    2e5 /* Pa; beyond it nothing is subtracted */

/* Remembers the last BT_ZERO_WINDOW + BT_ZERO_GUARD (and a margin) of every pressure channel (and
 * pedal_force, pedal_travel where they open zones) while the pedal is released. */
typedef struct bt_zeros bt_zeros;
bt_status bt_zeros_new(bt_zeros **out, bt_axle bywire_axle, bt_error *err) BT_MUST_USE;
/* Samples [lo, hi) of a block, pedal released.  Forgets everything at the end of a stretch
 * (bt_zeros_reset), but not that a channel once had a good zero. */
void bt_zeros_push(bt_zeros *z, const bt_block *in, size_t lo, size_t hi);
void bt_zeros_reset(bt_zeros *z);
/* What the channels read at rest. */
typedef struct {
    double level[BT_CH_COUNT]; /* SI, as logged; NaN = none, or a channel that has no zero */
    uint32_t flag
        [BT_CH_COUNT]; /* BT_FLAG_ZERO_OFFSET or BT_FLAG_DRAG where that is beyond a zero, else 0 */
} bt_rest;

/* Levels (bt_trimmed_mean) over [start - guard - window, start - guard]: zero[] gets what to subtract per channel
 * (0 where not a pressure, unknown or not trusted), *rest (may be NULL) the levels; flags get BT_FLAG_NO_ZERO
 * (no channel has a value), BT_FLAG_ZERO_OFFSET, BT_FLAG_DRAG.  What drags, and what a resting foot presses beyond
 * BT_ZERO_MAX, is a pressure and no offset: the channel keeps its last good zero.  What an axle's line reads
 * while its own calipers rest is an offset.  A log with fewer
 * than three samples in the window serves with its last three, 5 s old at most. */
void bt_zeros_at(bt_zeros *z, double start, double zero[BT_CH_COUNT], bt_rest *rest,
                 uint32_t *flags);
/* Zero of one channel now, for finding zones: the level of the last BT_ZERO_WINDOW pushed if it
 * can be trusted and the signal was quiet there, else the one from the call before; NaN as long as
 * there is none.  The caller decides by the samples' times, not by blocks, when to ask. */
double bt_zeros_running(bt_zeros *z, bt_channel channel);
/* Is what the pedal reads through these samples, BT_ZERO_WINDOW or so of them, a zero that has moved?  It keeps its
 * level while all else that hangs on the foot rests; where nothing else is logged, while the car gains speed.
 * Then it is the running zero from now on, however large. */
bool bt_zeros_moved(bt_zeros *z, const bt_block *in, bt_channel pedal);
void bt_zeros_free(bt_zeros *z);

/* Plausibility of the channels of one braking zone (METHODS 2.5): the BT_FLAG_SENSOR_* bits;
 * which[] (may be NULL) gets the bits per channel. */
uint32_t bt_sensors_check(const bt_block *zone, uint32_t which[BT_CH_COUNT]);

/* False = x[0..n) keeps no value for as long as `time` s; true = it may, look closer.  Costs next to nothing. */
bool bt_may_stand(const double *t, const double *x, size_t n, double time);
/* Are n values within what a sensor of that channel can read?  NaN is. */
bool bt_sensors_possible(bt_channel channel, const double *x, size_t n);

#endif
