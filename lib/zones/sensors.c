/* Pressure zeros: means of what the sensors say while the pedal is released, wild values left out.  See sensors.h;
 * METHODS 2.4.  The plausibility of channels stands in plausible.c. */
#include "zones/sensors.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"
#include "base/stats.h"

/* Samples kept.  When they are full the older half goes; at STEP apart the other half still spans
 * the window, the guard and 0.1 s. */
#define ROOM ((size_t)2048)
#define STEP 0.0007 /* s; samples closer than this add little to a mean */

/* A slow log has few samples in the window: it reaches back until it has this many ... */
#define FEW ((size_t)3)
/* ... but no further than a hole that would end the stretch (METHODS 2.3), s. */
#define REACH 5.0

/* The zero of a pedal's force or travel is trusted in the same proportion to what opens a zone
 * (segment.h) as 2 bar is to 3 bar. */
#define ZERO_MAX_FORCE  (2.0 / 3 * 22)   /* N */
#define ZERO_MAX_TRAVEL (2.0 / 3 * 2e-3) /* m */
/* Quiet is what moves over the window by less than half of that: sensor noise does, a foot does
 * not. */
#define QUIET 0.5
/* A sensor whose zero has moved keeps it from one half of the window to the other, a foot hardly does. */
#define STEADY 0.15 /* of the largest zero */
#define GAINS  1.0  /* m/s2; what gains speed so does not brake */
/* A foot that rests lifts a pressure by more than a zero wanders between two brakings. */
#define RESTS 0.5e5 /* Pa */

struct bt_zeros {
    bt_axle bywire_axle;
    size_t n;
    double t[ROOM];
    double *v[BT_CH_COUNT];      /* NULL = no channel that has a zero */
    double *values;              /* all of them */
    double running[BT_CH_COUNT]; /* NaN = none yet */
    double good[BT_CH_COUNT]; /* the last that was trusted, in this stretch or before; NaN = none */
    double scratch[ROOM];
};

/* Largest zero to be trusted; 0 = a channel that has none. */
static double zero_max(bt_channel c)
{
    if (bt_channel_is_pressure(c)) return BT_ZERO_MAX;
    if (c == BT_CH_PEDAL_FORCE) return ZERO_MAX_FORCE;
    return c == BT_CH_PEDAL_TRAVEL ? ZERO_MAX_TRAVEL : 0;
}

/* Caliper-side pressures: here a pressure left over drags. */
static bool is_line(bt_channel c)
{
    return c >= BT_CH_LINE_FRONT && c <= BT_CH_LINE_RR;
}

static bool is_front_line(bt_channel c)
{
    return c == BT_CH_LINE_FRONT || c == BT_CH_LINE_FL || c == BT_CH_LINE_FR;
}

/* Pressures that a foot on the pedal lifts by itself. */
static bool hangs_on_foot(const bt_zeros *z, bt_channel c)
{
    if (is_line(c)) return is_front_line(c) == (z->bywire_axle == BT_REAR);
    return c == BT_CH_PEDAL_FRONT || c == BT_CH_PEDAL_REAR;
}

bt_status bt_zeros_new(bt_zeros **out, bt_axle bywire_axle, bt_error *err)
{
    *out = NULL;
    size_t channels = 0;
    for (bt_channel c = 0; c < BT_CH_COUNT; c++) channels += zero_max(c) > 0;
    bt_zeros *z = calloc(1, sizeof *z);
    if (z) z->values = calloc(channels * ROOM, sizeof *z->values);
    if (!z || !z->values) {
        bt_zeros_free(z);
        return bt_fail(err, BT_NOMEM, "no memory for pressure zeros");
    }
    z->bywire_axle = bywire_axle;
    double *next = z->values;
    for (bt_channel c = 0; c < BT_CH_COUNT; c++) {
        if (!(zero_max(c) > 0)) continue;
        z->v[c] = next;
        next += ROOM;
    }
    for (int c = 0; c < BT_CH_COUNT; c++) z->good[c] = NAN;
    bt_zeros_reset(z);
    *out = z;
    return BT_OK;
}

void bt_zeros_free(bt_zeros *z)
{
    if (!z) return;
    free(z->values);
    free(z);
}

void bt_zeros_reset(bt_zeros *z)
{
    z->n = 0;
    for (int c = 0; c < BT_CH_COUNT; c++) z->running[c] = NAN;
}

static void forget_older_half(bt_zeros *z)
{
    const size_t half = ROOM / 2;
    z->n -= half;
    memmove(z->t, z->t + half, z->n * sizeof *z->t);
    for (int c = 0; c < BT_CH_COUNT; c++)
        if (z->v[c]) memmove(z->v[c], z->v[c] + half, z->n * sizeof *z->v[c]);
}

/* Samples [lo, hi) are STEP or more apart and fit. */
static void keep(bt_zeros *z, const bt_block *in, size_t lo, size_t hi)
{
    const size_t n = hi - lo;
    memcpy(z->t + z->n, in->t + lo, n * sizeof *z->t);
    for (int c = 0; c < BT_CH_COUNT; c++) {
        if (!z->v[c]) continue;
        double *to = z->v[c] + z->n;
        if (in->ch[c])
            memcpy(to, in->ch[c] + lo, n * sizeof *to);
        else
            for (size_t i = 0; i < n; i++) to[i] = NAN;
    }
    z->n += n;
}

void bt_zeros_push(bt_zeros *z, const bt_block *in, size_t lo, size_t hi)
{
    while (lo < hi) {
        if (z->n > 0 && in->t[lo] < z->t[z->n - 1] + STEP) {
            lo++;
            continue;
        }
        if (z->n == ROOM) forget_older_half(z);
        size_t end = lo + 1;
        while (end < hi && end - lo < ROOM - z->n && in->t[end] >= in->t[end - 1] + STEP) end++;
        keep(z, in, lo, end);
        lo = end;
    }
}

/* Samples that a zero at `end` is taken from: [*lo, *hi). */
static void find_window(const bt_zeros *z, double end, size_t *lo, size_t *hi)
{
    *hi = z->n;
    while (*hi > 0 && z->t[*hi - 1] > end) --*hi;
    *lo = *hi;
    while (*lo > 0) {
        const double age = end - z->t[*lo - 1];
        if (age > BT_ZERO_WINDOW && (*hi - *lo >= FEW || age > REACH)) break;
        --*lo;
    }
}

/* Level of a channel over samples [lo, hi), NaN if it has no value there; *spread gets max - min. */
static double level(bt_zeros *z, bt_channel c, size_t lo, size_t hi, double *spread)
{
    const double *v = z->v[c] + lo;
    double least = INFINITY, most = -INFINITY;
    for (size_t i = 0; i < hi - lo; i++) {
        if (v[i] < least) least = v[i];
        if (v[i] > most) most = v[i];
    }
    *spread = most - least;
    return bt_trimmed_mean(v, hi - lo, z->scratch);
}

/* A foot that rests on the pedal lifts every pressure that hangs on it, a sensor's offset only its
 * own. With a single such sensor there is no telling, and feet rest more often than sensors jump.
 */
static bool foot_rests(const bt_zeros *z, const double middle[BT_CH_COUNT])
{
    bool any = false;
    for (bt_channel c = 0; c < BT_CH_COUNT; c++) {
        if (!hangs_on_foot(z, c) || isnan(middle[c]) || isnan(z->good[c])) continue;
        if (!(middle[c] - z->good[c] > RESTS)) return false;
        any = true;
    }
    return any;
}

/* An axle's line and its calipers are one piece of hydraulics: what the first alone reads is no pressure.  What the
 * master cylinder alone does not read may be one, behind a valve, and so may a caliper's, behind its hose. */
static bool stands_alone(const bt_zeros *z, const double middle[BT_CH_COUNT], bt_channel line)
{
    if (line != BT_CH_LINE_FRONT && line != BT_CH_LINE_REAR) return false;
    const bt_channel left = line == BT_CH_LINE_FRONT ? BT_CH_LINE_FL : BT_CH_LINE_RL;
    bool any = false;
    for (bt_channel c = left; c <= left + 1; c++) {
        if (isnan(middle[c]) || isnan(z->good[c])) continue;
        if (middle[c] - z->good[c] > RESTS) return false;
        any = true;
    }
    return any;
}

/* What is beyond the largest zero: the flag that it earns. */
static uint32_t doubt(const bt_zeros *z, const double middle[BT_CH_COUNT], bt_channel c, bool rests)
{
    if (!isnan(z->good[c]) && middle[c] > 0) {
        if (rests) return 0;
        if (is_line(c) && !stands_alone(z, middle, c)) return BT_FLAG_DRAG;
    }
    return BT_FLAG_ZERO_OFFSET;
}

void bt_zeros_at(bt_zeros *z, double start, double zero[BT_CH_COUNT], bt_rest *rest,
                 uint32_t *flags)
{
    size_t lo, hi;
    find_window(z, start - BT_ZERO_GUARD, &lo, &hi);
    double middle[BT_CH_COUNT], good[BT_CH_COUNT], spread;
    bool none = true;
    for (bt_channel c = 0; c < BT_CH_COUNT; c++) {
        middle[c] = z->v[c] ? level(z, c, lo, hi, &spread) : NAN;
        good[c] = z->good[c];
        none = none && isnan(middle[c]);
    }
    if (none) *flags |= BT_FLAG_NO_ZERO;
    const bool rests = foot_rests(z, middle);
    for (bt_channel c = 0; c < BT_CH_COUNT; c++) {
        uint32_t flag = 0;
        zero[c] = 0;
        if (fabs(middle[c]) <= zero_max(c))
            good[c] = zero[c] = middle[c];
        else if (!isnan(middle[c])) {
            flag = doubt(z, middle, c, rests);
            if (flag != BT_FLAG_ZERO_OFFSET) zero[c] = z->good[c]; /* the pressure is real */
        }
        *flags |= flag;
        if (rest) rest->level[c] = middle[c], rest->flag[c] = flag;
    }
    memcpy(z->good, good, sizeof good); /* only now, as each is judged by the others' before */
}

double bt_zeros_running(bt_zeros *z, bt_channel channel)
{
    if (z->n == 0 || !z->v[channel]) return z->running[channel];
    size_t lo, hi;
    find_window(z, z->t[z->n - 1], &lo, &hi);
    double spread;
    const double middle = level(z, channel, lo, hi, &spread), most = zero_max(channel);
    /* What is less than no pressure was no zero. */
    const bool below = middle < z->running[channel] - QUIET * most;
    if (fabs(middle) <= most && (spread <= QUIET * most || below)) z->running[channel] = middle;
    return z->running[channel];
}

/* Median of samples [lo, hi) of x; of more than ROOM of them, of every so many. */
static double middle_of(bt_zeros *z, const double *x, size_t lo, size_t hi)
{
    const size_t stride = (hi - lo) / ROOM + 1;
    size_t n = 0;
    for (size_t i = lo; i < hi; i += stride) z->scratch[n++] = x[i];
    n = bt_drop_nan(z->scratch, n);
    return n > 0 ? bt_median(z->scratch, n) : NAN;
}

/* Do all others that hang on the foot read their zero, or 0 as long as they have none?  Without any, does the
 * car gain speed all along? */
static bool others_rest(bt_zeros *z, const bt_block *in, bt_channel pedal)
{
    bool any = false;
    for (bt_channel c = 0; c < BT_CH_COUNT; c++) {
        if (c == pedal || !hangs_on_foot(z, c) || !in->ch[c]) continue;
        const double x = middle_of(z, in->ch[c], 0, in->n);
        if (isnan(x)) continue;
        if (!(x - (isnan(z->good[c]) ? 0 : z->good[c]) <= RESTS)) return false;
        any = true;
    }
    const double *decel = in->ch[BT_SIG_DECEL];
    for (size_t i = 0; !any && i < in->n; i++)
        if (!decel || !(decel[i] < -GAINS)) return false;
    return true;
}

bool bt_zeros_moved(bt_zeros *z, const bt_block *in, bt_channel pedal)
{
    const double *x = in->ch[pedal], most = zero_max(pedal);
    if (!x || in->n < 2 * FEW) return false;
    const double first = middle_of(z, x, 0, in->n / 2), second = middle_of(z, x, in->n / 2, in->n);
    if (!(fabs(second - first) <= STEADY * most) || !others_rest(z, in, pedal)) return false;
    z->running[pedal] = middle_of(z, x, 0, in->n);
    for (size_t i = 0; i < z->n; i++) z->v[pedal][i] = NAN; /* of the old zero */
    return true;
}
