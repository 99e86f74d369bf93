/* The accelerometer carries the speed (METHODS 3): a Kalman filter of two states, speed and the
 * accelerometer's bias, that the wheels correct.  Used by the speed stage alone. */
#ifndef BT_CARRY_H
#define BT_CARRY_H

#include "braketally.h"

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
/* dt later, the accelerometer says a (m/s2, positive forward).  False = it cannot carry: no value,
 * or not trusted. */
bool bt_carry_predict(bt_carry *c, double dt, double a);
/* The source says v.  One that slips is low while braking: by its own `slope` (m/s2) or by what the
 * accelerometer feels. */
void bt_carry_correct(bt_carry *c, double dt, double v, bool slips, double slope);
/* Compare accelerometer and believed speed: trust is earned by this. */
void bt_carry_watch(bt_carry *c, double t, double v, double a);

#endif
