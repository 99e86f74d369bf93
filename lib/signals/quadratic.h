/* The least-squares quadratic through points, from moments of time and of x over time (METHODS 3).  Used by the
 * smooth stage alone, which keeps the sums. */
#ifndef BT_QUADRATIC_H
#define BT_QUADRATIC_H

#include <stddef.h>

/* Sums over the points of u^k and of x u^k, u = time from an origin close by.  Zeroed = no points. */
typedef struct {
    double n, u1, u2, u3, u4, x0, x1, x2;
} bt_moments;

/* A point that is not finite is left out. */
void bt_moments_add(bt_moments *m, double u, double x);
/* Value and slope at u.  Fewer than 3 points with different u, or a singular system, give a line or the
 * mean, whose slope is NaN; no points give NaN. */
void bt_moments_solve(const bt_moments *m, double u, double *value, double *slope);

/* Points at u = -before, 1 - before, ..., count - 1 - before, all with a value: what their sums x0, x1, x2
 * give to value and slope at u = 0. */
typedef struct {
    size_t before, count;
    double value[3], slope[3];
} bt_mixture;
void bt_mixture_set(bt_mixture *out, size_t before, size_t count);

#endif
