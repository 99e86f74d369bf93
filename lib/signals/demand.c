/* The torque that the pedal asks for: see demand.h (METHODS 7). */
#include "signals/demand.h"

#include "signals/friction.h"

#include <math.h>

bt_demand_source bt_demand_source_of(const bt_car *car)
{
    if (car->curve_n > 0) return BT_DEMAND_CURVE;
    if (!isnan(car->value[BT_CAR_DEMAND_GAIN])) return BT_DEMAND_GAIN;
    if (!isnan(car->value[BT_CAR_BYPASS_RATIO]) && !isnan(bt_friction_gain(car, car->bywire_axle)))
        return BT_DEMAND_BYPASS;
    return BT_DEMAND_NONE;
}

/* On the straight line through the two points of the curve around `pedal`, or the outermost two. */
static double on_curve(const bt_car *car, double pedal)
{
    const double *p = car->curve_pedal, *torque = car->curve_torque;
    if (car->curve_n == 1) return torque[0];
    size_t lo = 0, hi = car->curve_n - 1;
    while (hi - lo > 1) {
        const size_t middle = lo + (hi - lo) / 2;
        if (pedal < p[middle])
            hi = middle;
        else
            lo = middle;
    }
    const double slope = (torque[hi] - torque[lo]) / (p[hi] - p[lo]);
    return torque[lo] + slope * (pedal - p[lo]);
}

double bt_demand_torque(const bt_car *car, double pedal)
{
    if (isnan(pedal)) return NAN;
    switch (bt_demand_source_of(car)) {
    case BT_DEMAND_CURVE: {
        const double torque = on_curve(car, pedal);
        return torque > 0 ? torque : 0;
    }
    case BT_DEMAND_GAIN: {
        const double threshold = car->value[BT_CAR_DEMAND_THRESHOLD];
        return bt_friction_torque(car->value[BT_CAR_DEMAND_GAIN], isnan(threshold) ? 0 : threshold,
                                  pedal);
    }
    case BT_DEMAND_BYPASS:
        return bt_friction_torque(bt_friction_gain(car, car->bywire_axle),
                                  bt_friction_threshold(car, car->bywire_axle),
                                  car->value[BT_CAR_BYPASS_RATIO] * pedal);
    case BT_DEMAND_NONE:
        break;
    }
    return NAN;
}

void bt_demand_torques(const bt_car *car, const double *pedal, size_t n, double *out)
{
    if (bt_demand_source_of(car) == BT_DEMAND_GAIN) { /* the usual one */
        const double gain = car->value[BT_CAR_DEMAND_GAIN];
        const double least = car->value[BT_CAR_DEMAND_THRESHOLD];
        const double threshold = isnan(least) ? 0 : least;
        for (size_t i = 0; i < n; i++) out[i] = bt_friction_torque(gain, threshold, pedal[i]);
        return;
    }
    for (size_t i = 0; i < n; i++) out[i] = bt_demand_torque(car, pedal[i]);
}
