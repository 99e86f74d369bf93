/* Plain statistics on arrays of double: order statistics, means, straight lines,
 * the normal and Student distributions, and what drift and compare need besides.
 * Knows nothing of zones.  METHODS 10, 11, 12; checked against CHECKS 10.1, 10.4, 10.5.
 *
 * Everywhere: NaN means "no value" and is left out; what cannot be computed from
 * what is left is NaN, never 0.  Nothing here keeps state or allocates, but for
 * bt_adjust_p.  Arrays may be NULL where n = 0. */
#ifndef BT_STATS_H
#define BT_STATS_H

#include "braketally.h"

/* ---- order statistics: `v` is the caller's scratch copy and comes back in disorder ---- */

/* Moves what is not NaN to the front, keeping its order; returns how many. */
size_t bt_drop_nan(double *v, size_t n);

/* The q-quantile, 0 <= q <= 1, linear between order statistics (type 7 of Hyndman
 * and Fan, the default of R and numpy).  NaN if nothing is left. */
double bt_quantile(double *v, size_t n, double q);
double bt_median(double *v, size_t n);

/* Mean of what lies within three standard deviations of the median, taken from the median absolute deviation: for normal
 * noise nearly as sure as the plain mean (variance 1.03 times as large; the median's is 1.57 times), blind to wild
 * values up to half of them, and, unlike the median, finer than the step of quantised values.  The median itself where
 * more than half of the values are equal.  `v` stays as it is; `scratch` is n long. */
double bt_trimmed_mean(const double *v, size_t n, double *scratch);

/* ---- means and lines ---- */

/* Compensated and two-pass, so that a large common offset costs no digits. */
typedef struct {
    size_t n;    /* values in use */
    double mean; /* NaN if n = 0 */
    double sd;   /* of one value, n - 1 in the denominator; NaN if n < 2 */
} bt_moments;
bt_moments bt_mean_sd(const double *v, size_t n);

/* y = intercept + slope x by least squares; u_ are standard errors. */
typedef struct {
    size_t n;              /* pairs in use */
    double slope, u_slope; /* NaN if x does not vary; u_ NaN without spare points */
    double intercept, u_intercept;
    double rss, sd; /* residual sum of squares; residual standard deviation */
} bt_line;
bt_line bt_fit_line(const double *x, const double *y, size_t n);

/* Is the mean of these differences zero?  Student's t on the mean, for paired
 * differences, one per place.  Not Wilcoxon's signed ranks: with the five to ten
 * places a circuit has, those cannot get below p = 2/2^n (0.06 for five) however
 * clear the case, and give no interval in the figure's own unit; the differences
 * are made of medians over laps, so that single wild zones are already out. */
typedef struct {
    size_t n;
    double mean, u;   /* and its standard error, n - 1 degrees of freedom */
    double low, high; /* confidence interval of the mean */
    double p;         /* two-sided; 0 where all differences are equal and not 0 */
} bt_mean_test;
bt_mean_test bt_test_mean(const double *v, size_t n, double confidence);

/* ---- distributions; df > 0, INFINITY gives the normal distribution ---- */

double bt_normal_cdf(double z);
double bt_normal_quantile(double p); /* -INFINITY and INFINITY at 0 and 1, NaN outside */
double bt_t_cdf(double t, double df);
double bt_t_quantile(double p, double df);
double bt_two_sided_p(double t, double df); /* P(|T| >= |t|), exact far out too */

/* Benjamini and Hochberg's adjusted p-values, in place: those at or below q have
 * a false discovery rate of q.  NaN stays NaN and is not counted as a test. */
bt_status bt_adjust_p(double *p, size_t n, bt_error *err) BT_MUST_USE;

/* ---- chance that is the same every time (splitmix64) ---- */

typedef struct {
    uint64_t state; /* the seed; any value will do */
} bt_random;
uint64_t bt_random_next(bt_random *r);
uint64_t bt_random_below(bt_random *r, uint64_t n); /* 0..n-1, each alike; n > 0 */
void bt_shuffle(bt_random *r, double *v, size_t n);

#endif
