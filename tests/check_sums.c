/* Evidence summed each way, on evidence written down here: 3 nats a sample, a sample every 20 ms. */
#include "check_support.h"

#include <math.h>

#include "verdict/sums.h"

enum { N = 40 };
static double t[N], by[2][N], all[N], wire[N];
static bt_evidence e;
static bt_sums s;

static void setup(void)
{
    for (int i = 0; i < N; i++) {
        t[i] = 7 + 0.02 * i;
        by[0][i] = by[1][i] = all[i] = wire[i] = 0;
    }
    e = (bt_evidence){.n = N, .by = {by[0], NULL, by[1]}, .all = all, .wire = wire};
    bt_sums_init(&s);
}

/* The bypass is likelier by `nats` than both variants, or less likely (< 0). */
static void speak(int from, int to, double nats)
{
    for (int i = from; i < to; i++) {
        by[0][i] = by[1][i] = all[i] = nats;
        wire[i] = nats < 0 ? -nats : 0;
    }
}

static void add(int from, int to)
{
    for (int i = from; i < to; i++) bt_sums_add(&s, &e, t[i], (size_t)i);
}

START_TEST(a_sum_starts_where_it_last_left_zero_and_stops_at_its_ceiling)
{
    speak(0, 5, 3);
    speak(5, 10, -4); /* 15 - 20: back at zero in the last of them */
    speak(10, N, 3);
    add(0, 5);
    ck_assert_double_eq(s.up[0].sum, 15);
    ck_assert_double_eq(s.up[0].since, t[0]);
    ck_assert_double_eq(s.up[1].sum, 0); /* cannot be predicted */
    add(5, 10);
    ck_assert_double_eq(s.up[2].sum, 0);
    add(10, N);
    ck_assert_double_eq(s.up[2].since, t[10]);
    ck_assert_double_eq(s.up[2].sum, 80); /* not 90 */
}
END_TEST

START_TEST(the_least_evidence_is_kept_and_dates_the_start_until_it_leans)
{
    speak(0, 3, 0.2);
    add(0, 2);
    ck_assert_double_eq_tol(s.up[0].sum, 0.4, 1e-12);
    ck_assert_double_eq(s.up[0].since, t[0]);
    ck_assert(!bt_sums_leans(&s, &e));
    add(2, 3);
    ck_assert(bt_sums_leans(&s, &e)); /* 0.6 nats: from 0.5 on */
}
END_TEST

/* Evidence for the bypass counts against by-wire; evidence against the bypass is `wire`, not that. */
START_TEST(by_wire_gains_what_is_for_it_and_loses_what_is_for_the_bypass)
{
    wire[0] = 5;
    all[0] = -6;
    all[1] = 2;
    add(0, 1);
    ck_assert_double_eq(s.down.sum, 5);
    add(1, 2);
    ck_assert_double_eq(s.down.sum, 3);
}
END_TEST

START_TEST(by_wire_was_told_last_where_it_gained_and_had_enough)
{
    wire[0] = 9; /* too little */
    wire[1] = 1; /* 10: told */
    wire[3] = 2; /* once more; in between it has 10 but gains nothing */
    add(0, 1);
    ck_assert(s.wired < 0);
    add(1, 3);
    ck_assert_double_eq(s.wired, t[1]);
    add(3, 5);
    ck_assert_double_eq(s.wired, t[3]);
}
END_TEST

START_TEST(every_variant_has_to_be_beaten)
{
    speak(0, 14, 3); /* 42 */
    by[1][0] = 0;    /* 39 */
    add(0, 14);
    ck_assert(!bt_sums_bypass(&s, &e));
    ck_assert(bt_sums_leans(&s, &e));
    by[1][14] = 1; /* 40 */
    add(14, 15);
    ck_assert(bt_sums_bypass(&s, &e));
    ck_assert(!bt_sums_wire(&s));
    s.up[0].sum = 0.4;
    ck_assert(!bt_sums_leans(&s, &e));
}
END_TEST

START_TEST(it_began_with_the_first_variant_left_behind_since_by_wire_was_told)
{
    s.up[0].since = 3;
    s.up[1].since = 1; /* cannot be predicted: does not count */
    s.up[2].since = 5;
    ck_assert_double_eq(bt_sums_since(&s, &e), 3);
    s.wired = 3;
    ck_assert_double_eq(bt_sums_since(&s, &e), 3);
    s.wired = 4;
    ck_assert_double_eq(bt_sums_since(&s, &e), 5);
    s.wired = 6; /* all began before that */
    ck_assert_double_eq(bt_sums_since(&s, &e), 5);
}
END_TEST

/* Found at sample 10, with `last` the zone's last sample. */
static bt_confidence confirmed(size_t last)
{
    e.n = last + 1;
    return bt_sums_confirm(&s, &e, t, 10);
}

START_TEST(a_bypass_that_holds_for_0_3_s_to_the_zones_end_is_sure)
{
    s.up[0].sum = s.up[2].sum = 45;
    ck_assert_int_eq(confirmed(26), BT_SURE);  /* 0.32 s */
    ck_assert_int_eq(confirmed(24), BT_EARLY); /* 0.28 s */
    ck_assert_int_eq(confirmed(10), BT_EARLY);
}
END_TEST

START_TEST(a_bypass_that_loses_its_lead_was_chance)
{
    s.up[0].sum = s.up[2].sum = 45;
    by[0][9] = -50;  /* what was before is in the sums already */
    by[0][11] = -36; /* in the very next sample 9 are left: less than is evidence of anything */
    ck_assert_int_eq(confirmed(11), BT_CHANCE);
    ck_assert_int_eq(confirmed(30), BT_CHANCE);
    by[0][11] = -35;
    ck_assert_int_eq(confirmed(30), BT_SURE);
}
END_TEST

/* By-wire has its 40 within the zone: since when tells how long the bypass lasted.  What by-wire had before
 * does not count. */
START_TEST(by_wire_back_in_the_zone_ends_a_bypass_that_lasted)
{
    s.up[0].sum = s.up[2].sum = 80;
    s.down.sum = 39;
    wire[26] = 20; /* 0.32 s on */
    wire[27] = 20;
    ck_assert_int_eq(confirmed(35), BT_SURE);
    wire[26] = 0;
    wire[20] = 20; /* 0.20 s on */
    ck_assert_int_eq(confirmed(35), BT_CHANCE);
}
END_TEST

static Suite *suite(void)
{
    Suite *suite = suite_create("sums");
    TCase *c = tcase_create("sums");
    tcase_add_checked_fixture(c, setup, NULL);
    tcase_add_test(c, a_sum_starts_where_it_last_left_zero_and_stops_at_its_ceiling);
    tcase_add_test(c, the_least_evidence_is_kept_and_dates_the_start_until_it_leans);
    tcase_add_test(c, by_wire_gains_what_is_for_it_and_loses_what_is_for_the_bypass);
    tcase_add_test(c, by_wire_was_told_last_where_it_gained_and_had_enough);
    tcase_add_test(c, every_variant_has_to_be_beaten);
    tcase_add_test(c, it_began_with_the_first_variant_left_behind_since_by_wire_was_told);
    tcase_add_test(c, a_bypass_that_holds_for_0_3_s_to_the_zones_end_is_sure);
    tcase_add_test(c, a_bypass_that_loses_its_lead_was_chance);
    tcase_add_test(c, by_wire_back_in_the_zone_ends_a_bypass_that_lasted);
    suite_add_tcase(suite, c);
    return suite;
}
BT_CHECK_MAIN(suite)
