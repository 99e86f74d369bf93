/* Delay, gain, rest and their uncertainties (zones/delay.h) a second time, said as plainly as can be: squares summed
 * one by one, the parabola from its normal equations, uncertainties from the weight of every bin, over 360
 * brakings drawn by chance.  check_delay.c tells whether they are right; here, whether they are computed as meant. */
#include "check_support.h"

#include "zones/delay.h"

#include <math.h>
#include <stdint.h>

enum { MAX = 2500, LOGS = 360 };
static double t[MAX], x[MAX], y[MAX];

/* On the even grid. */
static double h;        /* s, a bin */
static long bins, lags; /* bins in all, and in half a second */
static double step;     /* bins from sample to sample */
static double x_bin[MAX], y_bin[MAX];
static bool came_up; /* x from 0, so that it is known before the first bin: */
static long start;   /* two means over so many bins say how */
static double start_mean, start_slope;
static bool known[MAX];
static double used;

/* Mean of straight lines between samples from a to b. */
static double mean_of(const double *v, size_t n, double a, double b)
{
    double sum = 0;
    for (size_t j = 0; j + 1 < n; j++) {
        const double from = fmax(a, t[j]), to = fmin(b, t[j + 1]);
        if (!(to - from > 1e-12)) continue;
        const double w = (0.5 * (from + to) - t[j]) / (t[j + 1] - t[j]);
        sum += (to - from) * ((1 - w) * v[j] + w * v[j + 1]);
    }
    return sum / (b - a);
}

/* A foot's pressure goes with the power 4/3 of the time, so that this goes straight. */
static double root_mean(long from, long n)
{
    double sum = 0;
    for (long i = from; i < from + n; i++) sum += pow(fmax(0, x_bin[i]), 0.75) / (double)n;
    return sum;
}

/* x of bin i, as if the log had more of them. */
static double x_of(long i)
{
    if (i >= bins) return x_bin[bins - 1];
    if (i >= 0) return x_bin[i];
    if (!came_up) return NAN;
    const double middle = 0.5 * (double)(start - 1);
    return pow(fmax(0, start_mean - (middle - (double)i) * start_slope), 4.0 / 3);
}

static void find_start(size_t n)
{
    double most = 0;
    for (size_t i = 0; i < n; i++) most = fmax(most, x[i]);
    came_up = x[0] <= 0.4 * most;
    start = 5;
    while (start < 40 && 2 * (start + 1) <= bins &&
           root_mean(start, start) < 1.4 * root_mean(0, start))
        start++;
    start_mean = root_mean(0, start);
    start_slope = fmax(0, root_mean(start, start) - start_mean) / (double)start;
}

static void lay_out(size_t n)
{
    const double time = t[n - 1] - t[0];
    bins = (long)ceil(time / 0.005);
    h = time / (double)bins;
    lags = lround(0.5 / h);
    step = time / (double)(n - 1) / h;
    for (long i = 0; i < bins; i++) {
        const double a = t[0] + h * (double)i, b = t[0] + h * (double)(i + 1);
        x_bin[i] = mean_of(x, n, a, b);
        y_bin[i] = mean_of(y, n, a, b);
    }
    find_start(n);
    used = 0;
    for (long i = 0; i < bins;
         i++) { /* every lag, one more, and slopes over 8 bins there and here */
        known[i] = !isnan(y_bin[i]);
        for (long j = i - lags - 9; j <= i + 9; j++) known[i] = known[i] && !isnan(x_of(j));
        used += known[i];
    }
}

/* Sum over the known bins of a product at a lag. */
static double xx_at(long lag)
{
    double sum = 0;
    for (long i = 0; i < bins; i++) sum += known[i] ? x_of(i - lag) * x_of(i - lag) : 0;
    return sum;
}
static double gain_at(long lag)
{
    double sum = 0;
    for (long i = 0; i < bins; i++) sum += known[i] ? x_of(i - lag) * y_bin[i] : 0;
    return fmax(0, sum / xx_at(lag));
}
static double squares(long lag, double gain)
{
    double sum = 0;
    for (long i = 0; i < bins; i++) sum += known[i] ? pow(y_bin[i] - gain * x_of(i - lag), 2) : 0;
    return sum;
}
static double left_at(long lag)
{
    return squares(lag, gain_at(lag));
}

static double slope_of(long i)
{
    return (x_of(i + 8) - x_of(i - 8)) / 16;
}

/* Mean square of what a residual has that its neighbours' mean has not; no less than 1e-4 of the signal. */
static double noise(long lag, double part, double gain)
{
    static double r[MAX];
    const double seconds = fmax(0.02, 2 * step * h);
    const long near = lround(seconds / h) + 1;
    double sum = 0;
    for (long i = 0; i < bins; i++)
        r[i] = y_bin[i] - gain * (x_of(i - lag) - part * slope_of(i - lag));
    for (long i = 0; i < bins; i++) {
        double mean = 0, n = 0;
        for (long j = i - near; j <= i + near; j++) {
            if (j < 0 || j >= bins || !known[j]) continue;
            mean += r[j];
            n++;
        }
        if (known[i] && n > 1) sum += pow(r[i] - mean / n, 2) * n / (n - 1); /* unbiased */
    }
    return fmax(sum, 1e-8 * gain * gain * xx_at(lag)) / used;
}

/* White noise of variance 1 in the samples, straight lines between them: covariance over `lag` samples, all phases
 * alike. */
static double spline(double lag)
{
    return lag < 1 ? 2.0 / 3 - lag * lag + 0.5 * pow(lag, 3) : lag < 2 ? pow(2 - lag, 3) / 6 : 0;
}

/* ... and the variance of the mean over a bin: the integral of (1 - |u| / bin) / bin times that, by Gauss's rule of three
 * points, exact for what is quartic from knot to knot. */
static double variance_of_bin(void)
{
    const double bin = 1 / step, far = sqrt(0.6);
    double sum = 0;
    for (int knot = 0; knot < 2; knot++) {
        const double half = 0.5 * fmax(0, fmin(bin, knot + 1) - knot), middle = knot + half;
        for (int k = -1; k <= 1; k++) {
            const double u = middle + k * far * half;
            sum += 2 * half * (k == 0 ? 8 : 5) / 18.0 * (1 - u / bin) / bin * spline(u);
        }
    }
    return 2 * sum;
}

/* Variance of one bin, if bins were independent and their mean over long times as noisy as it is. */
static double per_bin(double measured)
{
    const double window = 2 * (double)(lround(fmax(0.02, 2 * step * h) / h) + 1) + 1;
    const double of_sample = measured * (window - 1) / window / (variance_of_bin() - step / window);
    return of_sample * step;
}

/* a + b k + c k^2 through the sums of squares around a lag, by least squares: the normal equations by Cramer's rule. */
static void parabola(long lag, long half, double *a, double *b, double *c)
{
    double s[5] = {0}, r[3] = {0};
    for (long k = -half; k <= half; k++)
        for (int p = 0; p < 5; p++) {
            s[p] += pow((double)k, p);
            if (p < 3) r[p] += pow((double)k, p) * left_at(lag + k);
        }
    const double det = s[0] * s[4] - s[2] * s[2]; /* odd sums are 0 */
    *a = (r[0] * s[4] - r[2] * s[2]) / det;
    *c = (s[0] * r[2] - s[2] * r[0]) / det;
    *b = r[1] / s[2];
}

static double sum_of_squares(long half)
{
    double sum = 0;
    for (long k = -half; k <= half; k++) sum += (double)(k * k);
    return sum;
}

/* What errors of bins do to delay and gain, from the weight of each in a straight fit of both. */
static void unsure(long lag, double many, bt_delay *b)
{
    double late[MAX], xx = 0, ll = 0, xl = 0;
    for (long i = 0; i < bins; i++) {
        if (!known[i]) continue;
        late[i] = -b->gain * slope_of(i - lag) / h;
        xx += x_of(i - lag) * x_of(i - lag);
        xl += x_of(i - lag) * late[i];
        ll += late[i] * late[i];
    }
    const double det = xx * ll - xl * xl;
    double gain2 = 0, of_zero_gain = 0, of_zero_delay = 0, first = 0, second = 0;
    for (long i = 0; i < bins; i++) {
        if (!known[i]) continue;
        const double by_gain = (ll * x_of(i - lag) - xl * late[i]) / det;
        gain2 += by_gain * by_gain;
        of_zero_gain += by_gain;
        of_zero_delay += (xx * late[i] - xl * x_of(i - lag)) / det;
        if (!came_up || i >= lag) continue;
        /* on the line through the means at the middles of both halves */
        const double middle = 0.5 * (double)(start - 1), at = (double)(i - lag);
        first += xx * late[i] / det * (1 - (at - middle) / (double)start);
        second += xx * late[i] / det * (at - middle) / (double)start;
    }
    const double zero = many / (0.5 / h); /* a mean over half a second */
    b->gain_u = sqrt(many * gain2 + zero * of_zero_gain * of_zero_gain);
    b->delay_u =
        sqrt(b->delay_u * b->delay_u + zero * of_zero_delay * of_zero_delay +
             (came_up ? 0.5 * many / (double)start : 0) * (first * first + second * second));
}

static double root_unsure(double square, double measured, double independent)
{
    const double rest = sqrt(square), shape = fmax(0, square - measured);
    const double variance = (4 * shape * measured + 2 * measured * measured) / independent;
    const double chance = sqrt(square + sqrt(variance)) - rest; /* also where there is no rest */
    return hypot(chance, rest - sqrt(shape));
}

/* All of it; nothing is left out for being too unsure. */
static bt_delay plainly(size_t n)
{
    bt_delay b = {NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN, NAN, true};
    lay_out(n);
    long lag = 0;
    for (long k = 1; k <= lags; k++)
        if (left_at(k) < left_at(lag)) lag = k;
    if (used < (double)(lags / 2) || !(gain_at(lag) > 0)) return b;
    const double alike = fmax(1, step);
    const double rough = noise(lag, 0, gain_at(lag)) * sqrt(used * alike);
    const double room = fmin(40, 8 + fmin((double)lag, (double)(lags - lag)));
    long half = 1;
    while ((double)half < room &&
           0.5 * (left_at(lag - half) + left_at(lag + half)) - left_at(lag) < 20 * rough)
        half++;
    double a, slope, bent;
    parabola(lag, half, &a, &slope, &bent);
    const double least = -slope / (2 * bent);
    if (!(bent > 0 && least <= (double)half)) return b;
    const double at = fmax(0, (double)lag + fmax(least, -(double)half));
    if (at > (double)lags + 0.5) return b;
    lag = lround(at);
    const double part = at - (double)lag, square = fmax(0, a - slope * slope / (4 * bent)) / used;
    b.delay = at * h;
    b.gain = (1 - part * part) * gain_at(lag) + 0.5 * part * (part + 1) * gain_at(lag + 1) +
             0.5 * part * (part - 1) * gain_at(lag - 1);
    b.rest = sqrt(square);
    const double before = squares(0, 1);
    b.by_rest = square * used / before;
    b.by_gain = pow(1 - b.gain, 2) * xx_at(lag) / before;
    b.by_delay = 1 - b.by_gain - b.by_rest;
    const double measured = noise(lag, part, b.gain), many = per_bin(measured);
    b.delay_u =
        h * hypot(rough * sqrt(alike) / sqrt(sum_of_squares(half)) / (2 * bent), sqrt(many / bent));
    unsure(lag, many, &b);
    b.rest_u = root_unsure(square, measured, used / alike);
    return b;
}

/* What is promised to 8 ms and 1.5 %, four times the uncertainty, and leaves no more than 15 % is told. */
static void leave_out(bt_delay *b)
{
    double yy = 0;
    for (long i = 0; i < bins; i++) yy += known[i] ? y_bin[i] * y_bin[i] / used : 0;
    const bool copy = b->rest <= 0.15 * sqrt(yy);
    b->weak = !copy || !(4 * b->delay_u <= 0.008);
    const bool no_gain = !copy || !(4 * b->gain_u <= 0.015 * b->gain);
    if (b->weak) b->delay = b->delay_u = NAN;
    if (no_gain) b->gain = b->gain_u = NAN;
    if (b->weak || no_gain) b->by_delay = b->by_gain = b->by_rest = NAN;
}

static double uniform(uint64_t *seed, double from, double to)
{
    *seed = *seed * 6364136223846793005u + 1442695040888963407u;
    return from + (to - from) * (double)(*seed >> 11) / 9007199254740992.0;
}

typedef struct {
    double first, up, off, down; /* s: the log's start; the foot comes down; goes up from off */
    double resting;              /* before it comes down, share of all */
} foot;

static double pressure(const foot *f, double s)
{
    const double rise = fmax(f->resting, pow(fmin(1, fmax(0, s / f->up)), 4.0 / 3));
    const double fall = 1 - fmin(1, fmax(0, (s - f->off) / f->down));
    return 1000 * rise * fall * (1 + 0.1 * sin(7 * s));
}

static void cut_a_hole(uint64_t *seed, double *v, size_t n)
{
    if (n < 40 || uniform(seed, 0, 1) < 0.7) return; /* of fewer, that were too much */
    const size_t from = (size_t)uniform(seed, 0.5 * (double)n, 0.98 * (double)n);
    for (size_t i = from; i < n && i < from + n / 30 + 1; i++) v[i] = NAN;
}

/* Brakings from a quarter of a second on, at 25 to 1000 Hz, under way already or not, noisy by 0 to 5 %. */
static size_t draw(uint64_t *seed, double unit)
{
    const double slow = uniform(seed, 0, 1);
    const foot f = {uniform(seed, -0.1, 0.1 + 0.3 * slow), 0.05 + slow * uniform(seed, 0.2, 1.2),
                    uniform(seed, 0.2, 1.6), uniform(seed, 0.05, 1),
                    fmax(0, uniform(seed, -1.2, 0.35))};
    const double each = 0.001 * pow(40, uniform(seed, 0, 1));
    const double late = uniform(seed, -0.01, 1) * uniform(seed, 0, 0.52);
    const double longer = fmax(0, uniform(seed, -0.1, f.resting > 0 ? 0.1 : 1.5));
    const double end = f.first + 0.27 + longer;
    const double gain = uniform(seed, 0.9, 1.1),
                 loud = pow(fmax(0, uniform(seed, -0.2, 1)), 4) * 100;
    size_t n = 0;
    for (double s = f.first; s < end || n < 2; s += each * uniform(seed, 0.8, 1.2), n++) {
        t[n] = s;
        x[n] = unit * (pressure(&f, s) + loud * uniform(seed, -1, 1));
        y[n] = unit * (gain * pressure(&f, s - late) + loud * uniform(seed, -1, 1));
    }
    cut_a_hole(seed, x, n);
    cut_a_hole(seed, y, n);
    return n;
}

static void same(double a, double b, double scale)
{
    ck_assert_int_eq(isnan(a), isnan(b));
    if (!isnan(a)) ck_assert_double_eq_tol(a, b, 1e-6 * scale);
}

START_TEST(brakings_are_fitted_as_they_are_plainly)
{
    uint64_t seed = 1;
    int fitted = 0, told = 0;
    for (int k = 0; k < LOGS; k++) {
        const double unit = k % 4 == 0 ? 1e-9 : 1; /* of x and y */
        const size_t n = draw(&seed, unit);
        bt_delay got;
        ck_assert_int_eq(bt_delay_fit(t, x, y, n, &got, NULL), BT_OK);
        bt_delay want = plainly(n);
        leave_out(&want);
        same(got.delay, want.delay, 0.1);
        same(got.delay_u, want.delay_u, want.delay_u);
        same(got.gain, want.gain, 1);
        same(got.gain_u, want.gain_u, want.gain_u);
        same(got.rest, want.rest, unit + want.rest);
        same(got.rest_u, want.rest_u, unit + want.rest_u);
        ck_assert(!isinf(got.rest_u));
        same(got.by_delay, want.by_delay, 1);
        same(got.by_gain, want.by_gain, 1);
        same(got.by_rest, want.by_rest, 1);
        ck_assert_int_eq(got.weak, want.weak);
        fitted += !isnan(want.rest);
        told += !isnan(want.by_rest);
    }
    ck_assert_int_gt(fitted, LOGS / 2);
    ck_assert_int_gt(told, LOGS / 4);
    ck_assert_int_lt(told, 3 * LOGS / 4);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("delay plain");
    TCase *c = tcase_create("delay plain");
    tcase_add_test(c, brakings_are_fitted_as_they_are_plainly);
    suite_add_tcase(s, c);
    return s;
}

BT_CHECK_MAIN(suite)
