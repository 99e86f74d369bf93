/* Braking zones (METHODS 4).  The last stage: it cuts the time line into braking zones and what
 * lies between, and hands both on in the order of time, every sample exactly once (a zone that is
 * thinned loses some, a touch after thinning too).
 *
 * Beyond METHODS: pedal_force opens at 22 N and closes at 11 N, pedal_travel at 2 mm and 1 mm
 * (trigger of SAE J299).  A stop ends a zone where the speed first fell below 0.5 m/s.  The start
 * lies at most 1 s before the sample that opens the zone, however long a foot rested between `off`
 * and `on`.  A hole in the pedal ends a zone at the last value known (cut-end); a zone that begins
 * behind one is cut-start.  A pedal whose zero moves beyond `off` while its sisters rest (bt_zeros_moved) would leave a
 * zone open for ever: the levels follow it, though no more than BT_ZERO_MAX is subtracted.  Where the speed is unsure at a zone's end, up to 3 s behind it are held
 * back to find one to believe (bridge.h). */
#ifndef BT_SEGMENT_H
#define BT_SEGMENT_H

#include "samples/car.h"
#include "samples/samples.h"
#include "zones/sensors.h"

/* The samples of one braking zone.  s.n may exceed BT_BLOCK_MAX.  The first sample stands at the
 * zone's start and the last at its end, interpolated between the log's samples; pressures (and the
 * pedal substitute) have their zero subtracted.  Borrowed like a block. */
typedef struct {
    bt_block s;
    bt_channel pedal;         /* the channel that opened the zone; BT_CH_COUNT = deceleration */
    double zero[BT_CH_COUNT]; /* what was subtracted, in SI; 0 = nothing */
    bt_rest rest;             /* what the channels read before the zone */
    uint32_t flags;           /* of enum bt_flag: cuts, zeros, speed, thinned */
} bt_braking;

/* Who takes the pieces.  `free_run` gets samples outside zones (also touches), pressures as logged.
 */
typedef struct {
    void *user;
    bt_status (*free_run)(void *user, const bt_block *run, bt_error *err);
    bt_status (*braking)(void *user, const bt_braking *zone, bt_error *err);
    bt_status (*stretch_end)(void *user, bt_error *err);
} bt_segment_sink;

/* `car` gives the thresholds (zone_on, zone_off, ...); it and `channels` are borrowed.
 * max_samples: above it a zone's samples are thinned (every other one left out, again and again)
 * and flagged BT_FLAG_THINNED; 0 = 65536. */
bt_status bt_segment_new(bt_stage **out, const bt_channels *channels, const bt_car *car,
                         size_t max_samples, const bt_segment_sink *sink,
                         bt_error *err) BT_MUST_USE;
/* Brakings dropped as too short or too light. */
uint64_t bt_segment_touches(const bt_stage *stage);
/* Which channel opens zones: BT_CH_COUNT = none, deceleration does. */
bt_channel bt_segment_pedal(const bt_stage *stage);
void bt_segment_free(bt_stage *stage);

#endif
