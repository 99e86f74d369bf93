/* What the pedal asks of the by-wire axle (METHODS 7): demand curve, else gain and threshold, else the
 * torque that the axle's hydraulics would make at bypass_ratio * pedal pressure. */
#ifndef BT_DEMAND_H
#define BT_DEMAND_H

#include "samples/car.h"

typedef enum { BT_DEMAND_NONE, BT_DEMAND_CURVE, BT_DEMAND_GAIN, BT_DEMAND_BYPASS } bt_demand_source;
bt_demand_source bt_demand_source_of(const bt_car *car);

/* Axle torque, N*m, asked for at a (zeroed) pedal pressure in Pa; NaN in, NaN out.  Beyond the ends of
 * a curve its last slope goes on, never below 0. */
double bt_demand_torque(const bt_car *car, double pedal);
/* The same over an array. */
void bt_demand_torques(const bt_car *car, const double *pedal, size_t n, double *out);

#endif
