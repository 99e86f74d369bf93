/* When a line changed hands.  The car: friction makes 30 N*m per bar above 0.5 bar, the pedal asks for 40 N*m
 * per bar, the controller gives 4 % more than asked; the bypass passes the pedal's pressure times 1.45,
 * near to where the by-wire puts the line: 1.04 x 40/30 P + 0.5 bar = 42.1 bar at 30 bar, against 43.5. */
#include "check_support.h"

#include <math.h>

#include "verdict/change.h"
#include "verdict/onset.h"

#define BAR   1e5
#define N     300
#define DT    0.01
#define DELAY 4 /* samples */
#define RATIO 1.45

static double t[N], pedal[N], line[N], demand[N];
static bt_change_zone zone;
static bt_wire wire;

static double foot(int i)
{
    return i < 0 ? 0 : i < 30 ? BAR * i : BAR * (30 + 2 * sin(0.06 * (i - 30)));
}

/* Over to the bypass at sample `gone`; 0.1 bar of noise that is the same each time. */
static void fill(int gone)
{
    uint64_t seed = 5;
    for (int i = 0; i < N; i++) {
        seed = seed * 6364136223846793005u + 1442695040888963407u;
        const double noise = 0.34 * BAR * ((double)(seed >> 11) / 9007199254740992.0 - 0.5);
        const double was = foot(i - DELAY);
        t[i] = 50 + i * DT;
        pedal[i] = foot(i);
        demand[i] = 40 * pedal[i] / BAR;
        line[i] = noise + (i >= gone ? RATIO * pedal[i]
                           : was > 0 ? 1.04 * 40 / 30 * was + 0.5 * BAR
                                     : 0);
    }
}

static void setup(void)
{
    zone = (bt_change_zone){.n = N,
                            .t = t,
                            .line = line,
                            .pedal = pedal,
                            .asked = demand,
                            .delay = DELAY * DT,
                            .line_u = 0.1 * BAR,
                            .pedal_u = 0.1 * BAR};
    bt_wire_init(&wire, 30 / BAR, 0.5 * BAR, 0.05, false);
}

static void learn(int zones)
{
    fill(N);
    for (int i = 0; i < zones; i++) bt_wire_learn(&wire, &zone);
}

START_TEST(the_wire_learns_what_the_sheet_does_not_know)
{
    ck_assert_double_eq_tol(wire.answer[0], BAR / 30, 1e-6);
    const double before = wire.covariance[0][0];
    learn(3);
    ck_assert_double_eq_tol(wire.answer[0] / (1.04 * BAR / 30), 1, 0.01);
    const double at_30 = wire.answer[0] * 40 * 30 + wire.answer[2];
    ck_assert_double_eq_tol(at_30, (1.04 * 40 + 0.5) * BAR, 0.1 * BAR);
    ck_assert_double_lt(wire.covariance[0][0], 0.05 * before);
}
END_TEST

static const int gone[] = {20, 60, 150, 250};

START_TEST(a_change_is_found_though_both_sides_are_near)
{
    learn(3);
    fill(gone[_i]);
    const bt_change c = bt_change_find(&wire, &zone, N, RATIO);
    ck_assert_int_le(abs((int)c.first - gone[_i]), 4);
    ck_assert_uint_le(c.low, c.first);
    ck_assert_uint_ge(c.high, c.first);
    ck_assert_uint_le(c.high - c.low, 20);
}
END_TEST

START_TEST(on_the_bypass_from_the_start_is_no_change_within_the_zone)
{
    learn(3);
    fill(0);
    ck_assert_uint_eq(bt_change_find(&wire, &zone, N, RATIO).first, 0);
}
END_TEST

START_TEST(by_wire_to_the_end_is_no_change_either)
{
    learn(3);
    fill(N);
    ck_assert_uint_eq(bt_change_find(&wire, &zone, N, RATIO).first, N);
}
END_TEST

START_TEST(what_has_no_value_tells_nothing)
{
    learn(3);
    fill(150);
    for (int i = 0; i < N; i += 3) line[i] = NAN;
    ck_assert_int_le(abs((int)bt_change_find(&wire, &zone, N, RATIO).first - 150), 6);
    for (int i = 0; i < N; i++) line[i] = NAN;
    ck_assert_uint_eq(bt_change_find(&wire, &zone, N, RATIO).first, 0);
    ck_assert_double_nan(bt_change_ratio(&zone, 0, N));
    bt_wire_learn(&wire, &zone);
    ck_assert_double_eq_tol(wire.answer[0] / (1.04 * BAR / 30), 1, 0.01);
}
END_TEST

START_TEST(the_ratio_is_that_of_the_samples_asked_for)
{
    fill(150);
    ck_assert_double_eq_tol(bt_change_ratio(&zone, 150, N), RATIO, 0.003);
    ck_assert_double_nan(bt_change_ratio(&zone, 150, 150));
}
END_TEST

/* 40 bar let go within 0.4 s; a line 8 ms behind it is 0.8 bar x 1.45 above 1.45 times the pedal, by least
 * squares 0.8 x 20 / 533 = 3 % of it. */
START_TEST(a_line_behind_a_quick_release_has_the_ratio_all_the_same)
{
    fill(0);
    for (int i = 0; i < 50; i++) {
        pedal[i] = BAR * fmax(0, fmin(40, 100 * (0.45 - i * DT)));
        line[i] = RATIO * BAR * fmax(0, fmin(40, 100 * (0.458 - i * DT)));
    }
    ck_assert_double_eq_tol(bt_change_ratio(&zone, 5, 45), RATIO, 0.002);
}
END_TEST

/* A motor that takes 60 % of a demand that falls by 6 % every 5 ms, and is cut off at sample 20: what is left of it
 * halves every 10 ms. */
static double drop_in_release(double left_of_it)
{
    static double motor[60], at[60], asked[60];
    for (int i = 0; i < 60; i++) {
        at[i] = 7 + 0.005 * i;
        asked[i] = 1000 * pow(0.94, i);
        motor[i] = 0.6 * asked[i] * (i > 20 ? pow(left_of_it, 0.5 * (i - 20)) : 1);
    }
    bt_torques q = {0};
    q.motor = motor;
    q.demand = asked;
    q.motor_bywire = true;
    return bt_onset_drop(at, &q, 60, 0.05, 7.2);
}

START_TEST(a_motor_cut_off_in_a_release_is_told_from_one_that_is_let_go)
{
    ck_assert_double_eq_tol(drop_in_release(0.5), 7.1, 0.0051);
    ck_assert_double_nan(drop_in_release(1));
}
END_TEST

/* 30 bar of the request, whose gain and threshold are nobody's business. */
START_TEST(a_request_is_followed_as_it_stands)
{
    bt_wire_init(&wire, NAN, NAN, 0.05, true);
    fill(150);
    static double request[N];
    for (int i = 0; i < N; i++) {
        request[i] = foot(i);
        if (i < 150) line[i] = foot(i - DELAY);
    }
    zone.asked = request;
    ck_assert_int_le(abs((int)bt_change_find(&wire, &zone, N, RATIO).first - 150), 1);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("change");
    TCase *c = tcase_create("change");
    tcase_add_checked_fixture(c, setup, NULL);
    tcase_add_test(c, the_wire_learns_what_the_sheet_does_not_know);
    tcase_add_loop_test(c, a_change_is_found_though_both_sides_are_near, 0,
                        sizeof gone / sizeof *gone);
    tcase_add_test(c, on_the_bypass_from_the_start_is_no_change_within_the_zone);
    tcase_add_test(c, by_wire_to_the_end_is_no_change_either);
    tcase_add_test(c, what_has_no_value_tells_nothing);
    tcase_add_test(c, the_ratio_is_that_of_the_samples_asked_for);
    tcase_add_test(c, a_line_behind_a_quick_release_has_the_ratio_all_the_same);
    tcase_add_test(c, a_motor_cut_off_in_a_release_is_told_from_one_that_is_let_go);
    tcase_add_test(c, a_request_is_followed_as_it_stands);
    suite_add_tcase(s, c);
    return s;
}

BT_CHECK_MAIN(suite)
