/* How fast an axle's wheels turn (METHODS 9: power is torque times wheel speed). */
#ifndef BT_TURNING_H
#define BT_TURNING_H

#include "samples/car.h"
#include "samples/samples.h"

/* rad/s at the n samples from `from` on: the mean of the axle's wheels that are logged, else as the car
 * rolls (then what is lost in the tyres' slip counts as the brakes' work).  NaN = no value. */
void bt_axle_turning(const bt_block *s, const bt_car *car, bt_axle axle, size_t from, size_t n,
                     double *out);

/* True if the axle has a wheel logged, so that its slip can be told. */
bool bt_axle_has_wheels(const bt_block *s, bt_axle axle);

#endif
