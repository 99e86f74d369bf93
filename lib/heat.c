/* Disc temperatures: see heat.h. */
#include "heat.h"

#include <math.h>

#define HEAT_REFERENCE 293.15 /* K, where disc_heat holds */
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

double bt_disc_step(const bt_disc *disc, double temp, double power, double speed, double ambient,
                    double dt)
{
    const double capacity = disc->mass * (disc->heat + disc->heat_slope * (temp - HEAT_REFERENCE));
    const double cooling = disc->still + disc->by_speed * speed;
    const double rate = cooling / capacity; /* 1/s */
    const double drive = disc->share * power / capacity - rate * (temp - ambient);
    /* (1 - exp(-x)) / x, which is 1 where nothing cools */
    const double x = rate * dt;
    return temp + drive * dt * (x > 0 ? -expm1(-x) / x : 1);
}

void bt_heat_init(bt_heat *heat, const bt_car *car)
{
    *heat = (bt_heat){.car = car, .ambient = car->value[BT_CAR_AMBIENT], .t = NAN, .speed = NAN};
    for (int a = 0; a < 2; a++) {
        heat->known[a] = bt_disc_of(car, (bt_axle)a, &heat->disc[a]);
        heat->temp[a] = NAN;
    }
}

/* The hotter of an axle's measured discs at a sample; NaN if none is logged. */
static double measured(const bt_block *s, int axle, size_t i)
{
    const double *left = s->ch[BT_CH_DISC_FL + 2 * axle];
    const double *right = s->ch[BT_CH_DISC_FL + 2 * axle + 1];
    return fmax(left ? left[i] : NAN, right ? right[i] : NAN);
}

/* Measured where there is a sensor, else as warm as the air. */
static void start(bt_heat *heat, const bt_block *s, size_t i)
{
    for (int a = 0; a < 2; a++) {
        if (!heat->known[a] || !isnan(heat->temp[a])) continue;
        const double sensor = measured(s, a, i);
        heat->temp[a] = isnan(sensor) ? heat->ambient : sensor;
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
        heat->temp[a] =
            bt_disc_step(&heat->disc[a], heat->temp[a], 0, speed, heat->ambient, heat->time);
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
    start(heat, run, 0);
    const double *v = run->ch[BT_SIG_SPEED];
    for (size_t i = 0; i < run->n; i++) {
        pass(heat, run->t[i], v ? v[i] : NAN);
        for (int a = 0; a < 2; a++)
            if (series[a]) series[a][i] = heat->temp[a];
    }
}

static void compare(bt_heat *heat, const bt_block *s, size_t i)
{
    for (int a = 0; a < 2; a++) {
        const double difference = measured(s, a, i) - heat->temp[a];
        if (isnan(difference)) continue;
        heat->measured[a] = true;
        if (fabs(difference) > fabs(heat->differs[a])) heat->differs[a] = difference;
    }
}

void bt_heat_zone(bt_heat *heat, const bt_block *zone, const bt_torques *torques, double peak[2],
                  double *series[2])
{
    static const bt_car_quantity radius[2] = {BT_CAR_ROLLING_RADIUS_FRONT,
                                              BT_CAR_ROLLING_RADIUS_REAR};
    const double *torque[2] = {torques->front, torques->rear};
    const double *v = zone->ch[BT_SIG_SPEED];
    take_ambient(heat, zone);
    start(heat, zone, 0);
    pass(heat, zone->t[0], v[0]);
    cool_now(heat);
    for (int a = 0; a < 2; a++) {
        const double r = heat->car->value[radius[a]];
        double temp = torque[a] ? heat->temp[a] : NAN;
        peak[a] = temp;
        if (series[a]) series[a][0] = temp;
        for (size_t i = 1; i < zone->n; i++) {
            const double speed = 0.5 * (v[i - 1] + v[i]);
            const double power =
                torque[a] ? 0.25 * (torque[a][i - 1] + torque[a][i]) * speed / r : NAN;
            const double next = bt_disc_step(&heat->disc[a], temp, power, speed, heat->ambient,
                                             zone->t[i] - zone->t[i - 1]);
            if (!isnan(next)) temp = next; /* a hole in the pressures adds no heat */
            peak[a] = fmax(peak[a], temp);
            if (series[a]) series[a][i] = temp;
        }
        if (torque[a]) heat->temp[a] = temp;
    }
    compare(heat, zone, zone->n - 1);
    heat->t = zone->t[zone->n - 1];
    heat->speed = v[zone->n - 1];
}
