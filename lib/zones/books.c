/* Energy books: see books.h. */
#include "zones/books.h"

#include "zones/integral.h"
#include "signals/turning.h"

#include <math.h>

#define PIECE          ((size_t)256) /* samples worked on at once */
#define INERTIA_FACTOR 1.04 /* for turning parts, where the sheet does not say (METHODS 5) */

double bt_effective_mass(const bt_car *car)
{
    const double factor = car->value[BT_CAR_INERTIA_FACTOR];
    return car->value[BT_CAR_MASS] * (isnan(factor) ? INERTIA_FACTOR : factor);
}

static double or_zero(double x)
{
    return isnan(x) ? 0 : x;
}

double bt_road_load(const bt_car *car, double speed)
{
    const double *q = car->value;
    const double a = q[BT_CAR_ROAD_LOAD_A], b = q[BT_CAR_ROAD_LOAD_B], c = q[BT_CAR_ROAD_LOAD_C];
    if (isnan(a) && isnan(b) && isnan(c)) return NAN;
    return or_zero(a) + (or_zero(b) + or_zero(c) * speed) * speed;
}

/* What powers are made from. */
typedef struct {
    const bt_block *zone;
    const bt_torques *torques;
    const bt_car *car;
    const double *trim;
} source;

/* The power at the n samples from `from` on, at most PIECE + 1. */
typedef void fill_power(const source *s, size_t from, size_t n, double *out);

static void road_power(const source *s, size_t from, size_t n, double *out)
{
    const double *v = s->zone->ch[BT_SIG_SPEED] + from;
    for (size_t i = 0; i < n; i++) out[i] = bt_road_load(s->car, v[i]) * v[i];
}

/* Of an axle's wheels, as far as they are known; 1 = as the sheet says. */
static double axle_trim(const double trim[4], bt_axle axle)
{
    const double left = trim[axle == BT_FRONT ? 0 : 2], right = trim[axle == BT_FRONT ? 1 : 3];
    const double both = isnan(left) ? right : isnan(right) ? left : 0.5 * (left + right);
    return isnan(both) ? 1 : both;
}

/* Adds an axle's brake force times the speed at which its tyres slip. */
static void add_slip_power(const source *s, bt_axle axle, size_t from, size_t n, double *out)
{
    const bt_torques *q = s->torques;
    const double *friction = (axle == BT_FRONT ? q->front : q->rear) + from;
    const double *motor = q->motor && s->car->motor_axle == axle ? q->motor + from : NULL;
    const double *v = s->zone->ch[BT_SIG_SPEED] + from;
    const double radius = bt_car_axle(s->car, BT_CAR_ROLLING_RADIUS_FRONT, axle);
    const double rolls = axle_trim(s->trim, axle) * radius, per_torque = 1 / radius;
    double turning[PIECE + 1];
    bt_axle_turning(s->zone, s->car, axle, from, n, turning);
    for (size_t i = 0; i < n; i++) {
        const double torque = friction[i] + (motor && motor[i] > 0 ? motor[i] : 0);
        out[i] += torque * per_torque * (v[i] - rolls * turning[i]);
    }
}

static void tyre_power(const source *s, size_t from, size_t n, double *out)
{
    for (size_t i = 0; i < n; i++) out[i] = 0;
    add_slip_power(s, BT_FRONT, from, n, out);
    add_slip_power(s, BT_REAR, from, n, out);
}

/* Trapezoids over what is known; what is missing counts like the mean of the rest. */
static double work(const source *s, fill_power *power)
{
    const double *t = s->zone->t;
    const size_t n = s->zone->n;
    double sum = 0, known = 0;
    for (size_t from = 0; from + 1 < n; from += PIECE) {
        const size_t here = n - from < PIECE + 1 ? n - from : PIECE + 1;
        double p[PIECE + 1], covered;
        power(s, from, here, p);
        sum += bt_integral(t + from, p, here, &covered);
        known += covered;
    }
    const double time = t[n - 1] - t[0];
    return known > 0 && known >= BT_COVERAGE_MIN * time ? sum * time / known : NAN;
}

void bt_books_zone(const bt_block *zone, const bt_torques *torques, const bt_car *car,
                   const double trim[4], bt_zone *row)
{
    const source s = {zone, torques, car, trim};
    const bool speed = zone->ch[BT_SIG_SPEED] && zone->n > 0;
    const bool slip = torques->front && torques->rear && bt_axle_has_wheels(zone, BT_FRONT) &&
                      bt_axle_has_wheels(zone, BT_REAR);
    row->kinetic = 0.5 * bt_effective_mass(car) * (row->entry * row->entry - row->exit * row->exit);
    row->road = speed ? work(&s, road_power) : NAN;
    row->tyre = speed && slip ? work(&s, tyre_power) : NAN;
    row->rest = row->kinetic - row->energy_front - row->energy_rear - row->energy_motor -
                or_zero(row->tyre) - row->road;
}
