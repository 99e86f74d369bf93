/* Signals of a while ago against the plain definition: straight lines between samples, looked up one by one. */
#include "check_support.h"
#include "verdict/past.h"
#include "base/stats.h"

#include <math.h>

enum { N = 700 };
static double t[N], x[N];

static double plainly(double time, double before)
{
    if (time < t[0] - 1e-9) return before;
    size_t i = 0;
    while (i + 1 < N && t[i + 1] <= time + 1e-9) i++;
    if (i + 1 == N || time <= t[i] + 1e-9) return x[i];
    return x[i] + (time - t[i]) / (t[i + 1] - t[i]) * (x[i + 1] - x[i]);
}

static void holds(double delay, size_t step)
{
    bt_past past = {.lag = 0};
    for (size_t from = 0; from < N; from += step * BT_PAST_PIECE) {
        const size_t left = (N - from + step - 1) / step;
        const size_t count = left < BT_PAST_PIECE ? left : BT_PAST_PIECE;
        bt_past_find(&past, t, N, delay, from, step, count);
        for (size_t k = 0; k < count; k++) {
            const double expected = plainly(t[from + k * step] - delay, -7);
            ck_assert_double_eq_tol(bt_past_value(&past, k, x, -7), expected, 1e-9);
        }
    }
}

static const double delays[] = {0, 0.001, 0.0105, 0.02, 0.2, -0.012, -0.0333, 3, -3};

START_TEST(a_delay_is_found_on_any_grid)
{
    bt_random r = {3};
    for (size_t i = 0; i < N; i++) x[i] = (double)bt_random_below(&r, 1000);
    for (size_t i = 0; i < N; i++) t[i] = 12.5 + (double)i * 0.001; /* stamps of a logger */
    holds(delays[_i], 1);
    holds(delays[_i], 5);
    for (size_t i = 1; i < N; i++)
        t[i] = t[i - 1] + 1e-4 * (double)(1 + bt_random_below(&r, i % 100 == 0 ? 3000 : 30));
    holds(delays[_i], 1);
    holds(delays[_i], 3);
}
END_TEST

START_TEST(whole_samples_need_no_value_beyond_their_own)
{
    for (size_t i = 0; i < N; i++) {
        t[i] = (double)i * 0.001;
        x[i] = i % 2 ? NAN : 5;
    }
    bt_past past = {.lag = 0};
    bt_past_find(&past, t, N, 0.1, 300, 2, 50);
    for (size_t k = 0; k < 50; k++) ck_assert_double_eq(bt_past_value(&past, k, x, 0), 5);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("past");
    TCase *c = tcase_create("past");
    tcase_add_loop_test(c, a_delay_is_found_on_any_grid, 0, (int)(sizeof delays / sizeof *delays));
    tcase_add_test(c, whole_samples_need_no_value_beyond_their_own);
    suite_add_tcase(s, c);
    return s;
}

BT_CHECK_MAIN(suite)
