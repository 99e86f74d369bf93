/* The accelerometer carries the speed (METHODS 3).  An accelerometer that has not been seen to follow
 * the speed (wrong unit, wrong sign, stuck) carries nothing.  Between wheels and the speed stage. */
#include "signals/carry.h"

#include "signals/wheels.h"

#include <math.h>

/* Trust: gain of accelerometer over speed changes, their correlation, and how much of it was seen. */
#define U_BIAS       0.1  /* m/s2, of the first bias */
#define TRUST_TIME   2.0  /* s */
#define TRUST_MOTION 0.25 /* (m/s2)^2, variance of the acceleration */
#define TRUST_GAIN   0.3  /* from 1 */
#define TRUST_MATCH  0.8  /* squared correlation */
#define TRUST_AGE    60.0 /* s, then the past counts half */
void bt_carry_init(bt_carry *c)
{
    *c = (bt_carry){0};
    bt_carry_restart(c);
}

void bt_carry_restart(bt_carry *c)
{
    c->accel = 0;
    c->v = c->last = c->t0 = c->v_mean = NAN;
    c->n = 0;
}

void bt_carry_set(bt_carry *c, double v, double u)
{
    c->v = v;
    c->p_vv = u * u;
    c->p_vb = 0;
}

static void judge(bt_carry *c)
{
    const double a = c->a / c->w, d = c->d / c->w;
    const double dd = c->dd / c->w - d * d, aa = c->aa / c->w - a * a, ad = c->ad / c->w - a * d;
    const bool follows = c->w >= TRUST_TIME && dd > TRUST_MOTION &&
                         fabs(ad / dd - 1) < TRUST_GAIN && ad * ad > TRUST_MATCH * aa * dd;
    if (follows && !c->trusted) {
        c->bias = a - d;
        c->p_bb = U_BIAS * U_BIAS;
        c->v = NAN; /* the stage sets it where it believes its source */
    }
    c->trusted = follows;
}

double bt_carry_slip(const bt_carry *c, double slope)
{
    return bt_braking_weight(fmin(slope, c->accel));
}

static void close_tick(bt_carry *c, double t)
{
    const double n = (double)c->n, v = c->v_sum / n, a = c->a_sum / n, dt = t - c->t0;
    const double mid = c->t0 + 0.5 * dt;
    const double d = (v - c->v_mean) / (mid - c->mid), m = 0.5 * (a + c->a_mean);
    c->v_mean = v;
    c->a_mean = a;
    c->mid = mid;
    if (!(isfinite(d) && isfinite(m))) return;
    if (c->w > TRUST_AGE) {
        double *sum[] = {&c->w, &c->a, &c->d, &c->aa, &c->ad, &c->dd};
        for (size_t i = 0; i < sizeof sum / sizeof *sum; i++) *sum[i] *= 0.5;
    }
    c->w += dt;
    c->a += dt * m;
    c->d += dt * d;
    c->aa += dt * m * m;
    c->ad += dt * m * d;
    c->dd += dt * d * d;
    judge(c);
}

void bt_carry_new_tick(bt_carry *c, double t)
{
    if (c->n) close_tick(c, t);
    c->t0 = t;
    c->v_sum = c->a_sum = 0;
    c->n = 0;
}
