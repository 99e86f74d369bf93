/* The pieces that the time line is cut into, made ready and handed on: free runs as they are,
 * braking zones with their ends, zeros and speeds put right (METHODS 2.4, 3, 4).  Part of the
 * segment stage, which decides where to cut. */
#ifndef BT_HANDOVER_H
#define BT_HANDOVER_H

#include "zones/bridge.h"
#include "zones/hold.h"
#include "zones/segment.h"
#include "zones/sensors.h"

/* Times are decimals turned binary: 50 ms at 20 Hz is one interval, not one and a bit.  Also the
 * least distance of an interpolated sample from the next one in its zone: slopes are taken between
 * them. */
#define BT_TIME_SLACK 1e-6 /* s */

/* Set by the segment stage; `zeros` is borrowed. */
typedef struct {
    bt_segment_sink sink;
    bt_channel pedal;
    double min_time, min_drop, half_window; /* s, m/s, s */
    bt_zeros *zeros;
    uint64_t touches;     /* counted here */
    bt_believed believed; /* the last speed handed on that can be believed */
} bt_handover;

/* Samples outside zones. */
bt_status bt_handover_free_run(bt_handover *h, const bt_block *run, bt_error *err) BT_MUST_USE;
/* Samples with the pedal released, to learn zeros from. */
void bt_handover_released(bt_handover *h, const bt_block *in, size_t lo, size_t hi);

/* A braking held from sample 0 to before `end`; its end is at time t_end, before sample `end`. */
typedef struct {
    size_t end;
    double t_end;
    size_t known;    /* held samples that may be looked at, those behind the end included */
    bool made_start; /* sample 0 is interpolated, not the log's */
    uint32_t flags;  /* cuts, thinned */
} bt_held_zone;

/* Bridge the speed, find the last sample, and hand the zone on; or its samples as a free run, if it
 * is a touch.  What is held behind the zone stays as it was; the zone's own samples are used up. */
bt_status bt_handover_zone(bt_handover *h, bt_hold *hold, const bt_held_zone *held,
                           bt_error *err) BT_MUST_USE;

#endif
