/* Demand against delivery: see blend.h (METHODS 7). */
#include "zones/blend.h"

#include "zones/delay.h"
#include "zones/integral.h"

#include <math.h>

#define HANDOVER_NEAR 0.3  /* s, around the motor's fading (METHODS 7) */
#define MOTOR_FADED   0.1  /* of the motor's peak in the zone */
#define STILL_BRAKING 0.25 /* of the largest demand: more is no release of the pedal */
#define MOTOR_MATTERS 0.05 /* of the largest demand: a smaller motor peak is noise */

void bt_blend_clear(bt_blend *out)
{
    *out = (bt_blend){NAN, NAN, NAN, NAN, NAN, NAN,   NAN, NAN, NAN, NAN,
                      NAN, NAN, NAN, NAN, NAN, false, NAN, NAN, NAN, NAN};
}

/* Time-weighted sums over the pieces of time where both torques are known. */
typedef struct {
    double time, demand, error, square, size, inside;
} error_sums;

static void add(error_sums *s, double weight, double demand, double error, double band)
{
    s->time += weight;
    s->demand += weight * demand;
    s->error += weight * error;
    s->square += weight * error * error;
    s->size += weight * fabs(error);
    s->inside += fabs(error) <= band ? weight : 0;
}

void bt_blend_error(const double *t, const double *demand, const double *delivered, size_t n,
                    double band_abs, double band_rel, bt_blend *out)
{
    const bool band = !isnan(band_abs) || !isnan(band_rel);
    const double fixed = isnan(band_abs) ? 0 : band_abs, part = isnan(band_rel) ? 0 : band_rel;
    error_sums s = {0};
    double peak = 0, before = NAN;
    for (size_t i = 0; i < n; i++) {
        const double error = delivered[i] - demand[i];
        if (fabs(error) > fabs(peak)) peak = error;
        if (!isnan(before) && !isnan(error)) {
            const double half = 0.5 * (t[i] - t[i - 1]);
            add(&s, half, demand[i - 1], before, fixed + part * demand[i - 1]);
            add(&s, half, demand[i], error, fixed + part * demand[i]);
        }
        before = error;
    }
    if (!(s.time > 0 && s.time >= BT_COVERAGE_MIN * (t[n - 1] - t[0]))) return;
    out->demand = s.demand / s.time;
    out->mean = s.error / s.time;
    out->rms = sqrt(s.square / s.time);
    out->peak = peak;
    out->frac = s.demand > 0 ? s.size / s.demand : NAN;
    out->inband = band ? s.inside / s.time : NAN;
}

bt_status bt_blend_delay(const double *t, const double *demand, const double *delivered, size_t n,
                         bt_blend *out, bt_error *err)
{
    bt_delay fit;
    BT_TRY(bt_delay_fit(t, demand, delivered, n, &fit, err));
    out->delay = fit.delay;
    out->delay_u = fit.delay_u;
    out->gain = fit.gain;
    out->gain_u = fit.gain_u;
    out->rest = fit.rest;
    out->rest_u = fit.rest_u;
    out->by_delay = fit.by_delay;
    out->by_gain = fit.by_gain;
    out->by_rest = fit.by_rest;
    out->delay_weak = fit.weak;
    return BT_OK;
}

/* The three parts of the error at one sample; they add up to delivered - demand. */
typedef struct {
    double controller, motor, actuator;
} error_parts;

static error_parts parts_at(const bt_torques *q, const double *friction, size_t i)
{
    const double request = q->motor_bywire ? q->req_motor[i] : 0;
    return (error_parts){request + q->req_friction[i] - q->demand[i],
                         q->motor_bywire ? q->motor[i] - request : 0,
                         friction[i] - q->req_friction[i]};
}

void bt_blend_split(const double *t, const bt_torques *torques, const double *bywire_friction,
                    bt_blend *out)
{
    if (!torques->demand || !torques->req_friction || !bywire_friction) return;
    if (torques->motor_bywire && !(torques->motor && torques->req_motor)) return;
    double controller = 0, motor = 0, actuator = 0, time = 0;
    error_parts a, b = {0};
    if (torques->n) b = parts_at(torques, bywire_friction, 0);
    for (size_t i = 1; i < torques->n; i++) {
        const double half = 0.5 * (t[i] - t[i - 1]);
        a = b;
        b = parts_at(torques, bywire_friction, i);
        if (isnan(a.controller + a.motor + a.actuator + b.controller + b.motor + b.actuator))
            continue;
        controller += half * (a.controller * a.controller + b.controller * b.controller);
        motor += half * (a.motor * a.motor + b.motor * b.motor);
        actuator += half * (a.actuator * a.actuator + b.actuator * b.actuator);
        time += 2 * half;
    }
    if (!(time > 0 && time >= BT_COVERAGE_MIN * (t[torques->n - 1] - t[0]))) return;
    out->rms_controller = sqrt(controller / time);
    out->rms_motor = sqrt(motor / time);
    out->rms_actuator = sqrt(actuator / time);
}

const char *bt_blend_cause(const bt_blend *b)
{
    const double most = fmax(b->rms_controller, fmax(b->rms_motor, b->rms_actuator));
    if (!(most > 0)) return "";
    if (b->rms_controller == most) return "controller";
    return b->rms_motor == most ? "motor" : "actuator";
}

static double largest(const double *x, size_t n)
{
    double most = 0;
    for (size_t i = 0; i < n; i++)
        if (x[i] > most) most = x[i];
    return most;
}

/* Is more than `enough` still asked for until HANDOVER_NEAR after sample i? */
static bool goes_on(const double *t, const double *demand, size_t n, size_t i, double enough)
{
    for (size_t j = i; j < n && t[j] <= t[i] + HANDOVER_NEAR; j++)
        if (demand[j] < enough) return false;
    return true;
}

void bt_blend_handover(const double *t, const double *motor, const double *demand,
                       const double *delivered, size_t n, bt_blend *out)
{
    const double peak = largest(motor, n), asked = largest(demand, n);
    if (!(peak > MOTOR_MATTERS * asked)) return;
    double error = NAN;
    for (size_t i = 1; i < n; i++) {
        const bool fades = motor[i - 1] >= MOTOR_FADED * peak && motor[i] < MOTOR_FADED * peak;
        if (!fades || !goes_on(t, demand, n, i, STILL_BRAKING * asked)) continue;
        size_t lo = i;
        while (lo > 0 && t[lo - 1] >= t[i] - HANDOVER_NEAR) lo--;
        for (size_t j = lo; j < n && t[j] <= t[i] + HANDOVER_NEAR; j++) {
            const double e = delivered[j] - demand[j];
            if (!isnan(e) && !(fabs(e) <= fabs(error))) error = e;
        }
    }
    out->handover = error;
}
