/* What opens and closes braking zones: a signal and two levels (METHODS 4).  Part of the segment stage. */
#ifndef BT_TRIGGER_H
#define BT_TRIGGER_H

#include "samples/car.h"
#include "samples/channels.h"

typedef struct {
    bt_channel pedal; /* BT_CH_COUNT = none is logged, the deceleration does */
    int signal;       /* index of the signal in bt_block.ch */
    double on, off;   /* SI, above the signal's zero; it opens above `on` and closes below `off` */
} bt_trigger;

/* The first logged of pedal_front, pedal_rear, pedal_force, pedal_travel and line_front, else the
 * deceleration.  BT_RANGE where the car's levels would leave a zone open for ever. */
bt_status bt_trigger_set(bt_trigger *out, const bt_channels *channels, const bt_car *car,
                         bt_error *err) BT_MUST_USE;

#endif
