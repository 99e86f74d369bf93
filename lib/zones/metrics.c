/* The row of one braking zone: see metrics.h (METHODS 3 to 7, 9). */
#include "zones/metrics.h"

#include "zones/books.h"
#include "base/stats.h"
#include "signals/turning.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#define PEDAL_PART  0.9  /* of the peak pedal, for the rise (METHODS 4) */
#define RATE_WINDOW 0.05 /* s */
#define HOLD_MIN    0.2  /* s; over less a slope of the balance is noise */
#define FORCE_MIN   100  /* N of brake force; below it a share of it is noise */

/* What the figures of one zone are made from. */
typedef struct {
    const bt_braking *zone;
    const bt_torques *torques;
    const bt_car *car;
    const double *pedal; /* of the zone, or the deceleration that stands in; NULL = none */
    double *scratch;     /* n */
} source;

static double mean_of(const source *s, const double *torque)
{
    return bt_time_mean(s->zone->s.t, torque, s->zone->s.n);
}

static double first_known(const double *x, size_t n)
{
    for (size_t i = 0; x && i < n; i++)
        if (!isnan(x[i])) return x[i];
    return NAN;
}

static double last_known(const double *x, size_t n)
{
    for (size_t i = n; x && i > 0; i--)
        if (!isnan(x[i - 1])) return x[i - 1];
    return NAN;
}

static void start_figures(const source *s, double offset, bt_zone *row)
{
    const bt_block *b = &s->zone->s;
    const double *lap_distance = b->ch[BT_CH_LAP_DISTANCE];
    row->start = b->t[0] + offset;
    row->start_dist = first_known(lap_distance ? lap_distance : b->ch[BT_SIG_DIST], b->n);
    row->odometer = first_known(b->ch[BT_SIG_DIST], b->n);
    row->lap = first_known(b->ch[BT_CH_LAP], b->n);
    row->latitude = first_known(b->ch[BT_CH_LATITUDE], b->n);
    row->longitude = first_known(b->ch[BT_CH_LONGITUDE], b->n);
    row->bias_setting = last_known(b->ch[BT_CH_BIAS_SETTING], b->n);
}

/* Time at which the signal first comes to `level`, between samples. */
static double time_at(const double *t, const double *x, size_t n, double level)
{
    for (size_t i = 0; i < n; i++) {
        if (!(x[i] >= level)) continue;
        if (i == 0 || isnan(x[i - 1])) return t[i];
        return t[i - 1] + (t[i] - t[i - 1]) * (level - x[i - 1]) / (x[i] - x[i - 1]);
    }
    return NAN;
}

static void pedal_figures(const source *s, bt_zone *row)
{
    const bt_block *b = &s->zone->s;
    size_t apply, release;
    row->pedal_peak = row->pedal_rate = row->rise = NAN;
    if (s->zone->pedal == BT_CH_COUNT || isnan(mean_of(s, s->pedal))) return;
    bt_phases(s->pedal, b->n, &apply, &release);
    if (apply == b->n) return;
    double peak = 0;
    for (size_t i = apply; i < release; i++)
        if (s->pedal[i] > peak) peak = s->pedal[i];
    row->rise = time_at(b->t, s->pedal, b->n, PEDAL_PART * peak) - b->t[0];
    if (!bt_channel_is_pressure(s->zone->pedal)) return;
    row->pedal_peak = peak;
    row->pedal_rate = bt_steepest(b->t, s->pedal, b->n, apply, RATE_WINDOW);
}

/* ---- balance ---- */

/* Brake force of an axle from its friction torque and the motor's, if that brakes it. */
static double force(const bt_car *car, bt_axle axle, double friction, double motor)
{
    const double torque = friction + (car->motor_axle == axle ? motor : 0);
    return torque / bt_car_axle(car, BT_CAR_ROLLING_RADIUS_FRONT, axle);
}

static double share(double part, double rest)
{
    return part + rest > 0 ? part / (part + rest) : NAN;
}

static double balance_slope(const source *s)
{
    const bt_block *b = &s->zone->s;
    const bt_torques *q = s->torques;
    size_t apply, release;
    if (!s->pedal || !q->front || !q->rear || !q->motor) return NAN;
    bt_phases(s->pedal, b->n, &apply, &release);
    if (apply >= release || !(b->t[release - 1] - b->t[apply] >= HOLD_MIN)) return NAN;
    for (size_t i = apply; i < release; i++) {
        const double front = force(s->car, BT_FRONT, q->front[i], q->motor[i]);
        const double rear = force(s->car, BT_REAR, q->rear[i], q->motor[i]);
        s->scratch[i] = front + rear > FORCE_MIN ? share(front, rear) : NAN;
    }
    return bt_fit_line(b->t + apply, s->scratch + apply, release - apply).slope;
}

static void balance_figures(const source *s, bt_zone *row)
{
    const bt_car *car = s->car;
    const double *quantity = car->value;
    row->front = mean_of(s, s->torques->front);
    row->rear_friction = mean_of(s, s->torques->rear);
    row->motor = mean_of(s, s->torques->motor);
    row->motor_share =
        share(row->motor, car->motor_axle == BT_REAR ? row->rear_friction : row->front);
    row->balance = share(force(car, BT_FRONT, row->front, row->motor),
                         force(car, BT_REAR, row->rear_friction, row->motor));
    row->balance_hyd =
        share(force(car, BT_FRONT, row->front, 0), force(car, BT_REAR, row->rear_friction, 0));
    row->balance_ideal = quantity[BT_CAR_STATIC_FRONT_SHARE] + row->decel_mean / BT_GRAVITY *
                                                                   quantity[BT_CAR_CG_HEIGHT] /
                                                                   quantity[BT_CAR_WHEELBASE];
    row->balance_slope = balance_slope(s);
}

/* ---- blend ---- */

static bt_status blend_figures(const source *s, bt_zone *row, bt_blend *blend, bt_error *err)
{
    const bt_block *b = &s->zone->s;
    const bt_torques *q = s->torques;
    const double *friction = s->car->bywire_axle == BT_FRONT ? q->front : q->rear;
    bt_blend_clear(blend);
    if (q->demand && q->delivered) {
        bt_blend_error(b->t, q->demand, q->delivered, b->n, s->car->value[BT_CAR_BAND_ABS],
                       s->car->value[BT_CAR_BAND_REL], blend);
        BT_TRY(bt_blend_delay(b->t, q->demand, q->delivered, b->n, blend, err));
        bt_blend_split(b->t, q, friction, blend);
        if (q->motor && q->motor_bywire)
            bt_blend_handover(b->t, q->motor, q->demand, q->delivered, b->n, blend);
        if (blend->delay_weak) row->flags |= BT_FLAG_DELAY_WEAK;
    }
    row->demand = mean_of(s, q->demand);
    row->blend_mean = blend->mean;
    row->blend_rms = blend->rms;
    row->blend_peak = blend->peak;
    row->blend_frac = blend->frac;
    row->blend_inband = blend->inband;
    row->blend_delay = blend->delay;
    row->blend_gain = blend->gain;
    row->blend_rest = blend->rest;
    row->blend_delay_u = blend->delay_u;
    row->blend_gain_u = blend->gain_u;
    row->blend_rest_u = blend->rest_u;
    row->blend_by_delay = blend->by_delay;
    row->blend_by_gain = blend->by_gain;
    row->blend_by_rest = blend->by_rest;
    row->handover = blend->handover;
    snprintf(row->cause, sizeof row->cause, "%s", bt_blend_cause(blend));
    return BT_OK;
}

/* ---- energy ---- */

/* Energy taken out by a torque while it brakes. */
static double energy(const source *s, bt_axle axle, const double *torque)
{
    if (!torque) return NAN;
    bt_axle_turning(&s->zone->s, s->car, axle, 0, s->zone->s.n, s->scratch);
    for (size_t i = 0; i < s->zone->s.n; i++)
        s->scratch[i] = torque[i] < 0 ? 0 : torque[i] * s->scratch[i];
    return bt_integral_whole(s->zone->s.t, s->scratch, s->zone->s.n);
}

static double into_battery(const source *s, const double *volts, const double *amps)
{
    const double *tau = s->zone->s.ch[BT_CH_MOTOR_TORQUE];
    for (size_t i = 0; i < s->zone->s.n; i++) {
        const bool drives = tau ? tau[i] >= 0 : amps[i] >= 0;
        s->scratch[i] = drives ? 0 : -volts[i] * amps[i];
        if (tau && isnan(tau[i])) s->scratch[i] = NAN;
    }
    return bt_integral_whole(s->zone->s.t, s->scratch, s->zone->s.n);
}

static void energy_figures(const source *s, bt_zone *row)
{
    const bt_torques *q = s->torques;
    const double *volts = s->zone->s.ch[BT_CH_BATTERY_VOLTAGE];
    const double *amps = s->zone->s.ch[BT_CH_BATTERY_CURRENT];
    const double eta = s->car->value[BT_CAR_MOTOR_EFFICIENCY];
    row->energy_front = energy(s, BT_FRONT, q->front);
    row->energy_rear = energy(s, BT_REAR, q->rear);
    row->energy_motor = energy(s, s->car->motor_axle, q->motor);
    if (volts && amps) {
        row->recovered = into_battery(s, volts, amps);
        return;
    }
    row->recovered = row->energy_motor * (isnan(eta) ? 1 : eta);
    if (row->recovered > 0) row->flags |= BT_FLAG_RECOVERED_ESTIMATED;
}

/* ---- effort ---- */

static double mean_road_load(const source *s)
{
    const double *v = s->zone->s.ch[BT_SIG_SPEED];
    if (!v) return NAN;
    for (size_t i = 0; i < s->zone->s.n; i++) s->scratch[i] = bt_road_load(s->car, v[i]);
    return mean_of(s, s->scratch);
}

/* Means over time stand for the impulses: the duration cancels. */
static double effort_ratio(const source *s, const bt_zone *row)
{
    const double brakes = force(s->car, BT_FRONT, row->front, row->motor) +
                          force(s->car, BT_REAR, row->rear_friction, row->motor);
    if (!(brakes > FORCE_MIN)) return NAN;
    return (bt_effective_mass(s->car) * row->decel_mean - mean_road_load(s)) / brakes;
}

/* ---- the car's own word ---- */

static double flagged(const source *s)
{
    const double *state = s->zone->s.ch[BT_CH_BYWIRE_STATE];
    const double good = s->car->value[BT_CAR_BYWIRE_OK];
    if (!state) return NAN;
    for (size_t i = 0; i < s->zone->s.n; i++)
        s->scratch[i] = isnan(state[i]) ? NAN : state[i] < good || state[i] > good;
    return mean_of(s, s->scratch);
}

/* ---- the row ---- */

static bool has_hole(const source *s, const double *x)
{
    return x && !bt_known_throughout(x, s->zone->s.n);
}

static void flag_holes(const source *s, bt_zone *row)
{
    const bt_torques *q = s->torques;
    const double *const needed[] = {q->front,  q->rear,  q->motor,
                                    q->demand, s->pedal, s->zone->s.ch[BT_SIG_SPEED]};
    for (size_t i = 0; i < sizeof needed / sizeof *needed; i++)
        if (has_hole(s, needed[i])) row->flags |= BT_FLAG_SENSOR_GAP;
}

static bt_status fill(const source *s, const double trim[4], double nominal, double offset,
                      bt_zone *row, bt_blend *blend, bt_slip *slip, bt_error *err)
{
    row->flags |= s->zone->flags;
    start_figures(s, offset, row);
    bt_metrics_motion(&s->zone->s, nominal, row);
    pedal_figures(s, row);
    balance_figures(s, row);
    BT_TRY(blend_figures(s, row, blend, err));
    bt_slip_zone(&s->zone->s, s->car, trim, slip);
    row->slip_front = slip->front;
    row->slip_rear = slip->rear;
    row->lock = slip->lock;
    energy_figures(s, row);
    row->effort_ratio = effort_ratio(s, row);
    row->flagged = flagged(s);
    flag_holes(s, row);
    return BT_OK;
}

bt_status bt_metrics(const bt_braking *zone, const bt_torques *torques, const bt_car *car,
                     const double trim[4], double nominal, double offset, bt_zone *row,
                     bt_blend *blend, bt_slip *slip, bt_error *err)
{
    const bt_channel pedal = zone->pedal;
    source s = {.zone = zone, .torques = torques, .car = car};
    s.pedal = zone->s.ch[pedal == BT_CH_COUNT ? (int)BT_SIG_DECEL : (int)pedal];
    s.scratch = malloc(zone->s.n * sizeof *s.scratch);
    if (!s.scratch)
        return bt_fail(err, BT_NOMEM, "no memory for the figures of %zu samples", zone->s.n);
    const bt_status status = fill(&s, trim, nominal, offset, row, blend, slip, err);
    free(s.scratch);
    return status;
}
