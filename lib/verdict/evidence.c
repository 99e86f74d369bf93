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
#define ROUNDING      1e-9  /* s */
#define FEW_SAMPLES   ((size_t)600) /* so many of a zone are enough to find the delay */
#define STILL_TIME    0.4           /* s with one and the same value while ... */
#define STILL_AGAINST 5e5           /* Pa ... the other pressure moves by so much: a stuck sensor */

/* One zone's case: inputs of the predictions.  The left-over demand of a variant is what friction has to do. */
typedef struct {
    const double *t, *line, *pedal, *demand;
    const double *left[BT_BY_COUNT];  /* N*m (commanded: Pa); NULL = not known */
    const double *motor[BT_BY_COUNT]; /* N*m taken off; NULL = none */
    const double *vague; /* Pa per N*m of demand, that the pedal's tolerance may be wrong by */
    size_t n;
    double gain, threshold;         /* N*m/Pa, Pa of the axle's friction brakes */
    double line_u, pedal_u, gain_u; /* Pa, Pa, relative */
    double ratio, ratio_u;          /* bypass, and relative */
    double before;                  /* left-over demand before the zone: 0, or NaN if cut */
    double delay;
} case_;

typedef struct {
    double low, high; /* Pa; NaN = no prediction */
    double variance;  /* Pa^2 */
} prediction;

bt_channel bt_evidence_pedal(const bt_car *car)
{
    return car->bywire_axle == BT_FRONT ? BT_CH_PEDAL_FRONT : BT_CH_PEDAL_REAR;
}

/* A time in the zone: the last sample that is not later, and the part of the way to the next one. */
typedef struct {
    size_t at;
    double part; /* less than 0: before the zone */
} place;

/* The place of a time from t[0] on; `guess` is where to look first.  Times are decimals turned binary:
 * without ROUNDING a delay of whole samples would fall to either side of them by chance. */
static place find_place(const case_ *c, double time, size_t guess)
{
    const double *t = c->t, until = time + ROUNDING;
    size_t i = guess < c->n ? guess : c->n - 1;
    while (i > 0 && t[i] > until) i--;
    while (i + 1 < c->n && t[i + 1] <= until) i++;
    const double after = time - t[i];
    if (after < -ROUNDING) return (place){0, -1};
    return (place){i, after > ROUNDING && i + 1 < c->n ? after / (t[i + 1] - t[i]) : 0};
}

/* x there, by straight lines. */
static double value_at(const double *x, place p, double before)
{
    if (p.part < 0) return before;
    return p.part > 0 ? x[p.at] + p.part * (x[p.at + 1] - x[p.at]) : x[p.at];
}

/* As fmax, which is a call. */
static double larger(double a, double b)
{
    return a > b || isnan(b) ? a : b;
}

/* The pressure that makes a left-over torque.  With nothing left to do any pressure up to the
 * threshold is as good as none. */
static void pressure_of(const case_ *c, int variant, double left, double *low, double *high)
{
    if (variant == BT_BY_COMMANDED) {
        *low = *high = left;
        return;
    }
    *high = left > 0 ? left / c->gain + c->threshold : c->threshold + 0 * left; /* keeps NaN */
    *low = left > 0 ? *high : 0;
}

/* Of a by-wire variant at sample i, the delayed time being at `then`.  The tolerance has what the sensors
 * and the gains may be wrong by. */
static prediction by_wire(const case_ *c, int variant, size_t i, place then)
{
    prediction h = {.variance = c->line_u * c->line_u};
    pressure_of(c, variant, value_at(c->left[variant], then, c->before), &h.low, &h.high);
    if (variant == BT_BY_COMMANDED) return h;
    const double gain = c->gain_u * (h.high - c->threshold);
    const double motor = c->motor[variant] ? MOTOR_GAIN * c->motor[variant][i] / c->gain : 0;
    const double asked = value_at(c->demand, then, 0) * c->vague[i];
    h.variance += gain * gain + motor * motor + asked * asked;
    return h;
}

/* By how much a prediction moves within the delay's own uncertainty. */
static double moves(const case_ *c, int variant, const prediction *h, place early, place late)
{
    const double *left = c->left[variant];
    double low, before, after;
    pressure_of(c, variant, value_at(left, early, c->before), &low, &before);
    pressure_of(c, variant, value_at(left, late, c->before), &low, &after);
    return larger(fabs(h->high - before), fabs(after - h->high));
}

static prediction bypass(const case_ *c, size_t i, place before)
{
    const double p = c->ratio * c->pedal[i];
    const double sensor = c->ratio * c->pedal_u, ratio = c->ratio_u * p;
    const double moved = p - c->ratio * value_at(c->pedal, before, 0);
    return (prediction){p, p,
                        c->line_u * c->line_u + sensor * sensor + ratio * ratio + moved * moved};
}

/* Pa from the prediction to p, 0 inside its range. */
static double distance(const prediction *h, double p)
{
    return p < h->low ? h->low - p : p > h->high ? p - h->high : p - p;
}

static double clipped(const prediction *h, double p, double most)
{
    const double d = distance(h, p), squares = d * d / h->variance;
    return squares < most ? squares : most;
}

static double weight(const case_ *c, size_t i)
{
    const double dt = c->t[i] - c->t[i ? i - 1 : 0];
    return dt < STEP_TIME ? dt / STEP_TIME : 1;
}

/* How badly the best variant fits at a delay, or `enough` if by more than that.  By the steady tolerance:
 * the one with the delay's uncertainty would praise long delays for being vague.  Samples far from all of
 * them (a fallback's) weigh alike at every delay, so the by-wire part of a mixed zone decides. */
static double misfit(const case_ *c, double delay, double enough)
{
    const size_t step = 1 + c->n / FEW_SAMPLES;
    double sum = 0;
    place then = {0, 0};
    for (size_t i = 0; i < c->n; i += step) {
        then = find_place(c, c->t[i] - delay, then.at + (i ? step : 0));
        double best = ELSEWHERE;
        for (int v = 0; v < BT_BY_COUNT; v++) {
            if (!c->left[v]) continue;
            const prediction h = by_wire(c, v, i, then);
            best = clipped(&h, c->line[i], best);
        }
        sum += best;
        if (!(sum < enough)) return enough;
    }
    return sum;
}

static double best_delay(const case_ *c)
{
    double best = NAN, least = INFINITY;
    for (int j = 0; j * DELAY_STEP <= BT_EVIDENCE_DELAY; j++) {
        const double sum = misfit(c, j * DELAY_STEP, least);
        if (!(sum < least)) continue;
        least = sum;
        best = j * DELAY_STEP;
    }
    return best;
}

/* Evidence of the bypass against one variant at a sample; *fits tells whether the variant itself does, so
 * that less than 0 is evidence for it. */
static double against(const prediction *wire, const prediction *pipe, double p, bool *fits)
{
    const double between = distance(wire, pipe->high);
    const bool apart = between * between >= APART * APART * wire->variance;
    const double far = clipped(wire, p, ELSEWHERE), off = clipped(pipe, p, CLIP);
    *fits = apart && far < ELSEWHERE;
    if (isnan(p + pipe->high + wire->high)) return 0;
    return 0.5 * (apart ? far - off : off > ELSEWHERE ? ELSEWHERE - off : 0);
}

/* Where the times are that the predictions of a sample look at. */
typedef struct {
    place early, then, late, pedal;
} places;

static void move_on(const case_ *c, size_t i, places *p)
{
    const double at = c->t[i] - c->delay, wide = DELAY_LEFT + DELAY_SHAPE * c->delay;
    const size_t next = i ? 1 : 0;
    p->early = find_place(c, at - wide, p->early.at + next);
    p->then = find_place(c, at, p->then.at + next);
    p->late = find_place(c, at + wide, p->late.at + next);
    p->pedal = find_place(c, c->t[i] - BYPASS_LAG, p->pedal.at + next);
}

static void weigh(bt_evidence *out, case_ *c)
{
    c->delay = out->delay = best_delay(c);
    places p = {0};
    double off = 0, far[BT_BY_COUNT] = {0};
    for (size_t i = 0; i < c->n; i++) {
        move_on(c, i, &p);
        const prediction pipe = bypass(c, i, p.pedal);
        const double w = weight(c, i);
        out->all[i] = INFINITY;
        out->wire[i] = 0;
        for (int v = 0; v < BT_BY_COUNT; v++) {
            if (!c->left[v]) continue;
            bool fits;
            prediction wire = by_wire(c, v, i, p.then);
            const double wanders = moves(c, v, &wire, p.early, p.late);
            wire.variance += wanders * wanders;
            const double e = w * against(&wire, &pipe, c->line[i], &fits);
            out->by[v][i] = e;
            if (e < out->all[i]) out->all[i] = e;
            if (fits && -e > out->wire[i]) out->wire[i] = -e;
            far[v] += clipped(&wire, c->line[i], ELSEWHERE);
        }
        off += clipped(&pipe, c->line[i], ELSEWHERE);
    }
    for (int v = 0; v < BT_BY_COUNT; v++) out->misfit[v] = far[v] / (double)c->n;
    out->misfit_bypass = off / (double)c->n;
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

enum {
    LINE = BT_BY_COUNT + 2,
    PEDAL,
    LEFT,
    VAGUE = LEFT + 2,
    ARRAYS
}; /* of the store, behind by, all, wire */

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
    double *mean = array[VAGUE];
    for (size_t i = 0; i < zone->n; i++) mean[i] = 0.5 * (left[i] + right[i]);
    out->line = array[LINE];
    out->pedal = array[PEDAL];
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
    c.vague = array[VAGUE]; /* the mean pressure is used up */
    for (size_t i = 0; i < zone->n; i++)
        array[VAGUE][i] = c.pedal_u / (larger(out->pedal[i], c.pedal_u) * c.gain);
    variants(&c, zone, torques, array + LEFT);
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
