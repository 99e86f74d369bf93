/* The accelerometer carries the speed (METHODS 3): a Kalman filter of two states, speed and the
 * accelerometer's bias, that the wheels correct.  Used by the speed stage alone. */
#ifndef BT_CARRY_H
#define BT_CARRY_H

#include "braketally.h"

#include <math.h>

/* Zeroed = nothing known. */
typedef struct {
    double v, bias;          /* m/s, m/s2 */
    double p_vv, p_vb, p_bb; /* their covariance */
    bool trusted;            /* the accelerometer was seen to follow the speed's changes */
    double last;             /* m/s2, the accelerometer a sample ago; NaN = none */
    double accel;            /* m/s2, without bias, smoothed a little */
    /* the tick under way, and the one before */
    double t0, v_sum, a_sum, v_mean, a_mean, mid;
    size_t n;
    double w, a, d, aa, ad, dd; /* sums over ticks of acceleration by the accelerometer and speed */
} bt_carry;

void bt_carry_init(bt_carry *c);
/* A stretch or a hole: the speed is not known any more, bias and trust are kept. */
void bt_carry_restart(bt_carry *c);
/* The speed is known to be v, give or take u (m/s). */
void bt_carry_set(bt_carry *c, double v, double u);
/* Every sample goes through what follows, so it is here to be taken apart by the compiler. */

/* Noise densities.  Pitch, grade and scale make the acceleration wrong by some 0.15 m/s2 for half a
 * second at a time; a bias wanders by 0.02 m/s2 in a second. */
#define BT_CARRY_Q_SPEED        (0.15 * 0.15 * 0.5)
#define BT_CARRY_Q_BIAS         (0.02 * 0.02)
#define BT_CARRY_ACCEL_CONSTANT 0.03 /* s, vibration out, the onset of braking still in */
/* Wheels are right to 0.1 m/s for a tenth of a second at a time while rolling; while braking they slip
 * by some 5 % for a second at a time, and always the same way. */
#define BT_CARRY_ROLL_U    0.1
#define BT_CARRY_ROLL_TIME 0.1
#define BT_CARRY_SLIP_U    0.05
#define BT_CARRY_SLIP_TIME 1.0
#define BT_CARRY_TICK      0.2 /* s */

/* dt later, the accelerometer says a (m/s2, positive forward).  False = it cannot carry: no value,
 * or not trusted. */
static inline bool bt_carry_predict(bt_carry *c, double dt, double a)
{
    const double mean = 0.5 * (a + c->last);
    c->last = a;
    if (!c->trusted || isnan(c->v) || isnan(mean)) return false;
    const double accel = mean - c->bias;
    c->v += accel * dt;
    c->accel += dt / (BT_CARRY_ACCEL_CONSTANT + dt) * (accel - c->accel);
    c->p_vv += dt * (dt * c->p_bb - 2 * c->p_vb + BT_CARRY_Q_SPEED);
    c->p_vb -= dt * c->p_bb;
    c->p_bb += dt * BT_CARRY_Q_BIAS;
    return true;
}

/* How much of a braking, 0..1, the wheels are in, by their own `slope` (m/s2) or by what the accelerometer
 * feels. */
double bt_carry_slip(const bt_carry *c, double slope);

/* The source says v.  One that slips is low while braking: no braked wheel turns faster than the road
 * passes. */
static inline void bt_carry_correct(bt_carry *c, double dt, double v, bool slips, double slope)
{
    const double off = v - c->v;
    const double slip = slips && off < 0 ? bt_carry_slip(c, slope) : 0;
    const double u = BT_CARRY_ROLL_U + slip * BT_CARRY_SLIP_U * c->v;
    const double r = u * u * (BT_CARRY_ROLL_TIME + slip * BT_CARRY_SLIP_TIME) / dt;
    const double per_variance = 1 / (c->p_vv + r);
    const double kv = c->p_vv * per_variance, kb = c->p_vb * per_variance;
    c->v += kv * off;
    c->bias += kb * off;
    c->p_bb -= kb * c->p_vb;
    c->p_vb *= 1 - kv;
    c->p_vv *= 1 - kv;
}

/* A new tick begins at t; compare accelerometer and speed over the one before. */
void bt_carry_new_tick(bt_carry *c, double t);
/* Compare accelerometer and believed speed: trust is earned by this. */
static inline void bt_carry_watch(bt_carry *c, double t, double v, double a)
{
    if (!(t - c->t0 < BT_CARRY_TICK)) bt_carry_new_tick(c, t);
    c->v_sum += v;
    c->a_sum += a;
    c->n++;
}

#endif
