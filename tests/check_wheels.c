/* Wheels to one speed (METHODS 3): the filter behind it, who leads, who is left out. */
#include "check_support.h"
#include "signals/wheels.h"

#include <math.h>

START_TEST(the_track_follows_a_ramp_without_lag)
{
    bt_track k = {0};
    double t = 0;
    for (int i = 0; i < 3000; i++) { /* uneven steps */
        const double dt = i % 3 ? 1e-3 : 4e-3;
        t += dt;
        bt_track_add(&k, dt, 7 - 9 * t, 0.06);
    }
    ck_assert_double_eq_tol(k.value, 7 - 9 * t, 1e-9);
    ck_assert_double_eq_tol(k.slope, -9, 1e-9);
}
END_TEST

START_TEST(braking_weighs_from_a_half_to_two_mps2)
{
    static const double cases[][2] = {{3, 0}, {0, 0}, {-0.5, 0}, {-1.25, 0.5}, {-2, 1}, {-15, 1}};
    ck_assert_double_eq_tol(bt_braking_weight(cases[_i][0]), cases[_i][1], 1e-12);
}
END_TEST

static bt_wheels w;
static struct bt_car car;

START_TEST(who_leads_depends_on_what_the_car_does)
{
    static const struct {
        double v[4], expected, accel, fused;
    } cases[] = {
        {{20, 20.2, 20.4, 20.6}, 20.3, 0, 20.3},  /* rolling: the middle */
        {{20, 20.2, 20.4, 20.6}, 20.3, -9, 20.6}, /* braking: the fastest */
        {{20, 20.2, 20.4, 20.6}, 20.3, 5, 20.2},  /* driving: the slower middle one */
        {{20, 2, 19.5, 19}, 20, -9, 20},          /* one locks */
        {{20, 26, 19.5, 19}, 20, -9, 20},         /* one spins while braking */
        {{20, 20, 30, 31}, 20, 5, 20},            /* the driven axle spins */
        {{5, 4, 3, 2}, 20, -9, 5},                /* all lock: they have the word */
        {{30, 30, 30, 20}, 20, 0, 30},            /* more than half too fast: it is the car */
        {{20, NAN, NAN, NAN}, 20, -9, 20},
        {{NAN, NAN, NAN, NAN}, 20, -9, NAN},
        {{20, 20.2, 20.4, 20.6}, NAN, -9, 20.6}, /* nothing expected yet */
    };
    bt_wheels_init(&w, &car);
    const double fused =
        bt_wheels_fuse(&w, 0, cases[_i].v, cases[_i].expected, 0.015, cases[_i].accel);
    if (isnan(cases[_i].fused))
        ck_assert_double_nan(fused);
    else
        ck_assert_double_eq_tol(fused, cases[_i].fused, 1e-12);
}
END_TEST

static void watch(double t, const double v[4], double reference)
{
    const double *const wheel[4] = {v, v + 1, v + 2, v + 3};
    bt_wheels_watch(&w, &t, wheel, isnan(reference) ? NULL : &reference, 1);
}

static void roll(const double v[4], double reference, double seconds)
{
    for (int i = 0; i < (int)(100 * seconds); i++) watch(0.01 * i, v, reference);
}

START_TEST(contradiction_leaves_a_wheel_out_where_it_can_be_told)
{
    static const struct {
        double v[4], reference;
        bt_axle driven;
        bool out[4];
    } cases[] = {
        {{20, 20, 20, 20}, NAN, BT_REAR, {false}},
        {{20, 20, 44, 20}, NAN, BT_REAR, {false, false, true}},       /* 2.2 times */
        {{0, 0, 20, 20}, NAN, BT_REAR, {true, true}},                 /* dead */
        {{20, 20, 44, 44}, NAN, BT_REAR, {false, false, true, true}}, /* two against two: */
        {{20, 20, 44, 44}, NAN, BT_FRONT, {true, true}},              /* the undriven axle */
        {{20, NAN, 44, NAN}, NAN, BT_REAR, {false}},                  /* one against one */
        {{20, 20, 44, 44}, 44.5, BT_REAR, {true, true}},              /* a logged speed decides */
        {{20, 20, 20.8, 19.5}, NAN, BT_REAR, {false}},                /* sizes, no contradiction */
    };
    car.motor_axle = cases[_i].driven;
    bt_wheels_init(&w, &car);
    roll(cases[_i].v, cases[_i].reference, 5);
    for (size_t k = 0; k < 4; k++) ck_assert_int_eq(w.wheel[k].left_out, cases[_i].out[k]);
    const double even[4] = {20, 20, 20, 20}; /* repaired: let in again */
    bt_wheels_restart(&w);
    roll(even, NAN, 8);
    for (size_t k = 0; k < 4; k++) ck_assert(!w.wheel[k].left_out);
}
END_TEST

START_TEST(samples_at_once_teach_the_same_as_one_by_one)
{
    enum { N = 3000 };
    static double t[N], v[4][N], reference[N];
    for (int i = 0; i < N; i++) {
        t[i] = 0.01 * i + 0.001 * (i % 7);
        reference[i] = i % 50 == 3 ? NAN : 30 + 0.01 * (i % 40);
        for (int k = 0; k < 4; k++)
            v[k][i] = i % 31 == 5 * k ? NAN : 30 + 0.2 * k + 0.003 * ((i * 7 + k) % 11);
    }
    static bt_wheels one, all, parts;
    bt_wheels_init(&one, &car);
    all = parts = one;
    const double *const wheel[4] = {v[0], v[1], v[2], NULL};
    bt_wheels_watch(&all, t, wheel, reference, N);
    for (size_t i = 0, n; i < N; i += n) {
        const double *const from[4] = {v[0] + i, v[1] + i, v[2] + i, NULL};
        n = N - i < 17 ? N - i : 17;
        bt_wheels_watch(&parts, t + i, from, reference + i, n);
        for (size_t j = i; j < i + n; j++) {
            const double *const here[4] = {v[0] + j, v[1] + j, v[2] + j, NULL};
            bt_wheels_watch(&one, t + j, here, reference + j, 1);
        }
    }
    for (int k = 0; k < 4; k++) {
        ck_assert(all.wheel[k].trim == one.wheel[k].trim &&
                  parts.wheel[k].trim == one.wheel[k].trim);
        ck_assert(all.wheel[k].sum == one.wheel[k].sum && parts.wheel[k].sum == one.wheel[k].sum);
    }
    ck_assert(one.wheel[1].trim < 1 && one.wheel[3].trim == 1);
}
END_TEST

START_TEST(nothing_is_learned_below_5_mps_or_while_braking)
{
    const double slow[4] = {4, 4, 4.2, 0};
    bt_wheels_init(&w, &car);
    roll(slow, NAN, 10);
    for (int i = 0; i < 400; i++) {
        const double v = 40 - 0.05 * i, braked[4] = {v, v, 0.97 * v, 0};
        watch(20 + 0.01 * i, braked, NAN);
    }
    for (size_t k = 0; k < 4; k++) {
        ck_assert(!w.wheel[k].left_out);
        ck_assert_double_eq(w.wheel[k].trim, 1);
    }
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("wheels");
    TCase *c = tcase_create("wheels");
    tcase_add_test(c, the_track_follows_a_ramp_without_lag);
    tcase_add_loop_test(c, braking_weighs_from_a_half_to_two_mps2, 0, 6);
    tcase_add_loop_test(c, who_leads_depends_on_what_the_car_does, 0, 11);
    tcase_add_loop_test(c, contradiction_leaves_a_wheel_out_where_it_can_be_told, 0, 8);
    tcase_add_test(c, samples_at_once_teach_the_same_as_one_by_one);
    tcase_add_test(c, nothing_is_learned_below_5_mps_or_while_braking);
    suite_add_tcase(s, c);
    return s;
}

BT_CHECK_MAIN(suite)
