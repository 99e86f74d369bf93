/* The held part of a braking: see plateau.h. */
#include "zones/plateau.h"

#include "zones/motion.h"
#include "signals/turning.h"

#include <math.h>

#define SETTLE   0.25 /* s after the pedal got there: dead time and lag of a good actuator */
#define HELD_MIN 0.2  /* s */
#define LATE     0.05 /* s, about what friction brakes are late: see late_slope */
#define HELD     0.75 /* of the peak pedal */

/* The first of n samples at or after a time; n if there is none. */
static size_t first_from(const double *t, size_t n, double time)
{
    size_t lo = 0, hi = n;
    while (lo < hi) {
        const size_t middle = lo + (hi - lo) / 2;
        if (t[middle] < time)
            lo = middle + 1;
        else
            hi = middle;
    }
    return lo;
}

/* Value at time x between samples; NaN outside. */
static double at(const double *t, const double *y, size_t n, double x)
{
    size_t i = first_from(t, n, x);
    if (i == 0 && n > 1 && t[0] <= x) i = 1; /* on the first one */
    if (i == 0 || i == n) return NAN;
    return y[i - 1] + (y[i] - y[i - 1]) * (x - t[i - 1]) / (t[i] - t[i - 1]);
}

/* Mean from time a to time b, trapezoids, both ends between samples; NaN if a value is missing. */
static double mean(const bt_block *s, const double *y, double a, double b)
{
    if (!y || !(b > a)) return NAN;
    double sum = 0, t0 = a, y0 = at(s->t, y, s->n, a);
    for (size_t i = first_from(s->t, s->n, a); i < s->n && s->t[i] < b; i++) {
        if (!(s->t[i] > a)) continue;
        sum += 0.5 * (s->t[i] - t0) * (y0 + y[i]);
        t0 = s->t[i];
        y0 = y[i];
    }
    sum += 0.5 * (b - t0) * (y0 + at(s->t, y, s->n, b));
    return sum / (b - a);
}

static double line_mean(const bt_block *s, bt_axle axle, double a, double b)
{
    const double *left, *right;
    bt_line_pressure(s, axle, &left, &right);
    return 0.5 * (mean(s, left, a, b) + mean(s, right, a, b));
}

/* Mean change per s from a to b. */
static double slope(const bt_block *s, const double *y, double a, double b)
{
    return (at(s->t, y, s->n, b) - at(s->t, y, s->n, a)) / (b - a);
}

/* Change of the level from a to b over the time between.  What comes late by tau has a mean that is less
 * by tau times this, if the levels are those of the last tau before a and b: a release that has begun
 * at b has not arrived yet. */
static double late_slope(const bt_block *s, const double *y, double a, double b)
{
    return (mean(s, y, b - LATE, b) - mean(s, y, a - LATE, a)) / (b - a);
}

/* From when to when the pedal is held. */
static bool held(const bt_block *s, const double *pedal, double *a, double *b)
{
    size_t apply, release;
    bt_phases(pedal, s->n, &apply, &release);
    if (apply >= release) return false;
    double peak = 0;
    for (size_t i = apply; i < release; i++) peak = fmax(peak, pedal[i]);
    while (release < s->n && pedal[release] >= HELD * peak) release++;
    *a = s->t[apply] + SETTLE;
    *b = s->t[release - 1];
    return *b - *a >= HELD_MIN;
}

/* How fast the wheels slow down at the tread, mean of the axles that are logged, from sample to sample
 * next to a and b; NaN = none is. */
static double wheel_decel(const bt_block *s, const bt_car *car, double a, double b)
{
    size_t lo = 0, hi = s->n - 1;
    while (lo < hi && s->t[lo] < a) lo++;
    while (hi > lo && s->t[hi] > b) hi--;
    double sum = 0, axles = 0;
    for (int axle = 0; axle < 2 && hi > lo; axle++) {
        if (!bt_axle_has_wheels(s, (bt_axle)axle)) continue;
        const double radius = bt_car_axle(car, BT_CAR_ROLLING_RADIUS_FRONT, (bt_axle)axle);
        double first, last;
        bt_axle_turning(s, car, (bt_axle)axle, lo, 1, &first);
        bt_axle_turning(s, car, (bt_axle)axle, hi, 1, &last);
        sum += radius * (first - last) / (s->t[hi] - s->t[lo]);
        axles++;
    }
    return axles > 0 ? sum / axles : NAN;
}

void bt_plateau(const bt_braking *zone, const bt_torques *torques, const bt_car *car, bt_zone *row)
{
    const bt_block *s = &zone->s;
    const double *v = s->ch[BT_SIG_SPEED];
    const double *pedal = zone->pedal == BT_CH_COUNT ? NULL : s->ch[zone->pedal];
    const double *asks = s->ch[car->bywire_axle == BT_REAR ? BT_CH_PEDAL_REAR : BT_CH_PEDAL_FRONT];
    double a, b;
    if (!pedal || !v || !held(s, pedal, &a, &b)) return;
    row->hold_time = b - a;
    row->hold_decel = -slope(s, v, a, b);
    row->hold_wheel_decel = wheel_decel(s, car, a, b);
    row->hold_speed = mean(s, v, a, b);
    row->hold_pedal_front = mean(s, s->ch[BT_CH_PEDAL_FRONT], a, b);
    row->hold_pedal_rear = mean(s, s->ch[BT_CH_PEDAL_REAR], a, b);
    row->hold_line_front = line_mean(s, BT_FRONT, a, b);
    row->hold_line_rear = line_mean(s, BT_REAR, a, b);
    row->hold_front = mean(s, torques->front, a, b);
    row->hold_rear_friction = mean(s, torques->rear, a, b);
    row->hold_motor = mean(s, torques->motor, a, b);
    row->hold_pedal_slope = late_slope(s, asks, a, b);
    row->hold_motor_slope = late_slope(s, torques->motor, a, b);
}
