/* Channels frozen at one value beyond what a zone can show (METHODS 2.5): a logged speed, on which the zones hang, so
 * that neither their cut nor their figures tell of it; and what the motor gives and what is asked of motor and line,
 * which rightly rest through a braking, but not through three and all that lies between.
 *
 * A speed is frozen that keeps its very value for 2 s while more than half of the logged wheels change by 3 m/s each
 * (two of four are a rolling road), or, where no wheel is logged, while the accelerometer shows 2 m/s2 and more for as
 * long.  The others are by three brakings in which their sister moves: motor_torque and motor_request are each other's
 * by 20 N*m, but a torque of 0 is a motor that is gone; line_request has the by-wire line's 10 bar, unless that is on
 * its bypass. */
#ifndef BT_FROZEN_H
#define BT_FROZEN_H

#include "samples/car.h"
#include "samples/samples.h"
#include "verdict/events.h"

typedef struct bt_frozen bt_frozen;
bt_status bt_frozen_new(bt_frozen **out, bt_axle bywire_axle, bt_error *err) BT_MUST_USE;
/* Samples in the order of time, of the zone of that number (NaN = between zones); what comes to an end in them is
 * added to the events. */
bt_status bt_frozen_take(bt_frozen *f, const bt_block *in, double zone, bt_events *events,
                         bt_error *err) BT_MUST_USE;
/* The samples just taken were a braking; was the by-wire in charge all through it? */
void bt_frozen_braking(bt_frozen *f, const bt_block *zone, bool by_wire);
/* The log is over: what still stands is told. */
bt_status bt_frozen_end(bt_frozen *f, bt_events *events, bt_error *err) BT_MUST_USE;
/* s, for which the speed was frozen in all. */
double bt_frozen_speed_time(const bt_frozen *f);
void bt_frozen_free(bt_frozen *f);

#endif
