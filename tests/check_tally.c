/* The tally of a run: sums, means and extremes worked out by hand, and what a later zone changes. */
#include "check_support.h"

#include <math.h>
#include <string.h>

#include "run/tally.h"

static bt_tally tally;
static bt_run run;

static void make(void)
{
    bt_tally_init(&tally);
    bt_row_blank(BT_TABLE_RUNS, &run);
}

static void drop(void)
{
    bt_tally_clear(&tally);
}

static bt_zone blank(double number)
{
    bt_zone z;
    bt_row_blank(BT_TABLE_ZONES, &z);
    z.zone = number;
    return z;
}

static void add(const bt_zone *z)
{
    ck_assert_int_eq(bt_tally_add(&tally, z, NULL), BT_OK);
}

START_TEST(of_no_zone_only_their_number_and_time_are_known)
{
    bt_tally_run(&tally, &run);
    ck_assert(run.zones == 0 && run.braking == 0);
    ck_assert(isnan(run.balance) && isnan(run.decel_peak) && isnan(run.recovered));
    ck_assert(isnan(run.blend_delay) && isnan(run.kinetic) && isnan(run.worst_zone));
    ck_assert(isnan(run.locks) && isnan(run.laps));
}
END_TEST

START_TEST(figures_are_means_sums_and_extremes_of_the_zones_that_have_them)
{
    bt_zone z[3] = {blank(1), blank(2), blank(3)};
    for (int i = 0; i < 3; i++) z[i].duration = 2 + i;
    z[0].balance = 0.6, z[2].balance = 0.7;
    z[0].decel_peak = -3, z[1].decel_peak = -5; /* the first is the largest, and below zero */
    z[1].recovered = 100, z[2].recovered = -40;
    z[0].blend_rms = 20, z[1].blend_rms = 50, z[2].blend_rms = 50;
    z[0].lock = 0, z[1].lock = 0.3;
    for (int i = 0; i < 3; i++) add(&z[i]);
    bt_tally_run(&tally, &run);
    ck_assert_double_eq(run.zones, 3);
    ck_assert_double_eq(run.braking, 9);
    ck_assert_double_eq_tol(run.balance, 0.65, 1e-15);
    ck_assert_double_eq(run.decel_peak, -3);
    ck_assert_double_eq(run.recovered, 60);
    ck_assert_double_eq(run.blend_rms, 40);
    ck_assert_double_eq(run.worst_zone, 2); /* the first of equals */
    ck_assert_double_eq(run.locks, 1);
}
END_TEST

START_TEST(books_are_summed_over_the_zones_in_which_they_are_complete)
{
    for (int i = 0; i < 3; i++) {
        bt_zone z = blank(i + 1);
        z.kinetic = 100;
        z.energy_front = 40;
        z.energy_rear = 20;
        z.energy_motor = 10;
        z.road = 12;
        z.rest = i == 1 ? NAN : 18;
        add(&z);
    }
    bt_tally_run(&tally, &run);
    ck_assert_double_eq(run.kinetic, 200);
    ck_assert_double_eq(run.energy_front, 80);
    ck_assert_double_eq(run.energy_rear, 40);
    ck_assert_double_eq(run.energy_motor, 20);
    ck_assert_double_eq(run.road, 24);
    ck_assert_double_eq(run.rest, 36);
    ck_assert(isnan(run.tyre));
}
END_TEST

START_TEST(laps_are_counted_where_they_change)
{
    static const double lap[] = {NAN, 4, 4, 5, NAN, 5, 7};
    for (int i = 0; i < 7; i++) {
        bt_zone z = blank(i + 1);
        z.lap = lap[i];
        add(&z);
    }
    bt_tally_run(&tally, &run);
    ck_assert_double_eq(run.laps, 3);
}
END_TEST

/* Student's t of 97.5 % with two degrees of freedom is 4.302653 in every table; of 1, 2, 3 the standard deviation of
 * the mean is 1/sqrt(3). */
START_TEST(an_interval_needs_three_zones)
{
    for (int i = 0; i < 3; i++) {
        bt_zone z = blank(i + 1);
        z.blend_gain = 1 + i;
        z.blend_delay = i < 2 ? 0.1 : NAN;
        add(&z);
    }
    bt_tally_run(&tally, &run);
    ck_assert_double_eq(run.blend_gain, 2);
    ck_assert_double_eq_tol(run.blend_gain_low, 2 - 4.302653 / sqrt(3), 1e-5);
    ck_assert_double_eq_tol(run.blend_gain_high, 2 + 4.302653 / sqrt(3), 1e-5);
    ck_assert_double_eq(run.blend_delay, 0.1);
    ck_assert(isnan(run.blend_delay_low) && isnan(run.blend_delay_high));
}
END_TEST

/* Four zones that take 0.1 s and four on the bypass that take none. */
START_TEST(a_bypass_does_not_make_the_by_wire_look_quick)
{
    for (int i = 0; i < 8; i++) {
        bt_zone z = blank(i + 1);
        z.blend_delay = i < 4 ? 0.1 : 0;
        z.blend_gain = i < 4 ? 0.98 : 0.6;
        z.blend_rms = i < 4 ? 20 : 600;
        bt_zone_give_mode(&z, i < 4 ? BT_MODE_BYWIRE : BT_MODE_FALLBACK);
        add(&z);
    }
    bt_tally_run(&tally, &run);
    ck_assert_double_eq(run.blend_delay, 0.1);
    ck_assert_double_eq_tol(run.blend_gain, 0.98, 1e-15);
    ck_assert_double_eq_tol(run.blend_delay_high - run.blend_delay_low, 0, 1e-15); /* all alike */
    ck_assert_double_eq(run.blend_rms, 310); /* what the axle did, whoever was in charge */
    for (size_t i = 0; i < 4; i++) bt_tally_mode(&tally, i, BT_MODE_FALLBACK);
    bt_row_blank(BT_TABLE_RUNS, &run);
    bt_tally_run(&tally, &run);
    ck_assert(isnan(run.blend_delay) && isnan(run.blend_delay_low)); /* nothing was by wire */
}
END_TEST

START_TEST(a_zone_called_mixed_later_loses_its_fit_as_its_row_does)
{
    bt_zone z[3] = {blank(1), blank(2), blank(3)};
    for (int i = 0; i < 3; i++) {
        z[i].blend_delay = 0.1 * (i + 1);
        z[i].blend_by_rest = 0.5;
        z[i].blend_rms = 10;
        z[i].demand = 100, z[i].blend_mean = -20;
        bt_zone_give_mode(&z[i], BT_MODE_BYWIRE);
        ck_assert_int_eq(bt_zone_mode(&z[i]), BT_MODE_BYWIRE);
        add(&z[i]);
    }
    bt_tally_mode(&tally, 1, BT_MODE_MIXED);
    bt_tally_mode(&tally, 2, BT_MODE_FALLBACK);
    bt_tally_run(&tally, &run);
    ck_assert_double_eq(run.blend_delay, 0.1); /* the third one's is the bypass's */
    ck_assert_double_eq(run.blend_rms, 10);
    ck_assert_int_eq(tally.zone[0].mode, BT_MODE_BYWIRE);
    ck_assert_int_eq(tally.zone[1].mode, BT_MODE_MIXED);
    ck_assert_double_eq(tally.zone[1].delivers, 0.8);
    bt_zone_give_mode(&z[1], BT_MODE_MIXED);
    ck_assert_str_eq(z[1].mode, "mixed");
    ck_assert(isnan(z[1].blend_delay) && isnan(z[1].blend_by_rest) && z[1].blend_rms == 10);
    ck_assert(z[1].flags & BT_FLAG_DELAY_WEAK);
    bt_tally_mode(&tally, 1, BT_MODE_UNDETERMINED); /* taken back: what is lost is lost */
    bt_tally_mode(&tally, 2, BT_MODE_UNDETERMINED); /* but the third one still has its own */
    bt_tally_run(&tally, &run);
    ck_assert_double_eq_tol(run.blend_delay, 0.2, 1e-15);
    bt_zone_give_mode(&z[0], BT_MODE_NONE);
    ck_assert_int_eq(bt_zone_mode(&z[0]), BT_MODE_NONE);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("tally");
    TCase *t = tcase_create("run");
    tcase_add_checked_fixture(t, make, drop);
    tcase_add_test(t, a_bypass_does_not_make_the_by_wire_look_quick);
    tcase_add_test(t, of_no_zone_only_their_number_and_time_are_known);
    tcase_add_test(t, figures_are_means_sums_and_extremes_of_the_zones_that_have_them);
    tcase_add_test(t, books_are_summed_over_the_zones_in_which_they_are_complete);
    tcase_add_test(t, laps_are_counted_where_they_change);
    tcase_add_test(t, an_interval_needs_three_zones);
    tcase_add_test(t, a_zone_called_mixed_later_loses_its_fit_as_its_row_does);
    suite_add_tcase(s, t);
    return s;
}
BT_CHECK_MAIN(suite)
