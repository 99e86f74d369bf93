/* The brakes' own gains, from what slowed the car, and the bypass: see fitter.h. */
#include "fit/fitter.h"

#include "signals/friction.h"
#include "zones/books.h"
#include "base/print.h"

#include <math.h>

#define BYPASS_MIN 3   /* zones in fallback */
#define PASCAL     1e5 /* in a bar */

/* What the brakes must have done in the held part, N at the tyres: inertia less road load, whose mean is
 * larger than at the mean speed by the spread of the speed. */
static double slowing_force(const bt_zone *z, const bt_car *car)
{
    const double mass = car->value[BT_CAR_MASS], c = car->value[BT_CAR_ROAD_LOAD_C];
    /* Under a slip that changes the wheels slow down by less or more than the car. */
    const double wheels = isnan(z->hold_wheel_decel) ? z->hold_decel : z->hold_wheel_decel;
    const double drop = z->hold_decel * z->hold_time;
    return mass * z->hold_decel + (bt_effective_mass(car) - mass) * wheels -
           bt_road_load(car, z->hold_speed) - (isnan(c) ? 0 : c * drop * drop / 12);
}

static size_t force_points(bt_fitter *f)
{
    const bt_car *car = f->car;
    const double r[2] = {car->value[BT_CAR_ROLLING_RADIUS_FRONT],
                         car->value[BT_CAR_ROLLING_RADIUS_REAR]};
    size_t n = 0;
    for (size_t i = 0; i < f->n; i++) {
        const bt_zone *z = &f->zones[i];
        const double force = slowing_force(z, car) - z->hold_motor / r[car->motor_axle];
        const double front = z->hold_front / r[0], rear = z->hold_rear_friction / r[1];
        if (!bt_fit_usable(z) || isnan(force + front + rear)) continue;
        /* The deceleration is a difference of two speeds, the more uncertain the shorter the time between;
         * from a second on other things count as much. */
        const double weight = z->hold_time / hypot(1, z->hold_time);
        f->x[2 * n] = front * weight;
        f->x[2 * n + 1] = rear * weight;
        f->y[n++] = force * weight;
    }
    return n;
}

bt_status bt_fit_pads(bt_fitter *f)
{
    static const char *const names[2] = {"pad_friction_front", "pad_friction_rear"};
    const size_t n = force_points(f);
    bt_leastsq fit;
    if (n < BT_FIT_ZONES_MIN || !bt_least_squares(f->x, f->y, n, 2, &fit))
        return BT_FIT_CANNOT(
            f,
            "pad_friction_front, pad_friction_rear: %zu zones with deceleration, both "
            "axles' torques, mass and road load known, %d needed",
            n, BT_FIT_ZONES_MIN);
    if (!(fit.u[0] < BT_FIT_TELLS_MAX * fit.value[0] && fit.u[1] < BT_FIT_TELLS_MAX * fit.value[1]))
        return BT_FIT_CANNOT(
            f, "pad_friction_front, pad_friction_rear: the zones do not tell the axles "
               "apart, the motor's share is too much alike in all of them");
    for (int a = 0; a < 2; a++) {
        const double mu = bt_car_axle(f->car, BT_CAR_PAD_FRICTION_FRONT, (bt_axle)a);
        const bt_estimate e = {fit.value[a] * mu, fit.u[a] * mu,
                               bt_fit_reach(fit.u[a] * mu, fit.df), n};
        char given[120];
        bt_print(given, sizeof given,
                 "mass, road load, piston area and radii; axle gain %.4g N·m/bar",
                 fit.value[a] * bt_friction_gain(f->car, (bt_axle)a) * PASCAL);
        BT_TRY(bt_fitter_put(f, names[a], "1", 1, &e, given));
    }
    return BT_OK;
}

/* ---- bypass ---- */

bt_status bt_fit_bypass(bt_fitter *f)
{
    const bool rear = f->car->bywire_axle == BT_REAR;
    size_t n = 0;
    for (size_t i = 0; i < f->n; i++) {
        const bt_zone *z = &f->zones[i];
        const double x = bt_fit_pedal(z, f->car), slope = z->hold_pedal_slope;
        const double y = rear ? z->hold_line_rear : z->hold_line_front;
        if (!bt_fit_usable(z) || !bt_fitter_fallen_back(f, z) || isnan(x) || isnan(y) ||
            isnan(slope))
            continue;
        f->x[2 * n] = x;
        f->x[2 * n + 1] = slope; /* the bypass lags a little, too */
        f->y[n++] = y;
    }
    bt_leastsq fit;
    if (n < BYPASS_MIN || !bt_least_squares(f->x, f->y, n, 2, &fit))
        return BT_FIT_CANNOT(f, "bypass_ratio: %zu zones in fallback, %d needed", n, BYPASS_MIN);
    const bt_estimate e = {fit.value[0], fit.u[0], bt_fit_reach(fit.u[0], fit.df), n};
    return bt_fitter_put(f, "bypass_ratio", "1", 1, &e, "");
}
