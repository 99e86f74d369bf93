/* Integrals over time: see integral.h. */
#include "zones/integral.h"

#include <math.h>

/* NaN minus itself is NaN.  Four sums side by side, as a single one would wait for itself at every sample. */
bool bt_known_throughout(const double *x, size_t n)
{
    double sum[4] = {0};
    size_t i = 0;
    for (; i + 3 < n; i += 4)
        for (size_t k = 0; k < 4; k++) sum[k] += x[i + k] - x[i + k];
    for (; i < n; i++) sum[0] += x[i] - x[i];
    return !isnan((sum[0] + sum[1]) + (sum[2] + sum[3]));
}

/* Trapezoids over every piece; NaN as soon as one value is.  Twice the integral. */
static double twice_all(const double *t, const double *x, size_t n)
{
    double sum[4] = {0};
    size_t i = 1;
    for (; i + 3 < n; i += 4)
        for (size_t k = 0; k < 4; k++)
            sum[k] += (t[i + k] - t[i + k - 1]) * (x[i + k - 1] + x[i + k]);
    for (; i < n; i++) sum[0] += (t[i] - t[i - 1]) * (x[i - 1] + x[i]);
    return (sum[0] + sum[1]) + (sum[2] + sum[3]);
}

double bt_integral(const double *t, const double *x, size_t n, double *covered)
{
    const bool any = x && n > 1;
    double sum = any ? 0.5 * twice_all(t, x, n) : 0, known = any ? t[n - 1] - t[0] : 0;
    if (any && isnan(sum)) {
        sum = known = 0;
        for (size_t i = 1; i < n; i++) {
            const double dt = t[i] - t[i - 1];
            const double piece = 0.5 * dt * (x[i - 1] + x[i]);
            if (isnan(piece)) continue;
            sum += piece;
            known += dt;
        }
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
