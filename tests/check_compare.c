/* Two groups of zones against values worked out beside the program. */
#include "tests/check_support.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "braketally.h"

enum { PLACES = 3 };

/* Laps 1.. at three places; value[place][lap] in %. */
static void fill(bt_zones *zones, const char *run, const double value[PLACES][3])
{
    bt_error err = {0};
    for (int lap = 0; lap < 3; lap++)
        for (int p = 0; p < PLACES; p++) {
            bt_zone z;
            bt_row_blank(BT_TABLE_ZONES, &z);
            snprintf(z.run, sizeof z.run, "%s", run);
            z.lap = lap + 1;
            z.start_dist = 300 + 800 * p;
            z.distance = 90;
            z.entry = 55;
            z.exit = 20 + p;
            z.balance = value[p][lap] / 100;
            ck_assert_int_eq(bt_zones_add(zones, &z, 1, &err), BT_OK);
        }
}

static bt_compare *compare(const double a[PLACES][3], const double b[PLACES][3], size_t *n)
{
    bt_zones za = {0}, zb = {0};
    bt_compare *rows;
    bt_error err = {0};
    fill(&za, "run", a);
    fill(&zb, "run", b);
    ck_assert_int_eq(bt_compare_find(&za, &zb, NULL, &rows, n, &err), BT_OK);
    bt_zones_free(&za);
    bt_zones_free(&zb);
    return rows;
}

START_TEST(a_place_is_compared_by_welchs_t)
{
    /* scipy.stats.ttest_ind(b, a, equal_var=False): P01 t = 1.224745, df = 4, p = 0.287864; P02
     * t = 12.247449, p = 0.000255; P03 t = -1.549193, p = 0.220881. */
    static const double a[PLACES][3] = {{60, 61, 62}, {60, 61, 62}, {61, 63, 65}};
    static const double b[PLACES][3] = {{61, 62, 63}, {70, 71, 72}, {60, 61, 62}};
    size_t n;
    bt_compare *r = compare(a, b, &n);
    ck_assert_uint_eq(n, 1 + PLACES);
    ck_assert_str_eq(r[1].place, "P01");
    ck_assert_double_eq_tol(r[1].diff, 1, 1e-9);
    ck_assert_double_eq_tol(r[1].u, sqrt(2.0 / 3), 1e-9);
    ck_assert_double_eq_tol(r[1].p, 0.287864, 1e-6);
    ck_assert_double_eq_tol(r[2].p, 0.000255, 1e-6);
    ck_assert_double_eq_tol(r[3].p, 0.220881, 1e-6);
    /* Benjamini and Hochberg of three: the smallest times 3, the largest as it is. */
    ck_assert_double_eq_tol(r[2].p_adjusted, 3 * r[2].p, 1e-12);
    ck_assert_double_eq_tol(r[1].p_adjusted, r[1].p, 1e-12);
    ck_assert_double_eq_tol(r[3].p_adjusted, r[1].p, 1e-12); /* 0.331 by itself, above the next */
    /* t quantile 0.975 at 4 degrees: 2.776445. */
    ck_assert_double_eq_tol(r[1].high - r[1].diff, 2.776445 * sqrt(2.0 / 3), 1e-5);
    free(r);
}
END_TEST

START_TEST(the_overall_row_is_the_mean_over_places_as_it_spreads_from_lap_to_lap)
{
    /* Laps 60, 61, 62 against 62, 63, 64 in the mean of the places; scipy.stats.ttest_ind(equal_var=False):
     * t = 2.449490, df = 4, p = 0.070484. */
    static const double a[PLACES][3] = {{60, 61, 62}, {60, 61, 62}, {60, 61, 62}};
    static const double b[PLACES][3] = {{61, 62, 63}, {62, 63, 64}, {63, 64, 65}};
    size_t n;
    bt_compare *r = compare(a, b, &n);
    ck_assert_str_eq(r[0].place, "all");
    ck_assert_double_eq(r[0].n_a, 9);
    ck_assert_double_eq_tol(r[0].mean_a, 61, 1e-9);
    ck_assert_double_eq_tol(r[0].diff, 2, 1e-9);
    ck_assert_double_eq_tol(r[0].u, sqrt(2.0 / 3), 1e-9);
    ck_assert_double_eq_tol(r[0].p, 0.070484, 1e-6);
    ck_assert(isnan(r[0].p_adjusted));
    ck_assert_str_eq(r[0].finding, "balance: no difference to be told from chance, +2.00 pp "
                                   "(-0.27..4.27), p = 0.070");
    free(r);
}
END_TEST

START_TEST(a_lap_without_a_zone_leaves_the_other_places_laps_as_they_are)
{
    /* P03 is braked for in B's lap 1 and 2 only, 61 and 63.  B's means: 61, 62, 62; what each lap puts to the mean of
     * them: (-1 / 3 - 1 / 3 - 1 / 2) / 3, (0 + 0 + 1 / 2) / 3, (1 / 3 + 1 / 3) / 3; var = 3 / 2 of the sum of their squares.
     * A lies at 60, 61, 62 in every lap alike: var 1 / 3. */
    static const double a[PLACES][3] = {{60, 61, 62}, {60, 61, 62}, {60, 61, 62}};
    static const double b[PLACES][3] = {{60, 61, 62}, {61, 62, 63}, {61, 63, NAN}};
    const double first = -7.0 / 18, second = 1.0 / 6, third = 2.0 / 9;
    const double var = 1.5 * (first * first + second * second + third * third);
    size_t n;
    bt_compare *r = compare(a, b, &n);
    ck_assert_double_eq_tol(r[0].diff, (0 + 1 + 1) / 3.0, 1e-9);
    ck_assert_double_eq_tol(r[0].u, sqrt(1.0 / 3 + var), 1e-9);
    free(r);
}
END_TEST

START_TEST(a_sure_difference_says_which_way)
{
    static const double a[PLACES][3] = {{60, 61, 62}, {60, 61, 62}, {60, 61, 62}};
    static const double b[PLACES][3] = {{57, 58, 59}, {57.1, 58.1, 59.1}, {56.9, 57.9, 58.9}};
    size_t n;
    bt_compare *r = compare(a, b, &n);
    ck_assert_double_eq_tol(r[0].diff, -3, 1e-9);
    ck_assert(strstr(r[0].finding, "balance of B lies 3.00") == r[0].finding);
    ck_assert(strstr(r[0].finding, "further rearward"));
    free(r);
}
END_TEST

/* B's last lap was driven on the bypass; where B has nothing else, that is what is compared. */
START_TEST(what_a_bypass_did_is_not_compared_with_what_by_wire_did)
{
    static const double a[PLACES][3] = {{60, 61, 62}, {60, 61, 62}, {61, 63, 65}};
    static const double b[PLACES][3] = {{60, 62, 70}, {60, 62, 70}, {62, 64, 73}};
    for (int all = 0; all < 2; all++) {
        bt_zones za = {0}, zb = {0};
        bt_compare *r;
        bt_error err = {0};
        size_t n;
        fill(&za, "a", a);
        fill(&zb, "b", b);
        for (size_t i = 0; i < zb.n; i++)
            snprintf(zb.row[i].mode, sizeof zb.row[i].mode, "%s",
                     all || zb.row[i].lap > 2 ? "fallback" : "by-wire");
        ck_assert_int_eq(bt_compare_find(&za, &zb, NULL, &r, &n, &err), BT_OK);
        /* By-wire laps alone: 61 against 61, 61 against 61, 63 against 63. */
        ck_assert_double_eq_tol(r[0].diff, all ? (3 + 3 + 3 + 1.0 / 3) / 3 : 0, 1e-9);
        ck_assert_double_eq(r[0].n_b, all ? 9.0 : 6.0);
        ck_assert(!all == !!strstr(r[0].finding, "; zones on the bypass left out: 0 of A, 3 of B"));
        bt_zones_free(&za);
        bt_zones_free(&zb);
        free(r);
    }
}
END_TEST

START_TEST(without_zones_there_is_nothing_to_compare)
{
    bt_zones none = {0};
    bt_compare *r;
    size_t n;
    bt_error err = {0};
    ck_assert_int_eq(bt_compare_find(&none, &none, NULL, &r, &n, &err), BT_OK);
    ck_assert_uint_eq(n, 1);
    ck_assert_str_eq(r[0].finding, "balance: nothing to compare, expected zones of A and of B");
    free(r);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("compare");
    TCase *t = tcase_create("compare");
    tcase_add_test(t, a_place_is_compared_by_welchs_t);
    tcase_add_test(t, the_overall_row_is_the_mean_over_places_as_it_spreads_from_lap_to_lap);
    tcase_add_test(t, a_lap_without_a_zone_leaves_the_other_places_laps_as_they_are);
    tcase_add_test(t, a_sure_difference_says_which_way);
    tcase_add_test(t, what_a_bypass_did_is_not_compared_with_what_by_wire_did);
    tcase_add_test(t, without_zones_there_is_nothing_to_compare);
    suite_add_tcase(s, t);
    return s;
}

BT_CHECK_MAIN(suite)
