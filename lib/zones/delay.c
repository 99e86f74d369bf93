/* Delay and gain by least squares: see delay.h (METHODS 7).
 *
 * Both signals are first averaged over the bins of one even grid.  The same average on both sides
 * leaves y = g x(t - tau) as it is, makes uneven and fast logs alike, and above all makes every lag
 * equally noisy: interpolating a noisy x between its samples instead would smooth it more half-way
 * than on them, and draw tau towards half samples.  Lags are whole bins; the least is then refined by
 * a parabola, wide enough for the noise.  Noise in x lowers g by (noise / RMS of x)^2, some 1e-4 at 0.2 bar in 20: not corrected. */
#include "zones/delay.h"

#include "zones/integral.h"

#include <math.h>
#include <stdlib.h>

#define BIN         0.005 /* s; a braking's shape is in its 0.1..0.3 s ramps */
#define BINS_MAX    20000 /* longer brakings get wider bins */
#define STEP_MAX    0.05  /* s, mean step of the samples; below 20 Hz ramps are lost */
#define START_SMALL 0.4   /* of the largest x: less is a braking that began there, not one cut */
#define START_POWER (4.0 / 3) /* of the time: a foot's square, less what a threshold keeps back */
#define START_BINS  5L        /* two means over so many, or up to ... */
#define START_MOST  40L       /* ... so many bins, give the slope at the start: */
#define START_RISE  1.4       /* the second one has to be this many times the first */
#define NEAR        0.02    /* s, half width of what counts as a bin's neighbours, or two samples */
#define DELAY_U_MAX 0.002   /* s; four times this is 8 ms, what a delay is promised to */
#define GAIN_U_MAX  0.00375 /* of the gain; four times this is 1.5 % */
#define REST_MAX    0.15    /* of the RMS of y; more is no copy of x, whatever the delay */
#define SLOPE_BINS  8       /* half width of the difference for dx/dt; less, and noise adds to it */
#define AHEAD       (1 + SLOPE_BINS)
#define QUIET       1e-4 /* of the RMS of y: no log has less noise, if only by rounding */
#define STANDS_OUT  20.0 /* times the roughness of the sums of squares */
#define HALF_MAX    40L  /* lags, on either side of the best */
#define ZERO_TIME   0.5  /* s that the zero of a pressure is taken from (METHODS 2.4) */

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
    long start;    /* two means over so many tell what was before, 0 = nothing does */
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

static double mean_root(const even *e, long from, long n)
{
    double sum = 0;
    for (long i = from; i < from + n; i++) sum += pow(fmax(e->x[i], 0), 1 / START_POWER);
    return sum / (double)n;
}

/* x before its bins: a root of it rises on a straight line, known from where it rises on. */
static void extend_back(even *e)
{
    long n = START_BINS;
    double first = mean_root(e, 0, n), then = mean_root(e, n, n);
    while (then < START_RISE * first && n < START_MOST && 2 * n + 2 <= e->n) {
        n++;
        first = mean_root(e, 0, n);
        then = mean_root(e, n, n);
    }
    e->start = n;
    const double slope = fmax(then - first, 0) / (double)n;
    for (long i = -e->reach; i < 0; i++) {
        const double root = first + ((double)i - 0.5 * (double)(n - 1)) * slope;
        e->x[i] = root < 0 ? 0 : pow(root, START_POWER);
    }
}

/* x outside its bins.  `small` = it came up from 0, else nothing is known before them.  Behind them it stays as it is:
 * lags below SLOPE_BINS look so far ahead, and giving up the last bins instead would cost what the end of a quick
 * release tells. */
static void extend(even *e, bool small)
{
    for (long i = -e->reach; i < 0; i++) e->x[i] = NAN;
    if (small) extend_back(e);
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

/* How x rises per bin at bin i, over so many that its noise hardly counts. */
static double rise_at(const even *e, long i)
{
    return (e->x[i + SLOPE_BINS] - e->x[i - SLOPE_BINS]) / (2 * SLOPE_BINS);
}

/* What the fit leaves at bin i, `part` of a bin beyond `lag`.  By the slope, since the mean of two bins of x would be less
 * noisy than either. */
static double residual(const even *e, long i, long lag, double part, double gain)
{
    return e->y[i] - gain * (e->x[i - lag] - part * rise_at(e, i - lag));
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
    const double chance = sqrt((4 * noise * shape + 2 * noise * noise) * part);
    return hypot(sqrt(rest * rest + chance) - rest, rest - sqrt(shape));
}

/* Residuals at a lag into r, NaN = not known; returns the mean square of their noise in one bin. */
static double residuals(const even *e, long lag, double part, double gain, double *r)
{
    double squares = 0, xx = 0;
    for (long i = 0; i < e->n; i++) {
        r[i] = e->known[i] > 0 ? residual(e, i, lag, part, gain) : NAN;
        xx += e->known[i] * e->x[i - lag] * e->x[i - lag];
    }
    for (long i = 0; i < e->n; i++)
        if (!isnan(r[i])) squares += noise_at(e, r, i) * noise_at(e, r, i);
    return fmax(squares, QUIET * QUIET * gain * gain * xx) / (double)e->used;
}

/* Sums over the bins that the fit uses: of x and of what y gains per second of delay, `late`. */
typedef struct {
    double xx, x_late, late_late, x, late;
    double first, second; /* late times the weight of the two means that the start is made of */
} late_sums;

static late_sums sum_up(const even *e, long lag, double gain)
{
    late_sums s = {0};
    const double n = (double)e->start;
    for (long i = 0; i < e->n; i++) {
        if (!(e->known[i] > 0)) continue;
        const double x = e->x[i - lag], late = -gain * rise_at(e, i - lag) / e->h;
        s.x += x;
        s.late += late;
        s.xx += x * x;
        s.x_late += x * late;
        s.late_late += late * late;
        if (i >= lag) continue; /* never where nothing is known before x */
        const double away = ((double)(lag - i) + 0.5 * (n - 1)) / n;
        s.first += late * (1 + away);
        s.second += late * away;
    }
    return s;
}

/* Standard uncertainties: what the sensors' noise makes of a least-squares fit, of the zeros that were taken from the
 * same noise before the braking, and of the start.  delay_u comes in with the parabola's.  The slow part of the
 * residuals is left out: a lag is no pure delay, so they wave in every braking, but that is no chance; how much of it a
 * delay may leave is REST_MAX's business.  A motor's noise is in y and not in the zeros, but cannot be told from
 * the line's: gain_u is too large there. */
static void uncertainty(const even *e, long lag, double measured, bt_delay *out)
{
    const late_sums s = sum_up(e, lag, out->gain);
    const double many = variance_of_many(e, measured), zero = many * e->h / ZERO_TIME;
    const double det = s.xx * s.late_late - s.x_late * s.x_late;
    const double zero_gain = (s.late_late * s.x - s.x_late * s.late) / det,
                 zero_delay = (s.xx * s.late - s.x_late * s.x) / det;
    /* Half of the noise is x's, as far as can be told. */
    const double start = e->start > 0 ? 0.5 * many / (double)e->start : 0,
                 by_start = s.xx / det * hypot(s.first, s.second);
    out->gain_u = sqrt(many * s.late_late / det + zero * zero_gain * zero_gain);
    out->delay_u = sqrt(out->delay_u * out->delay_u + zero * zero_delay * zero_delay +
                        start * by_start * by_start);
    out->rest_u = rest_uncertainty(out->rest, measured, e->alike / (double)e->used);
}

/* The parabola through the sums of squares at lag - half .. lag + half, by least squares. */
typedef struct {
    double at, least, bend; /* bins beyond lag; there; second difference */
    double slope_u;         /* of the slope per roughness of the sums */
} parabola;

static parabola parabola_at(const even *e, long lag, long half)
{
    double sum = 0, kr = 0, kkr = 0, kk = 0, kkkk = 0;
    for (long k = -half; k <= half; k++) {
        const double rss = fit_at(e, lag + k).rss, square = (double)(k * k);
        sum += rss;
        kr += (double)k * rss;
        kkr += square * rss;
        kk += square;
        kkkk += square * square;
    }
    const double n = 2 * (double)half + 1, slope = kr / kk;
    const double c = (kkr - kk * sum / n) / (kkkk - kk * kk / n);
    const double at = -0.5 * slope / c;
    return (parabola){at, (sum - c * kk) / n + 0.5 * slope * at, 2 * c, 1 / sqrt(kk)};
}

/* Noise in x times noise in y makes the sums of squares rough from lag to lag.  By so much, if either is half of the noise
 * `measured`; less, if they differ. */
static double roughness(const even *e, double measured)
{
    return measured * sqrt((double)e->used * e->alike);
}

/* That moves the least sum of a slow braking by several bins: the parabola has to be so wide that its sides stand out. */
static long half_width(const even *e, long lag, double rss, double rough)
{
    const long most = (lag < e->lags - lag ? lag : e->lags - lag) + SLOPE_BINS;
    long half = 1;
    while (half < most && half < HALF_MAX) {
        const double side = 0.5 * (fit_at(e, lag - half).rss + fit_at(e, lag + half).rss) - rss;
        if (side >= STANDS_OUT * rough) break;
        half++;
    }
    return half;
}

/* The best of the whole lags. */
static lag_fit least_of(const even *e, long *lag)
{
    lag_fit least = {.rss = INFINITY};
    for (long k = 0; k <= e->lags; k++) {
        const lag_fit fit = fit_at(e, k);
        if (!(fit.rss < least.rss)) continue;
        least = fit;
        *lag = k;
    }
    return least;
}

/* The fit `at` so many bins, between whole lags; `rss` is what it leaves. */
static void fit_between(const even *e, double at, double rss, bt_delay *out)
{
    const long lag = lround(at);
    const double part = at - (double)lag;
    const lag_fit sooner = fit_at(e, lag - 1), here = fit_at(e, lag), later = fit_at(e, lag + 1);
    out->delay = at * e->h;
    out->gain = here.gain + 0.5 * part * (later.gain - sooner.gain) +
                0.5 * part * part * (sooner.gain - 2 * here.gain + later.gain);
    out->rest = sqrt(rss / (double)e->used);
    const double all = fit_at(e, 0).plain;
    out->by_rest = rss / all;
    out->by_gain = (1 - out->gain) * (1 - out->gain) * here.xx / all;
    out->by_delay = 1 - out->by_rest - out->by_gain;
}

/* The best lag, refined, with its uncertainties; false where the least lies at the far end or nowhere. */
static bool best(const even *e, double *r, bt_delay *out)
{
    long lag = 0;
    const lag_fit least = least_of(e, &lag);
    if (!(least.gain > 0)) return false;
    const double rough = roughness(e, residuals(e, lag, 0, least.gain, r));
    const long half = half_width(e, lag, least.rss, rough);
    const parabola p = parabola_at(e, lag, half);
    if (!(p.bend > 0 && p.at <= (double)half)) return false;
    const double at =
        fmax(0, (double)lag + fmax(p.at, (double)-half)); /* no y comes before its x */
    if (at > (double)e->lags + 0.5) return false;         /* still falling at the far end */
    fit_between(e, at, fmax(p.least, 0), out);
    lag = lround(at);
    const double measured = residuals(e, lag, at - (double)lag, out->gain, r);
    out->delay_u = e->h * hypot(rough * sqrt(e->alike) * p.slope_u / p.bend,
                                sqrt(2 * variance_of_many(e, measured) / p.bend));
    uncertainty(e, lag, measured, out);
    return true;
}

static void fit(const even *e, double *r, bt_delay *out)
{
    if (e->used < e->lags / 2) return; /* a slope or two, and any delay would do */
    if (!best(e, r, out)) return;
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
    extend(&e, x[0] <= START_SMALL * largest(x, n));
    keep_common(&e);
    fit(&e, e.known + e.n, out);
    free(store);
    return BT_OK;
}
