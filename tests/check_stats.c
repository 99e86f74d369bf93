/* lib/base/stats against published values (CHECKS 10.1, 10.4, 10.5) and closed forms. */
#include "tests/check_support.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/stats.h"

#define COUNT(a) (sizeof(a) / sizeof(a)[0])

static void close_to(double found, double want, double relative)
{
    ck_assert_msg(fabs(found - want) <= relative * fmax(fabs(want), 1e-300),
                  "expected %.17g, found %.17g", want, found);
}

/* ---- order statistics ---- */

START_TEST(a_median_is_not_moved_by_an_outlier) /* CHECKS 10.4 */
{
    double v[] = {11, 9, 10, 12, 9, 10, 60, 11, 10, 8};
    ck_assert_double_eq(bt_median(v, COUNT(v)), 10);
}
END_TEST

START_TEST(a_trimmed_mean_leaves_out_wild_values_and_is_finer_than_a_step)
{
    const double v[] = {11, 9,  10, 12, 9, NAN,
                        10, 60, 11, 10, 8}; /* 60 is far from 10 by more than 3 x 1.4826 */
    const double steps[] = {0, 0, 0, 1, 1, 1, 1, 2}, third_wild[] = {5, 90, 5, 5, 90, 5};
    double scratch[COUNT(v)];
    close_to(bt_trimmed_mean(v, COUNT(v), scratch), 10, 1e-15);
    close_to(bt_trimmed_mean(steps, 8, scratch), 0.75, 1e-15);
    ck_assert_double_eq(bt_trimmed_mean(third_wild, 6, scratch), 5);
    ck_assert_double_eq(bt_trimmed_mean(v, 1, scratch), 11);
    ck_assert(isnan(bt_trimmed_mean(NULL, 0, NULL)) && isnan(bt_trimmed_mean(v + 5, 1, scratch)));
}
END_TEST

static int ascending(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

START_TEST(quantiles_are_those_of_the_sorted_array_whatever_the_order_and_ties)
{
    bt_random chance = {1};
    for (size_t n = 1; n < 60; n++) {
        double v[60], sorted[60], scratch[60];
        for (size_t i = 0; i < n; i++) sorted[i] = v[i] = (double)bt_random_below(&chance, n);
        qsort(sorted, n, sizeof *sorted, ascending);
        for (int k = 0; k <= 20; k++) {
            const double h = (double)(n - 1) * k / 20;
            const size_t low = (size_t)h, high = low + 1 < n ? low + 1 : low;
            memcpy(scratch, v, sizeof v);
            const double want = sorted[low] + (h - (double)low) * (sorted[high] - sorted[low]);
            ck_assert_double_eq_tol(bt_quantile(scratch, n, k / 20.0), want, 1e-12);
        }
    }
}
END_TEST

START_TEST(what_has_no_values_has_no_statistics_and_nan_is_left_out)
{
    double gone[] = {NAN, NAN}, some[] = {NAN, 3, NAN, 1}, two[] = {1, 2};
    ck_assert(isnan(bt_median(NULL, 0)));
    ck_assert(isnan(bt_median(gone, 2)) && isnan(bt_quantile((double[]){1, 2}, 2, 1.5)));
    ck_assert(isnan(bt_quantile((double[]){1, 2}, 2, NAN)));
    ck_assert_double_eq(bt_median(some, 4), 2);
    const bt_moments none = bt_mean_sd(gone, 2), one = bt_mean_sd(two + 1, 1);
    ck_assert(none.n == 0 && isnan(none.mean) && isnan(none.sd));
    ck_assert(one.n == 1 && one.mean == 2 && isnan(one.sd));
}
END_TEST

START_TEST(a_large_offset_costs_the_spread_no_digits)
{
    const double v[] = {1e9 + 0.25, 1e9 + 0.5, 1e9 + 0.75};
    const bt_moments m = bt_mean_sd(v, 3);
    ck_assert_double_eq(m.mean, 1e9 + 0.5);
    ck_assert_double_eq(m.sd, 0.25);
    const double lost[] = {1, 1e100, 1, -1e100};
    ck_assert_double_eq(bt_mean_sd(lost, 4).mean, 0.5);
}
END_TEST

/* ---- lines: NIST StRD, CHECKS 10.1 ---- */

static const double norris[][2] = {
    {0.2, 0.1},     {337.4, 338.8}, {118.2, 118.1}, {884.6, 888.0}, {10.1, 9.2},    {226.5, 228.1},
    {666.3, 668.5}, {996.3, 998.5}, {448.6, 449.1}, {777.0, 778.9}, {558.2, 559.2}, {0.4, 0.3},
    {0.6, 0.1},     {775.5, 778.1}, {666.9, 668.8}, {338.0, 339.3}, {447.5, 448.9}, {11.6, 10.8},
    {556.0, 557.7}, {228.1, 228.3}, {995.8, 998.0}, {887.6, 888.8}, {120.2, 119.6}, {0.3, 0.3},
    {0.3, 0.6},     {556.8, 557.6}, {339.1, 339.3}, {887.2, 888.0}, {999.0, 998.5}, {779.0, 778.9},
    {11.1, 10.2},   {118.3, 117.6}, {229.2, 228.9}, {669.1, 668.4}, {448.9, 449.2}, {0.5, 0.2},
};

START_TEST(norris_agrees_to_twelve_digits)
{
    double x[COUNT(norris)], y[COUNT(norris)];
    for (size_t i = 0; i < COUNT(norris); i++) {
        x[i] = norris[i][0];
        y[i] = norris[i][1];
    }
    const bt_line f = bt_fit_line(x, y, COUNT(norris));
    ck_assert_uint_eq(f.n, 36);
    close_to(f.intercept, -0.262323073774029, 1e-12);
    close_to(f.slope, 1.00211681802045, 1e-12);
    close_to(f.u_intercept, 0.232818234301152, 1e-12);
    close_to(f.u_slope, 0.429796848199937E-03, 1e-12);
    close_to(f.sd, 0.884796396144373, 1e-12);
    close_to(f.rss, 26.6173985294224, 1e-12);
}
END_TEST

START_TEST(a_line_needs_two_different_x_and_an_error_needs_three_points)
{
    const double x[] = {1, NAN, 2, 3}, y[] = {5, 6, 7, NAN}, same[] = {4, 4, 4, 4};
    const bt_line two = bt_fit_line(x, y, 4);
    ck_assert(two.n == 2 && two.slope == 2 && two.intercept == 3 && two.rss == 0);
    ck_assert(isnan(two.sd) && isnan(two.u_slope) && isnan(two.u_intercept));
    ck_assert(isnan(bt_fit_line(NULL, NULL, 0).slope) && isnan(bt_fit_line(x, y, 1).intercept));
    ck_assert(isnan(bt_fit_line(same, x, 4).slope));
}
END_TEST

START_TEST(the_mean_of_paired_differences_is_tested_as_student_did)
{
    /* Student 1908: hours of sleep gained by ten patients, second drug minus first;
     * mean 1.58, t = 4.0621, p = 0.00283, interval 0.7001 to 2.4599. */
    const double gain[] = {1.2, 2.4, 1.3, 1.3, 0, 1, 1.8, 0.8, 4.6, 1.4};
    const bt_mean_test t = bt_test_mean(gain, 10, 0.95);
    close_to(t.mean, 1.58, 1e-14);
    close_to(t.mean / t.u, 4.0621, 2e-5);
    close_to(t.p, 0.00283, 2e-3);
    close_to(t.low, 0.7001, 1e-4);
    close_to(t.high, 2.4599, 1e-4);
    const bt_mean_test one = bt_test_mean(gain, 1, 0.95);
    ck_assert(one.n == 1 && isnan(one.p) && isnan(one.low) && isnan(one.u));
    ck_assert_double_eq(bt_test_mean((double[]){0, 0, 0}, 3, 0.95).p, 1);
    ck_assert_double_eq(bt_test_mean((double[]){2, 2, 2}, 3, 0.95).p, 0);
}
END_TEST

/* ---- distributions ---- */

/* P(|T| <= t) for whole df as a finite sum: Abramowitz and Stegun 26.7.3 and 26.7.4. */
static double inside(double t, int df)
{
    const double theta = atan(t / sqrt(df)), c = cos(theta);
    double term = df % 2 ? c : 1, sum = df == 1 ? 0 : term;
    for (int k = df % 2 ? 2 : 1; k <= df - 3; k += 2) {
        term *= c * c * k / (k + 1);
        sum += term;
    }
    return df % 2 ? 2 / acos(-1) * (theta + sin(theta) * sum) : sin(theta) * sum;
}

START_TEST(student_agrees_with_the_finite_sums_for_whole_degrees_of_freedom)
{
    const double t[] = {1e-3, 0.1, 0.7, 1, 1.7, 1.75, 2, 3.3, 6, 15};
    for (int df = 1; df <= 300; df++)
        for (size_t i = 0; i < COUNT(t); i++) {
            const double p = inside(t[i], df);
            ck_assert_double_eq_tol(bt_two_sided_p(t[i], df), 1 - p, 1e-12);
            ck_assert_double_eq_tol(bt_t_cdf(t[i], df), 0.5 + p / 2, 1e-12);
            ck_assert_double_eq_tol(bt_t_cdf(-t[i], df), 0.5 - p / 2, 1e-12);
        }
}
END_TEST

START_TEST(student_agrees_with_scipy_for_any_degrees_of_freedom)
{
    FILE *f = fopen("tests/reference/trend_cases.csv", "r");
    ck_assert_ptr_nonnull(f);
    char line[4096];
    int cases = 0;
    while (fgets(line, sizeof line, f)) {
        double t, df, p;
        if (sscanf(line, "student,%lf,%lf,%lf", &t, &df, &p) != 3) continue;
        ck_assert_double_eq_tol(bt_two_sided_p(t, df), p, 1e-10);
        cases++;
    }
    fclose(f);
    ck_assert_int_eq(cases, 66);
}
END_TEST

START_TEST(quantiles_undo_the_distributions_and_meet_the_printed_tables)
{
    close_to(bt_normal_quantile(0.975), 1.959963984540054, 1e-14);
    close_to(bt_normal_quantile(0.005), -2.575829303548901, 1e-14);
    close_to(bt_t_quantile(0.975, 1), tan(0.475 * acos(-1)), 1e-12);
    close_to(bt_t_quantile(0.975, 2), 0.95 * sqrt(2 / 0.0975), 1e-12);
    close_to(bt_t_quantile(0.95, 10), 1.812461122811676, 1e-12);
    for (double df = 0.5; df < 1e7; df *= 3)
        for (double p = 0.001; p < 1; p += 0.037)
            ck_assert_double_eq_tol(bt_t_cdf(bt_t_quantile(p, df), df), p, 1e-11);
    ck_assert(bt_t_quantile(0.5, 3) == 0 && isinf(bt_t_quantile(1, 3)));
    ck_assert(bt_normal_quantile(0) == -INFINITY && isnan(bt_normal_quantile(1.1)));
    ck_assert(isnan(bt_t_quantile(0.9, 0)) && isnan(bt_t_cdf(NAN, 3)) && isnan(bt_t_cdf(1, NAN)));
    ck_assert_double_eq(bt_two_sided_p(INFINITY, 3), 0);
    ck_assert_double_eq(bt_two_sided_p(0, 3), 1);
    close_to(bt_normal_cdf(-10), 7.619853024160527e-24, 1e-12);
}
END_TEST

/* ---- the rest ---- */

START_TEST(adjusted_p_control_the_false_discovery_rate_of_the_paper)
{
    /* Benjamini and Hochberg 1995, their fifteen p-values: at 0.05 the four smallest are
     * rejected, since 0.0095 <= 4/15 * 0.05 and no later one is below its own bound. */
    double p[] = {0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344,
                  0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1.0000};
    ck_assert_int_eq(bt_adjust_p(p, COUNT(p), NULL), BT_OK);
    for (size_t i = 0; i < COUNT(p); i++) ck_assert_int_eq(p[i] <= 0.05, i < 4);
    close_to(p[0], 0.0015, 1e-12);
    close_to(p[5], 0.0298 * 15 / 7, 1e-12); /* 7th bounds the 6th from above */
    double few[] = {0.04, NAN, 0.01};
    ck_assert_int_eq(bt_adjust_p(few, 3, NULL), BT_OK);
    ck_assert(few[0] == 0.04 && isnan(few[1]) && few[2] == 0.02);
    ck_assert_int_eq(bt_adjust_p(NULL, 0, NULL), BT_OK);
}
END_TEST

START_TEST(chance_is_the_published_sequence_and_shuffles_evenly)
{
    /* The first numbers of splitmix64 from seed 1234567, as widely published with it. */
    bt_random r = {1234567};
    ck_assert(bt_random_next(&r) == UINT64_C(6457827717110365317));
    ck_assert(bt_random_next(&r) == UINT64_C(3203168211198807973));
    int seen[6] = {0};
    for (int i = 0; i < 60000; i++) {
        double v[] = {0, 1, 2};
        bt_shuffle(&r, v, 3);
        seen[(int)v[0] * 2 + (v[1] > v[2])]++;
    }
    /* 10000 each; standard deviation 91 */
    for (int i = 0; i < 6; i++) ck_assert_int_lt(abs(seen[i] - 10000), 5 * 91);
    bt_shuffle(&r, NULL, 0);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("stats");
    TCase *t = tcase_create("stats");
    tcase_add_test(t, a_median_is_not_moved_by_an_outlier);
    tcase_add_test(t, a_trimmed_mean_leaves_out_wild_values_and_is_finer_than_a_step);
    tcase_add_test(t, quantiles_are_those_of_the_sorted_array_whatever_the_order_and_ties);
    tcase_add_test(t, what_has_no_values_has_no_statistics_and_nan_is_left_out);
    tcase_add_test(t, a_large_offset_costs_the_spread_no_digits);
    tcase_add_test(t, norris_agrees_to_twelve_digits);
    tcase_add_test(t, a_line_needs_two_different_x_and_an_error_needs_three_points);
    tcase_add_test(t, the_mean_of_paired_differences_is_tested_as_student_did);
    tcase_add_test(t, student_agrees_with_the_finite_sums_for_whole_degrees_of_freedom);
    tcase_add_test(t, student_agrees_with_scipy_for_any_degrees_of_freedom);
    tcase_add_test(t, quantiles_undo_the_distributions_and_meet_the_printed_tables);
    tcase_add_test(t, adjusted_p_control_the_false_discovery_rate_of_the_paper);
    tcase_add_test(t, chance_is_the_published_sequence_and_shuffles_evenly);
    suite_add_tcase(s, t);
    return s;
}

BT_CHECK_MAIN(suite)
