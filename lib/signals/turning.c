/* Wheel turning: see turning.h. */
#include "signals/turning.h"

#include <math.h>

static const double *wheel(const bt_block *s, bt_axle axle, int side)
{
    return s->ch[(axle == BT_FRONT ? BT_CH_WHEEL_FL : BT_CH_WHEEL_RL) + side];
}

bool bt_axle_has_wheels(const bt_block *s, bt_axle axle)
{
    return wheel(s, axle, 0) || wheel(s, axle, 1);
}

double bt_axle_turning(const bt_block *s, const bt_car *car, bt_axle axle, size_t i)
{
    const double *left = wheel(s, axle, 0), *right = wheel(s, axle, 1);
    const double *rolls = s->ch[BT_SIG_SPEED];
    const double l = left ? left[i] : NAN, r = right ? right[i] : NAN;
    const double both = isnan(l) ? r : isnan(r) ? l : 0.5 * (l + r);
    const double speed = isnan(both) && rolls ? rolls[i] : both;
    return speed / bt_car_axle(car, BT_CAR_ROLLING_RADIUS_FRONT, axle);
}
