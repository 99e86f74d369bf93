/* How the car slowed in one braking zone, and the phases of the pedal (METHODS 3, 4). */
#ifndef BT_MOTION_H
#define BT_MOTION_H

#include "samples/samples.h"

/* Kinematics alone: duration, distance, entry and exit speed, deceleration mean, by distance, peak and
 * MFDD (UN rules, CHECKS 1.1), jerk, stops.  From BT_SIG_SPEED, BT_SIG_DECEL and BT_SIG_DIST (the
 * integral of the speed where there is none); NaN where less than 9/10 of the time is known.
 *   jerk          steepest rise over 0.1 s until the deceleration has first come to 90 % of its peak
 *   stop          distance of a zone that ends at 0.5 m/s or below, from the first control movement
 *   stop_nominal  the same from `nominal` m/s (0 = not asked): stop * (nominal / entry)^2, the form of
 *                 SAE J299 (CHECKS 3) */
void bt_metrics_motion(const bt_block *s, double nominal, bt_zone *row);

/* Phases of a zone by its pedal: sample ranges [0, apply) [apply, release) [release, n): to the first
 * and from behind the last sample of 90 % of the peak.  Without a peak above 0 both are n. */
void bt_phases(const double *pedal, size_t n, size_t *apply, size_t *release);

/* Largest least-squares slope of x over windows of `window` s (two samples at least) that begin before
 * sample `end`; NaN if there is none. */
double bt_steepest(const double *t, const double *x, size_t n, size_t end, double window);

#endif
