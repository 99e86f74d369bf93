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

/* A braking of two seconds, `late` s late, a sample every `step` s. */
static size_t late_copy(double late, double step)
{
    size_t n = 0;
    for (double s = 0; s < 2.2; s += step, n++) {
        t[n] = s;
        x[n] = braking(s);
        y[n] = 0.97 * braking(s - late);
    }
    return n;
}

static double chance(uint64_t *seed)
{
    double sum = 0;
    for (int k = 0; k < 12; k++) { /* twelve uniform ones: standard deviation 1 */
        *seed = *seed * 6364136223846793005u + 1442695040888963407u;
        sum += (double)(*seed >> 11) / 9007199254740992.0 - 0.5;
    }
    return sum;
}

/* Errors over their uncertainties, RMS over many noisy brakings.  The zeros that were taken off are means of half a
 * second of the same noise. */
static const struct {
    double rate, noise_x, noise_y;
} noises[] = {{100, 8, 8}, {500, 20, 20}, {50, 5, 5}, {1000, 25, 25}};

START_TEST(noise_makes_delay_and_gain_as_unsure_as_they_say)
{
    uint64_t seed = 7;
    double delay2 = 0, gain2 = 0;
    const int runs = 400;
    const double step = 1 / noises[_i].rate, zero = sqrt(2 * step); /* of 0.5 s of samples */
    for (int run = 0; run < runs; run++) {
        size_t n = 0;
        const double zero_x = zero * noises[_i].noise_x * chance(&seed),
                     zero_y = zero * noises[_i].noise_y * chance(&seed);
        for (double s = 0.03; s < 1.97; s += step, n++) {
            t[n] = s;
            x[n] = braking(s) + noises[_i].noise_x * chance(&seed) - zero_x;
            y[n] = braking(s - 0.05) + noises[_i].noise_y * chance(&seed) - zero_y;
        }
        const bt_delay b = fitted(n);
        ck_assert_double_eq_tol(b.delay, 0.05, 0.006);
        delay2 += (b.delay - 0.05) * (b.delay - 0.05) / (b.delay_u * b.delay_u);
        gain2 += (b.gain - 1) * (b.gain - 1) / (b.gain_u * b.gain_u);
    }
    /* 1, and three times the chance of a root of the mean of so many squares. */
    ck_assert_double_eq_tol(sqrt(delay2 / runs), 1, 3 / sqrt(2.0 * runs));
    ck_assert_double_eq_tol(sqrt(gain2 / runs), 1, 3 / sqrt(2.0 * runs));
}
END_TEST

/* What is told is promised to 8 ms and 1.5 % of gain, four times the standard uncertainty; more noise, and nothing is
 * told. */
START_TEST(what_is_too_unsure_is_not_told)
{
    double most_delay = 0, most_gain = 0;
    for (double noise = 4; noise < 80; noise *= 1.02) {
        uint64_t seed = 5;
        const size_t n = late_copy(0.05, 0.01);
        for (size_t i = 0; i < n; i++) {
            x[i] += noise * chance(&seed);
            y[i] += noise * chance(&seed);
        }
        const bt_delay b = fitted(n);
        if (!isnan(b.delay)) most_delay = fmax(most_delay, b.delay_u);
        if (!isnan(b.gain)) most_gain = fmax(most_gain, b.gain_u / b.gain);
        ck_assert(isnan(b.delay) == isnan(b.delay_u) && isnan(b.gain) == isnan(b.gain_u));
    }
    ck_assert(most_delay <= 0.002 && most_delay > 0.0019);
    ck_assert(most_gain <= 0.00375 && most_gain > 0.0035);
}
END_TEST

START_TEST(units_and_the_clock_change_nothing)
{
    uint64_t seed = 3;
    const size_t n = late_copy(0.0432, 0.007);
    for (size_t i = 0; i < n; i++) {
        seed = seed * 6364136223846793005u + 1442695040888963407u;
        y[i] += 1e-18 * (double)(seed >> 1); /* up to 9 */
    }
    const bt_delay a = fitted(n);
    for (size_t i = 0; i < n; i++) {
        t[i] += 512;
        x[i] *= 1e-3;
        y[i] *= 1e3;
    }
    const bt_delay b = fitted(n);
    ck_assert(!a.weak && !b.weak);
    ck_assert_double_eq_tol(b.delay, a.delay, 1e-9);
    ck_assert_double_eq_tol(b.delay_u, a.delay_u, 1e-9);
    ck_assert_double_eq_tol(b.gain, 1e6 * a.gain, 1e-3);
    ck_assert_double_eq_tol(b.gain_u, 1e6 * a.gain_u, 1e-3);
    ck_assert_double_eq_tol(b.rest, 1e3 * a.rest, 1e-3);
    ck_assert_double_eq_tol(b.rest_u, 1e3 * a.rest_u, 1e-3);
    ck_assert_double_eq_tol(b.by_gain, 1, 1e-4); /* a million times as large: all is gain */
}
END_TEST

START_TEST(a_delay_is_at_most_half_a_second_and_at_least_none)
{
    for (double late = 0.499; late < 0.505; late += 0.0041) { /* to half a bin */
        const size_t n = late_copy(late, 0.005);
        const bt_delay b = fitted(n);
        ck_assert_int_eq(isnan(b.delay), late > 0.5025);
        ck_assert_int_eq(isnan(b.gain), late > 0.5025);
    }
    const bt_delay early = fitted(late_copy(-0.002, 0.005));
    ck_assert_double_eq(early.delay, 0);
}
END_TEST

/* What could be fitted has a rest, good or not. */
static bool fits(size_t n)
{
    return !isnan(fitted(n).rest);
}

START_TEST(a_fit_needs_20_hz_a_quarter_of_a_second_and_nine_tenths_of_both)
{
    ck_assert(fits(late_copy(0.05, 0.049)));
    ck_assert(!fits(late_copy(0.05, 0.051)));
    late_copy(0.05, 0.01);
    ck_assert(!fits(25)); /* 0.24 s */
    ck_assert(fits(27));
    ck_assert(!fits(1));
    double *const both[] = {x, y};
    for (int k = 0; k < 2; k++) {
        size_t n = late_copy(0.05, 0.01);
        for (size_t i = 0; i < 23; i++) both[k][n - 1 - i] = NAN; /* 23 steps of 219 */
        ck_assert(!fits(n));
        n = late_copy(0.05, 0.01);
        for (size_t i = 0; i < 20; i++) both[k][n - 1 - i] = NAN;
        ck_assert(fits(n));
    }
}
END_TEST

/* A braking that was under way has y only from half a second and nine bins on: of that, too, a quarter of a second is
 * needed, or one slope would be fitted by any delay. */
START_TEST(a_braking_cut_needs_a_quarter_of_a_second_more)
{
    for (int enough = 0; enough < 2; enough++) {
        size_t n = 0;
        for (double s = 0.6; s < 0.6 + (enough ? 0.807 : 0.785); s += 0.01, n++) {
            t[n] = s;
            x[n] = braking(s);
            y[n] = braking(s - 0.05);
        }
        ck_assert_int_eq(fits(n), enough);
    }
}
END_TEST

/* A pedal pumped at 1.6 Hz: 0.4 s late and upside down is to the bit what y is, 0.4 s less half a period late is so but
 * for the second harmonic, a tenth. */
START_TEST(a_copy_upside_down_is_none_even_where_it_is_the_better_one)
{
    size_t n = 0;
    for (double s = 0.1; s < 3; s += 0.005, n++) {
        const double turn = 2 * pi * 1.6 * s, before = 2 * pi * 1.6 * (s - 0.4);
        t[n] = s;
        x[n] = 500 * (sin(turn) + 0.05 * cos(2 * turn));
        y[n] = -500 * (sin(before) + 0.05 * cos(2 * before));
    }
    const bt_delay b = fitted(n);
    ck_assert_double_eq_tol(b.delay, 0.4 - 0.5 / 1.6, 0.001);
    ck_assert_double_eq_tol(b.gain, 1, 0.01);
    ck_assert_double_eq_tol(b.rest, 0.1 * 500 / sqrt(2), 1);
    n = 0;
    for (double s = 0; s < 2; s += 0.01, n++) {
        t[n] = s;
        x[n] = braking(s);
        y[n] = -braking(s);
    }
    ck_assert(!fits(n));
}
END_TEST

/* Above 100 s the bins get wider. */
START_TEST(a_long_braking_has_its_delay_all_the_same)
{
    size_t n = 0;
    for (double s = 0; s < 150; s += 0.04, n++) {
        t[n] = s;
        x[n] = s < 1 ? 500 * s : 500 + 100 * sin(2 * s);
        const double then = s - 0.2;
        y[n] = 1.03 * (then < 0 ? 0 : then < 1 ? 500 * then : 500 + 100 * sin(2 * then));
    }
    const bt_delay b = fitted(n);
    ck_assert_double_eq_tol(b.delay, 0.2, 0.002);
    ck_assert_double_eq_tol(b.gain, 1.03, 0.001);
}
END_TEST

/* x is not known from 1.00 to 1.05 s.  No lag up to 0.5 s can then be judged by y from 45 ms before (slopes look so
 * far ahead and back) to 550 ms behind: whatever is there changes nothing, and what is elsewhere does. */
START_TEST(what_a_hole_in_x_makes_useless_is_useless_at_every_lag)
{
    static const struct {
        double from, to;
        bool counts;
    } wrong[] = {{0.953, 1.602, false}, {0.948, 0.952, true}, {1.603, 1.607, true}};
    bt_delay clean = {0};
    for (int k = -1; k < 3; k++) {
        const size_t n = late_copy(0.05, 0.005);
        t[n - 1] = 2.1949; /* 439 bins of 5 ms, as near as matters */
        for (size_t i = 0; i < n; i++) {
            if (t[i] > 0.9995 && t[i] < 1.0505) x[i] = NAN;
            if (k >= 0 && t[i] > wrong[k].from && t[i] < wrong[k].to) y[i] += 20;
        }
        const bt_delay b = fitted(n);
        if (k < 0)
            clean = b;
        else
            ck_assert_int_eq(fabs(b.rest - clean.rest) > 1e-6, wrong[k].counts);
    }
}
END_TEST

/* Above two fifths of the largest x the start is not the braking's: y is fitted from half a second on.  Below, x came
 * up from nothing, and all of y counts. */
START_TEST(a_start_above_two_fifths_is_that_of_a_braking_cut)
{
    for (int large = 0; large < 2; large++) {
        double rest[2];
        for (int wrong = 0; wrong < 2; wrong++) {
            size_t n = 0;
            for (double s = large ? 0.1 : 0.08; s < 1.97; s += 0.005, n++) { /* 0.5, 0.35 */
                t[n] = s;
                x[n] = braking(s);
                y[n] = braking(s - 0.05) + (wrong && n > 10 && n < 80 ? 30 : 0);
            }
            rest[wrong] = fitted(n).rest;
        }
        ck_assert_int_eq(fabs(rest[1] - rest[0]) < 1e-6, large);
    }
}
END_TEST

/* A foot comes down with the power 4/3 of the time: 0.1 s under way, it is known where it came from, to the gain of
 * what the fit then leaves. */
START_TEST(a_foot_that_was_under_way_came_up_as_feet_do)
{
    size_t n = 0;
    for (double s = 0.1; s < 1.97; s += 0.005, n++) {
        const double late = s - 0.06;
        t[n] = s;
        x[n] = 1000 * pow(fmin(s / 0.3, 1), 4.0 / 3) * (1 + 0.05 * sin(5 * s));
        y[n] = 1000 * pow(fmin(late / 0.3, 1), 4.0 / 3) * (1 + 0.05 * sin(5 * late));
    }
    const bt_delay b = fitted(n);
    ck_assert_double_eq_tol(b.delay, 0.06, 0.0005);
    ck_assert_double_eq_tol(b.gain, 1, 0.001);
    ck_assert_double_lt(b.rest, 0.001 * 600);
}
END_TEST

/* A swing of y at 3 Hz is no noise: of the RMS of y it may be 15 %. */
START_TEST(more_than_15_percent_of_rest_is_no_copy)
{
    for (double part = 0.13; part < 0.18; part += 0.04) {
        const size_t n = late_copy(0.05, 0.005);
        double square = 0;
        for (size_t i = 0; i < n; i++) square += y[i] * y[i] / (double)n;
        for (size_t i = 0; i < n; i++) y[i] += part * sqrt(2 * square) * sin(2 * pi * 3 * t[i] + 1);
        const bt_delay b = fitted(n);
        ck_assert_double_eq_tol(b.rest, part * sqrt(square), 0.008 * sqrt(square));
        ck_assert_int_eq(isnan(b.delay), part > 0.15);
        ck_assert_int_eq(isnan(b.gain), part > 0.15);
        ck_assert_double_lt(b.rest_u, 0.1 * b.rest);
    }
}
END_TEST

/* White noise in y alone at 1 kHz, five samples a bin: what is left is that noise and nothing else, and says so. */
START_TEST(a_rest_of_noise_alone_is_as_unsure_as_it_is_large)
{
    uint64_t seed = 11;
    size_t n = late_copy(0.05, 0.001);
    for (size_t i = 0; i < n; i++) y[i] += 20 * chance(&seed);
    bt_delay b = fitted(n);
    ck_assert_double_eq_tol(b.rest, 20 / sqrt(5), 0.8);
    ck_assert_double_eq_tol(b.rest_u / b.rest, 1, 0.35);
    n = late_copy(
        0.05, 0.01); /* two bins a sample: straight lines between them keep 2/3 of it and less */
    for (size_t i = 0; i < n; i++) y[i] += 20 * chance(&seed);
    b = fitted(n);
    ck_assert_double_gt(b.rest, 20 * 0.7);
    ck_assert_double_lt(b.rest, 20 * 0.92);
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
    tcase_add_test(c, what_is_too_unsure_is_not_told);
    tcase_add_loop_test(c, noise_makes_delay_and_gain_as_unsure_as_they_say, 0, 4);
    tcase_add_test(c, units_and_the_clock_change_nothing);
    tcase_add_test(c, a_delay_is_at_most_half_a_second_and_at_least_none);
    tcase_add_test(c, a_fit_needs_20_hz_a_quarter_of_a_second_and_nine_tenths_of_both);
    tcase_add_test(c, a_braking_cut_needs_a_quarter_of_a_second_more);
    tcase_add_test(c, a_copy_upside_down_is_none_even_where_it_is_the_better_one);
    tcase_add_test(c, a_long_braking_has_its_delay_all_the_same);
    tcase_add_test(c, what_a_hole_in_x_makes_useless_is_useless_at_every_lag);
    tcase_add_test(c, a_start_above_two_fifths_is_that_of_a_braking_cut);
    tcase_add_test(c, a_foot_that_was_under_way_came_up_as_feet_do);
    tcase_add_test(c, more_than_15_percent_of_rest_is_no_copy);
    tcase_add_test(c, a_rest_of_noise_alone_is_as_unsure_as_it_is_large);
    suite_add_tcase(s, c);
    return s;
}

BT_CHECK_MAIN(suite)
