/* Friction torque from line pressure: see friction.h. */
#include "signals/friction.h"

#include <math.h>

double bt_friction_gain(const bt_car *car, bt_axle axle)
{
    return 2 * 2 * bt_car_axle(car, BT_CAR_PAD_FRICTION_FRONT, axle) *
           bt_car_axle(car, BT_CAR_PISTON_AREA_FRONT, axle) *
           bt_car_axle(car, BT_CAR_EFFECTIVE_RADIUS_FRONT, axle);
}

double bt_friction_threshold(const bt_car *car, bt_axle axle)
{
    const double threshold = bt_car_axle(car, BT_CAR_THRESHOLD_FRONT, axle);
    return isnan(threshold) ? 0 : threshold;
}
