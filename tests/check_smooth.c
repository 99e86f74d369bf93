/* Smoothing (METHODS 3) against published Savitzky-Golay rows, exact quadratics, and a direct
 * solution in long double; and the stage: where blocks are cut is invisible. */
#include "check_support.h"
#include "signals/smooth.h"
#include "base/stats.h"

#include <math.h>
#include <string.h>

#define COUNT(a) (sizeof(a) / sizeof *(a))

/* ---- a sink that remembers everything ---- */

#define ROWS_MAX 40000

typedef struct {
    bt_stage stage;
    size_t n, ends, blocks;
    double t[ROWS_MAX], v[ROWS_MAX], decel[ROWS_MAX], pedal[ROWS_MAX];
} sink;

static bt_status sink_push(bt_stage *stage, const bt_block *in, bt_error *err)
{
    sink *k = (sink *)stage;
    (void)err;
    ck_assert_uint_ge(in->n, 1);
    ck_assert_uint_le(in->n, BT_BLOCK_MAX);
    ck_assert_ptr_null(in->ch[BT_CH_PEDAL_REAR]); /* not logged, not invented */
    memcpy(k->t + k->n, in->t, in->n * sizeof *k->t);
    memcpy(k->v + k->n, in->ch[BT_SIG_SPEED], in->n * sizeof *k->t);
    memcpy(k->decel + k->n, in->ch[BT_SIG_DECEL], in->n * sizeof *k->t);
    memcpy(k->pedal + k->n, in->ch[BT_CH_PEDAL_FRONT], in->n * sizeof *k->t);
    k->n += in->n;
    k->blocks++;
    return BT_OK;
}

static bt_status sink_end(bt_stage *stage, bt_error *err)
{
    (void)err;
    ((sink *)stage)->ends++;
    return BT_OK;
}

static sink one, other;

/* Run n samples through a fresh stage in blocks of `cut` (0 = of changing length). */
static void run(sink *k, double window, const double *t, const double *v, size_t n, size_t cut)
{
    bt_error err = {0};
    bt_stage *s;
    bt_random r = {7};
    memset(k, 0, sizeof *k);
    k->stage = (bt_stage){.push = sink_push, .end = sink_end};
    ck_assert_int_eq(bt_smooth_new(&s, window, &k->stage, &err), BT_OK);
    for (size_t i = 0; i < n;) {
        size_t m = cut ? cut : 1 + (size_t)bt_random_below(&r, 300);
        if (m > n - i) m = n - i;
        bt_block b = {.n = m, .t = t + i};
        b.ch[BT_SIG_SPEED] = v + i;
        b.ch[BT_CH_PEDAL_FRONT] = t + i; /* any channel: it must come along unharmed */
        ck_assert_int_eq(s->push(s, &b, &err), BT_OK);
        i += m;
    }
    ck_assert_int_eq(s->end(s, &err), BT_OK);
    bt_smooth_free(s);
    ck_assert_uint_eq(k->n, n);
    ck_assert_uint_eq(k->ends, 1);
    ck_assert_mem_eq(k->t, t, n * sizeof *t);
    ck_assert_mem_eq(k->pedal, t, n * sizeof *t);
}

/* ---- the direct solution: normal equations about t[i], Gauss with pivots, long double ---- */

static void direct(const double *t, const double *x, size_t lo, size_t hi, size_t i, double *value,
                   double *slope)
{
    long double a[3][4] = {{0}};
    for (size_t j = lo; j <= hi; j++) {
        const long double u = (long double)t[j] - t[i], p[3] = {1, u, u * u};
        for (int r = 0; r < 3; r++) {
            for (int c = 0; c < 3; c++) a[r][c] += p[r] * p[c];
            a[r][3] += p[r] * x[j];
        }
    }
    for (int c = 0; c < 3; c++) {
        for (int r = c + 1; r < 3; r++) {
            const long double f = a[r][c] / a[c][c];
            for (int k = c; k < 4; k++) a[r][k] -= f * a[c][k];
        }
    }
    const long double c2 = a[2][3] / a[2][2];
    const long double c1 = (a[1][3] - a[1][2] * c2) / a[1][1];
    *value = (double)((a[0][3] - a[0][1] * c1 - a[0][2] * c2) / a[0][0]);
    *slope = (double)c1;
}

/* ---- published rows: CHECKS 10.3, savgol_coefficients.csv (rational arithmetic) ---- */

typedef struct {
    size_t points;
    bool slope; /* else the value */
    int at;     /* evaluated at this sample from the centre */
    int numerator[9];
    int denominator;
} savgol_row;

static const savgol_row savgol[] = {
    {5, false, 0, {-3, 12, 17, 12, -3}, 35},
    {5, true, 0, {-2, -1, 0, 1, 2}, 10},
    {7, false, 0, {-2, 3, 6, 7, 6, 3, -2}, 21},
    {7, true, 0, {-3, -2, -1, 0, 1, 2, 3}, 28},
    {9, false, 0, {-21, 14, 39, 54, 59, 54, 39, 14, -21}, 231},
    {9, true, 0, {-4, -3, -2, -1, 0, 1, 2, 3, 4}, 60},
    /* off centre, for the ends (Gorry 1990) */
    {5, false, -2, {31, 9, -3, -5, 3}, 35},
    {5, false, -1, {9, 13, 12, 6, -5}, 35},
    {5, true, -2, {-54, 13, 40, 27, -26}, 70},
    {5, true, -1, {-34, 3, 20, 17, -6}, 70},
    {7, false, -3, {32, 15, 3, -4, -6, -3, 5}, 42},
    {7, true, -3, {-13, -2, 5, 8, 7, 2, -7}, 28},
};

START_TEST(published_rows_are_the_weights)
{
    const savgol_row *row = &savgol[_i];
    const double h = 0.02; /* s; a slope row is divided by it */
    double t[9], x[9];
    for (size_t j = 0; j < row->points; j++) t[j] = 3 + h * (double)j;
    const size_t at = (size_t)((int)(row->points / 2) + row->at);
    for (size_t j = 0; j < row->points; j++) { /* the answer to a unit pulse is a weight */
        for (size_t k = 0; k < row->points; k++) x[k] = k == j;
        double value, slope;
        bt_smooth_at(t, x, 0, row->points - 1, at, &value, &slope);
        const double weight = (double)row->numerator[j] / row->denominator;
        ck_assert_double_eq_tol(row->slope ? slope * h : value, weight, 1e-12);
    }
}
END_TEST

/* On an even grid of 25 Hz a window of 0.17 s holds five samples, at the ends of the stretch too. */
START_TEST(the_stage_is_a_five_point_filter_at_25_hz)
{
    static const double middle[] = {-3, 12, 17, 12, -3}, ends[] = {31, 9, -3, -5, 3};
    static const double slopes[] = {-2, -1, 0, 1, 2}, end_slopes[] = {-54, 13, 40, 27, -26};
    double t[60], v[60];
    bt_random r = {3};
    for (size_t i = 0; i < 60; i++) {
        t[i] = 100 + 0.04 * (double)i;
        v[i] = 20 + 1e-3 * (double)bt_random_below(&r, 1000);
    }
    run(&one, 0.17, t, v, 60, 7);
    for (size_t i = 2; i < 58; i++) {
        double value = 0, slope = 0;
        for (size_t j = 0; j < 5; j++) {
            value += middle[j] * v[i - 2 + j] / 35;
            slope += slopes[j] * v[i - 2 + j] / (10 * 0.04);
        }
        ck_assert_double_eq_tol(one.v[i], value, 1e-9);
        ck_assert_double_eq_tol(one.decel[i], -slope, 1e-8);
    }
    double first = 0, last = 0, slope = 0;
    for (size_t j = 0; j < 5; j++) {
        first += ends[j] * v[j] / 35;
        last += ends[j] * v[59 - j] / 35;
        slope += end_slopes[j] * v[j] / (70 * 0.04);
    }
    ck_assert_double_eq_tol(one.v[0], first, 1e-9);
    ck_assert_double_eq_tol(one.v[59], last, 1e-9);
    ck_assert_double_eq_tol(one.decel[0], -slope, 1e-8);
}
END_TEST

/* ---- what holds for any grid ---- */

static const double rates[] = {1, 4, 10, 25, 83, 100, 1000, 4000};

/* A grid of the rate, each step between 0.2 and 1.8 of the even one. */
static void uneven(double *t, size_t n, double rate, uint64_t seed)
{
    bt_random r = {seed};
    t[0] = 0;
    for (size_t i = 1; i < n; i++)
        t[i] = t[i - 1] + (0.2 + 1.6e-3 * (double)bt_random_below(&r, 1001)) / rate;
}

START_TEST(a_quadratic_comes_back_with_its_exact_slope)
{
    const size_t n = 3000;
    static double t[3000], v[3000];
    uneven(t, n, rates[_i], 11);
    const double mid = t[n / 2], scale = 30 / (mid * mid); /* 0 to 30 m/s and back: car speeds */
    for (size_t i = 0; i < n; i++) v[i] = 40 - scale * (t[i] - mid) * (t[i] - mid);
    run(&one, 0.2, t, v, n, BT_BLOCK_MAX);
    for (size_t i = 0; i < n; i++) {
        ck_assert_double_eq_tol(one.v[i], v[i], 1e-9);
        /* times are doubles near 1000 s: their own rounding is 1e-13 s in steps of 1/rate */
        ck_assert_double_eq_tol(one.decel[i], 2 * scale * (t[i] - mid), 1e-9 * fmax(1, rates[_i]));
    }
}
END_TEST

/* Stamps of three decimals more than the rate needs, far from 0; in two places a sample is missing, in
 * another the grid is uneven for a while. */
static void even_with_faults(double *t, size_t n, double rate, uint64_t seed)
{
    bt_random r = {seed};
    double place = 1000 * rate;
    for (size_t i = 0; i < n; i++) {
        const bool loose = i > n / 2 && i < n / 2 + 300;
        place += i == n / 5 || i == n / 3 ? 2
                 : loose                  ? 0.6 + 1e-3 * (double)bt_random_below(&r, 800)
                                          : 1;
        t[i] = round(place * 1000) / (1000 * rate);
    }
}

static void make_times(double *t, size_t n, int kind, uint64_t seed)
{
    const size_t rate = (size_t)kind % COUNT(rates);
    if ((size_t)kind < COUNT(rates))
        uneven(t, n, rates[rate], seed);
    else
        even_with_faults(t, n, rates[rate], seed);
}

START_TEST(the_stage_agrees_with_the_direct_solution)
{
    const size_t n = 5000;
    static double t[5000], v[5000];
    const double half = 0.1 * (1 + 1e-6); /* as smooth.h says */
    bt_random r = {5};
    make_times(t, n, _i, 13);
    for (size_t i = 0; i < n; i++)
        v[i] = 50 + 30 * sin(0.7 * t[i]) + 1e-4 * (double)bt_random_below(&r, 2000);
    run(&one, 0.2, t, v, n, 100);
    for (size_t i = 1; i + 1 < n; i++) {
        if (t[i] < t[0] + half || t[i] > t[n - 1] - half) continue;
        size_t lo = i - 1, hi = i + 1;
        while (lo > 0 && t[lo - 1] >= t[i] - half) lo--;
        while (hi + 1 < n && t[hi + 1] <= t[i] + half) hi++;
        double value, slope, value2, slope2;
        direct(t, v, lo, hi, i, &value, &slope);
        bt_smooth_at(t, v, lo, hi, i, &value2, &slope2);
        const double slope_scale = fmax(fabs(slope), fabs(value) / (t[hi] - t[lo]));
        ck_assert_double_eq_tol(one.v[i], value, 1e-9 * fabs(value));
        ck_assert_double_eq_tol(value2, value, 1e-9 * fabs(value));
        ck_assert_double_eq_tol(-one.decel[i], slope, 1e-9 * slope_scale);
        ck_assert_double_eq_tol(slope2, slope, 1e-9 * slope_scale);
    }
}
END_TEST

START_TEST(where_blocks_are_cut_changes_no_bit)
{
    static const size_t cuts[] = {1, 2, 3, 64, 999, BT_BLOCK_MAX};
    const size_t n = 6000;
    static double t[6000], v[6000];
    bt_random r = {23};
    make_times(t, n, _i, 17);
    for (size_t i = 0; i < n; i++) /* the second half with few holes, as logs have */
        v[i] = bt_random_below(&r, i < n / 2 ? 40 : 900) == 0
                   ? NAN
                   : 30 + 1e-3 * (double)bt_random_below(&r, 5000);
    for (size_t i = 2000; i < 2700; i++) v[i] = NAN;
    run(&one, 0.2, t, v, n, 0);
    for (size_t k = 0; k < COUNT(cuts); k++) {
        run(&other, 0.2, t, v, n, cuts[k]);
        ck_assert_mem_eq(one.v, other.v, n * sizeof *t);
        ck_assert_mem_eq(one.decel, other.decel, n * sizeof *t);
    }
}
END_TEST

/* ---- low rates, ends, holes ---- */

/* NEDC (CHECKS 8.1), operations 11 and 12 at 1 Hz: 32 to 10 km/h in 8 s, 10 to 0 in 3 s.  With a
 * neighbour each side the slope is exact inside an operation and a mean of two at a joint. */
START_TEST(one_sample_a_second_gives_the_decelerations_of_the_cycle)
{
    double t[24], v[24];
    for (size_t i = 0; i < 24; i++) {
        const double s = (double)i - 5;
        t[i] = (double)i;
        v[i] = (s < 0 ? 32 : s < 8 ? 32 - 22 * s / 8 : s < 11 ? 10 - 10 * (s - 8) / 3 : 0) / 3.6;
    }
    run(&one, 0.2, t, v, 24, 5);
    for (size_t i = 6; i < 13; i++) ck_assert_double_eq_tol(one.decel[i], 22 / 8.0 / 3.6, 1e-9);
    for (size_t i = 14; i < 16; i++) ck_assert_double_eq_tol(one.decel[i], 10 / 3.0 / 3.6, 1e-9);
    ck_assert_double_eq_tol(one.decel[13], (22 / 8.0 + 10 / 3.0) / 2 / 3.6, 1e-9);
    for (size_t i = 0; i < 24; i++) ck_assert_double_eq_tol(one.v[i], v[i], 1e-9);
}
END_TEST

START_TEST(few_samples_give_a_line_or_a_mean)
{
    const double t[] = {1, 1.01, 1.02}, v[] = {10, 9.9, 9.7};
    double value, slope;
    run(&one, 0.2, t, v, 1, 1);
    ck_assert_double_eq(one.v[0], 10);
    ck_assert_double_nan(one.decel[0]);
    run(&one, 0.2, t, v, 2, 1);
    ck_assert_double_eq_tol(one.v[1], 9.9, 1e-12);
    ck_assert_double_eq_tol(one.decel[0], 10, 1e-9);
    run(&one, 0.2, t, v, 3, 1);
    ck_assert_double_eq_tol(one.decel[1], 15, 1e-9); /* (10 - 9.7) / 0.02, of the parabola */
    const double none[] = {NAN, NAN, NAN};
    bt_smooth_at(t, none, 0, 2, 1, &value, &slope);
    ck_assert_double_nan(value);
    ck_assert_double_nan(slope);
}
END_TEST

START_TEST(a_hole_stays_a_hole_and_its_edges_stay_true)
{
    const size_t n = 3000, from = 1000, to = 2500;
    static double t[3000], v[3000];
    for (size_t i = 0; i < n; i++) {
        t[i] = 1e-3 * (double)i;
        v[i] = i >= from && i < to ? NAN : 40 - 9 * t[i];
    }
    v[500] = NAN; /* alone: its neighbours tell */
    v[600] = INFINITY;
    run(&one, 0.2, t, v, n, 512);
    for (size_t i = 0; i < n; i++) {
        if (i >= from && i < to) {
            ck_assert_double_nan(one.v[i]);
            ck_assert_double_nan(one.decel[i]);
        } else {
            ck_assert_double_eq_tol(one.v[i], 40 - 9 * t[i], 1e-9);
            ck_assert_double_eq_tol(one.decel[i], 9, 1e-8);
        }
    }
}
END_TEST

/* A log of 100 kHz has more samples in the window than are held; the answer is still the slope. */
START_TEST(a_window_of_too_many_samples_is_narrowed)
{
    const size_t n = 30000;
    static double t[30000], v[30000];
    for (size_t i = 0; i < n; i++) {
        t[i] = 1e-5 * (double)i;
        v[i] = 50 - 12 * t[i] + 20 * t[i] * t[i];
    }
    run(&one, 0.2, t, v, n, BT_BLOCK_MAX);
    run(&other, 0.2, t, v, n, 77);
    for (size_t i = 0; i < n; i++) ck_assert_double_eq_tol(one.decel[i], 12 - 40 * t[i], 1e-6);
    ck_assert_mem_eq(one.decel, other.decel, n * sizeof *t);
}
END_TEST

/* A wild value must leave nothing behind once it has left the window. */
START_TEST(a_wild_value_is_forgotten_with_its_sample)
{
    const size_t n = 2000;
    static double t[2000], v[2000];
    for (size_t i = 0; i < n; i++) {
        t[i] = 1e-3 * (double)i;
        v[i] = 40 - 9 * t[i];
    }
    v[700] = 4294967295.0;
    run(&one, 0.2, t, v, n, 300);
    for (size_t i = 802; i < n; i++) ck_assert_double_eq_tol(one.decel[i], 9, 1e-9);
}
END_TEST

START_TEST(a_stretch_starts_afresh)
{
    bt_error err = {0};
    bt_stage *s;
    double t[100], v[100];
    memset(&one, 0, sizeof one);
    one.stage = (bt_stage){.push = sink_push, .end = sink_end};
    ck_assert_int_eq(bt_smooth_new(&s, 0.2, &one.stage, &err), BT_OK);
    for (int part = 0; part < 2; part++) {
        for (size_t i = 0; i < 100; i++) {
            t[i] = 0.01 * (double)i - 50 * part; /* back in time: another stretch */
            v[i] = 30 + 5 * part - 4 * t[i];
        }
        bt_block b = {.n = 100, .t = t};
        b.ch[BT_SIG_SPEED] = v;
        b.ch[BT_CH_PEDAL_FRONT] = t;
        ck_assert_int_eq(s->push(s, &b, &err), BT_OK);
        ck_assert_int_eq(s->end(s, &err), BT_OK);
        ck_assert_uint_eq(one.n, 100 * (size_t)(part + 1));
        for (size_t i = 0; i < 100; i++)
            ck_assert_double_eq_tol(one.decel[100 * part + (int)i], 4, 1e-9);
    }
    bt_smooth_free(s);
    bt_smooth_free(NULL);
}
END_TEST

START_TEST(a_window_must_be_more_than_nothing)
{
    static const double bad[] = {0, -1, NAN, INFINITY};
    bt_error err = {0};
    bt_stage *s;
    ck_assert_int_eq(bt_smooth_new(&s, bad[_i], &one.stage, &err), BT_RANGE);
    ck_assert_ptr_null(s);
    if (_i == 0) ck_assert_str_eq(err.message, "smooth_window: expected more than 0 s, found 0");
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("smooth");
    TCase *c = tcase_create("smooth");
    const int n_rates = (int)COUNT(rates);
    tcase_add_loop_test(c, published_rows_are_the_weights, 0, (int)COUNT(savgol));
    tcase_add_test(c, the_stage_is_a_five_point_filter_at_25_hz);
    tcase_add_loop_test(c, a_quadratic_comes_back_with_its_exact_slope, 0, n_rates);
    tcase_add_loop_test(c, the_stage_agrees_with_the_direct_solution, 0, 2 * n_rates);
    tcase_add_loop_test(c, where_blocks_are_cut_changes_no_bit, 0, 2 * n_rates);
    tcase_add_test(c, one_sample_a_second_gives_the_decelerations_of_the_cycle);
    tcase_add_test(c, few_samples_give_a_line_or_a_mean);
    tcase_add_test(c, a_hole_stays_a_hole_and_its_edges_stay_true);
    tcase_add_test(c, a_window_of_too_many_samples_is_narrowed);
    tcase_add_test(c, a_wild_value_is_forgotten_with_its_sample);
    tcase_add_test(c, a_stretch_starts_afresh);
    tcase_add_loop_test(c, a_window_must_be_more_than_nothing, 0, 4);
    suite_add_tcase(s, c);
    return s;
}

BT_CHECK_MAIN(suite)
