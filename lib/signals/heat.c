/* Disc temperatures: see heat.h. */
#include "signals/heat.h"

#include "signals/turning.h"

#include <math.h>
#include <string.h>

#define HEAT_REFERENCE 293.15        /* K, where disc_heat holds */
#define PIECE          ((size_t)256) /* samples worked on at once */
#define COOL_STEP      0.25 /* s; cooling is slow, so steps of this length are exact to 1e-5 of a rise */

bool bt_disc_of(const bt_car *car, bt_axle axle, bt_disc *out)
{
    const double slope = bt_car_axle(car, BT_CAR_DISC_HEAT_SLOPE_FRONT, axle);
    const double still = bt_car_axle(car, BT_CAR_COOL_STILL_FRONT, axle);
    const double by_speed = bt_car_axle(car, BT_CAR_COOL_SPEED_FRONT, axle);
    *out = (bt_disc){
        .mass = bt_car_axle(car, BT_CAR_DISC_MASS_FRONT, axle),
        .heat = bt_car_axle(car, BT_CAR_DISC_HEAT_FRONT, axle),
        .heat_slope = isnan(slope) ? 0 : slope,
        .share = bt_car_axle(car, BT_CAR_DISC_SHARE_FRONT, axle),
        .still = isnan(still) ? 0 : still,
        .by_speed = isnan(by_speed) ? 0 : by_speed,
        .limit = bt_car_axle(car, BT_CAR_DISC_LIMIT_FRONT, axle),
    };
    return out->mass > 0 && out->heat > 0 && out->share >= 0;
}

/* (1 - exp(-x)) / x, which is 1 where nothing cools.  Steps are mostly short: then the series is exact to
 * 1e-16, and several times faster. */
static double newton(double x)
{
    if (!(x > 0)) return 1;
    if (x > 0.01) return -expm1(-x) / x;
    const double xx = x * x; /* by powers of x^2, which do not wait for each other */
    return (1 - x * (1.0 / 2)) +
           xx * ((1.0 / 6 - x * (1.0 / 24)) + xx * (1.0 / 120 - x * (1.0 / 720)));
}

static double capacity(const bt_disc *disc, double temp)
{
    return disc->mass * (disc->heat + disc->heat_slope * (temp - HEAT_REFERENCE));
}

/* With the heat capacity (J/K) that the disc has on the way. */
static double step_with(const bt_disc *disc, double capacity, double temp, double power,
                        double speed, double ambient, double dt)
{
    const double cooling = disc->still + disc->by_speed * speed; /* W/K */
    const double per_capacity = 1 / capacity;
    const double drive = (disc->share * power - cooling * (temp - ambient)) * per_capacity;
    return temp + drive * dt * newton(cooling * per_capacity * dt);
}

/* From sample to sample: the capacity that it has at the start is good enough. */
static double step(const bt_disc *disc, double temp, double power, double speed, double ambient,
                   double dt)
{
    return step_with(disc, capacity(disc, temp), temp, power, speed, ambient, dt);
}

double bt_disc_step(const bt_disc *disc, double temp, double power, double speed, double ambient,
                    double dt)
{
    const double about = step(disc, temp, power, speed, ambient, dt);
    const double midway = capacity(disc, 0.5 * (temp + about));
    return step_with(disc, midway, temp, power, speed, ambient, dt);
}

void bt_heat_init(bt_heat *heat, const bt_car *car)
{
    *heat = (bt_heat){.car = car, .ambient = car->value[BT_CAR_AMBIENT], .t = NAN, .speed = NAN};
    for (int a = 0; a < 2; a++) {
        heat->known[a] = bt_disc_of(car, (bt_axle)a, &heat->disc[a]);
        heat->temp[a] = heat->differs[a] = heat->first[a] = heat->final[a] = NAN;
    }
}

/* An axle's measured discs at a sample; NaN = none has a value. */
typedef struct {
    double hotter, mean;
} measured;

static measured measure(const bt_block *s, int axle, size_t i)
{
    const double *left = s->ch[BT_CH_DISC_FL + 2 * axle];
    const double *right = s->ch[BT_CH_DISC_FL + 2 * axle + 1];
    const double l = left ? left[i] : NAN, r = right ? right[i] : NAN;
    return (measured){fmax(l, r), isnan(l) ? r : isnan(r) ? l : 0.5 * (l + r)};
}

/* Measured where there is a sensor (a slow one has its first value some samples later), else as warm
 * as the air. */
static void start(bt_heat *heat, const bt_block *s)
{
    for (int a = 0; a < 2; a++) {
        if (!heat->known[a] || !isnan(heat->temp[a])) continue;
        for (size_t i = 0; i < s->n && isnan(heat->temp[a]); i++)
            heat->temp[a] = measure(s, a, i).mean;
        if (isnan(heat->temp[a])) heat->temp[a] = heat->ambient;
    }
}

static void take_ambient(bt_heat *heat, const bt_block *s)
{
    const double *ambient = s->ch[BT_CH_AMBIENT];
    if (ambient && !isnan(ambient[0])) heat->ambient = ambient[0];
}

/* Let go of the time and way since the last step. */
static void cool_now(bt_heat *heat)
{
    if (!(heat->time > 0)) return;
    const double speed = heat->way / heat->time;
    for (int a = 0; a < 2; a++)
        heat->temp[a] = step(&heat->disc[a], heat->temp[a], 0, speed, heat->ambient, heat->time);
    heat->time = heat->way = 0;
}

/* Time up to the next sample; a jump back in time counts as none, a hole as driven at the mean speed. */
static void pass(bt_heat *heat, double t, double speed)
{
    const double v = isnan(speed) ? (isnan(heat->speed) ? 0 : heat->speed) : speed;
    if (t > heat->t) {
        heat->time += t - heat->t;
        heat->way += (t - heat->t) * 0.5 * (v + (isnan(heat->speed) ? v : heat->speed));
    }
    heat->t = t;
    heat->speed = v;
    if (heat->time >= COOL_STEP) cool_now(heat);
}

void bt_heat_cool(bt_heat *heat, const bt_block *run, double *series[2])
{
    take_ambient(heat, run);
    start(heat, run);
    const double *v = run->ch[BT_SIG_SPEED];
    for (size_t i = 0; i < run->n; i++) {
        pass(heat, run->t[i], v ? v[i] : NAN);
        for (int a = 0; a < 2; a++)
            if (series[a]) series[a][i] = heat->temp[a];
    }
}

static void compare(bt_heat *heat, const bt_block *zone)
{
    for (int a = 0; a < 2; a++) {
        const measured end = measure(zone, a, zone->n - 1);
        heat->first[a] = measure(zone, a, 0).mean;
        heat->final[a] = end.mean;
        heat->differs[a] = end.hotter - heat->temp[a];
    }
}

/* Mean powers of one of an axle's two discs over the n steps from sample `from` on. */
static void powers(const bt_heat *heat, const bt_block *zone, bt_axle axle, const double *torque,
                   size_t from, size_t n, double *out)
{
    double turning[PIECE + 1];
    bt_axle_turning(zone, heat->car, axle, from, n + 1, turning);
    torque += from;
    for (size_t i = 0; i < n; i++) {
        const double power = 0.25 * (torque[i] * turning[i] + torque[i + 1] * turning[i + 1]);
        out[i] = isnan(power) ? 0 : power;
    }
}

/* The axles with a torque through the n steps from sample `from` on; side by side, as each has to wait for its
 * own step before. */
static void warm(bt_heat *heat, const bt_block *zone, const double *const torque[2], size_t from,
                 size_t n, double peak[2], double *const series[2])
{
    const double *v = zone->ch[BT_SIG_SPEED] + from, *t = zone->t + from;
    double power[2][PIECE], temp[2] = {heat->temp[0], heat->temp[1]};
    for (int a = 0; a < 2; a++)
        if (torque[a]) powers(heat, zone, (bt_axle)a, torque[a], from, n, power[a]);
    for (size_t i = 0; i < n; i++) {
        const double mean = 0.5 * (v[i] + v[i + 1]), speed = isnan(mean) ? 0 : mean;
        for (int a = 0; a < 2; a++) {
            if (!torque[a]) continue;
            temp[a] =
                step(&heat->disc[a], temp[a], power[a][i], speed, heat->ambient, t[i + 1] - t[i]);
            if (temp[a] > peak[a]) peak[a] = temp[a];
            if (series[a]) series[a][from + i + 1] = temp[a];
        }
    }
    memcpy(heat->temp, temp, sizeof temp);
}

void bt_heat_zone(bt_heat *heat, const bt_block *zone, const bt_torques *torques, double peak[2],
                  double *series[2])
{
    const double *torque[2] = {torques->front, torques->rear};
    const double *v = zone->ch[BT_SIG_SPEED];
    take_ambient(heat, zone);
    start(heat, zone);
    pass(heat, zone->t[0], v[0]);
    cool_now(heat);
    for (int a = 0; a < 2; a++) {
        peak[a] = torque[a] ? heat->temp[a] : NAN;
        for (size_t i = 0; series[a] && i < (torque[a] ? 1 : zone->n); i++) series[a][i] = peak[a];
    }
    for (size_t from = 0; from + 1 < zone->n; from += PIECE) {
        const size_t left = zone->n - 1 - from;
        warm(heat, zone, torque, from, left < PIECE ? left : PIECE, peak, series);
    }
    compare(heat, zone);
    heat->t = zone->t[zone->n - 1];
    heat->speed = v[zone->n - 1];
}

void bt_heat_row(const bt_heat *heat, const double peak[2], bt_zone *row)
{
    row->disc_front = peak[BT_FRONT];
    row->disc_rear = peak[BT_REAR];
    row->disc_front_margin = heat->disc[BT_FRONT].limit - peak[BT_FRONT];
    row->disc_rear_margin = heat->disc[BT_REAR].limit - peak[BT_REAR];
    row->disc_front_differs = heat->differs[BT_FRONT];
    row->disc_rear_differs = heat->differs[BT_REAR];
    row->disc_front_first = heat->first[BT_FRONT];
    row->disc_rear_first = heat->first[BT_REAR];
    row->disc_front_final = heat->final[BT_FRONT];
    row->disc_rear_final = heat->final[BT_REAR];
    for (int a = 0; a < 2; a++)
        if (fabs(heat->differs[a]) > BT_HEAT_DIFFERS) row->flags |= BT_FLAG_BRAKE_TEMPERATURE;
}
