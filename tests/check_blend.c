/* Demand against delivery (METHODS 7): figures worked out by hand, delay and gain told apart (CHECKS
 * 10.6), the exact split and the handover. */
#include "check_support.h"

#include "zones/blend.h"

#include <math.h>

enum { MAX = 4000 };
static double t[MAX], demand[MAX], given[MAX], motor[MAX];

static bt_blend errors(size_t n, double band_abs, double band_rel)
{
    bt_blend b;
    bt_blend_clear(&b);
    bt_blend_error(t, demand, given, n, band_abs, band_rel, &b);
    return b;
}

static bt_blend delays(size_t n)
{
    bt_blend b;
    bt_blend_clear(&b);
    ck_assert_int_eq(bt_blend_delay(t, demand, given, n, &b, NULL), BT_OK);
    return b;
}

START_TEST(a_constant_error_is_its_own_mean_rms_and_peak)
{
    for (size_t i = 0; i < 11; i++) {
        t[i] = 0.1 * (double)i;
        demand[i] = 1000;
        given[i] = 900;
    }
    bt_blend b = errors(11, 50, 0.06);
    ck_assert_double_eq_tol(b.demand, 1000, 1e-9);
    ck_assert_double_eq_tol(b.mean, -100, 1e-9);
    ck_assert_double_eq_tol(b.rms, 100, 1e-9);
    ck_assert_double_eq_tol(b.peak, -100, 1e-9);
    ck_assert_double_eq_tol(b.frac, 0.1, 1e-12);
    ck_assert_double_eq_tol(b.inband, 1, 1e-12);                    /* 50 + 6 % of 1000 = 110 */
    ck_assert_double_eq_tol(errors(11, 50, 0.04).inband, 0, 1e-12); /* 90 */
    ck_assert_double_eq_tol(errors(11, 101, NAN).inband, 1, 1e-12);
    ck_assert_double_nan(errors(11, NAN, NAN).inband);
}
END_TEST

START_TEST(an_error_rising_in_a_straight_line_has_the_rms_of_its_integral)
{
    const size_t n =
        2001; /* E from -100 to 200: mean 50, mean square (a^2 + ab + b^2) / 3 = 10^4 */
    for (size_t i = 0; i < n; i++) {
        const double u = (double)i / (double)(n - 1);
        t[i] = 3 * u;
        demand[i] = 500;
        given[i] = 400 + 300 * u;
    }
    const bt_blend b = errors(n, 50, 0);
    ck_assert_double_eq_tol(b.mean, 50, 1e-9);
    ck_assert_double_eq_tol(b.rms, 100, 1e-4);
    ck_assert_double_eq_tol(b.peak, 200, 1e-9);
    ck_assert_double_eq_tol(b.inband, 1.0 / 3, 1e-3);       /* |E| <= 50 over 100 of 300 */
    ck_assert_double_eq_tol(b.frac, 250.0 / 3 / 500, 1e-6); /* (100^2 + 200^2) / 2 / 300 of 500 */
}
END_TEST

START_TEST(figures_go_by_time_not_by_rows)
{
    const double at[] = {0, 1, 1.001, 1.002, 1.003, 2}; /* a burst of rows weighs nothing */
    for (size_t i = 0; i < 6; i++) {
        t[i] = at[i];
        demand[i] = 100;
        given[i] = i == 2 || i == 3 ? 1100 : 100;
    }
    const bt_blend b = errors(6, NAN, NAN);
    ck_assert_double_eq_tol(b.mean, 1000 * 0.002 / 2, 1e-9);
    ck_assert_double_eq_tol(b.peak, 1000, 1e-9);
}
END_TEST

START_TEST(a_small_hole_is_left_out_and_a_large_one_blanks_the_figures)
{
    for (size_t i = 0; i < 101; i++) {
        t[i] = 0.01 * (double)i;
        demand[i] = 100;
        given[i] = 90;
    }
    given[50] = demand[20] = NAN; /* two steps of a hundred each */
    ck_assert_double_eq_tol(errors(101, NAN, NAN).mean, -10, 1e-9);
    for (size_t i = 60; i < 80; i++) given[i] = NAN;
    ck_assert_double_nan(errors(101, NAN, NAN).mean);
    ck_assert_double_nan(errors(101, NAN, NAN).peak);
    ck_assert_double_nan(errors(1, NAN, NAN).mean);
    ck_assert_double_nan(errors(0, NAN, NAN).rms);
}
END_TEST

START_TEST(figures_need_nine_tenths_of_the_time_whichever_end_is_missing)
{
    const double at[] = {3, 3.15, 4.85, 5}; /* 2 s, of which 0.15 s at either end */
    for (size_t i = 0; i < 4; i++) {
        t[i] = at[i];
        demand[i] = 100;
        given[i] = 90;
    }
    given[0] = NAN;
    ck_assert_double_eq_tol(errors(4, NAN, NAN).mean, -10, 1e-9); /* 92.5 % */
    given[3] = NAN;
    ck_assert_double_nan(errors(4, NAN, NAN).mean); /* 85 % */
    given[0] = 90;
    ck_assert_double_eq_tol(errors(4, NAN, NAN).demand, 100, 1e-9);
    given[2] = NAN;
    ck_assert_double_nan(errors(4, NAN, NAN).mean);
    ck_assert_double_nan(errors(3, NAN, NAN).mean);
    given[1] = NAN;
    given[2] = given[3] = 90;
    ck_assert_double_nan(errors(4, NAN, NAN).mean);
}
END_TEST

START_TEST(a_band_may_be_of_one_part_alone)
{
    for (size_t i = 0; i < 3; i++) {
        t[i] = (double)i;
        demand[i] = 1000;
        given[i] = 1100;
    }
    ck_assert_double_eq(errors(3, NAN, 0.0999).inband, 0);
    ck_assert_double_eq(errors(3, NAN, 0.1001).inband, 1);
    ck_assert_double_eq(errors(3, 99, NAN).inband, 0);
    ck_assert_double_eq(errors(3, 101, NAN).inband, 1);
}
END_TEST

/* Torques of a hundredth of a newton metre are as good as any. */
START_TEST(figures_of_small_torques_are_those_of_large_ones_made_small)
{
    for (size_t i = 0; i < 5; i++) {
        t[i] = 2 * (double)i;
        demand[i] = 0.01;
        given[i] = 0.012;
    }
    const bt_blend b = errors(5, NAN, NAN);
    ck_assert_double_eq_tol(b.demand, 0.01, 1e-12);
    ck_assert_double_eq_tol(b.peak, 0.002, 1e-12);
    ck_assert_double_eq_tol(b.frac, 0.2, 1e-12);
    for (size_t i = 0; i < 5; i++) demand[i] = 0; /* of nothing there is no part */
    ck_assert_double_nan(errors(5, NAN, NAN).frac);
    const bt_blend small = {.rms_controller = 0.1, .rms_motor = 0.3, .rms_actuator = 0.2};
    ck_assert_str_eq(bt_blend_cause(&small), "motor");
    const bt_blend none = {0};
    ck_assert_str_eq(bt_blend_cause(&none), "");
}
END_TEST

START_TEST(
    delay_on_a_ramp_is_a_constant_error_and_no_torque_fault) /* CHECKS 10.6 [derived]: 14.8 */
{
    const double slope = 40, theta = 0.12, tau = 0.25;
    const size_t n = 1001;
    for (size_t i = 0; i < n; i++) {
        const double s = 5 + 0.005 * (double)i; /* long after the lag has settled */
        t[i] = s;
        demand[i] = slope * s;
        given[i] = slope * (s - theta - tau + tau * exp(-(s - theta) / tau));
    }
    bt_blend b = errors(n, NAN, NAN);
    ck_assert_double_eq_tol(b.mean, -14.8, 1e-6);
    ck_assert_double_eq_tol(b.rms, 14.8, 1e-6);
    ck_assert_double_eq_tol(b.peak, -14.8, 1e-6);
    b = delays(n);
    ck_assert_double_eq_tol(b.delay, theta + tau, 1e-4);
    ck_assert_double_eq_tol(b.gain, 1, 1e-4);
    ck_assert_double_eq_tol(b.rest, 0, 0.01);
    ck_assert(!b.delay_weak);
    for (size_t i = 0; i < n; i++) given[i] = 0.96 * demand[i]; /* an error of gain instead */
    b = delays(n);
    ck_assert_double_eq_tol(b.delay, 0, 1e-4);
    ck_assert_double_eq_tol(b.gain, 0.96, 1e-4);
}
END_TEST

START_TEST(the_split_is_exact_and_its_largest_part_is_the_cause)
{
    double when[] = {0, 1, 2}, d[] = {1000, 1000, 1000}, m[] = {300, 300, 300},
           f[] = {640, 640, 640};
    double mr[] = {310, 310, 310}, fr[] = {670, 670, 670}, b[] = {940, 940, 940};
    bt_torques q = {.n = 3,
                    .demand = d,
                    .motor = m,
                    .rear = f,
                    .delivered = b,
                    .req_motor = mr,
                    .req_friction = fr,
                    .motor_bywire = true};
    bt_blend out;
    bt_blend_clear(&out);
    ck_assert_str_eq(bt_blend_cause(&out), "");
    bt_blend_split(when, &q, f, &out);
    ck_assert_double_eq_tol(out.rms_controller, 20, 1e-9); /* 310 + 670 - 1000 */
    ck_assert_double_eq_tol(out.rms_motor, 10, 1e-9);      /* 300 - 310 */
    ck_assert_double_eq_tol(out.rms_actuator, 30, 1e-9); /* 640 - 670; -20 - 10 - 30 = 940 - 1000 */
    ck_assert_str_eq(bt_blend_cause(&out), "actuator");
    for (int i = 0; i < 3; i++) mr[i] = 370, fr[i] = 640; /* now 10, -70 and 0 */
    bt_blend_split(when, &q, f, &out);
    ck_assert_str_eq(bt_blend_cause(&out), "motor");
    for (int i = 0; i < 3; i++) mr[i] = 300, fr[i] = 640; /* -60, 0, 0 */
    bt_blend_split(when, &q, f, &out);
    ck_assert_double_eq_tol(out.rms_controller, 60, 1e-9);
    ck_assert_str_eq(bt_blend_cause(&out), "controller");
}
END_TEST

START_TEST(the_split_needs_both_requests_unless_the_motor_brakes_the_other_axle)
{
    double when[] = {0, 1}, d[] = {500, 500}, f[] = {480, 480}, fr[] = {490, 490}, m[] = {200, 200};
    bt_torques q = {.n = 2,
                    .demand = d,
                    .motor = m,
                    .rear = f,
                    .delivered = f,
                    .req_friction = fr,
                    .motor_bywire = true};
    bt_blend out;
    bt_blend_clear(&out);
    bt_blend_split(when, &q, f, &out);
    ck_assert_double_nan(out.rms_actuator);
    ck_assert_str_eq(bt_blend_cause(&out), "");
    q.motor_bywire = false;
    bt_blend_split(when, &q, f, &out);
    ck_assert_double_eq_tol(out.rms_controller, 10, 1e-9);
    ck_assert_double_eq(out.rms_motor, 0);
    ck_assert_double_eq_tol(out.rms_actuator, 10, 1e-9);
    fr[1] = NAN;
    bt_blend_clear(&out);
    bt_blend_split(when, &q, f, &out);
    ck_assert_double_nan(out.rms_actuator);
}
END_TEST

/* The squares weigh by time, the ends of a step half each: 20^2, 10^2, 40^2 at 0, 1 and 4 s. */
START_TEST(the_split_goes_by_time_not_by_rows_and_needs_nine_tenths_of_it)
{
    double when[] = {2, 3, 6}, d[] = {500, 500, 500}, fr[] = {520, 510, 540}, f[] = {520, 510, 540};
    bt_torques q = {.n = 3, .demand = d, .rear = f, .delivered = f, .req_friction = fr};
    bt_blend out;
    bt_blend_clear(&out);
    bt_blend_split(when, &q, f, &out);
    ck_assert_double_eq_tol(out.rms_controller, sqrt((0.5 * (400 + 100) + 1.5 * (100 + 1600)) / 4),
                            1e-9);
    ck_assert_double_eq(out.rms_actuator, 0);
    double *unknown[] = {d, fr, f};
    for (int k = 0; k < 3; k++) {
        const double known = unknown[k][0];
        unknown[k][0] = NAN; /* 1 s of 4 */
        bt_blend_clear(&out);
        bt_blend_split(when, &q, f, &out);
        ck_assert_double_nan(out.rms_controller);
        unknown[k][0] = known;
    }
}
END_TEST

START_TEST(without_demand_request_or_pressure_nothing_is_split)
{
    const double when[] = {0, 1};
    double x[] = {500, 500};
    bt_torques q = {.n = 2, .demand = x, .req_friction = x};
    bt_blend out;
    bt_blend_clear(&out);
    bt_blend_split(when, &q, NULL, &out);
    q.demand = NULL;
    bt_blend_split(when, &q, x, &out);
    q = (bt_torques){.n = 2, .demand = x};
    bt_blend_split(when, &q, x, &out);
    q = (bt_torques){.n = 0, .demand = x, .req_friction = x};
    bt_blend_split(when, &q, x, &out);
    ck_assert_double_nan(out.rms_controller);
}
END_TEST

/* Demand 1000 N*m from 0.1 s to `release`; the motor gives 400 of it and is gone at 1.0 s; friction
 * takes over 0.1 s late. */
static double handover(double release)
{
    bt_blend b;
    bt_blend_clear(&b);
    size_t n = 0;
    for (double s = 0; s < 2; s += 0.01, n++) {
        t[n] = s;
        demand[n] = s < 0.1 || s > release ? 0 : 1000;
        motor[n] = demand[n] > 0 && s < 0.995 ? 400 : 0;
        given[n] = demand[n] - (s > 0.995 && s < 1.095 ? 0.4 * demand[n] : 0);
    }
    given[50] = 400; /* a larger error, but far from the handover */
    bt_blend_handover(t, motor, demand, given, n, &b);
    return b.handover;
}

START_TEST(the_handover_is_the_signed_error_around_the_motors_fading)
{
    ck_assert_double_eq_tol(handover(1.8), -400, 1e-9);
}
END_TEST

/* Demand 1000 N*m; the motor gives `peak` up to 1.0 s, then `left` of it for good.  100 N*m too much around
 * that moment. */
static double faded(double peak, double left)
{
    bt_blend b;
    bt_blend_clear(&b);
    for (size_t i = 0; i < 200; i++) {
        t[i] = 0.01 * (double)i;
        demand[i] = 1000;
        motor[i] = t[i] < 0.995 ? peak : left * peak;
        given[i] = t[i] > 0.995 && t[i] < 1.095 ? 1100 : 1000;
    }
    bt_blend_handover(t, motor, demand, given, 200, &b);
    return b.handover;
}

START_TEST(a_motor_has_faded_below_a_tenth_of_its_peak_and_matters_above_a_twentieth_of_the_demand)
{
    ck_assert_double_eq_tol(faded(400, 0.09), 100, 1e-9);
    ck_assert_double_nan(faded(400, 0.11));
    ck_assert_double_eq_tol(faded(55, 0), 100, 1e-9);
    ck_assert_double_nan(faded(45, 0));
}
END_TEST

/* Three seconds at 1000 N*m, 400 of it the motor's up to 1.5 s and none from there on; delivered is what is asked
 * but for 50 N*m too little at sample `wrong`. */
enum { FADES = 150, LONG = 300 };
static void fading(size_t wrong)
{
    for (size_t i = 0; i < LONG; i++) {
        t[i] = 0.01 * (double)i;
        demand[i] = 1000;
        motor[i] = i < FADES ? 400 : 0;
        given[i] = i == wrong ? 950 : 1000;
    }
}
static double handed_over(void)
{
    bt_blend b;
    bt_blend_clear(&b);
    bt_blend_handover(t, motor, demand, given, LONG, &b);
    return b.handover;
}

START_TEST(the_handover_is_what_goes_wrong_within_three_tenths_of_a_second_of_the_fading)
{
    static const struct {
        size_t wrong;
        double want;
    } at[] = {{FADES - 31, 0}, {FADES - 29, -50}, {FADES, -50}, {FADES + 29, -50}, {FADES + 31, 0}};
    for (size_t k = 0; k < sizeof at / sizeof *at; k++) {
        fading(at[k].wrong);
        ck_assert_double_eq_tol(handed_over(), at[k].want, 1e-9);
    }
    fading(FADES - 30);
    t[FADES - 30] += 0.005; /* the first sample that is near enough */
    ck_assert_double_eq_tol(handed_over(), -50, 1e-9);
}
END_TEST

START_TEST(braking_goes_on_while_more_than_a_quarter_of_the_most_is_asked_for)
{
    static const struct {
        size_t from;
        double left, want;
    } released[] = {{FADES, 260, 0}, {FADES, 240, NAN}, {FADES + 29, 240, NAN}, {FADES + 31, 0, 0}};
    for (size_t k = 0; k < sizeof released / sizeof *released; k++) {
        fading(LONG);
        for (size_t i = released[k].from; i < LONG; i++) demand[i] = given[i] = released[k].left;
        const double want = released[k].want, got = handed_over();
        ck_assert(isnan(want) ? isnan(got) : got == want);
    }
}
END_TEST

START_TEST(a_motor_fades_once_however_long_its_remainder_lasts_and_as_early_as_it_likes)
{
    fading(FADES + 60);
    for (size_t i = FADES; i < FADES + 60; i++) motor[i] = 30; /* 7.5 % of its peak */
    ck_assert_double_eq(handed_over(), 0);
    fading(0); /* in its first tenths of a second, so that the first sample counts */
    for (size_t i = 20; i < LONG; i++) motor[i] = 0;
    ck_assert_double_eq_tol(handed_over(), -50, 1e-9);
    fading(1);
    for (size_t i = 1; i < LONG; i++) motor[i] = 0; /* the peak is the first sample alone */
    ck_assert_double_eq_tol(handed_over(), -50, 1e-9);
    for (size_t i = 0; i < LONG; i++) { /* the same of a toy */
        motor[i] *= 1e-4;
        demand[i] *= 1e-4;
        given[i] *= 1e-4;
    }
    ck_assert_double_eq_tol(handed_over(), -0.005, 1e-12);
}
END_TEST

START_TEST(a_released_pedal_or_a_motor_that_never_braked_is_no_handover)
{
    ck_assert_double_nan(handover(0.99)); /* pedal and motor go together */
    ck_assert_double_nan(handover(1.2));  /* released before 0.3 s were over */
    bt_blend b;
    bt_blend_clear(&b);
    for (size_t i = 0; i < 100; i++) {
        t[i] = 0.01 * (double)i;
        demand[i] = 1000;
        given[i] = 900;
        motor[i] = i % 2 ? 5 : -5; /* noise */
    }
    bt_blend_handover(t, motor, demand, given, 100, &b);
    ck_assert_double_nan(b.handover);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("blend");
    TCase *c = tcase_create("blend");
    tcase_add_test(c, a_constant_error_is_its_own_mean_rms_and_peak);
    tcase_add_test(c, an_error_rising_in_a_straight_line_has_the_rms_of_its_integral);
    tcase_add_test(c, figures_go_by_time_not_by_rows);
    tcase_add_test(c, figures_need_nine_tenths_of_the_time_whichever_end_is_missing);
    tcase_add_test(c, a_band_may_be_of_one_part_alone);
    tcase_add_test(c, figures_of_small_torques_are_those_of_large_ones_made_small);
    tcase_add_test(c, a_small_hole_is_left_out_and_a_large_one_blanks_the_figures);
    tcase_add_test(c, delay_on_a_ramp_is_a_constant_error_and_no_torque_fault);
    tcase_add_test(
        c, a_motor_has_faded_below_a_tenth_of_its_peak_and_matters_above_a_twentieth_of_the_demand);
    tcase_add_test(c, the_split_is_exact_and_its_largest_part_is_the_cause);
    tcase_add_test(c, the_split_needs_both_requests_unless_the_motor_brakes_the_other_axle);
    tcase_add_test(c, the_split_goes_by_time_not_by_rows_and_needs_nine_tenths_of_it);
    tcase_add_test(c, without_demand_request_or_pressure_nothing_is_split);
    tcase_add_test(c,
                   the_handover_is_what_goes_wrong_within_three_tenths_of_a_second_of_the_fading);
    tcase_add_test(c, braking_goes_on_while_more_than_a_quarter_of_the_most_is_asked_for);
    tcase_add_test(c, a_motor_fades_once_however_long_its_remainder_lasts_and_as_early_as_it_likes);
    tcase_add_test(c, the_handover_is_the_signed_error_around_the_motors_fading);
    tcase_add_test(c, a_released_pedal_or_a_motor_that_never_braked_is_no_handover);
    suite_add_tcase(s, c);
    return s;
}

BT_CHECK_MAIN(suite)
