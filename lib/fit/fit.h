/* The car read off its zones (METHODS 5 to 7): straight lines through one point a zone, the means over its
 * held part (plateau.h), so that every zone is one independent observation and Student's t gives honest
 * intervals.  Works on rows alone.  The functions are public: bt_fit_zones, bt_fitted_clear in
 * braketally.h.  Here stand its parts. */
#ifndef BT_FIT_H
#define BT_FIT_H

#include "samples/car.h"

#define BT_FIT_ZONES_MIN 5 /* fewer points give no interval worth its name */

/* One parameter.  u and the interval's half width in its own unit; n = 0: cannot be told. */
typedef struct {
    double value, u, reach;
    size_t n; /* zones */
} bt_estimate;

/* No doubt about its speed and pressures, no wheel locked. */
bool bt_fit_usable(const bt_zone *zone);

/* Heat share and cooling by speed (W/K per m/s, each disc) of an axle's discs from what their sensors
 * read at the ends of every braking; sums over runs.  Given: the sheet's disc mass, heat and cool_still
 * (0 if not given), its ambient, and the zones' friction energies.  n = 0 if it cannot be told.  BT_NOMEM is
 * the only error. */
bt_status bt_fit_discs(const bt_zone *zones, size_t n, const bt_car *car, bt_axle axle,
                       bt_estimate *share, bt_estimate *by_speed, bt_error *err) BT_MUST_USE;

#endif
