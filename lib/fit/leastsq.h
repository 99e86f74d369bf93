/* Least squares for a few parameters (normal equations, Cholesky). */
#ifndef BT_LEASTSQ_H
#define BT_LEASTSQ_H

#include <stdbool.h>
#include <stddef.h>

#define BT_LEASTSQ_MAX 5

typedef struct {
    double value[BT_LEASTSQ_MAX];
    double u[BT_LEASTSQ_MAX];                   /* standard errors */
    double df;                                  /* points less parameters */
    double sd;                                  /* residual standard deviation */
    double cov[BT_LEASTSQ_MAX][BT_LEASTSQ_MAX]; /* of the parameters; 0 beyond them */
} bt_leastsq;

/* y[i] ~ sum over k < p of value[k] * x[i * p + k].  False, and *out untouched, without a spare point or
 * where the columns of x do not tell the parameters apart. */
bool bt_least_squares(const double *x, const double *y, size_t n, size_t p, bt_leastsq *out);

/* Standard error of the fitted sum at a point; x beyond the parameters does not matter. */
double bt_leastsq_at(const bt_leastsq *fit, const double x[BT_LEASTSQ_MAX]);

#endif
