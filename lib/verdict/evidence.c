/* What the pressures say about who moves the line: see evidence.h (METHODS 8). */
#include "verdict/evidence.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define STEP_TIME     0.02 /* s; evidence counts once in so long (METHODS 8) */
#define ELSEWHERE     9.0  /* squared distance from by-wire: beyond three sigma it does not fit, */
#define CLIP          16.0 /* from the bypass: four sigma, so that what fits neither speaks against it */
#define APART         3.0   /* sigma that two predictions must differ by to tell anything */
#define TOLERANCE     0.5e5 /* Pa, of a pressure sensor that states none */
#define GAIN          0.05  /* relative, of what controller and sheet make of a demand, at least */
#define MOTOR_GAIN    0.05  /* relative, of the motor torque */
#define RATIO         0.015 /* relative, of a bypass_ratio without tolerance */
#define BYPASS_LAG    0.015 /* s that a line on the bypass may be behind the pedal */
#define DELAY_STEP    0.01  /* s between the delays that are tried */
#define DELAY_LEFT    0.012 /* s by which the best delay may still be wrong, */
#define DELAY_SHAPE   0.25  /* and this part of it, since an actuator's lag is no pure delay */
#define FEW_SAMPLES   ((size_t)600) /* so many of a zone are enough to find the delay */
#define STILL_TIME    0.4           /* s with one and the same value while ... */
#define STILL_AGAINST 5e5           /* Pa ... the other pressure moves by so much: a stuck sensor */

/* One zone's case: inputs of the predictions.  The left-over demand of a variant is what friction has to do. */
typedef struct {
    const double *t, *line, *pedal, *demand;
    const double *left[BT_BY_COUNT];  /* N*m (commanded: Pa); NULL = not known */
    const double *motor[BT_BY_COUNT]; /* N*m taken off; NULL = none */
    size_t n;
    double gain, threshold;         /* N*m/Pa, Pa of the axle's friction brakes */
    double line_u, pedal_u, gain_u; /* Pa, Pa, relative */
    double ratio, ratio_u;          /* bypass, and relative */
    double before;                  /* left-over demand before the zone: 0, or NaN if cut */
    double delay;
} case_;

typedef struct {
    double low, high, sigma; /* Pa; NaN = no prediction */
    double steady;           /* sigma without what the delay adds */
} prediction;

bt_channel bt_evidence_pedal(const bt_car *car)
{
    return car->bywire_axle == BT_FRONT ? BT_CH_PEDAL_FRONT : BT_CH_PEDAL_REAR;
}

/* x at time `at` by straight lines; *from is where to look first, times rising from call to call. */
static double value_at(const case_ *c, const double *x, double at, size_t *from, double before)
{
    if (at < c->t[0]) return before;
    size_t i = *from;
    while (i + 1 < c->n && c->t[i + 1] <= at) i++;
    *from = i;
    if (i + 1 == c->n) return x[i];
    const double part = (at - c->t[i]) / (c->t[i + 1] - c->t[i]);
    return part > 0 ? x[i] + part * (x[i + 1] - x[i]) : x[i];
}

/* The pressure that makes a left-over torque.  With nothing left to do any pressure up to the
 * threshold is as good as none. */
static void pressure_of(const case_ *c, int variant, double left, double *low, double *high)
{
    if (variant == BT_BY_COMMANDED) {
        *low = *high = left;
        return;
    }
    *high = (left > 0 ? left : 0) / c->gain + c->threshold;
    *low = left > 0 ? *high : 0;
    if (isnan(left)) *low = *high = NAN;
}

/* Where to look next for the three delays around the one in use. */
typedef struct {
    size_t early, middle, late, demand;
} cursors;

/* Of a by-wire variant at sample i.  The tolerance has what the sensors, the gains and the delay may be
 * wrong by; the last is what the prediction moves by within the delay's own uncertainty. */
static prediction by_wire(const case_ *c, int variant, size_t i, cursors *k)
{
    const double *left = c->left[variant];
    const double at = c->t[i] - c->delay, wide = DELAY_LEFT + DELAY_SHAPE * c->delay;
    double low[3], high[3];
    pressure_of(c, variant, value_at(c, left, at - wide, &k->early, c->before), &low[0], &high[0]);
    pressure_of(c, variant, value_at(c, left, at, &k->middle, c->before), &low[1], &high[1]);
    pressure_of(c, variant, value_at(c, left, at + wide, &k->late, c->before), &low[2], &high[2]);
    const double moves = fmax(fabs(high[1] - high[0]), fabs(high[2] - high[1]));
    double square = c->line_u * c->line_u;
    if (variant != BT_BY_COMMANDED) {
        const double torque = (high[1] - c->threshold) * c->gain;
        const double motor = c->motor[variant] ? MOTOR_GAIN * c->motor[variant][i] : 0;
        const double asked = value_at(c, c->demand, at, &k->demand, 0);
        const double pedal = fmax(c->pedal[i], c->pedal_u);
        const double parts[] = {c->gain_u * torque, motor, asked / pedal * c->pedal_u};
        for (int j = 0; j < 3; j++) square += parts[j] * parts[j] / (c->gain * c->gain);
    }
    return (prediction){low[1], high[1], sqrt(square + moves * moves), sqrt(square)};
}

static prediction bypass(const case_ *c, size_t i, size_t *from)
{
    const double p = c->ratio * c->pedal[i];
    const double was = c->ratio * value_at(c, c->pedal, c->t[i] - BYPASS_LAG, from, 0);
    const double parts[] = {c->line_u, c->ratio * c->pedal_u, c->ratio_u * p, p - was};
    double square = 0;
    for (int j = 0; j < 4; j++) square += parts[j] * parts[j];
    return (prediction){p, p, sqrt(square), c->line_u};
}

/* Pa from the prediction to p, 0 inside its range. */
static double distance(const prediction *h, double p)
{
    return p < h->low ? h->low - p : p > h->high ? p - h->high : p - p;
}

static double clipped(const prediction *h, double p, double most)
{
    const double d = distance(h, p) / h->sigma;
    return d * d < most ? d * d : most;
}

static double weight(const case_ *c, size_t i)
{
    const double dt = c->t[i] - c->t[i ? i - 1 : 0];
    return dt < STEP_TIME ? dt / STEP_TIME : 1;
}

/* How badly the best variant fits at a delay, by the steady tolerance: the other one would praise long
 * delays for being vague.  Samples far from all of them (a fallback's) weigh alike at
 * every delay, so the by-wire part of a mixed zone decides. */
static double misfit(const case_ *c)
{
    cursors k[BT_BY_COUNT] = {{0}};
    const size_t step = 1 + c->n / FEW_SAMPLES;
    double sum = 0;
    for (size_t i = 0; i < c->n; i += step) {
        double best = ELSEWHERE;
        for (int v = 0; v < BT_BY_COUNT; v++) {
            if (!c->left[v]) continue;
            prediction h = by_wire(c, v, i, &k[v]);
            h.sigma = h.steady;
            best = fmin(best, clipped(&h, c->line[i], ELSEWHERE));
        }
        sum += best;
    }
    return sum;
}

static double best_delay(case_ *c)
{
    double best = NAN, least = INFINITY;
    for (int j = 0; j * DELAY_STEP <= BT_EVIDENCE_DELAY; j++) {
        c->delay = j * DELAY_STEP;
        const double sum = misfit(c);
        if (!(sum < least)) continue;
        least = sum;
        best = c->delay;
    }
    return best;
}

/* Evidence of the bypass against one variant at a sample; *fits tells whether the variant itself does, so
 * that less than 0 is evidence for it. */
static double against(const prediction *wire, const prediction *pipe, double p, bool *fits)
{
    const bool apart = distance(wire, pipe->high) >= APART * wire->sigma;
    const double far = clipped(wire, p, ELSEWHERE), off = clipped(pipe, p, CLIP);
    *fits = apart && far < ELSEWHERE;
    if (isnan(p + pipe->high + wire->high)) return 0;
    return 0.5 * (apart ? far - off : off > ELSEWHERE ? ELSEWHERE - off : 0);
}

static void weigh(bt_evidence *out, case_ *c)
{
    c->delay = out->delay = best_delay(c);
    cursors k[BT_BY_COUNT] = {{0}};
    size_t from = 0;
    out->misfit_bypass = 0;
    memset(out->misfit, 0, sizeof out->misfit);
    for (size_t i = 0; i < c->n; i++) {
        const prediction pipe = bypass(c, i, &from);
        const double w = weight(c, i);
        out->all[i] = INFINITY;
        out->wire[i] = 0;
        for (int v = 0; v < BT_BY_COUNT; v++) {
            if (!c->left[v]) continue;
            bool fits;
            const prediction wire = by_wire(c, v, i, &k[v]);
            const double e = w * against(&wire, &pipe, c->line[i], &fits);
            out->by[v][i] = e;
            out->all[i] = fmin(out->all[i], e);
            if (fits) out->wire[i] = fmax(out->wire[i], -e);
            out->misfit[v] += clipped(&wire, c->line[i], ELSEWHERE) / (double)c->n;
        }
        out->misfit_bypass += clipped(&pipe, c->line[i], ELSEWHERE) / (double)c->n;
    }
}

/* Blot out where x keeps one value for long while y moves: that is a sensor, not a pressure. */
static void blot_still(const double *t, const double *y, size_t n, const double *x, double *out)
{
    for (size_t lo = 0, hi; lo < n; lo = hi) {
        double least = y[lo], most = y[lo];
        for (hi = lo + 1; hi < n && x[hi] == x[lo]; hi++) {
            least = fmin(least, y[hi]);
            most = fmax(most, y[hi]);
        }
        const bool stuck = t[hi - 1] - t[lo] >= STILL_TIME && most - least >= STILL_AGAINST;
        for (size_t i = lo; i < hi; i++) out[i] = stuck ? NAN : x[i];
    }
}

static double tolerance(const bt_channels *channels, bt_channel c)
{
    const double u = channels->ch[c].tolerance;
    return u > 0 ? u : TOLERANCE;
}

static bt_channel line_channel(const bt_block *zone, bt_axle axle)
{
    const bt_channel both = axle == BT_FRONT ? BT_CH_LINE_FRONT : BT_CH_LINE_REAR;
    const bt_channel one = axle == BT_FRONT ? BT_CH_LINE_FL : BT_CH_LINE_RL;
    return zone->ch[both] ? both : one;
}

static double relative(const bt_car *car, bt_car_quantity quantity)
{
    const double part = car->u[quantity] / car->value[quantity];
    return part > 0 ? part : 0;
}

/* What the sheet says that gains may be wrong by. */
static double gain_tolerance(const bt_car *car)
{
    const unsigned at = car->bywire_axle == BT_REAR;
    const double parts[] = {
        relative(car, BT_CAR_PAD_FRICTION_FRONT + at), relative(car, BT_CAR_PISTON_AREA_FRONT + at),
        relative(car, BT_CAR_EFFECTIVE_RADIUS_FRONT + at), relative(car, BT_CAR_DEMAND_GAIN)};
    double square = 0;
    for (int i = 0; i < 4; i++) square += parts[i] * parts[i];
    return fmax(GAIN, sqrt(square));
}

enum { ARRAYS = BT_BY_COUNT + 6 }; /* by, all, wire, line, pedal, and two left-over demands */

static bt_status grow(bt_evidence *out, size_t n, bt_error *err)
{
    if (n <= out->cap) return BT_OK;
    const size_t cap = n > 2 * out->cap ? n : 2 * out->cap;
    double *store =
        cap <= SIZE_MAX / sizeof *store / ARRAYS ? malloc(ARRAYS * cap * sizeof *store) : NULL;
    if (!store) return bt_fail(err, BT_NOMEM, "no memory for the evidence of %zu samples", n);
    free(out->store);
    out->store = store;
    out->cap = cap;
    return BT_OK;
}

/* Left-over demand of the variants that the log allows; two arrays of the store are for them. */
static void variants(case_ *c, const bt_block *zone, const bt_torques *q, double *left[2])
{
    const double *motors[2] = {q->motor, q->req_motor};
    for (int v = 0; v < 2; v++) {
        const double *motor = q->motor_bywire ? motors[v] : NULL;
        if (!q->demand || isnan(c->gain) || (q->motor_bywire && !motor)) continue;
        /* A line that is known to have left its request needs no guess at what was requested. */
        if (v == BT_BY_REQUESTED && (!motor || zone->ch[BT_CH_LINE_REQUEST])) continue;
        for (size_t i = 0; i < c->n; i++) /* a motor that drives is no business of the brakes */
            left[v][i] = q->demand[i] - (motor && motor[i] > 0 ? motor[i] : 0);
        c->left[v] = left[v];
        c->motor[v] = motor;
    }
    c->left[BT_BY_COMMANDED] = zone->ch[BT_CH_LINE_REQUEST];
}

bt_status bt_evidence_make(bt_evidence *out, const bt_block *zone, const bt_torques *torques,
                           const bt_channels *channels, const bt_car *car, bool commanded_only,
                           bool cut, bt_error *err)
{
    BT_TRY(grow(out, zone->n, err));
    out->n = zone->n;
    out->delay = NAN;
    out->all = out->wire = out->line = out->pedal = NULL;
    for (int v = 0; v < BT_BY_COUNT; v++) out->by[v] = NULL;
    const double *left, *right, *pedal = zone->ch[bt_evidence_pedal(car)];
    bt_line_pressure(zone, car->bywire_axle, &left, &right);
    if (!pedal || !left || left == pedal) return BT_OK;

    double *array[ARRAYS];
    for (int i = 0; i < ARRAYS; i++) array[i] = out->store + out->cap * (size_t)i;
    double *mean = array[ARRAYS - 1];
    for (size_t i = 0; i < zone->n; i++) mean[i] = 0.5 * (left[i] + right[i]);
    out->line = array[BT_BY_COUNT + 2];
    out->pedal = array[BT_BY_COUNT + 3];
    blot_still(zone->t, pedal, zone->n, mean, out->line);
    blot_still(zone->t, mean, zone->n, pedal, out->pedal);
    case_ c = {.t = zone->t,
               .n = zone->n,
               .line = out->line,
               .pedal = out->pedal,
               .demand = torques->demand,
               .gain = bt_friction_gain(car, car->bywire_axle),
               .threshold = bt_friction_threshold(car, car->bywire_axle),
               .line_u = tolerance(channels, line_channel(zone, car->bywire_axle)),
               .pedal_u = tolerance(channels, bt_evidence_pedal(car)),
               .gain_u = gain_tolerance(car),
               .ratio = car->value[BT_CAR_BYPASS_RATIO],
               .ratio_u = relative(car, BT_CAR_BYPASS_RATIO),
               .before = cut ? NAN : 0};
    if (!(c.ratio_u > 0)) c.ratio_u = RATIO;
    variants(&c, zone, torques, array + BT_BY_COUNT + 4);
    if (commanded_only && c.left[BT_BY_COMMANDED])
        c.left[BT_BY_MEASURED] = c.left[BT_BY_REQUESTED] = NULL;
    bool some = false;
    for (int v = 0; v < BT_BY_COUNT; v++) {
        if (!c.left[v]) continue;
        out->by[v] = array[v];
        some = true;
    }
    if (!some || isnan(c.ratio)) return BT_OK;
    out->all = array[BT_BY_COUNT];
    out->wire = array[BT_BY_COUNT + 1];
    weigh(out, &c);
    return BT_OK;
}

void bt_evidence_clear(bt_evidence *e)
{
    free(e->store);
    *e = (bt_evidence){0};
}
