/* What pressures read while nobody brakes, from zone to zone (METHODS 2.4, 8): sensor-offset and drag. */
#ifndef BT_RESTING_H
#define BT_RESTING_H

#include "samples/car.h"
#include "verdict/episode.h"
#include "zones/segment.h"

/* What drags on one axle is one cause: the lines that have it, calipers before the axle's own. */
typedef struct {
    bt_episode episode;
    bt_channel line[2]; /* of the worst zone; BT_CH_COUNT = none */
    double left[2];     /* Pa */
    bool twin_rests;    /* a caliper alone drags, the other is known to rest */
    bool alone;         /* no other line of the axle is logged */
} bt_drag;

typedef struct {
    bt_axle bywire_axle;
    double first[BT_CH_COUNT]; /* Pa, the first good zero; NaN = none yet */
    bt_episode offset[BT_CH_COUNT];
    bool lone[BT_CH_COUNT]; /* it may be a foot that rests: no other sensor tells */
    bt_drag drag[2];        /* per axle */
} bt_resting;

void bt_resting_init(bt_resting *r, bt_axle bywire_axle);
/* A zone and its row; `from` is where the rest before it began.  What is known of a channel by other events
 * (explained) is not called an offset or drag. */
void bt_resting_zone(bt_resting *r, const bt_braking *zone, const bt_zone *row, double from,
                     const bool explained[BT_CH_COUNT]);
/* After a zone: what it did not show is over; `all` = the log is. */
bt_status bt_resting_settle(bt_resting *r, bool all, bt_events *events, bt_error *err) BT_MUST_USE;

#endif
