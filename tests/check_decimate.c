/* Decimation: peaks stay, gaps stay, memory does not grow (lib/out/decimate.c). */
#include <math.h>

#include "out/decimate.h"
#include "tests/check_support.h"

static bt_decimate *new_one(size_t buckets, size_t channels)
{
    bt_decimate *d;
    bt_error err = {0};
    ck_assert_int_eq(bt_decimate_new(&d, buckets, channels, &err), BT_OK);
    return d;
}

static bt_series series_of(const bt_decimate *d, size_t channel)
{
    bt_series s;
    bt_error err = {0};
    ck_assert_int_eq(bt_decimate_series(d, channel, &s, &err), BT_OK);
    return s;
}

START_TEST(a_few_samples_come_back_as_they_went_in)
{
    bt_decimate *d = new_one(16, 1);
    const double t[] = {10.0, 10.002, 10.004, 10.006}, v[] = {1, -3, 2, 2};
    for (size_t i = 0; i < 4; i++) bt_decimate_push(d, t[i], &v[i]);
    bt_series s = series_of(d, 0);
    ck_assert_uint_eq(s.n, 4);
    for (size_t i = 0; i < 4; i++) {
        ck_assert_double_eq(s.t[i], t[i]);
        ck_assert_double_eq(s.v[i], v[i]);
    }
    bt_series_free(&s);
    bt_decimate_free(d);
}
END_TEST

/* One sample in two hours at 1 kHz stands out, up or down: both must be there, at their time. */
START_TEST(a_peak_of_one_sample_in_two_hours_is_kept)
{
    enum { N = 7200000, UP = 1234567, DOWN = 6543210, BUCKETS = 400 };
    bt_decimate *d = new_one(BUCKETS, 1);
    for (int i = 0; i < N; i++) {
        const double v = i == UP ? 99 : i == DOWN ? -77 : sin(i * 1e-3);
        bt_decimate_push(d, i * 1e-3, &v);
    }
    bt_series s = series_of(d, 0);
    ck_assert_uint_le(s.n, 3 * BUCKETS);
    ck_assert_uint_ge(s.n, BUCKETS); /* at least half of the buckets are in use, two points each */
    bool up = false, down = false;
    for (size_t i = 0; i < s.n; i++) {
        if (i) ck_assert_double_gt(s.t[i], s.t[i - 1]);
        up = up || (s.v[i] == 99 && fabs(s.t[i] - UP * 1e-3) < 1e-9);
        down = down || (s.v[i] == -77 && fabs(s.t[i] - DOWN * 1e-3) < 1e-9);
    }
    ck_assert(up && down);
    bt_series_free(&s);
    bt_decimate_free(d);
}
END_TEST

/* In every column of a plot the line covers the height that all samples would. */
START_TEST(every_column_keeps_its_smallest_and_largest_value)
{
    enum { N = 50000, BUCKETS = 64 };
    static double v[N];
    bt_decimate *d = new_one(BUCKETS, 1);
    unsigned x = 1;
    for (int i = 0; i < N; i++) {
        x = x * 1664525u + 1013904223u;
        v[i] = (double)(x >> 8) / (1 << 24) + (i > N / 2 ? 5 : 0);
        bt_decimate_push(d, i / 128.0, &v[i]); /* exact times, so that columns are exact too */
    }
    /* Buckets are a power of two of 1/1024 s wide: the smallest of which 64 hold the whole. */
    double width = 1.0 / 1024;
    while ((N - 1) / 128.0 / width >= BUCKETS) width *= 2;
    bt_series s = series_of(d, 0);
    for (int k = 0; k * width <= (N - 1) / 128.0; k++) {
        double low = INFINITY, high = -INFINITY, low_kept = INFINITY, high_kept = -INFINITY;
        for (int i = 0; i < N; i++) {
            if (floor(i / 128.0 / width) != k) continue;
            low = fmin(low, v[i]);
            high = fmax(high, v[i]);
        }
        for (size_t i = 0; i < s.n; i++) {
            if (floor(s.t[i] / width) != k) continue;
            low_kept = fmin(low_kept, s.v[i]);
            high_kept = fmax(high_kept, s.v[i]);
        }
        ck_assert_double_eq(low, low_kept);
        ck_assert_double_eq(high, high_kept);
    }
    bt_series_free(&s);
    bt_decimate_free(d);
}
END_TEST

static size_t gaps_in(const bt_series *s)
{
    size_t n = 0;
    for (size_t i = 0; i < s->n; i++) n += isnan(s->v[i]) ? 1 : 0;
    return n;
}

START_TEST(a_hole_in_time_and_a_missing_value_are_gaps)
{
    bt_decimate *d = new_one(64, 2);
    for (int i = 0; i < 400; i++) {
        if (i >= 100 && i < 200) continue; /* 10 s without rows: a gap in both */
        const double x = i, v[] = {x, i >= 300 && i < 310 ? (double)NAN : x};
        bt_decimate_push(d, 0.1 * i, v);
    }
    bt_series a = series_of(d, 0), b = series_of(d, 1);
    ck_assert_uint_eq(gaps_in(&a), 1);
    ck_assert_uint_eq(gaps_in(&b), 2);
    ck_assert_uint_eq(bt_decimate_left_out(d), 0);
    bt_series_free(&a);
    bt_series_free(&b);
    bt_decimate_free(d);
}
END_TEST

START_TEST(a_slow_log_has_no_gaps)
{
    bt_decimate *d = new_one(64, 1);
    for (int i = 0; i < 500; i++) bt_decimate_push(d, 2.0 * i, &(double){1.0 * i});
    bt_series s = series_of(d, 0);
    ck_assert_uint_eq(gaps_in(&s), 0);
    bt_series_free(&s);
    bt_decimate_free(d);
}
END_TEST

START_TEST(a_jump_back_in_time_is_left_out_and_counted)
{
    bt_decimate *d = new_one(16, 1);
    const double t[] = {5, 6, 2, 3, 7, NAN}, v = 1;
    for (size_t i = 0; i < 6; i++) bt_decimate_push(d, t[i], &v);
    ck_assert_uint_eq(bt_decimate_left_out(d), 3);
    bt_series s = series_of(d, 0);
    ck_assert_uint_eq(s.n, 3);
    ck_assert_double_eq(s.t[0], 5);
    ck_assert_double_eq(s.t[2], 7);
    bt_series_free(&s);
    bt_decimate_reset(d);
    ck_assert_uint_eq(bt_decimate_left_out(d), 0);
    bt_decimate_free(d);
}
END_TEST

START_TEST(nothing_gives_an_empty_series)
{
    bt_decimate *d = new_one(16, 1);
    bt_decimate_push(d, 1, &(double){NAN});
    bt_series s = series_of(d, 0);
    ck_assert_uint_eq(s.n, 0);
    ck_assert_ptr_null(s.t);
    bt_series_free(&s);
    bt_decimate_free(d);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("decimate");
    TCase *c = tcase_create("decimate");
    tcase_set_timeout(c, 60);
    tcase_add_test(c, a_few_samples_come_back_as_they_went_in);
    tcase_add_test(c, a_peak_of_one_sample_in_two_hours_is_kept);
    tcase_add_test(c, every_column_keeps_its_smallest_and_largest_value);
    tcase_add_test(c, a_hole_in_time_and_a_missing_value_are_gaps);
    tcase_add_test(c, a_slow_log_has_no_gaps);
    tcase_add_test(c, a_jump_back_in_time_is_left_out_and_counted);
    tcase_add_test(c, nothing_gives_an_empty_series);
    suite_add_tcase(s, c);
    return s;
}
BT_CHECK_MAIN(suite)
