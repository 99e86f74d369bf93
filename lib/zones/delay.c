/* Delay and gain by least squares: see delay.h (METHODS 7).
 *
 * Both signals are first averaged over the bins of one even grid.  The same average on both sides
 * leaves y = g x(t - tau) as it is, makes uneven and fast logs alike, and above all makes every lag
 * equally noisy: interpolating a noisy x between its samples instead would smooth it more half-way
 * than on them, and draw tau towards half samples.  Lags are whole bins; the least is then refined by
 * a parabola.  Noise in x lowers g by (noise / RMS of x)^2, some 1e-4 at 0.2 bar in 20: not corrected. */
#include "zones/delay.h"

#include "zones/integral.h"

#include <math.h>
#include <stdlib.h>

#define BIN          0.005 /* s; a braking's shape is in its 0.1..0.3 s ramps */
#define BINS_MAX     20000 /* longer brakings get wider bins */
#define STEP_MAX     0.05  /* s, mean step of the samples; below 20 Hz ramps are lost */
#define START_SMALL  0.4   /* of the largest x: less is a braking that began there, not one cut */
#define START_BINS   5     /* two means over so many give the slope at the start */
#define NEAR         0.02  /* s, half width of what counts as a bin's neighbours, or two samples */
#define DELAY_U_MAX  0.002 /* s; four times this is 8 ms, what a delay is promised to */
#define GAIN_U_MAX   0.00375 /* of the gain; four times this is 1.5 % */
#define REST_MAX     0.15    /* of the RMS of y; more is no copy of x, whatever the delay */
#define SLOPE_BINS   8 /* half width of the difference for dx/dt; less, and noise adds to it */
#define AHEAD        (1 + SLOPE_BINS)
#define QUIET        1e-4 /* of the RMS of y: no log has less noise, if only by rounding */
#define NOISE_PART   0.5  /* of the spread of simulated brakings is the noise of the residuals */
#define ZERO_TIME    0.5  /* s that the zero of a pressure is taken from (METHODS 2.4) */
#define MEDIAN_COSTS 1.5707963 /* pi / 2: variance of normal noise's median over that of its mean */

/* The signals on the even grid. */
typedef struct {
    double h;     /* s, width of a bin */
    long n;       /* bins */
    long lags;    /* bins in BT_DELAY_MAX */
    long near;    /* bins on either side that count as neighbours */
    double step;  /* bins from one sample to the next, mean */
    double alike; /* bins that share the noise of one sample */
    /* Bins of x from -reach to before n + AHEAD, so that x[i - lag] is there for every lag and a little
     * more; NaN = not known, until keep_common() has seen to it that nobody asks. */
    double *x;
    long reach;
    double *y;     /* 0 = not known, or the x that some lag needs is not */
    double *known; /* 1, or 0 where y is not */
    long used;     /* bins with a known y, */
    double yy;     /* and the squares in them */
} even;

/* Mean over each bin of the straight lines between samples. */
static void bin_means(const double *t, const double *x, size_t n, double h, long bins, double *out)
{
    size_t j = 0;
    for (long i = 0; i < bins; i++) {
        const double end = t[0] + h * (double)(i + 1);
        double at = t[0] + h * (double)i, sum = 0;
        while (at < end) {
            while (j + 2 < n && t[j + 1] <= at) j++;
            if (at <= t[j] && t[j + 1] < end) { /* all of it */
                sum += 0.5 * (t[j + 1] - t[j]) * (x[j] + x[j + 1]);
                at = t[j + 1];
                continue;
            }
            const double stop = t[j + 1] < end && j + 2 < n ? t[j + 1] : end;
            const double w = (0.5 * (at + stop) - t[j]) / (t[j + 1] - t[j]);
            sum += (stop - at) * (x[j] + w * (x[j + 1] - x[j]));
            at = stop;
        }
        out[i] = sum / h;
    }
}

/* x outside its bins.  Before them it came up from 0 with the slope (unit per bin, >= 0; NaN = not known).
 * Behind them it stays as it is: lags below SLOPE_BINS look so far ahead, and giving up the last bins
 * instead would cost what the end of a quick release tells. */
static void extend(even *e, double slope)
{
    for (long i = -e->reach; i < 0; i++) {
        const double x = e->x[0] + (double)i * slope;
        e->x[i] = x < 0 ? 0 : x;
    }
    for (long i = 0; i < AHEAD; i++) e->x[e->n + i] = e->x[e->n - 1];
}

/* Takes out the y for which some lag lacks its x: all lags have to be judged by the same samples. */
static void keep_common(even *e)
{
    long bad = -e->reach - 1; /* the last bin without x so far */
    for (long i = -e->reach; i < AHEAD; i++)
        if (isnan(e->x[i])) bad = i;
    for (long i = 0; i < e->n; i++) {
        if (isnan(e->x[i + AHEAD])) bad = i + AHEAD;
        const bool known = !isnan(e->y[i]) && i - e->reach > bad;
        e->known[i] = known ? 1 : 0;
        if (!known) e->y[i] = 0;
        e->used += known;
        e->yy += e->y[i] * e->y[i];
    }
    for (long i = -e->reach; i < e->n + AHEAD; i++)
        if (isnan(e->x[i])) e->x[i] = 0;
}

/* Fit at one lag: gain, what is left of the squares of y, and of those of y - x with a gain of 1. */
typedef struct {
    double gain, rss, plain, xx;
} lag_fit;

/* Two sums of each side by side, for the compiler to make one of: this is where the time goes. */
static lag_fit fit_at(const even *e, long lag)
{
    const double *x = e->x - lag, *y = e->y, *known = e->known;
    double xx[2] = {0}, xy[2] = {0};
    long i = 0;
    for (; i + 1 < e->n; i += 2)
        for (long k = 0; k < 2; k++) {
            xx[k] += known[i + k] * x[i + k] * x[i + k];
            xy[k] += y[i + k] * x[i + k];
        }
    if (i < e->n) {
        xx[0] += known[i] * x[i] * x[i];
        xy[0] += y[i] * x[i];
    }
    const double all = xx[0] + xx[1], both = xy[0] + xy[1];
    const double gain = all > 0 && both > 0 ? both / all : 0; /* a copy upside down is no copy */
    return (lag_fit){gain, e->yy - gain * both, e->yy - 2 * both + all, all};
}

/* What the fit leaves at bin i, `part` of a bin beyond `lag`. */
static double residual(const even *e, long i, long lag, double part, double gain)
{
    const double *x = e->x - lag, whole = x[i];
    const double next = x[i + (part < 0 ? 1 : -1)]; /* later looks at an earlier x */
    return e->y[i] - gain * (whole + fabs(part) * (next - whole));
}

/* What is left of bin i's residual when its neighbours' mean is taken off. */
static double noise_at(const even *e, const double *r, long i)
{
    double sum = 0;
    long used = 0;
    for (long j = i - e->near; j <= i + e->near; j++) {
        if (j < 0 || j >= e->n || isnan(r[j])) continue;
        sum += r[j];
        used++;
    }
    return used > 1 ? (r[i] - sum / (double)used) * sqrt((double)used / (double)(used - 1)) : 0;
}

/* Variance of a bin's mean over that of a sample's noise, of straight lines between samples: the mean of their
 * autocovariance, a cubic B-spline, over the bin. */
static double of_sample(double step)
{
    const double h = 1 / step, beyond = h < 2 ? pow(2 - h, 5) / 120 : 0;
    return h < 1 ? 2.0 / 3 - h * h / 6 + h * h * h / 20 : (h - 7.0 / 15 + 2 * beyond) / (h * h);
}

/* What the variance of a mean over many bins is, times their number: bins share samples, and so does a bin with the
 * neighbours whose mean was taken off when its noise was `measured`. */
static double variance_of_many(const even *e, double measured)
{
    const double window = 2 * (double)e->near + 1;
    return measured * (1 - 1 / window) * e->step / (of_sample(e->step) - e->step / window);
}

/* A mean of squares that noise of so much variance is part of: by what that adds to its root, and by its
 * own chance, of which `part` is the part of one independent sample in all. */
static double rest_uncertainty(double rest, double noise, double part)
{
    const double shape = fmax(rest * rest - noise, 0);
    const double chance = sqrt((4 * noise * shape + 2 * noise * noise) * part) / (2 * rest);
    return hypot(chance, rest - sqrt(shape));
}

/* Standard uncertainties from the curvature of the sum of squares and the noise of the residuals; for
 * the gain also from zeros that are medians of that noise.  The slow part of the residuals is left out:
 * a lag is no pure delay, so they wave in every braking, but that is no chance; how much of it a delay
 * may leave is REST_MAX's business.  NOISE_PART stands for what is not noise (start, end, rounding), so
 * that errors over u come to 1 in tests/accuracy/delay.c. */
static void uncertainty(const even *e, long lag, double part, double *r, bt_delay *out)
{
    double a11 = 0, a12 = 0, a22 = 0, sum_x = 0, sum_late = 0, squares = 0;
    for (long i = 0; i < e->n; i++)
        r[i] = e->known[i] > 0 ? residual(e, i, lag, part, out->gain) : NAN;
    for (long i = 0; i < e->n; i++) {
        if (isnan(r[i])) continue;
        const double noise = noise_at(e, r, i), x = e->x[i - lag];
        const double rise = e->x[i - lag + SLOPE_BINS] - e->x[i - lag - SLOPE_BINS];
        const double late = -out->gain * rise / (2 * SLOPE_BINS * e->h); /* dy / d tau */
        sum_x += x;
        sum_late += late;
        a11 += x * x;
        a12 += x * late;
        a22 += late * late;
        squares += noise * noise;
    }
    const double least = QUIET * QUIET * out->gain * out->gain * a11;
    const double measured = fmax(squares, least) / (double)e->used, variance = measured * e->alike;
    const double det = a11 * a22 - a12 * a12;
    const double zero = sqrt(MEDIAN_COSTS * variance_of_many(e, measured) * e->h / ZERO_TIME);
    out->gain_u =
        hypot(sqrt(variance * a22 / det) / NOISE_PART, zero * (a22 * sum_x - a12 * sum_late) / det);
    out->delay_u = sqrt(variance * a11 / det) / NOISE_PART;
    out->rest_u = rest_uncertainty(out->rest, measured, e->alike / (double)e->used);
}

/* The best lag, refined; false where the least lies at the far end or nowhere. */
static bool best(const even *e, long *lag, double *part, bt_delay *out)
{
    lag_fit fit = {0}, least = {.rss = INFINITY};
    for (long k = 0; k <= e->lags; k++) {
        fit = fit_at(e, k);
        if (!(fit.rss < least.rss)) continue;
        least = fit;
        *lag = k;
    }
    if (!(least.gain > 0)) return false;
    const lag_fit sooner = fit_at(e, *lag - 1), later = fit_at(e, *lag + 1);
    const double bend = sooner.rss - 2 * least.rss + later.rss;
    if (!(bend > 0)) return false;
    *part = 0.5 * (sooner.rss - later.rss) / bend;
    if (*part > 0.5) return false;  /* still falling at the far end */
    if (*part < -0.5) *part = -0.5; /* y comes before x; only at lag 0 */
    if (*lag == 0 && *part < 0) *part = 0;
    out->delay = ((double)*lag + *part) * e->h;
    out->gain = least.gain + 0.5 * *part * (later.gain - sooner.gain) +
                0.5 * *part * *part * (sooner.gain - 2 * least.gain + later.gain);
    const double rss =
        least.rss + 0.5 * *part * (later.rss - sooner.rss) + 0.5 * *part * *part * bend;
    out->rest = sqrt(rss > 0 ? rss / (double)e->used : 0);
    const double all = fit_at(e, 0).plain;
    out->by_rest = fmax(rss, 0) / all;
    out->by_gain = (1 - out->gain) * (1 - out->gain) * least.xx / all;
    out->by_delay = 1 - out->by_rest - out->by_gain;
    return true;
}

static void fit(const even *e, double *residuals, bt_delay *out)
{
    long lag = 0;
    double part = 0;
    if (!best(e, &lag, &part, out)) return;
    uncertainty(e, lag, part, residuals, out);
    const bool copy = out->rest <= REST_MAX * sqrt(e->yy / (double)e->used);
    out->weak = !(copy && out->delay_u <= DELAY_U_MAX);
    if (out->weak) out->delay = NAN;
    if (!(copy && out->gain_u <= GAIN_U_MAX * out->gain)) out->gain = NAN;
    if (isnan(out->delay)) out->delay_u = NAN;
    if (isnan(out->gain)) out->gain_u = NAN;
    if (isnan(out->delay + out->gain)) out->by_delay = out->by_gain = out->by_rest = NAN;
}

static double largest(const double *x, size_t n)
{
    double most = 0;
    for (size_t i = 0; i < n; i++)
        if (x[i] > most) most = x[i];
    return most;
}

static double start_slope(const even *e)
{
    double rise = 0;
    for (long i = 0; i < START_BINS; i++) rise += e->x[i + START_BINS] - e->x[i];
    return rise < 0 ? 0 : rise / (START_BINS * START_BINS);
}

bt_status bt_delay_fit(const double *t, const double *x, const double *y, size_t n, bt_delay *out,
                       bt_error *err)
{
    *out = (bt_delay){NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN, true};
    const double time = n < 2 ? 0 : t[n - 1] - t[0];
    const double step = n < 2 ? INFINITY : time / (double)(n - 1);
    double x_known, y_known;
    bt_integral(t, x, n, &x_known);
    bt_integral(t, y, n, &y_known);
    if (step > STEP_MAX || x_known < BT_COVERAGE_MIN * time || y_known < BT_COVERAGE_MIN * time)
        return BT_OK;
    even e = {.n = (long)fmin(ceil(time / BIN), BINS_MAX)};
    e.h = time / (double)e.n;
    e.lags = lround(BT_DELAY_MAX / e.h);
    e.step = step / e.h;
    e.alike = fmax(1, e.step);
    e.near = lround(fmax(NEAR, 2 * step) / e.h) + 1;
    if (e.n < e.lags / 2) return BT_OK; /* hardly a braking */
    e.reach = e.lags + 1 + SLOPE_BINS;
    double *store = calloc((size_t)(e.reach + 4 * e.n + AHEAD), sizeof *store);
    if (!store) return bt_fail(err, BT_NOMEM, "no memory for a delay over %ld bins", e.n);
    e.x = store + e.reach;
    e.y = e.x + e.n + AHEAD;
    e.known = e.y + e.n;
    bin_means(t, x, n, e.h, e.n, e.x);
    bin_means(t, y, n, e.h, e.n, e.y);
    extend(&e, x[0] <= START_SMALL * largest(x, n) ? start_slope(&e) : NAN);
    keep_common(&e);
    fit(&e, e.known + e.n, out);
    free(store);
    return BT_OK;
}
