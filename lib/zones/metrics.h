/* The figures of one braking zone, but for what needs more than one zone or state from before
 * (mode, place, disc temperatures). */
#ifndef BT_METRICS_H
#define BT_METRICS_H

#include "zones/blend.h"
#include "samples/car.h"
#include "signals/forces.h"
#include "zones/integral.h"
#include "zones/motion.h"
#include "zones/segment.h"
#include "signals/slip.h"

/* Fill the row from the zone's samples.  run, place, zone, mode, disc_* and the _u columns are left as they are.
 * `torques` were made from the same samples; trim as in slip.h; nominal in m/s, 0 = not asked.
 * `offset` is added to the start (the log's own seconds).  Flags of the zone and ours are added to the
 * row's.  A figure is NaN where its channels or sheet rows are missing or less than 9/10 of the zone's
 * time is known; any hole in a torque, the demand, the pedal or the speed flags BT_FLAG_SENSOR_GAP.
 * BT_NOMEM is the only error.
 *   pedal_rate     steepest rise of the pedal pressure over 0.05 s while applying
 *   rise           from the start to 90 % of the largest pedal, between samples
 *   balance_slope  of the front share of force over time in the hold phase, where that lasts 0.2 s
 *   energy_*       of torque times wheel turning (the axle's wheel speeds, else the car's), braking only
 *   recovered      integral of -V I while the motor torque brakes (without it: while the current
 *                  charges); else energy_motor * eta, flagged BT_FLAG_RECOVERED_ESTIMATED
 *   effort_ratio   a road load coefficient that is not given counts as 0 if another one is given */
bt_status bt_metrics(const bt_braking *zone, const bt_torques *torques, const bt_car *car,
                     const double trim[4], double nominal, double offset, bt_zone *row,
                     bt_blend *blend, bt_slip *slip, bt_error *err) BT_MUST_USE;

#endif
