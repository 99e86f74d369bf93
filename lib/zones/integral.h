/* Integrals and means over time of sampled signals: trapezoids, exact for straight lines between
 * samples at any spacing.  Pieces with NaN at either end are left out. */
#ifndef BT_INTEGRAL_H
#define BT_INTEGRAL_H

#include <stdbool.h>
#include <stddef.h>

/* Share of the time that must be known for a zone figure to be given. */
#define BT_COVERAGE_MIN 0.9

/* Has x a value everywhere? */
bool bt_known_throughout(const double *x, size_t n);

/* Integral over t (s, rising) of x[0..n) where both ends of a piece are known; *covered (may be NULL)
 * gets the time that this spans.  n < 2 gives 0, x NULL is known nowhere. */
double bt_integral(const double *t, const double *x, size_t n, double *covered);

/* The same over the whole of t: what is missing counts like the mean of the rest.  NaN if less than
 * BT_COVERAGE_MIN of the time is known, or if there is no time. */
double bt_integral_whole(const double *t, const double *x, size_t n);

/* Mean over time; NaN as above. */
double bt_time_mean(const double *t, const double *x, size_t n);

#endif
