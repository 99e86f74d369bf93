/* Hydraulic friction brakes of one axle: torque from line pressure (METHODS 5; Limpert, Brake Design
 * and Safety). */
#ifndef BT_FRICTION_H
#define BT_FRICTION_H

#include "samples/car.h"

/* Axle friction torque per pascal above the threshold, N*m/Pa: 2 * 2 * mu * A * r (two calipers, two
 * faces); NaN if the sheet lacks one of them. */
double bt_friction_gain(const bt_car *car, bt_axle axle);

/* Pressure below which the axle's brakes give no torque, Pa; 0 if the sheet does not say. */
double bt_friction_threshold(const bt_car *car, bt_axle axle);

/* gain * max(0, p - threshold); NaN pressure gives NaN. */
static inline double bt_friction_torque(double gain, double threshold, double p)
{
    const double above = p - threshold;
    return gain * (above < 0 ? 0 : above); /* not fmax(), which would make 0 of NaN */
}

#endif
