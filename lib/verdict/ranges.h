/* Channels that read what no sensor reads, or stay pinned at the end of their range (METHODS 2.5, 8): sensor-range. */
#ifndef BT_RANGES_H
#define BT_RANGES_H

#include "samples/samples.h"
#include "verdict/episode.h"

typedef struct {
    bt_episode of[BT_CH_COUNT];
    double since[BT_CH_COUNT]; /* s, between zones: since when it has been out; NaN = it is not */
} bt_ranges;

void bt_ranges_init(bt_ranges *r);
/* A zone; which[] is bt_sensors_check's of it. */
void bt_ranges_zone(bt_ranges *r, const bt_block *zone, const uint32_t which[BT_CH_COUNT],
                    const bt_zone *row);
/* Samples between zones, where pressures alone are looked at: a pedal out of its range opens no zone to see it in. */
void bt_ranges_between(bt_ranges *r, const bt_block *run);
/* After a zone: what it did not show is over; `all` = the log is. */
bt_status bt_ranges_settle(bt_ranges *r, bool all, bt_events *events, bt_error *err) BT_MUST_USE;

#endif
