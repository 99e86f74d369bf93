/* Least squares: see leastsq.h. */
#include "fit/leastsq.h"

#include <assert.h>
#include <math.h>

#define PIVOT_MIN 1e-10 /* of a column's square: below it the columns are one and the same */

typedef double matrix[BT_LEASTSQ_MAX][BT_LEASTSQ_MAX];

/* Lower triangle l with a = l l^T; false if a is singular. */
static bool cholesky(matrix a, size_t p, matrix l)
{
    for (size_t i = 0; i < p; i++)
        for (size_t j = 0; j <= i; j++) {
            double rest = a[i][j];
            for (size_t k = 0; k < j; k++) rest -= l[i][k] * l[j][k];
            if (i == j && !(rest > PIVOT_MIN * a[i][i])) return false;
            l[i][j] = i == j ? sqrt(rest) : rest / l[j][j];
        }
    return true;
}

static void solve(matrix l, size_t p, double b[BT_LEASTSQ_MAX])
{
    for (size_t i = 0; i < p; i++) {
        for (size_t k = 0; k < i; k++) b[i] -= l[i][k] * b[k];
        b[i] /= l[i][i];
    }
    for (size_t i = p; i-- > 0;) {
        for (size_t k = i + 1; k < p; k++) b[i] -= l[k][i] * b[k];
        b[i] /= l[i][i];
    }
}

bool bt_least_squares(const double *x, const double *y, size_t n, size_t p, bt_leastsq *out)
{
    assert(p >= 1 && p <= BT_LEASTSQ_MAX);
    matrix a = {{0}}, l = {{0}};
    double b[BT_LEASTSQ_MAX] = {0};
    if (n <= p) return false;
    for (size_t i = 0; i < n; i++)
        for (size_t j = 0; j < p; j++) {
            b[j] += x[i * p + j] * y[i];
            for (size_t k = 0; k < p; k++) a[j][k] += x[i * p + j] * x[i * p + k];
        }
    if (!cholesky(a, p, l)) return false;
    solve(l, p, b);
    double rss = 0;
    for (size_t i = 0; i < n; i++) {
        double r = y[i];
        for (size_t k = 0; k < p; k++) r -= b[k] * x[i * p + k];
        rss += r * r;
    }
    out->df = (double)(n - p);
    out->sd = sqrt(rss / out->df);
    for (size_t j = 0; j < p; j++) {
        double e[BT_LEASTSQ_MAX] = {0};
        e[j] = 1;
        solve(l, p, e);
        out->value[j] = b[j];
        out->u[j] = out->sd * sqrt(e[j]);
        for (size_t k = 0; k < BT_LEASTSQ_MAX; k++) out->cov[j][k] = out->sd * out->sd * e[k];
    }
    for (size_t j = p; j < BT_LEASTSQ_MAX; j++)
        for (size_t k = 0; k < BT_LEASTSQ_MAX; k++) out->cov[j][k] = 0;
    return true;
}

double bt_leastsq_at(const bt_leastsq *fit, const double x[BT_LEASTSQ_MAX])
{
    double sum = 0;
    for (size_t j = 0; j < BT_LEASTSQ_MAX; j++)
        for (size_t k = 0; k < BT_LEASTSQ_MAX; k++) sum += x[j] * x[k] * fit->cov[j][k];
    return sqrt(fmax(sum, 0));
}
