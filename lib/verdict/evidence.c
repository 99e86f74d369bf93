/* What the pressures say about who moves the line: see evidence.h (METHODS 8). */
#include "verdict/evidence.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "verdict/past.h"
#include "zones/sensors.h"

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
#define SIDES         0.1           /* of the mean that the sides of an axle may be apart by */
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
} case_;

typedef struct {
    double low, high; /* Pa; NaN = no prediction */
    double variance;  /* Pa^2 */
} prediction;

bt_channel bt_evidence_pedal(const bt_car *car)
{
    return car->bywire_axle == BT_FRONT ? BT_CH_PEDAL_FRONT : BT_CH_PEDAL_REAR;
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

/* Of a by-wire variant at sample i, which is the k-th of those that `then` is the delayed time of.  The
 * tolerance has what the sensors and the gains may be wrong by. */
static prediction by_wire(const case_ *c, int variant, size_t i, const bt_past *then, size_t k)
{
    prediction h = {.variance = c->line_u * c->line_u};
    const double left = bt_past_value(then, k, c->left[variant], c->before);
    pressure_of(c, variant, left, &h.low, &h.high);
    if (variant == BT_BY_COMMANDED) return h;
    const double gain = c->gain_u * (h.high - c->threshold);
    const double motor = c->motor[variant] ? MOTOR_GAIN * c->motor[variant][i] / c->gain : 0;
    const double asked = bt_past_value(then, k, c->demand, 0) * c->vague[i];
    h.variance += gain * gain + motor * motor + asked * asked;
    return h;
}

/* Pa from the prediction to p, 0 inside its range.  No branch: which side it is on is chance. */
static double distance(const prediction *h, double p)
{
    const double below = h->low - p, above = p - h->high, beyond = above > below ? above : below;
    return beyond > 0 ? beyond : p - p;
}

static double clipped(const prediction *h, double p, double most)
{
    const double d = distance(h, p), squares = d * d / h->variance;
    return squares < most ? squares : most;
}

/* ---- the delay that suits by-wire best ---- */

/* How badly the best variant fits at a delay, or `enough` if by more than that.  By the steady tolerance:
 * the one with the delay's uncertainty would praise long delays for being vague.  Samples far from all of
 * them (a fallback's) weigh alike at every delay, so the by-wire part of a mixed zone decides. */
static double misfit(const case_ *c, double delay, double enough)
{
    const size_t step = 1 + c->n / FEW_SAMPLES;
    double squares = 0;
    bt_past then = {.lag = 0};
    for (size_t from = 0; from < c->n; from += step * BT_PAST_PIECE) {
        const size_t left = (c->n - from + step - 1) / step;
        const size_t count = left < BT_PAST_PIECE ? left : BT_PAST_PIECE;
        bt_past_find(&then, c->t, c->n, delay, from, step, count);
        for (size_t k = 0; k < count; k++) {
            const size_t i = from + k * step;
            double best = ELSEWHERE;
            for (int v = 0; v < BT_BY_COUNT; v++) {
                if (!c->left[v]) continue;
                const prediction h = by_wire(c, v, i, &then, k);
                best = clipped(&h, c->line[i], best);
            }
            squares += best;
        }
        if (!(squares < enough)) return enough;
    }
    return squares;
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

/* ---- evidence, some samples at a time ---- */

typedef struct {
    size_t from, n;
    bt_past early, then, late, pedal; /* the times that the predictions look at */
    prediction bypass[BT_PAST_PIECE];
    double off[BT_PAST_PIECE];    /* squared distance from it, clipped */
    double weight[BT_PAST_PIECE]; /* of each sample */
} piece;

static double weight(const case_ *c, size_t i)
{
    const double dt = c->t[i] - c->t[i ? i - 1 : 0];
    return dt < STEP_TIME ? dt / STEP_TIME : 1;
}

static void look_back(piece *p, const case_ *c, double delay)
{
    const double wide = DELAY_LEFT + DELAY_SHAPE * delay;
    bt_past_find(&p->early, c->t, c->n, delay + wide, p->from, 1, p->n);
    bt_past_find(&p->then, c->t, c->n, delay, p->from, 1, p->n);
    bt_past_find(&p->late, c->t, c->n, delay - wide, p->from, 1, p->n);
    bt_past_find(&p->pedal, c->t, c->n, BYPASS_LAG, p->from, 1, p->n);
}

/* Gives the sum of squared distances from the bypass, clipped as those from by-wire. */
static double predict_bypass(piece *p, const case_ *c)
{
    const double sensor = c->ratio * c->pedal_u;
    const double steady = c->line_u * c->line_u + sensor * sensor;
    double sum = 0;
    for (size_t k = 0; k < p->n; k++) {
        const size_t i = p->from + k;
        const double at = c->ratio * c->pedal[i], ratio = c->ratio_u * at;
        const double moved = at - c->ratio * bt_past_value(&p->pedal, k, c->pedal, 0);
        p->bypass[k] = (prediction){at, at, steady + ratio * ratio + moved * moved};
        p->off[k] = clipped(&p->bypass[k], c->line[i], CLIP);
        p->weight[k] = weight(c, i);
        sum += p->off[k] < ELSEWHERE ? p->off[k] : ELSEWHERE;
    }
    return sum;
}

/* By how much a prediction moves within the delay's own uncertainty. */
static double moves(const piece *p, const case_ *c, int variant, size_t k, double high)
{
    double low, before, after;
    pressure_of(c, variant, bt_past_value(&p->early, k, c->left[variant], c->before), &low,
                &before);
    pressure_of(c, variant, bt_past_value(&p->late, k, c->left[variant], c->before), &low, &after);
    return larger(fabs(high - before), fabs(after - high));
}

/* Evidence of the bypass against one variant; less than 0 is evidence for the variant only if that fits
 * itself.  Gives the sum of squared distances from the variant, clipped. */
static double weigh_variant(bt_evidence *out, const piece *p, const case_ *c, int v)
{
    double sum = 0;
    for (size_t k = 0; k < p->n; k++) {
        const size_t i = p->from + k;
        const prediction *pipe = &p->bypass[k];
        prediction wire = by_wire(c, v, i, &p->then, k);
        const double wanders = moves(p, c, v, k, wire.high), between = distance(&wire, pipe->high);
        wire.variance += wanders * wanders;
        const bool apart = between * between >= APART * APART * wire.variance;
        const double far = clipped(&wire, c->line[i], ELSEWHERE), off = p->off[k];
        const double neither = off > ELSEWHERE ? ELSEWHERE - off : 0;
        const bool told = !isnan(c->line[i] + pipe->high + wire.high);
        const double e = told ? 0.5 * p->weight[k] * (apart ? far - off : neither) : 0;
        out->by[v][i] = e;
        out->all[i] = e < out->all[i] ? e : out->all[i];
        if (apart && far < ELSEWHERE && -e > out->wire[i]) out->wire[i] = -e;
        sum += far;
    }
    return sum;
}

static void weigh(bt_evidence *out, const case_ *c)
{
    out->delay = best_delay(c);
    piece p = {.from = 0};
    double off = 0, far[BT_BY_COUNT] = {0};
    for (; p.from < c->n; p.from += p.n) {
        p.n = c->n - p.from < BT_PAST_PIECE ? c->n - p.from : BT_PAST_PIECE;
        look_back(&p, c, out->delay);
        off += predict_bypass(&p, c);
        for (size_t i = p.from; i < p.from + p.n; i++) {
            out->all[i] = INFINITY;
            out->wire[i] = 0;
        }
        for (int v = 0; v < BT_BY_COUNT; v++)
            if (c->left[v]) far[v] += weigh_variant(out, &p, c, v);
    }
    for (int v = 0; v < BT_BY_COUNT; v++) out->misfit[v] = far[v] / (double)c->n;
    out->misfit_bypass = off / (double)c->n;
}

/* ---- what is known of a zone ---- */

/* x without where it keeps one value for long while y moves: that is a sensor, not a pressure.  `room` is for
 * that; mostly there is nothing to take out. */
static const double *blot_still(const double *t, const double *y, size_t n, const double *x,
                                double *room)
{
    if (!bt_may_stand(t, x, n, STILL_TIME)) return x;
    memcpy(room, x, n * sizeof *room);
    for (size_t lo = 0, hi; lo < n; lo = hi) {
        double least = y[lo], most = y[lo];
        for (hi = lo + 1; hi < n && x[hi] == x[lo]; hi++) {
            least = fmin(least, y[hi]);
            most = fmax(most, y[hi]);
        }
        const bool stuck = t[hi - 1] - t[lo] >= STILL_TIME && most - least >= STILL_AGAINST;
        for (size_t i = lo; stuck && i < hi; i++) room[i] = NAN;
    }
    return room;
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
    MEAN,
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

/* Left-over demand of the variants that the log allows; two arrays of the store are for them, one for what the
 * pedal makes vague. */
static void variants(case_ *c, const bt_block *zone, const bt_torques *q, bool commanded_only,
                     double *left[2], double *vague)
{
    c->left[BT_BY_COMMANDED] = zone->ch[BT_CH_LINE_REQUEST];
    if (commanded_only && c->left[BT_BY_COMMANDED]) return;
    c->vague = vague;
    for (size_t i = 0; i < c->n; i++)
        vague[i] = c->pedal_u / (larger(c->pedal[i], c->pedal_u) * c->gain);
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
}

/* Who commands the line shows in what arrives: mostly in either side, but where one is far behind the other, as
 * behind a pinched hose, in the one that gets more. */
static void command_of(const bt_block *zone, const double *left, const double *right, double *out)
{
    double sum[2] = {0, 0};
    for (size_t i = 0; i < zone->n; i++) {
        out[i] = 0.5 * (left[i] + right[i]);
        if (isnan(out[i])) continue;
        sum[0] += left[i];
        sum[1] += right[i];
    }
    const double *more = sum[0] > sum[1] ? left : right;
    if (fabs(sum[0] - sum[1]) > SIDES * 0.5 * (sum[0] + sum[1]))
        memcpy(out, more, zone->n * sizeof *out);
}

bt_status bt_evidence_make(bt_evidence *out, const bt_block *zone, const bt_torques *torques,
                           const bt_channels *channels, const bt_car *car, bool commanded_only,
                           bool cut, bt_error *err)
{
    BT_TRY(grow(out, zone->n, err));
    out->n = zone->n;
    out->delay = NAN;
    out->all = out->wire = NULL;
    out->line = out->pedal = NULL;
    for (int v = 0; v < BT_BY_COUNT; v++) out->by[v] = NULL;
    const double *left, *right, *pedal = zone->ch[bt_evidence_pedal(car)];
    bt_line_pressure(zone, car->bywire_axle, &left, &right);
    if (!pedal || !left || left == pedal) return BT_OK;

    double *array[ARRAYS];
    for (int i = 0; i < ARRAYS; i++) array[i] = out->store + out->cap * (size_t)i;
    double *mean = array[MEAN];
    command_of(zone, left, right, mean);
    out->line = blot_still(zone->t, pedal, zone->n, mean, array[LINE]);
    out->pedal = blot_still(zone->t, mean, zone->n, pedal, array[PEDAL]);
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
    out->line_u = c.line_u;
    out->pedal_u = c.pedal_u;
    out->gain_u = c.gain_u;
    variants(&c, zone, torques, commanded_only, array + LEFT, array[VAGUE]);
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
