/* What pressures say at each sample.  The car: 30 N*m per bar of friction above 0.5 bar, 40 N*m per bar of
 * pedal asked for, 0.9 of the pedal's pressure on the bypass, no motor: by wire 40/30 P + 0.5 bar. */
#include "check_support.h"

#include <math.h>

#include "verdict/evidence.h"

#define BAR   1e5
#define N     300
#define DT    0.01
#define DELAY 6 /* samples */

static bt_car *car;
static bt_channels channels;
static bt_torques torques;
static bt_evidence e;
static double t[N], pedal[N], line[N];

static void setup(void)
{
    static const char *const sheet[] = {"pad_friction_rear=0.5",       "piston_area_rear=0.0015 m2",
                                        "effective_radius_rear=0.1 m", "threshold_rear=0.5 bar",
                                        "demand_gain=40 N·m/bar",      "bypass_ratio=0.9"};
    bt_error err = {0};
    ck_assert_int_eq(bt_car_new(&car, &err), BT_OK);
    for (size_t i = 0; i < sizeof sheet / sizeof *sheet; i++)
        ck_assert_int_eq(bt_car_set(car, sheet[i], &err), BT_OK);
    for (int c = 0; c < BT_CH_COUNT; c++)
        channels.ch[c] = (bt_binding){.column = -1, .tolerance = NAN};
    torques = (bt_torques){0};
    e = (bt_evidence){0};
    for (int i = 0; i < N; i++) { /* on, two swings, off */
        t[i] = 50 + i * DT;
        pedal[i] = BAR * (i < 30    ? i
                          : i > 250 ? 30 * (N - i) / 50.0
                                    : 30 + 3 * sin(0.05 * (i - 30)));
    }
}

static void teardown(void)
{
    bt_evidence_clear(&e);
    bt_torques_clear(&torques);
    bt_car_free(car);
}

static void by_wire(int delay)
{
    for (int i = 0; i < N; i++)
        line[i] =
            i < delay ? 0 : 40.0 / 30 * pedal[i - delay] + (pedal[i - delay] > 0 ? 0.5 * BAR : 0);
}

static void make(void)
{
    bt_error err = {0};
    bt_block zone = {.n = N, .t = t};
    zone.ch[BT_CH_PEDAL_REAR] = pedal;
    zone.ch[BT_CH_LINE_REAR] = line;
    ck_assert_int_eq(bt_torques_make(&torques, &zone, car, &err), BT_OK);
    ck_assert_int_eq(bt_evidence_make(&e, &zone, &torques, &channels, car, false, false, &err),
                     BT_OK);
}

static double sum(const double *x)
{
    double s = 0;
    for (int i = 0; i < N; i++) s += x[i];
    return s;
}

START_TEST(a_late_line_by_wire_has_its_delay_found_and_no_evidence_against_it)
{
    by_wire(DELAY);
    make();
    ck_assert_double_eq_tol(e.delay, DELAY * DT, 0.5 * DT);
    for (int i = 0; i < N; i++) ck_assert_double_le(e.all[i], 0);
    ck_assert_double_gt(sum(e.wire), 100);
}
END_TEST

/* In the hold the line is 13 bar from where by-wire would have it, over a tolerance of 5 % of 40 and two
 * sensors of 0.5 bar: beyond its clip of 9, so 4.5 nats every 20 ms. */
START_TEST(a_line_on_the_bypass_gives_the_clipped_distance_by_time)
{
    for (int i = 0; i < N; i++) line[i] = 0.9 * pedal[i];
    make();
    for (int i = 150; i < 200; i++) ck_assert_double_eq_tol(e.all[i], 4.5 * DT / 0.02, 1e-6);
    ck_assert_double_eq(sum(e.wire), 0);
}
END_TEST

START_TEST(a_line_far_from_both_is_none_for_by_wire)
{
    for (int i = 0; i < N; i++) line[i] = 0.3 * pedal[i];
    make();
    for (int i = 100; i < 200; i++) {
        ck_assert_double_eq(e.wire[i], 0);
        ck_assert_double_lt(e.all[i], 0); /* but it has left the pedal */
    }
}
END_TEST

START_TEST(where_both_predict_the_same_there_is_no_evidence)
{
    bt_error err = {0};
    ck_assert_int_eq(bt_car_set(car, "demand_gain=27 N·m/bar", &err), BT_OK); /* 30 * 0.9 */
    for (int i = 0; i < N; i++) line[i] = 0.9 * pedal[i];
    make();
    for (int i = 60; i < 240; i++) ck_assert_double_eq(e.all[i], 0);
    ck_assert_double_eq(sum(e.wire), 0);
}
END_TEST

START_TEST(a_line_that_keeps_its_value_while_the_pedal_moves_is_blotted)
{
    by_wire(0);
    for (int i = 100; i < N; i++) line[i] = 27 * BAR;
    make();
    ck_assert(!isnan(e.line[99]));
    for (int i = 101; i < N; i++) {
        ck_assert_double_nan(e.line[i]);
        ck_assert_double_eq(e.all[i], 0);
    }
}
END_TEST

START_TEST(without_a_bypass_ratio_nothing_is_said)
{
    bt_car_free(car);
    bt_error err = {0};
    ck_assert_int_eq(bt_car_new(&car, &err), BT_OK);
    by_wire(0);
    make();
    ck_assert_ptr_null(e.all);
    ck_assert_double_nan(e.delay);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("evidence");
    TCase *c = tcase_create("evidence");
    tcase_add_checked_fixture(c, setup, teardown);
    tcase_add_test(c, a_late_line_by_wire_has_its_delay_found_and_no_evidence_against_it);
    tcase_add_test(c, a_line_on_the_bypass_gives_the_clipped_distance_by_time);
    tcase_add_test(c, a_line_far_from_both_is_none_for_by_wire);
    tcase_add_test(c, where_both_predict_the_same_there_is_no_evidence);
    tcase_add_test(c, a_line_that_keeps_its_value_while_the_pedal_moves_is_blotted);
    tcase_add_test(c, without_a_bypass_ratio_nothing_is_said);
    suite_add_tcase(s, c);
    return s;
}

BT_CHECK_MAIN(suite)
