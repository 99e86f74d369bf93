/* The moment of the change: see change.h (METHODS 8).  A change point by the likelihood of what each side
 * of it predicts, each sample by those before (a Kalman filter of three constants). */
#include "verdict/change.h"

#include <math.h>
#include <string.h>

#define STEP_TIME    0.02  /* s; what lasts shorter is not told twice (METHODS 8) */
#define OFFSET_U     0.5e5 /* Pa, of threshold and zeros together */
#define CLIP         16.0  /* squared distance: what is farther off is neither's */
#define BELIEVED     9.0   /* squared distance: what is farther off teaches nothing */
#define DELAY_LEFT   0.012 /* s by which the delay may be wrong, */
#define DELAY_SHAPE  0.25  /* and this part of it, since an actuator's lag is no pure delay */
#define PIPE_LAG     0.008 /* s that a line on the bypass is behind the pedal, */
#define PIPE_LAG_U   0.008 /* s, and what that may be wrong by */
#define FEW_SAMPLES  ((size_t)300) /* so many of a zone teach enough */
#define GAIN_MOVES   0.003         /* relative, from zone to zone: pads, motor and valves warm up */
#define OFFSET_MOVES 0.1e5         /* Pa, zeros are taken anew each time */
#define SUPPORT      2.0           /* nats: a moment less likely by so little may be the one */

void bt_wire_init(bt_wire *wire, double gain, double threshold, double gain_u, bool request)
{
    memset(wire, 0, sizeof *wire);
    wire->answer[0] = request ? 1 : 1 / gain;
    wire->answer[1] = request ? 0 : -1 / gain;
    wire->answer[2] = request ? 0 : threshold;
    for (int i = 0; i < 2; i++) {
        const double u = gain_u * wire->answer[i];
        wire->covariance[i][i] = u * u;
    }
    wire->covariance[2][2] = OFFSET_U * OFFSET_U;
}

/* x at time `at` by straight lines; *from is where to look first, times rising from call to call.  Before
 * the zone as at its start. */
static double value_at(const bt_change_zone *z, const double *x, double at, size_t *from)
{
    if (!x) return 0;
    if (at < z->t[0]) return x[0];
    size_t i = *from;
    while (i + 1 < z->n && z->t[i + 1] <= at) i++;
    *from = i;
    if (i + 1 == z->n) return x[i];
    return x[i] + (at - z->t[i]) / (z->t[i + 1] - z->t[i]) * (x[i + 1] - x[i]);
}

/* Where to look next, for three delays of two signals. */
typedef struct {
    size_t asked[3], motor[3], pedal[2];
} cursors;

/* What the by-wire makes of sample i. */
typedef struct {
    double x[3];   /* times answer[] = pressure */
    double moves;  /* Pa, by what is not known of the delay */
    double weight; /* of one sample among those of STEP_TIME */
} regressor;

static double pressure(const bt_wire *w, double asked, double motor)
{
    return w->answer[0] * asked + w->answer[1] * motor + w->answer[2];
}

static regressor regress(const bt_wire *w, const bt_change_zone *z, size_t i, cursors *k)
{
    const double wide = DELAY_LEFT + DELAY_SHAPE * z->delay, at = z->t[i] - z->delay;
    double asked[3], motor[3];
    for (int j = 0; j < 3; j++) {
        asked[j] = value_at(z, z->asked, at + (j - 1) * wide, &k->asked[j]);
        motor[j] = fmax(0, value_at(z, z->motor, at + (j - 1) * wide, &k->motor[j]));
    }
    const double here = pressure(w, asked[1], motor[1]);
    const double sooner = pressure(w, asked[0], motor[0]), later = pressure(w, asked[2], motor[2]);
    const double dt = i ? z->t[i] - z->t[i - 1] : 0;
    return (regressor){{asked[1], motor[1], 1},
                       fmax(fabs(here - sooner), fabs(here - later)),
                       dt < STEP_TIME ? dt / STEP_TIME : 1};
}

/* Minus twice the logarithm of how likely the line is at sample i, if by wire; then learns from it.  Where
 * there is nothing left for friction to do, the line may be anywhere up to its threshold. */
static double by_wire(bt_wire *w, const bt_change_zone *z, const regressor *r, double line)
{
    double gain[3], spread = 0, predicted = 0;
    for (int i = 0; i < 3; i++) {
        gain[i] = 0;
        for (int j = 0; j < 3; j++) gain[i] += w->covariance[i][j] * r->x[j];
        spread += r->x[i] * gain[i];
        predicted += w->answer[i] * r->x[i];
    }
    const double idle = fmax(w->answer[2], OFFSET_U);
    const double noise = z->line_u * z->line_u + r->moves * r->moves, all = noise + spread;
    double off = line - predicted;
    if (predicted < idle) off = line > idle ? line - idle : 0;
    if (isnan(off)) return 0;
    const double distance = off * off / all;
    if (predicted >= idle && distance < BELIEVED && r->weight > 0) {
        const double total = spread + noise / r->weight;
        for (int i = 0; i < 3; i++) {
            w->answer[i] += gain[i] / total * off;
            for (int j = 0; j < 3; j++) w->covariance[i][j] -= gain[i] * gain[j] / total;
        }
    }
    return r->weight * (fmin(distance, CLIP) + log(all));
}

void bt_wire_learn(bt_wire *wire, const bt_change_zone *zone)
{
    cursors k = {0};
    const size_t step = 1 + zone->n / FEW_SAMPLES;
    for (int i = 0; i < 2; i++) {
        const double u = GAIN_MOVES * wire->answer[i];
        wire->covariance[i][i] += u * u;
    }
    wire->covariance[2][2] += OFFSET_MOVES * OFFSET_MOVES;
    for (size_t i = 0; i < zone->n; i += step) {
        regressor r = regress(wire, zone, i, &k);
        r.weight = fmin(1, r.weight * (double)step);
        (void)by_wire(wire, zone, &r, zone->line[i]);
    }
}

double bt_change_ratio(const bt_change_zone *z, size_t from, size_t to)
{
    double cross = 0, square = 0;
    size_t k = 0;
    for (size_t i = from; i < to; i++) {
        const double pedal = value_at(z, z->pedal, z->t[i] - PIPE_LAG, &k);
        if (isnan(z->line[i] + pedal)) continue;
        cross += z->line[i] * pedal;
        square += pedal * pedal;
    }
    return square > 0 ? cross / square : NAN;
}

static double on_bypass(const bt_change_zone *z, double ratio, size_t i, double weight, cursors *k)
{
    const double now = value_at(z, z->pedal, z->t[i] - PIPE_LAG, &k->pedal[0]);
    const double then = value_at(z, z->pedal, z->t[i] - PIPE_LAG - PIPE_LAG_U, &k->pedal[1]);
    const double off = z->line[i] - ratio * now, moves = ratio * (now - then),
                 u = ratio * z->pedal_u, all = z->line_u * z->line_u + u * u + moves * moves;
    return isnan(off + moves) ? 0 : weight * (fmin(off * off / all, CLIP) + log(all));
}

/* What a change at each sample costs over one at the first: before it, by wire; behind it, nothing.
 * Moments that cost no more than `enough` go to *out; returns the least cost, and that of no change. */
static double weigh(const bt_wire *wire, const bt_change_zone *zone, size_t to, double ratio,
                    double enough, bt_change *out, double *never)
{
    bt_wire w = *wire;
    cursors k = {0};
    double cost = 0, least = 0;
    *out = (bt_change){.first = 0, .low = to, .high = 0};
    for (size_t i = 0; i <= to; i++) {
        if (cost < least) {
            least = cost;
            out->first = i;
        }
        if (cost <= enough && i < out->low) out->low = i;
        if (cost <= enough) out->high = i;
        if (i == to) break;
        const regressor r = regress(&w, zone, i, &k);
        cost += by_wire(&w, zone, &r, zone->line[i]) - on_bypass(zone, ratio, i, r.weight, &k);
    }
    *never = cost;
    return least;
}

bt_change bt_change_find(const bt_wire *wire, const bt_change_zone *zone, size_t to, double ratio)
{
    bt_change out;
    double never;
    const double least = weigh(wire, zone, to, ratio, -INFINITY, &out, &never);
    if (least > -2 * SUPPORT) return (bt_change){0, 0, 0, 0};
    if (least > never - 2 * SUPPORT) return (bt_change){to, to, to, 0};
    const size_t first = out.first;
    (void)weigh(wire, zone, to, ratio, least + 2 * SUPPORT, &out, &never);
    out.first = first;
    out.nats = 0.5 * (never - least);
    return out;
}
