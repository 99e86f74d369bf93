/* Least-squares quadratics from moments: see quadratic.h. */
#include "signals/quadratic.h"

#include <math.h>

/* Below this share of what it is made of, a moment is rounding. */
#define SINGULAR 1e-12

void bt_moments_add(bt_moments *m, double u, double x)
{
    if (!isfinite(x)) return;
    const double uu = u * u, ux = u * x;
    m->n += 1;
    m->u1 += u;
    m->u2 += uu;
    m->u3 += uu * u;
    m->u4 += uu * uu;
    m->x0 += x;
    m->x1 += ux;
    m->x2 += u * ux;
}

/* By the polynomials 1, w, w^2 - g w - h (w = u - mean) that are orthogonal over the points; what these
 * cannot carry drops out. */
void bt_moments_solve(const bt_moments *m, double u, double *value, double *slope)
{
    *value = *slope = NAN;
    if (!(m->n > 0)) return;
    const double mean = m->u1 / m->n, x_mean = m->x0 / m->n;
    const double w2 = m->u2 - m->u1 * mean;
    *value = x_mean;
    if (!(m->n > 1 && w2 > SINGULAR * m->u2)) return;
    const double w3 = m->u3 - mean * (3 * m->u2 - 2 * m->u1 * mean);
    const double w4 = m->u4 - mean * (4 * m->u3 - mean * (6 * m->u2 - 3 * m->u1 * mean));
    const double x1 = m->x1 - mean * m->x0;
    const double x2 = m->x2 - mean * (2 * m->x1 - mean * m->x0) - w2 * x_mean;
    const double w = u - mean, g = w3 / w2, h = w2 / m->n, c1 = x1 / w2;
    const double norm = w4 - g * w3 - h * w2;
    *value += c1 * w;
    *slope = c1;
    if (!(m->n > 2 && norm > SINGULAR * m->u4)) return;
    const double c2 = (x2 - g * x1) / norm;
    *value += c2 * (w * w - g * w - h);
    *slope += c2 * (2 * w - g);
}

/* Moments of n even steps about their middle, moved by c to where u = 0 is.  The solution is linear in the
 * sums over x: that of a sum of 1, the others 0, is what one gives. */
void bt_mixture_set(bt_mixture *out, size_t before, size_t count)
{
    const double n = (double)count, c = 0.5 * (n - 1) - (double)before;
    const double m2 = n * (n * n - 1) / 12, m4 = m2 * (3 * n * n - 7) / 20;
    bt_moments m = {.n = n,
                    .u1 = n * c,
                    .u2 = n * c * c + m2,
                    .u3 = n * c * c * c + 3 * c * m2,
                    .u4 = n * c * c * c * c + 6 * c * c * m2 + m4};
    for (int k = 0; k < 3; k++) {
        m.x0 = k == 0;
        m.x1 = k == 1;
        m.x2 = k == 2;
        bt_moments_solve(&m, 0, &out->value[k], &out->slope[k]);
    }
    out->before = before;
    out->count = count;
}
