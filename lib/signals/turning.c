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

/* Speed of an axle of which not every value is there. */
static double partly(const double *left, const double *right, const double *rolls, size_t i)
{
    const double l = left ? left[i] : NAN, r = right ? right[i] : NAN;
    const double one = isnan(l) ? r : l;
    return isnan(one) && rolls ? rolls[i] : one;
}

void bt_axle_turning(const bt_block *s, const bt_car *car, bt_axle axle, size_t from, size_t n,
                     double *out)
{
    const double *left = wheel(s, axle, 0), *right = wheel(s, axle, 1);
    const double *rolls = s->ch[BT_SIG_SPEED];
    const double per_speed = 1 / bt_car_axle(car, BT_CAR_ROLLING_RADIUS_FRONT, axle);
    for (size_t i = 0; i < n; i++) {
        double speed = left && right ? 0.5 * (left[from + i] + right[from + i]) : NAN;
        if (isnan(speed)) speed = partly(left, right, rolls, from + i);
        out[i] = speed * per_speed;
    }
}
