/* How well are delay, gain and rest of the blend found?  Brakings with known dead time, lag and gain
 * error, simulated here in a few lines (no plant), seen through noisy sensors with an offset whose
 * zero is taken from the 0.5 s before the braking, as the tool does.  The truth is the least-squares
 * delay of the noise-free torques (CONTRACT 6), found by trying every 10 us near the best.  Prints bias, spread
 * and refusals; fails beyond the bounds. */
#include "base/stats.h"
#include "zones/blend.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define NORMAL_95   1.96
#define RUNS        1000  /* brakings per case */
#define DELAY_BOUND 0.008 /* s, or refused */
#define GAIN_BOUND  0.015
#define REST_BOUND  0.1  /* of the truth, or */
#define REST_SMALL  15.0 /* N*m */
#define COVER_LEAST 0.92 /* of 95 % intervals: three standard errors of RUNS below 94 % */

enum { FINE_HZ = 2000, LEAD = FINE_HZ, FINE_MAX = 16 * FINE_HZ };
static const double k = 25, p0 = 0.5; /* N*m per bar and bar, of demand and friction alike */

/* splitmix64 and the sum of twelve: enough of a normal distribution for sensors. */
static double uniform(uint64_t *seed)
{
    uint64_t z = (*seed += 0x9e3779b97f4a7c15u);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return (double)((z ^ (z >> 31)) >> 11) / 9007199254740992.0;
}

static double between(uint64_t *seed, double low, double high)
{
    return low + (high - low) * uniform(seed);
}

static double normal(uint64_t *seed)
{
    double sum = -6;
    for (int i = 0; i < 12; i++) sum += uniform(seed);
    return sum;
}

typedef struct {
    const char *name;
    double apply_low, apply_high; /* s, pedal ramp */
    double release_high;          /* s, from 0.15 */
    double peak_low, peak_high;   /* bar */
    double sigma;                 /* bar, pedal and line */
    double motor;                 /* share of the demand that a prompt motor takes */
    bool uneven;                  /* steps of the log vary by +-40 % */
    double refused_max;           /* share of brakings without a delay */
} shape;

static const shape shapes[] = {
    {"brisk, friction only", 0.1, 0.3, 0.8, 15, 60, 0.15, 0, false, 0.05},
    {"brisk, uneven steps", 0.1, 0.3, 0.8, 15, 60, 0.15, 0, true, 0.05},
    {"brisk, with motor", 0.1, 0.3, 0.8, 15, 60, 0.15, 0.4, false, 0.05},
    {"noisy sensors", 0.1, 0.3, 0.8, 15, 60, 0.3, 0, false, 0.05},
    {"slow squeeze", 0.5, 1.5, 0.8, 15, 60, 0.15, 0, false, 0.05},
    {"slow on and off", 1.5, 4, 4, 10, 30, 0.15, 0, false, 0.5},
    {"light touch", 0.2, 0.5, 0.8, 5, 12, 0.15, 0, false, 0.5},
};
static const double rates[] = {100, 200, 500, 1000};

typedef struct {
    int n;
    double pedal[FINE_MAX], demand[FINE_MAX], friction[FINE_MAX], motor[FINE_MAX], given[FINE_MAX];
    int start, end; /* the zone: pedal above 1.5 bar */
    double dead, lag, gain;
} braking;

static double ramp(double x)
{
    return x <= 0 ? 0 : x >= 1 ? 1 : 0.5 - 0.5 * cos(3.14159265358979 * x);
}

static void simulate(braking *b, const shape *s, uint64_t *seed)
{
    const double peak = between(seed, s->peak_low, s->peak_high),
                 apply = between(seed, s->apply_low, s->apply_high);
    const double hold = between(seed, 0.2, 2.5), release = between(seed, 0.15, s->release_high);
    const double wave = between(seed, 0, 0.1), wave_hz = between(seed, 0.5, 2);
    const double most = between(seed, 200, 600); /* N*m, what the motor can */
    b->dead = between(seed, 0.010, 0.080);
    b->lag = between(seed, 0.010, 0.060);
    b->gain = between(seed, 0.95, 1.05);
    b->n = LEAD + (int)((apply + hold + release + 0.5) * FINE_HZ);
    const int delay = (int)lround(b->dead * FINE_HZ);
    double lagged = 0;
    for (int i = 0; i < b->n; i++) {
        const double t = (double)(i - LEAD) / FINE_HZ;
        const double shape_now = ramp(t / apply) * (1 - ramp((t - apply - hold) / release));
        b->pedal[i] = peak * shape_now * (1 + wave * sin(6.283185307 * wave_hz * t));
        b->demand[i] = k * fmax(0, b->pedal[i] - p0);
        b->motor[i] = fmin(most, s->motor * b->demand[i]);
        const double asked = i < delay ? 0 : b->demand[i - delay] - b->motor[i - delay];
        lagged += (asked - lagged) * (1 - exp(-1 / (b->lag * FINE_HZ)));
        b->friction[i] = b->gain * lagged;
        b->motor[i] *= b->gain;
        b->given[i] = b->friction[i] + b->motor[i];
    }
    b->start = LEAD;
    while (b->pedal[b->start] < 1.5) b->start++;
    b->end = b->n - 1;
    while (b->pedal[b->end] < 1.5) b->end--;
}

typedef struct {
    double delay, gain, rest, rss;
} best;

/* Tries the lags from..to (samples) in steps, keeping the least-squares one; the demand between two samples lies on a
 * straight line. */
static void try_lags(const braking *b, double from, double to, double step, best *out)
{
    for (double lag = fmax(from, 0); lag <= to; lag += step) {
        const int whole = (int)lag;
        const double part = lag - whole;
        double xx = 0, xy = 0, yy = 0;
        for (int i = b->start; i <= b->end; i++) {
            const double *x = &b->demand[i - whole], y = b->given[i];
            const double late = x[0] + part * (x[-1] - x[0]);
            xx += late * late;
            xy += late * y;
            yy += y * y;
        }
        if (!(xx > 0)) continue;
        const double rss = fmax(0, yy - xy * xy / xx);
        if (rss >= out->rss) continue;
        *out = (best){lag / FINE_HZ, xy / xx, sqrt(rss / (b->end - b->start + 1)), rss};
    }
}

/* The least-squares delay and gain of the noise-free torques over the zone. */
static best truth(const braking *b)
{
    best out = {.rss = INFINITY};
    for (double step = 20, width = FINE_HZ / 2.0; step >= 0.02; width = step, step /= 10)
        try_lags(b, out.delay * FINE_HZ - width, out.delay * FINE_HZ + width, step, &out);
    return out;
}

/* What a sensor makes of a signal, less the zero from what it read while the pedal was released. */
static void measure(const double *true_bar, const int *at, int n, int zeros, double sigma,
                    double offset, uint64_t *seed, double *out)
{
    double scratch[FINE_HZ];
    for (int i = 0; i < n; i++)
        out[i] = 0.02 * floor((true_bar[at[i]] + offset + sigma * normal(seed)) / 0.02 + 0.5);
    const double zero = bt_trimmed_mean(out, (size_t)zeros, scratch);
    for (int i = 0; i < n; i++) out[i] -= zero;
}

/* Log rows from 0.6 s before the pedal moves to the end of the zone; `zeros` of them end 0.1 s before
 * it does. */
static int rows_of(const braking *b, double rate, bool uneven, uint64_t *seed, int *at, int *zeros,
                   int *first)
{
    const double step = FINE_HZ / rate;
    int n = 0;
    *zeros = *first = 0;
    for (double i = LEAD - 0.6 * FINE_HZ; i <= b->end; n++) {
        at[n] = (int)i;
        if (at[n] < LEAD - FINE_HZ / 10) *zeros = n + 1;
        if (at[n] < b->start) *first = n + 1;
        i += uneven ? fmax(1, step * between(seed, 0.6, 1.4)) : step;
    }
    return n;
}

/* The sample before the zone's first one moves to where the pedal crosses 1.5 bar, as the segment stage has it. */
static void start_at_crossing(double *t, double *demand, double *given, const double *pedal,
                              int before)
{
    const double across = (1.5 - pedal[before]) / (pedal[before + 1] - pedal[before]);
    const double part = across > 0 ? fmin(across, 0.99) : 0;
    t[before] += part * (t[before + 1] - t[before]);
    demand[before] += part * (demand[before + 1] - demand[before]);
    given[before] += part * (given[before + 1] - given[before]);
}

static bt_blend look(const braking *b, const shape *s, double rate, uint64_t *seed)
{
    static int at[FINE_MAX];
    static double line_true[FINE_MAX], pedal[FINE_MAX], line[FINE_MAX], t[FINE_MAX];
    static double demand[FINE_MAX], given[FINE_MAX];
    int zeros, first;
    const int n = rows_of(b, rate, s->uneven, seed, at, &zeros, &first);
    for (int i = 0; i < b->n; i++) line_true[i] = b->friction[i] > 0 ? b->friction[i] / k + p0 : 0;
    measure(b->pedal, at, n, zeros, s->sigma, between(seed, -1, 1), seed, pedal);
    measure(line_true, at, n, zeros, s->sigma, between(seed, -1, 1), seed, line);
    for (int i = 0; i < n; i++) {
        t[i] = (double)at[i] / FINE_HZ;
        demand[i] = k * fmax(0, pedal[i] - p0);
        given[i] =
            k * fmax(0, line[i] - p0) + b->motor[at[i]] + (s->motor > 0 ? 10 * normal(seed) : 0);
    }
    start_at_crossing(t, demand, given, pedal, --first);
    bt_blend out;
    bt_error err = {0};
    bt_blend_clear(&out);
    if (bt_blend_delay(t + first, demand + first, given + first, (size_t)(n - first), &out, &err))
        exit(EXIT_FAILURE);
    return out;
}

typedef struct {
    int n, beyond;
    double sum, square, most;
} tally;

static void count(tally *y, double error, double bound)
{
    y->n++;
    y->beyond += !(fabs(error) <= bound);
    y->sum += error;
    y->square += error * error;
    y->most = fmax(y->most, fabs(error));
}

static bool run(const shape *s, double rate, uint64_t seed)
{
    static braking b;
    int inside = 0, gain_inside = 0;
    tally delay = {0}, gain = {0}, rest = {0}, naive = {0}, sure = {0}, gain_sure = {0};
    for (int i = 0; i < RUNS; i++) {
        simulate(&b, s, &seed);
        const best is = truth(&b);
        const bt_blend out = look(&b, s, rate, &seed);
        if (!isnan(out.gain)) {
            count(&gain, out.gain - is.gain, GAIN_BOUND);
            gain_inside += fabs(out.gain - is.gain) <= NORMAL_95 * out.gain_u;
            count(&gain_sure, (out.gain - is.gain) / out.gain_u, INFINITY);
        }
        if (out.delay_weak) continue;
        count(&delay, out.delay - is.delay, DELAY_BOUND);
        count(&naive, out.delay - b.dead - b.lag, INFINITY);
        inside += fabs(out.delay - is.delay) <= NORMAL_95 * out.delay_u;
        count(&sure, (out.delay - is.delay) / out.delay_u, INFINITY);
        count(&rest, out.rest - is.rest, fmax(REST_SMALL, REST_BOUND * is.rest));
    }
    const double refused = 1 - (double)delay.n / RUNS, n = delay.n, m = gain.n;
    printf("%-22s %5.0f  %5.1f  %6.2f %5.2f %5.2f %3d  %6.2f %5.2f  %5.2f  %6.2f %5.2f %5.2f %3d "
           "%5.2f  "
           "%5.1f %5.1f %3d  %5.1f %5.1f\n",
           s->name, rate, 100 * refused, 1e3 * delay.sum / n, 1e3 * sqrt(delay.square / n),
           1e3 * delay.most, delay.beyond, 1e3 * naive.sum / n, 1e3 * naive.most,
           sqrt(sure.square / n), 100 * gain.sum / m, 100 * sqrt(gain.square / m), 100 * gain.most,
           gain.beyond, sqrt(gain_sure.square / m), rest.sum / n, rest.most, rest.beyond,
           100 * inside / n, 100 * gain_inside / m);
    const bool covered = inside >= COVER_LEAST * n && gain_inside >= COVER_LEAST * m;
    return delay.beyond == 0 && gain.beyond == 0 && rest.beyond == 0 && covered &&
           refused <= s->refused_max;
}

int main(void)
{
    bool good = true;
    puts(
        "                            refused  delay, ms, against truth  and theta+tau  rms of    "
        "gain, %             rms of  rest, N*m         95 % interval\n"
        "shape                     Hz      %    bias   rms  most  >8    bias  most   err/u    bias "
        "  rms  most >1.5 err/u   bias  most   >  holds delay, gain");
    for (size_t i = 0; i < sizeof shapes / sizeof *shapes; i++)
        for (size_t j = 0; j < sizeof rates / sizeof *rates; j++)
            good &= run(&shapes[i], rates[j], 1000 * i + j + 1);
    puts(good ? "within bounds" : "BEYOND BOUNDS");
    return good ? EXIT_SUCCESS : EXIT_FAILURE;
}
