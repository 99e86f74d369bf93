/* Every event but the by-wire's own (METHODS 8, CONTRACT 7): motor-loss, actuator-stall, wheel-lock,
 * left-right, disc-limit and drag, and the sensors' stuck, range, offset and gap.  A cause that lasts over several
 * zones is one event, from where it was first seen to where it was last seen. */
#ifndef BT_DETECTORS_H
#define BT_DETECTORS_H

#include "samples/car.h"
#include "samples/channels.h"
#include "verdict/events.h"
#include "signals/forces.h"
#include "zones/segment.h"
#include "signals/slip.h"

typedef struct bt_detectors bt_detectors;
/* `channels` and `car` are borrowed. */
bt_status bt_detectors_new(bt_detectors **out, const bt_channels *channels, const bt_car *car,
                           bt_error *err) BT_MUST_USE;
/* A finished zone whose row has its figures, its disc temperatures and its mode: in a fallback, motor
 * and actuator have their explanation.  which[] is bt_sensors_check's of the same zone. */
bt_status bt_detectors_zone(bt_detectors *d, const bt_braking *zone, const bt_torques *torques,
                            const bt_slip *slip, const uint32_t which[BT_CH_COUNT],
                            const bt_zone *row, bt_events *events, bt_error *err) BT_MUST_USE;
/* `pedal` is the channel that opens zones, as in bt_braking. */
bt_status bt_detectors_free_run(bt_detectors *d, const bt_block *run, bt_channel pedal,
                                bt_events *events, bt_error *err) BT_MUST_USE;
/* The log is over: what is open ends. */
bt_status bt_detectors_end(bt_detectors *d, bt_events *events, bt_error *err) BT_MUST_USE;
/* Brakings that opened no zone, since the channel that opens zones was dead, and that channel; after the end. */
size_t bt_detectors_unseen(const bt_detectors *d, bt_channel *pedal);
/* s, for which the logged speed was frozen; after the end. */
double bt_detectors_speed_frozen(const bt_detectors *d);
void bt_detectors_free(bt_detectors *d);

#endif
