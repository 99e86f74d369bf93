/* Brake channels that stand still while the car brakes and a sister moves (METHODS 2.5), in zones and outside:
 * a pedal that is dead opens no zone to be seen in.
 *
 * Sisters are what physics ties: the two master cylinders, the lines of the axle that the foot works, and, as
 * followers only, the pedal's force and travel; lines of the by-wire axle with each other and with their request.
 * A braking is a sister's rise of 10 bar while the car slows.  What the foot works is dead when it stays within
 * half a bar through that and for 2 s from there on; a by-wire line, which rightly rests, only when it keeps its
 * very value.  Without a sister three brakings tell: for the channel that opens zones, hard ones that the
 * speed shows; for a by-wire line, those whose demand less the motor's torque asks 10 bar of it. */
#ifndef BT_STANDING_H
#define BT_STANDING_H

#include "samples/car.h"
#include "samples/samples.h"
#include "signals/forces.h"
#include "verdict/events.h"

typedef struct bt_standing bt_standing;
bt_status bt_standing_new(bt_standing **out, bt_axle bywire_axle, bt_error *err) BT_MUST_USE;
/* Where samples come from. */
typedef struct {
    bt_channel pedal;          /* that opens zones; BT_CH_COUNT = none */
    const double *zero;        /* per channel, Pa that were subtracted; NULL = as logged */
    double zone;               /* number; NaN = between zones */
    const bt_torques *torques; /* of a zone; NULL = not known */
    double line_gain;          /* N*m/Pa at the by-wire axle */
} bt_standing_place;
/* Samples in the order of time; what comes to an end in them is added to the events. */
bt_status bt_standing_take(bt_standing *s, const bt_block *in, const bt_standing_place *place,
                           bt_events *events, bt_error *err) BT_MUST_USE;
/* The channel was seen to stand in the zone just taken (bt_sensors_check).  True = it still does or has been
 * told of since t, so that it need not be told again. */
bool bt_standing_confirm(bt_standing *s, bt_channel channel, double t);
/* Has it stood long enough by now to be called dead? */
bool bt_standing_dead(bt_standing *s, bt_channel channel);
/* Is it dead, or has it been told of since t? */
bool bt_standing_told(bt_standing *s, bt_channel channel, double t);
/* Has it had its newest value for `time` s by now? */
bool bt_standing_still(bt_standing *s, bt_channel channel, double time);
/* The log is over: what still stands is told. */
bt_status bt_standing_end(bt_standing *s, bt_events *events, bt_error *err) BT_MUST_USE;
/* Brakings that opened no zone, as the channel that should have opened it was dead or had no value that a sensor
 * reads, and that channel. */
size_t bt_standing_unseen(const bt_standing *s, bt_channel *pedal);
void bt_standing_free(bt_standing *s);

#endif
