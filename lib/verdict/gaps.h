/* Channels without a value for long (METHODS 8), in zones and between: sensor-gap. */
#ifndef BT_GAPS_H
#define BT_GAPS_H

#include "samples/samples.h"
#include "verdict/episode.h"

typedef struct {
    double since[BT_CH_COUNT]; /* s, when the hole began; NaN = there is a value */
    bool known[BT_CH_COUNT];   /* it had a value once */
    double t;                  /* s, the last sample */
} bt_gaps;

void bt_gaps_init(bt_gaps *g);
/* Samples in the order of time; holes that end in them are added to the events. */
bt_status bt_gaps_take(bt_gaps *g, const bt_block *s, bt_events *events, bt_error *err) BT_MUST_USE;
/* The log is over. */
bt_status bt_gaps_end(bt_gaps *g, bt_events *events, bt_error *err) BT_MUST_USE;

#endif
