/* The accelerometer carries the speed (METHODS 3).  An accelerometer that has not been seen to follow
 * the speed (wrong unit, wrong sign, stuck) carries nothing.  Between wheels and the speed stage. */
#include "signals/carry.h"

#include "signals/wheels.h"

#include <math.h>

#define TICK 0.2 /* s */
/* Trust: gain of accelerometer over speed changes, their correlation, and how much of it was seen. */
#define TRUST_TIME   2.0  /* s */
#define TRUST_MOTION 0.25 /* (m/s2)^2, variance of the acceleration */
#define TRUST_GAIN   0.3  /* from 1 */
#define TRUST_MATCH  0.8  /* squared correlation */
#define TRUST_AGE    60.0 /* s, then the past counts half */
/* Noise densities.  Pitch, grade and scale make the acceleration wrong by some 0.15 m/s2 for half a
 * second at a time; a bias wanders by 0.02 m/s2 in a second. */
#define Q_SPEED        (0.15 * 0.15 * 0.5)
#define Q_BIAS         (0.02 * 0.02)
#define U_BIAS         0.1  /* m/s2, of the first bias */
#define ACCEL_CONSTANT 0.03 /* s, vibration out, the onset of braking still in */
/* Wheels are right to 0.1 m/s for a tenth of a second at a time while rolling; while braking they slip
 * by some 5 % for a second at a time, and always the same way. */
#define ROLL_U    0.1
#define ROLL_TIME 0.1
#define SLIP_U    0.05
#define SLIP_TIME 1.0

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

bool bt_carry_predict(bt_carry *c, double dt, double a)
{
    const double mean = 0.5 * (a + c->last);
    c->last = a;
    if (!c->trusted || isnan(c->v) || isnan(mean)) return false;
    c->v += (mean - c->bias) * dt;
    c->accel += dt / (ACCEL_CONSTANT + dt) * (mean - c->bias - c->accel);
    c->p_vv += dt * (dt * c->p_bb - 2 * c->p_vb + Q_SPEED);
    c->p_vb -= dt * c->p_bb;
    c->p_bb += dt * Q_BIAS;
    return true;
}

void bt_carry_correct(bt_carry *c, double dt, double v, bool slips, double slope)
{
    const double off = v - c->v;
    /* No braked wheel turns faster than the road passes. */
    const double slip = slips && off < 0 ? bt_braking_weight(fmin(slope, c->accel)) : 0;
    const double u = ROLL_U + slip * SLIP_U * c->v;
    const double r = u * u * (ROLL_TIME + slip * SLIP_TIME) / dt;
    const double per_variance = 1 / (c->p_vv + r);
    const double kv = c->p_vv * per_variance, kb = c->p_vb * per_variance;
    c->v += kv * off;
    c->bias += kb * off;
    c->p_bb -= kb * c->p_vb;
    c->p_vb *= 1 - kv;
    c->p_vv *= 1 - kv;
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

void bt_carry_watch(bt_carry *c, double t, double v, double a)
{
    if (!(t - c->t0 < TICK)) {
        if (c->n) close_tick(c, t);
        c->t0 = t;
        c->v_sum = c->a_sum = 0;
        c->n = 0;
    }
    c->v_sum += v;
    c->a_sum += a;
    c->n++;
}
