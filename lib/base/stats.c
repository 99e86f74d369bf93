/* Plain statistics on arrays of double.  See stats.h; METHODS 10, 11, 12. */
#include "base/stats.h"

#include <assert.h>
#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"

#define TRIMMED_FAR                                                                                \
    (3 * 1.482602218505602) /* median deviations; 1.48 are a standard deviation of normal noise */

static const double pi = 3.141592653589793;
static const double root2 = 1.4142135623730951;

/* ---- order statistics ---- */

size_t bt_drop_nan(double *v, size_t n)
{
    size_t kept = 0;
    for (size_t i = 0; i < n; i++)
        if (!isnan(v[i])) v[kept++] = v[i];
    return kept;
}

static void swap(double *a, double *b)
{
    const double t = *a;
    *a = *b;
    *b = t;
}

static double middle_of(double a, double b, double c)
{
    const double low = a < b ? a : b, high = a < b ? b : a;
    return c < low ? low : c > high ? high : c;
}

/* Moves what is less than the pivot (or not more) to the front of v[from..to); gives where the rest begins.
 * Every element is swapped, needed or not: that costs less than guessing which (Lomuto without branches). */
static size_t divide(double *v, size_t from, size_t to, double pivot, bool or_equal)
{
    size_t m = from;
    for (size_t i = from; i < to; i++) {
        const double x = v[i];
        v[i] = v[m];
        v[m] = x;
        m += or_equal ? x <= pivot : x < pivot;
    }
    return m;
}

/* Afterwards v[k] is the k-th smallest, none before it is larger and none behind it smaller.  Sensors say few
 * different values, so those equal to the pivot are mostly many: where k is among them it is found. */
static void select_nth(double *v, size_t n, size_t k)
{
    size_t from = 0, to = n;
    while (to - from > 1) {
        const double pivot = middle_of(v[from], v[from + (to - from) / 2], v[to - 1]);
        const size_t less = divide(v, from, to, pivot, false);
        if (k < less) {
            to = less;
            continue;
        }
        from = divide(v, less, to, pivot, true);
        if (k < from) return;
    }
}

double bt_quantile(double *v, size_t n, double q)
{
    n = bt_drop_nan(v, n);
    if (n == 0 || !(q >= 0 && q <= 1)) return NAN;
    const double rank = q * (double)(n - 1);
    const size_t k = (size_t)rank;
    const double part = rank - (double)k;
    select_nth(v, n, k);
    if (k + 1 == n || part == 0) return v[k];
    double next = v[k + 1];
    for (size_t i = k + 2; i < n; i++)
        if (v[i] < next) next = v[i];
    return next == v[k] ? next : v[k] + part * (next - v[k]);
}

double bt_median(double *v, size_t n)
{
    return bt_quantile(v, n, 0.5);
}

double bt_trimmed_mean(const double *v, size_t n, double *scratch)
{
    if (n > 0) memcpy(scratch, v, n * sizeof *v);
    const double middle = bt_median(scratch, n);
    for (size_t i = 0; i < n; i++) scratch[i] = fabs(v[i] - middle);
    const double far = TRIMMED_FAR * bt_median(scratch, n);
    double sum = 0, used = 0;
    for (size_t i = 0; i < n; i++) {
        const double off = v[i] - middle;
        if (!(fabs(off) <= far)) continue;
        sum += off;
        used += 1;
    }
    return used > 0 ? middle + sum / used : NAN;
}

/* ---- means and lines ---- */

/* Neumaier's compensated sum. */
typedef struct {
    double sum, lost;
} exact_sum;

static void add(exact_sum *s, double x)
{
    const double t = s->sum + x;
    s->lost += fabs(s->sum) >= fabs(x) ? (s->sum - t) + x : (x - t) + s->sum;
    s->sum = t;
}

static double total(exact_sum s)
{
    return s.sum + s.lost;
}

bt_moments bt_mean_sd(const double *v, size_t n)
{
    bt_moments m = {.mean = NAN, .sd = NAN};
    exact_sum sum = {0}, square = {0};
    for (size_t i = 0; i < n; i++) {
        if (isnan(v[i])) continue;
        add(&sum, v[i]);
        m.n++;
    }
    if (m.n == 0) return m;
    m.mean = total(sum) / (double)m.n;
    for (size_t i = 0; i < n; i++)
        if (!isnan(v[i])) add(&square, (v[i] - m.mean) * (v[i] - m.mean));
    if (m.n > 1) m.sd = sqrt(total(square) / (double)(m.n - 1));
    return m;
}

static bool is_pair(double x, double y)
{
    return !isnan(x) && !isnan(y);
}

bt_line bt_fit_line(const double *x, const double *y, size_t n)
{
    bt_line f = {0, NAN, NAN, NAN, NAN, NAN, NAN};
    exact_sum sx = {0}, sy = {0}, xx = {0}, xy = {0}, rr = {0};
    for (size_t i = 0; i < n; i++) {
        if (!is_pair(x[i], y[i])) continue;
        add(&sx, x[i]);
        add(&sy, y[i]);
        f.n++;
    }
    const double used = (double)f.n, x0 = total(sx) / used, y0 = total(sy) / used;
    for (size_t i = 0; i < n; i++) {
        if (!is_pair(x[i], y[i])) continue;
        add(&xx, (x[i] - x0) * (x[i] - x0));
        add(&xy, (x[i] - x0) * (y[i] - y0));
    }
    const double sum_xx = total(xx);
    if (!(sum_xx > 0)) return f;
    f.slope = total(xy) / sum_xx;
    f.intercept = y0 - f.slope * x0;
    for (size_t i = 0; i < n; i++) {
        if (!is_pair(x[i], y[i])) continue;
        const double r = (y[i] - y0) - f.slope * (x[i] - x0);
        add(&rr, r * r);
    }
    f.rss = total(rr);
    if (f.n > 2) f.sd = sqrt(f.rss / (used - 2));
    f.u_slope = f.sd / sqrt(sum_xx);
    f.u_intercept = f.sd * sqrt(1 / used + x0 * x0 / sum_xx);
    return f;
}

bt_mean_test bt_test_mean(const double *v, size_t n, double confidence)
{
    const bt_moments m = bt_mean_sd(v, n);
    const double df = (double)m.n - 1, u = m.sd / sqrt((double)m.n);
    bt_mean_test test = {.n = m.n, .mean = m.mean, .u = u, .low = NAN, .high = NAN, .p = NAN};
    if (!(df > 0)) return test;
    const double reach = u * bt_t_quantile(0.5 + confidence / 2, df);
    test.low = m.mean - reach;
    test.high = m.mean + reach;
    test.p = m.mean == 0 ? 1 : bt_two_sided_p(m.mean / u, df);
    return test;
}

/* ---- distributions ---- */

/* 1 / B(a, 1/2) = Gamma(a + 1/2) / (Gamma(a) Gamma(1/2)), by the recurrence up to
 * where the series in 1/a is exact to rounding.  Not by ln Gamma: its digits
 * cancel for many degrees of freedom, and lgamma() writes the global signgam. */
static double inverse_beta_half(double a)
{
    double factor = 1;
    for (; a < 60; a++) factor *= a / (a + 0.5);
    const double r = 1 / a;
    const double series =
        1 - r / 8 * (1 - r / 16 * (1 + r * 5 / 8 * (1 - r * 21 / 160 * (1 + r * 399.0 / 168))));
    return factor * sqrt(a / pi) * series;
}

/* Continued fraction of the incomplete beta function (Lentz's way), good for
 * x < (a + 1) / (a + b + 2).  DLMF 8.17.22. */
static double beta_fraction(double a, double b, double x)
{
    enum { MOST_TERMS = 10000 }; /* some sqrt(max(a, b)) are enough */
    const double tiny = 1e-300;
    double c = 1, d = 1 - (a + b) * x / (a + 1);
    d = 1 / (fabs(d) < tiny ? tiny : d);
    double h = d;
    for (int m = 1; m < MOST_TERMS; m++) {
        double change = 1;
        for (int odd = 0; odd < 2; odd++) {
            const double k = a + 2 * m;
            const double term =
                odd ? -(a + m) * (a + b + m) * x / (k * (k + 1)) : m * (b - m) * x / ((k - 1) * k);
            d = 1 + term * d;
            c = 1 + term / c;
            d = 1 / (fabs(d) < tiny ? tiny : d);
            c = fabs(c) < tiny ? tiny : c;
            change = c * d;
            h *= change;
        }
        if (fabs(change - 1) < 1e-16) break;
    }
    return h;
}

double bt_two_sided_p(double t, double df)
{
    if (isnan(t) || !(df > 0)) return NAN;
    /* Abramowitz and Stegun 26.7.8: here its error is below 1e-11, and the fraction
     * would lose digits. */
    if (df > 1e5) return erfc(fabs(t) * (1 - 0.25 / df) / sqrt(1 + t * t / (2 * df)) / root2);
    const double u = t * t / df, a = df / 2;
    if (!(u > 0)) return 1;
    if (isinf(u)) return 0;
    /* I_x(a, 1/2) at x = 1/(1 + u), from whichever end of it the fraction suits. */
    const double x = 1 / (1 + u), y = u / (1 + u);
    const double front = inverse_beta_half(a) * exp(-a * log1p(u)) * sqrt(y);
    if (x < (a + 1) / (a + 2.5)) return front * beta_fraction(a, 0.5, x) / a;
    return 1 - front * beta_fraction(0.5, a, y) / 0.5;
}

double bt_t_cdf(double t, double df)
{
    const double tail = bt_two_sided_p(t, df) / 2;
    return t > 0 ? 1 - tail : tail;
}

/* Bisection of the tail down to neighbouring doubles: fifty cheap steps, and
 * nothing that could fail to converge. */
double bt_t_quantile(double p, double df)
{
    if (!(p >= 0 && p <= 1) || !(df > 0)) return NAN;
    if (p == 0.5) return 0;
    const double tails = 2 * (p < 0.5 ? p : 1 - p);
    double below = 0, above = 1;
    while (bt_two_sided_p(above, df) > tails) {
        below = above;
        above *= 2;
    }
    for (;;) {
        const double middle = below + (above - below) / 2;
        if (!(middle > below && middle < above)) break;
        if (bt_two_sided_p(middle, df) > tails)
            below = middle;
        else
            above = middle;
    }
    if (tails == 0) above = INFINITY;
    return p < 0.5 ? -above : above;
}

double bt_normal_cdf(double z)
{
    return 0.5 * erfc(-z / root2);
}

double bt_normal_quantile(double p)
{
    return bt_t_quantile(p, INFINITY);
}

/* ---- many tests at once ---- */

static int by_value(const void *a, const void *b)
{
    const double x = **(double *const *)a, y = **(double *const *)b;
    return (x > y) - (x < y);
}

bt_status bt_adjust_p(double *p, size_t n, bt_error *err)
{
    if (n == 0) return BT_OK;
    double **order = calloc(n, sizeof *order);
    if (!order) return bt_fail(err, BT_NOMEM, "no memory to adjust %zu p-values", n);
    size_t tests = 0;
    for (size_t i = 0; i < n; i++)
        if (!isnan(p[i])) order[tests++] = &p[i];
    qsort(order, tests, sizeof *order, by_value);
    double least = 1;
    for (size_t rank = tests; rank > 0; rank--) {
        least = fmin(least, *order[rank - 1] * (double)tests / (double)rank);
        *order[rank - 1] = least;
    }
    free(order);
    return BT_OK;
}

/* ---- chance ---- */

/* Steele, Lea and Flood 2014; one word of state, passes the usual batteries. */
uint64_t bt_random_next(bt_random *r)
{
    uint64_t z = r->state += UINT64_C(0x9e3779b97f4a7c15);
    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    return z ^ (z >> 31);
}

uint64_t bt_random_below(bt_random *r, uint64_t n)
{
    assert(n > 0);
    const uint64_t whole = UINT64_MAX - UINT64_MAX % n; /* a multiple of n */
    uint64_t x;
    do x = bt_random_next(r);
    while (x >= whole);
    return x % n;
}

void bt_shuffle(bt_random *r, double *v, size_t n)
{
    for (; n > 1; n--) swap(&v[n - 1], &v[bt_random_below(r, n)]);
}
