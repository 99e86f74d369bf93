/* Integrals over time: see integral.h. */
#include "zones/integral.h"

#include <math.h>

double bt_integral(const double *t, const double *x, size_t n, double *covered)
{
    double sum = 0, known = 0;
    for (size_t i = 1; x && i < n; i++) {
        const double dt = t[i] - t[i - 1];
        const double piece = 0.5 * dt * (x[i - 1] + x[i]);
        if (isnan(piece)) continue;
        sum += piece;
        known += dt;
    }
    if (covered) *covered = known;
    return sum;
}

double bt_time_mean(const double *t, const double *x, size_t n)
{
    double covered;
    const double sum = bt_integral(t, x, n, &covered);
    return covered > 0 && covered >= BT_COVERAGE_MIN * (t[n - 1] - t[0]) ? sum / covered : NAN;
}

double bt_integral_whole(const double *t, const double *x, size_t n)
{
    return n ? bt_time_mean(t, x, n) * (t[n - 1] - t[0]) : NAN;
}
