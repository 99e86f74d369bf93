/* Pressure zeros: medians of what the sensors say while the pedal is released.  See sensors.h;
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
#define STEP 0.0007 /* s; samples closer than this add nothing to a median */

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
/* A foot that rests lifts a pressure by more than a zero wanders between two brakings. */
#define RESTS 0.5e5 /* Pa */

struct bt_zeros {
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

bt_status bt_zeros_new(bt_zeros **out, bt_error *err)
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

/* Median of a channel over samples [lo, hi), NaN if it has no value there; *spread gets max - min.
 */
static double median(bt_zeros *z, bt_channel c, size_t lo, size_t hi, double *spread)
{
    memcpy(z->scratch, z->v[c] + lo, (hi - lo) * sizeof *z->scratch);
    const size_t n = bt_drop_nan(z->scratch, hi - lo);
    double least = INFINITY, most = -INFINITY;
    for (size_t i = 0; i < n; i++) {
        if (z->scratch[i] < least) least = z->scratch[i];
        if (z->scratch[i] > most) most = z->scratch[i];
    }
    *spread = most - least;
    return n > 0 ? bt_median(z->scratch, n) : NAN;
}

/* A foot that rests on the pedal lifts every pressure that hangs on it, a sensor's offset only its
 * own. With a single such sensor there is no telling, and feet rest more often than sensors jump.
 */
static bool foot_rests(const bt_zeros *z, const double middle[BT_CH_COUNT])
{
    static const bt_channel hang_on_it[] = {BT_CH_PEDAL_FRONT, BT_CH_PEDAL_REAR, BT_CH_LINE_FRONT,
                                            BT_CH_LINE_FL, BT_CH_LINE_FR};
    bool any = false;
    for (size_t i = 0; i < sizeof hang_on_it / sizeof *hang_on_it; i++) {
        const bt_channel c = hang_on_it[i];
        if (isnan(middle[c]) || isnan(z->good[c])) continue;
        if (!(middle[c] - z->good[c] > RESTS)) return false;
        any = true;
    }
    return any;
}

/* What is beyond the largest zero: the flag that it earns. */
static uint32_t doubt(const bt_zeros *z, bt_channel c, double middle, bool rests)
{
    if (!isnan(z->good[c]) && middle > 0) {
        if (rests) return 0;
        if (is_line(c)) return BT_FLAG_DRAG;
    }
    return BT_FLAG_ZERO_OFFSET;
}

void bt_zeros_at(bt_zeros *z, double start, double zero[BT_CH_COUNT], double raw[BT_CH_COUNT],
                 uint32_t *flags)
{
    size_t lo, hi;
    find_window(z, start - BT_ZERO_GUARD, &lo, &hi);
    double middle[BT_CH_COUNT], spread;
    bool none = true;
    for (bt_channel c = 0; c < BT_CH_COUNT; c++) {
        middle[c] = z->v[c] ? median(z, c, lo, hi, &spread) : NAN;
        if (raw) raw[c] = middle[c];
        none = none && isnan(middle[c]);
    }
    if (none) *flags |= BT_FLAG_NO_ZERO;
    const bool rests = foot_rests(z, middle);
    for (bt_channel c = 0; c < BT_CH_COUNT; c++) {
        zero[c] = 0;
        if (isnan(middle[c])) continue;
        if (fabs(middle[c]) <= zero_max(c)) {
            z->good[c] = zero[c] = middle[c];
            continue;
        }
        const uint32_t flag = doubt(z, c, middle[c], rests);
        if (flag != BT_FLAG_ZERO_OFFSET) zero[c] = z->good[c]; /* the pressure is real */
        *flags |= flag;
    }
}

double bt_zeros_running(bt_zeros *z, bt_channel channel)
{
    if (z->n == 0 || !z->v[channel]) return z->running[channel];
    size_t lo, hi;
    find_window(z, z->t[z->n - 1], &lo, &hi);
    double spread;
    const double middle = median(z, channel, lo, hi, &spread), most = zero_max(channel);
    if (fabs(middle) <= most && spread <= QUIET * most) z->running[channel] = middle;
    return z->running[channel];
}
