/* Delay and gain (METHODS 7) of late copies, in closed form and with noise, and what is refused. */
#include "check_support.h"

#include "zones/delay.h"

#include <math.h>

enum { MAX = 4000 };
static const double pi = 3.14159265358979323846;
static double t[MAX], x[MAX], y[MAX];

static bt_delay fitted(size_t n)
{
    bt_delay b;
    ck_assert_int_eq(bt_delay_fit(t, x, y, n, &b, NULL), BT_OK);
    return b;
}

/* A braking: up in 0.2 s, held with a swell, down in 0.5 s; nothing before and after. */
static double braking(double s)
{
    const double up = s <= 0 ? 0 : s >= 0.2 ? 1 : 0.5 - 0.5 * cos(pi * s / 0.2);
    const double off = s - 1.5;
    const double down = off <= 0 ? 1 : off >= 0.5 ? 0 : 0.5 + 0.5 * cos(pi * off / 0.5);
    return 1000 * up * down * (1 + 0.05 * sin(5 * s));
}

static const struct {
    double rate, delay, gain, jitter;
} copies[] = {{100, 0, 1, 0},      {100, 0.037, 0.97, 0},    {100, 0.0421, 1.05, 0.3},
              {250, 0.1185, 1, 0}, {1000, 0.0123, 0.95, 0},  {500, 0.4, 1.02, 0.3},
              {50, 0.06, 1, 0},    {1000, 0.0707, 1.01, 0.3}};

START_TEST(a_late_copy_gives_back_its_delay_and_gain)
{
    const double step = 1 / copies[_i].rate;
    size_t n = 0;
    for (double s = 0.03; s < 1.97; n++) {
        t[n] = s;
        x[n] = braking(s);
        y[n] = copies[_i].gain * braking(s - copies[_i].delay);
        s += step * (1 + copies[_i].jitter * sin(12.9898 * (double)n));
    }
    const bt_delay b = fitted(n);
    ck_assert(!b.weak);
    ck_assert_double_eq_tol(b.delay, copies[_i].delay, 0.001);
    ck_assert_double_eq_tol(b.gain, copies[_i].gain, 0.003);
    ck_assert_double_lt(b.rest, 5);
}
END_TEST

/* A ripple of 30 N*m at 50 Hz on a copy half a bin late.  It is no copy and moves neither figure; of its RMS
 * of 21.2 the mean over bins of 5 ms leaves sin(pi / 4) / (pi / 4). */
START_TEST(a_ripple_on_the_copy_is_the_rest_and_leaves_delay_and_gain)
{
    size_t n = 0;
    for (double s = 0.03; s < 1.97; s += 0.0005, n++) {
        t[n] = s;
        x[n] = braking(s);
        y[n] = 0.97 * braking(s - 0.0425) + 30 * sin(2 * pi * 50 * s);
    }
    const bt_delay b = fitted(n);
    ck_assert(!b.weak);
    ck_assert_double_eq_tol(b.delay, 0.0425, 0.0005);
    ck_assert_double_eq_tol(b.gain, 0.97, 0.002);
    ck_assert_double_eq_tol(b.rest, 30 / sqrt(2) * sin(pi / 4) / (pi / 4), 0.3);
}
END_TEST

/* The square of B - D over a braking, by the theorem of Pythagoras: B is g times the late D, so that
 * nothing is left, and what is not the gain's, (1 - g)^2 of D's square, is the delay's. */
START_TEST(the_error_is_shared_out_between_delay_gain_and_rest)
{
    static const struct {
        double delay, gain;
    } errors_of[] = {{0, 0.9}, {0.04, 1}, {0.04, 0.9}, {0.02, 1.05}};
    size_t n = 0;
    double all = 0, square = 0;
    const double delay = errors_of[_i].delay, gain = errors_of[_i].gain;
    for (double s = -0.1; s < 2.2; s += 0.002, n++) { /* nothing before and after */
        t[n] = s;
        x[n] = braking(s);
        y[n] = gain * braking(s - delay);
        all += (y[n] - x[n]) * (y[n] - x[n]);
        square += x[n] * x[n];
    }
    const bt_delay b = fitted(n);
    const double by_gain = (1 - gain) * (1 - gain) * square / all;
    ck_assert_double_eq_tol(b.by_gain, by_gain, 0.01);
    ck_assert_double_eq_tol(b.by_delay, 1 - by_gain, 0.01);
    ck_assert_double_eq_tol(b.by_rest, 0, 0.01);
    ck_assert_double_eq_tol(b.by_delay + b.by_gain + b.by_rest, 1, 1e-12);
}
END_TEST

START_TEST(a_braking_already_under_way_is_fitted_from_half_a_second_on)
{
    size_t n = 0;
    for (double s = 0.6; s < 1.97; s += 0.005, n++) {
        t[n] = s;
        x[n] = braking(s);
        y[n] = 0.98 * braking(s - 0.05);
    }
    const bt_delay b = fitted(n);
    ck_assert_double_eq_tol(b.delay, 0.05, 0.001);
    ck_assert_double_eq_tol(b.gain, 0.98, 0.003);
}
END_TEST

START_TEST(a_hole_costs_what_it_would_have_told_and_no_more)
{
    for (size_t i = 0; i < 388; i++) {
        t[i] = 0.03 + 0.005 * (double)i;
        x[i] = i >= 100 && i < 110 ? NAN : braking(t[i]);
        y[i] = i >= 200 && i < 205 ? NAN : 0.98 * braking(t[i] - 0.05);
    }
    const bt_delay b = fitted(388);
    ck_assert_double_eq_tol(b.delay, 0.05, 0.001);
    for (size_t i = 100; i < 150; i++) x[i] = NAN; /* 13 % of the time */
    ck_assert(fitted(388).weak);
}
END_TEST

static double flat(double s)
{
    (void)s;
    return 800;
}
static double upside_down(double s)
{
    return -braking(s);
}
static double half_way_gone(double s)
{
    return s < 1 ? braking(s) : 0.1 * braking(s);
}
static double far_too_late(double s)
{
    return braking(s - 0.7);
}
static const struct {
    double (*x)(double), (*y)(double);
    double end, step;
} hopeless[] = {
    {flat, flat, 2, 0.01},           /* no shape */
    {braking, upside_down, 2, 0.01}, /* no copy */
    {braking, half_way_gone, 2, 0.01},
    {braking, far_too_late, 2, 0.01}, /* beyond half a second */
    {braking, braking, 2, 0.1},       /* ramps lost between samples */
    {braking, braking, 0.2, 0.01},    /* hardly a braking */
    {braking, braking, 0, 0.01},      /* none at all */
};

START_TEST(what_cannot_tell_a_delay_is_refused)
{
    size_t n = 0;
    for (; (double)n * hopeless[_i].step < hopeless[_i].end; n++) {
        t[n] = (double)n * hopeless[_i].step;
        x[n] = hopeless[_i].x(t[n]);
        y[n] = hopeless[_i].y(t[n]);
    }
    const bt_delay b = fitted(n);
    ck_assert(b.weak);
    ck_assert_double_nan(b.delay);
    ck_assert_double_nan(b.delay_u); /* nothing is said of a figure that is not there */
    ck_assert_double_nan(b.by_delay);
    ck_assert_double_nan(b.by_gain);
    ck_assert_double_nan(b.by_rest);
}
END_TEST

START_TEST(noise_makes_the_delay_as_unsure_as_it_says)
{
    uint64_t seed = 7;
    double z2 = 0;
    const int runs = 100;
    for (int run = 0; run < runs; run++) {
        size_t n = 0;
        for (double s = 0.03; s < 1.97; s += 0.01, n++) {
            double noise[2] = {0, 0};
            for (int k = 0; k < 24; k++) { /* twelve uniform ones each: standard deviation 1 */
                seed = seed * 6364136223846793005u + 1442695040888963407u;
                noise[k % 2] += (double)(seed >> 11) / 9007199254740992.0 - 0.5;
            }
            t[n] = s;
            x[n] = braking(s) + 8 * noise[0];
            y[n] = braking(s - 0.05) + 8 * noise[1];
        }
        const bt_delay b = fitted(n);
        ck_assert_double_eq_tol(b.delay, 0.05, 0.004);
        z2 += (b.delay - 0.05) * (b.delay - 0.05) / (b.delay_u * b.delay_u);
    }
    /* 1, and three times the chance of a root of the mean of so many squares. */
    ck_assert_double_eq_tol(sqrt(z2 / runs), 1, 3 / sqrt(2.0 * runs));
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("delay");
    TCase *c = tcase_create("delay");
    tcase_add_loop_test(c, a_late_copy_gives_back_its_delay_and_gain, 0,
                        sizeof copies / sizeof *copies);
    tcase_add_test(c, a_ripple_on_the_copy_is_the_rest_and_leaves_delay_and_gain);
    tcase_add_loop_test(c, the_error_is_shared_out_between_delay_gain_and_rest, 0, 4);
    tcase_add_test(c, a_braking_already_under_way_is_fitted_from_half_a_second_on);
    tcase_add_test(c, a_hole_costs_what_it_would_have_told_and_no_more);
    tcase_add_loop_test(c, what_cannot_tell_a_delay_is_refused, 0,
                        sizeof hopeless / sizeof *hopeless);
    tcase_add_test(c, noise_makes_the_delay_as_unsure_as_it_says);
    suite_add_tcase(s, c);
    return s;
}

BT_CHECK_MAIN(suite)
