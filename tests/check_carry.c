/* The accelerometer's Kalman filter (METHODS 3): trust, bias, carrying, and its gain against the
 * steady state that the Riccati equation gives. */
#include "signals/carry.h"
#include "check_support.h"

#include <math.h>

#define DT 0.01

static bt_carry c;

/* Acceleration of a car that speeds up and slows down: 3 m/s2 cos. */
static double accel(double t)
{
    return 3 * cos(0.5 * t);
}

static double speed(double t)
{
    return 30 + 6 * sin(0.5 * t);
}

/* Drive on from t0 with an accelerometer that says gain * a + bias; the source tells the truth. */
static double drive(double t0, double seconds, double gain, double bias)
{
    double t = t0;
    for (; t < t0 + seconds; t += DT) {
        const double a = gain * accel(t) + bias;
        if (bt_carry_predict(&c, DT, a))
            bt_carry_correct(&c, DT, speed(t), false, 0);
        else
            bt_carry_set(&c, speed(t), 0.2);
        bt_carry_watch(&c, t, speed(t), a);
    }
    return t;
}

START_TEST(trust_is_earned_by_following_the_speed)
{
    static const struct {
        double gain, bias;
        bool trusted;
    } cases[] = {{1, 0, true},   {1, 0.5, true},  {1, -9.8, true}, {1.2, 0, true},
                 {0.8, 0, true}, {1.5, 0, false}, {-1, 0, false},  {0.102, 0, false},
                 {0, 0, false},  {0, 9.8, false}};
    bt_carry_init(&c);
    ck_assert(!bt_carry_predict(&c, DT, 0));
    drive(0, 20, cases[_i].gain, cases[_i].bias);
    ck_assert_int_eq(c.trusted, cases[_i].trusted);
}
END_TEST

START_TEST(standing_earns_no_trust)
{
    bt_carry_init(&c);
    for (int i = 0; i < 10000; i++) bt_carry_watch(&c, DT * i, 0, 0.001 * (i % 2));
    ck_assert(!c.trusted);
}
END_TEST

START_TEST(the_bias_is_found_and_the_speed_carried_without_a_source)
{
    bt_carry_init(&c);
    double t = drive(0, 60, 1, 0.2);
    ck_assert_double_eq_tol(c.bias, 0.2, 0.01);
    const double until = t + 4;
    for (; t < until; t += DT) ck_assert(bt_carry_predict(&c, DT, accel(t) + 0.2));
    ck_assert_double_eq_tol(c.v, speed(t - DT), 0.1);
    ck_assert(!bt_carry_predict(&c, DT, NAN));
}
END_TEST

/* Two states, speed and bias, noise densities q and s, measurement density r: in the steady state
 * p_vb = -sqrt(r s) and p_vv = sqrt(r (q + 2 sqrt(r s))). */
START_TEST(the_covariance_settles_where_the_riccati_equation_says)
{
    const double q = 0.15 * 0.15 * 0.5, s = 0.02 * 0.02, r = 0.1 * 0.1 * 0.1;
    bt_carry_init(&c);
    drive(0, 100, 1, 0);
    ck_assert_double_eq_tol(c.p_vb, -sqrt(r * s), 0.05 * sqrt(r * s));
    ck_assert_double_eq_tol(c.p_vv / sqrt(r * (q + 2 * sqrt(r * s))), 1, 0.05);
}
END_TEST

/* A braked wheel may be slow but not fast. */
START_TEST(a_slipping_source_pulls_down_little_and_up_at_once)
{
    for (int sign = -1; sign <= 1; sign += 2) {
        bt_carry_init(&c);
        drive(0, 40, 1, 0);
        bt_carry_set(&c, 40, 0.2);
        bt_carry_correct(&c, DT, 40 + sign, true, -9);
        const double moved = fabs(c.v - 40);
        if (sign < 0) ck_assert_double_le(moved, 0.001);
        if (sign > 0) ck_assert_double_ge(moved, 0.2);
    }
}
END_TEST

START_TEST(a_new_stretch_keeps_the_bias_but_not_the_speed)
{
    bt_carry_init(&c);
    drive(0, 40, 1, 0.3);
    const double bias = c.bias;
    bt_carry_restart(&c);
    ck_assert(!bt_carry_predict(&c, DT, 0));
    ck_assert(c.trusted);
    ck_assert_double_eq(c.bias, bias);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("carry");
    TCase *t = tcase_create("carry");
    tcase_add_loop_test(t, trust_is_earned_by_following_the_speed, 0, 10);
    tcase_add_test(t, standing_earns_no_trust);
    tcase_add_test(t, the_bias_is_found_and_the_speed_carried_without_a_source);
    tcase_add_test(t, the_covariance_settles_where_the_riccati_equation_says);
    tcase_add_test(t, a_slipping_source_pulls_down_little_and_up_at_once);
    tcase_add_test(t, a_new_stretch_keeps_the_bias_but_not_the_speed);
    suite_add_tcase(s, t);
    return s;
}

BT_CHECK_MAIN(suite)
