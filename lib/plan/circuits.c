/* Two plain hydraulic circuits under one pedal: see bypass.h. */
#include "plan/bypass.h"
#include "signals/friction.h"

#include <math.h>

bt_circuits bt_circuits_of(const bt_car *car)
{
    bt_circuits c;
    for (int a = 0; a < 2; a++) {
        const bt_axle axle = (bt_axle)a;
        c.gain[a] =
            bt_friction_gain(car, axle) / bt_car_axle(car, BT_CAR_ROLLING_RADIUS_FRONT, axle);
        c.threshold[a] = bt_friction_threshold(car, axle);
        c.ratio[a] = axle == car->bywire_axle ? car->value[BT_CAR_BYPASS_RATIO] : 1;
    }
    return c;
}

double bt_circuits_setting(const bt_circuits *c, double share, double force)
{
    const double front = (share * force / c->gain[0] + c->threshold[0]) / c->ratio[0];
    const double rear = ((1 - share) * force / c->gain[1] + c->threshold[1]) / c->ratio[1];
    return front / (front + rear);
}

void bt_circuits_pedals(const bt_circuits *c, double setting, double force, double pedal[2])
{
    const double per_pedal =
        c->gain[0] * c->ratio[0] * setting + c->gain[1] * c->ratio[1] * (1 - setting);
    const double lost = c->gain[0] * c->threshold[0] + c->gain[1] * c->threshold[1];
    const double both = (force + lost) / per_pedal;
    pedal[0] = setting * both;
    pedal[1] = (1 - setting) * both;
}

double bt_circuits_share(const bt_circuits *c, double setting, double force)
{
    double pedal[2];
    bt_circuits_pedals(c, setting, force, pedal);
    const double front = c->gain[0] * (c->ratio[0] * pedal[0] - c->threshold[0]);
    return fmin(fmax(front / force, 0), 1);
}
