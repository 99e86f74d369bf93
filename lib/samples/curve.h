/* A demand curve: axle torque over rear pedal pressure, a sheet of two columns `pedal_bar,axle_nm`
 * (CONTRACT 5).  Part of the car. */
#ifndef BT_CURVE_H
#define BT_CURVE_H

#include "base/error.h"

/* Read the curve at `path`; a relative path starts from the folder of the file `beside` (NULL = where the
 * program runs).  *pedal (Pa, 0 or more, strictly rising) and *torque (N*m, 0 or more) are the caller's
 * to free, *n >= 2.  BT_RANGE and BT_SYNTAX carry the curve's own file and line. */
bt_status bt_curve_read(const char *path, const char *beside, double **pedal, double **torque,
                        size_t *n, bt_error *err) BT_MUST_USE;

#endif
