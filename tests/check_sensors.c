/* Pressure zeros and plausibility (METHODS 2.4, 2.5).  What must not be flagged comes before what
 * must. */
#include "check_support.h"

#include <math.h>
#include <string.h>

#include "zones/sensors.h"

#define ROOM 4000
static double t[ROOM], x[BT_SIGNALS][ROOM];
static bt_block block;

/* A log at `rate` from 0 to `end` with no channel yet. */
static void start(double rate, double end)
{
    memset(&block, 0, sizeof block);
    while ((double)block.n / rate <= end) {
        ck_assert_uint_lt(block.n, ROOM);
        t[block.n] = (double)block.n / rate;
        block.n++;
    }
    block.t = t;
}

static double *channel(bt_channel c)
{
    block.ch[c] = x[c];
    return x[c];
}

/* To the nearest `step` below or above. */
static double quantised(double value, double step)
{
    return step * floor(value / step + 0.5);
}

/* A straight line from (t0, x0) to (t1, x1), level outside. */
static double ramp(double at, double t0, double x0, double t1, double x1)
{
    const double part = fmin(1, fmax(0, (at - t0) / (t1 - t0)));
    return x0 + part * (x1 - x0);
}

/* ---- zeros ---- */

static bt_zeros *zeros;
static void set_up(void)
{
    bt_error err = {0};
    ck_assert_int_eq(bt_zeros_new(&zeros, BT_REAR, &err), BT_OK);
}
static void tear_down(void)
{
    bt_zeros_free(zeros);
}

/* A level on a channel all through a log of 2 s at 100 Hz; zeros at a zone that starts at 2 s. */
static uint32_t zero_of(bt_channel c, double level, double *zero)
{
    start(100, 2);
    double *v = channel(c), all[BT_CH_COUNT];
    for (size_t i = 0; i < block.n; i++) v[i] = level;
    bt_zeros_reset(zeros);
    bt_zeros_push(zeros, &block, 0, block.n);
    uint32_t flags = 0;
    bt_zeros_at(zeros, 2, all, NULL, &flags);
    *zero = all[c];
    return flags;
}

START_TEST(a_zero_is_the_level_of_half_a_second_that_ends_a_tenth_before_the_zone)
{
    start(1000, 3);
    double *v = channel(BT_CH_PEDAL_FRONT), zero[BT_CH_COUNT];
    bt_rest rest;
    /* 1 bar, but 0.4 bar before the window and 1.9 bar in the guard; one wild value in three
     * inside. */
    for (size_t i = 0; i < block.n; i++) {
        v[i] = t[i] < 2.3995 ? 0.4e5 : t[i] > 2.9005 ? 1.9e5 : 1e5;
        if (i % 3 == 0) v[i] = 40e5;
    }
    bt_zeros_push(zeros, &block, 0, block.n);
    uint32_t flags = 0;
    bt_zeros_at(zeros, 3, zero, &rest, &flags);
    ck_assert_double_eq(zero[BT_CH_PEDAL_FRONT], 1e5);
    ck_assert_double_eq(rest.level[BT_CH_PEDAL_FRONT], 1e5);
    ck_assert_double_eq(zero[BT_CH_LINE_REAR], 0);
    ck_assert(isnan(rest.level[BT_CH_LINE_REAR]));
    ck_assert_uint_eq(flags, 0);
}
END_TEST

START_TEST(a_zero_is_finer_than_the_steps_of_its_sensor)
{
    static const double steps[] = {1, 2, 2, 3, 3}; /* of 0.1 bar, 0.2 in the middle */
    start(100, 3);
    double *v = channel(BT_CH_LINE_REAR), zero[BT_CH_COUNT];
    for (size_t i = 0; i < block.n; i++) v[i] = 1e4 * steps[i % 5];
    bt_zeros_push(zeros, &block, 0, block.n);
    uint32_t flags = 0;
    bt_zeros_at(zeros, 3, zero, NULL, &flags);
    ck_assert_double_eq_tol(zero[BT_CH_LINE_REAR], 1e4 * (11 * 1 + 10 * (2 + 2 + 3 + 3)) / 51,
                            1e-6);
}
END_TEST

START_TEST(two_bar_is_subtracted_and_more_is_flagged)
{
    double zero;
    ck_assert_uint_eq(zero_of(BT_CH_PEDAL_REAR, 2.01e5, &zero), BT_FLAG_ZERO_OFFSET);
    ck_assert_double_eq(zero, 0);
    ck_assert_uint_eq(zero_of(BT_CH_PEDAL_REAR, 2e5, &zero), 0);
    ck_assert_double_eq(zero, 2e5);
    ck_assert_uint_eq(zero_of(BT_CH_PEDAL_REAR, -2e5, &zero), 0);
    ck_assert_double_eq(zero, -2e5);
    ck_assert_uint_eq(zero_of(BT_CH_SPEED, 50, &zero), BT_FLAG_NO_ZERO);
    ck_assert_double_eq(zero, 0);
}
END_TEST

START_TEST(a_line_pressure_left_over_after_a_good_zero_is_drag)
{
    double zero;
    ck_assert_uint_eq(zero_of(BT_CH_LINE_REAR, 4e5, &zero), BT_FLAG_ZERO_OFFSET);
    ck_assert_double_eq(zero, 0);
    ck_assert_uint_eq(zero_of(BT_CH_LINE_REAR, 0.3e5, &zero), 0);
    ck_assert_uint_eq(zero_of(BT_CH_LINE_REAR, 4e5, &zero), BT_FLAG_DRAG); /* over a reset */
    ck_assert_double_eq(zero, 0.3e5); /* the sensor's zero is what it was */
    ck_assert_uint_eq(zero_of(BT_CH_LINE_REAR, -4e5, &zero), BT_FLAG_ZERO_OFFSET);
    ck_assert_double_eq(zero, 0);
}
END_TEST

/* The rear line and its calipers, at these levels in bar before a zone. */
static uint32_t rear_lines(double axle, double left, double right, bt_rest *rest)
{
    start(100, 2);
    double *a = channel(BT_CH_LINE_REAR), *l = channel(BT_CH_LINE_RL), *r = channel(BT_CH_LINE_RR);
    for (size_t i = 0; i < block.n; i++) a[i] = 1e5 * axle, l[i] = 1e5 * left, r[i] = 1e5 * right;
    bt_zeros_reset(zeros);
    bt_zeros_push(zeros, &block, 0, block.n);
    uint32_t flags = 0;
    double zero[BT_CH_COUNT];
    bt_zeros_at(zeros, 2, zero, rest, &flags);
    return flags;
}

START_TEST(a_line_alone_above_its_calipers_is_offset_and_with_one_of_them_it_drags)
{
    bt_rest rest;
    ck_assert_uint_eq(rear_lines(0.3, 0.1, -0.2, &rest), 0);
    ck_assert_uint_eq(rear_lines(3, 0.1, -0.2, &rest), BT_FLAG_ZERO_OFFSET);
    ck_assert_uint_eq(rest.flag[BT_CH_LINE_REAR], BT_FLAG_ZERO_OFFSET);
    ck_assert_double_eq(rest.level[BT_CH_LINE_REAR], 3e5);
    ck_assert_uint_eq(rest.flag[BT_CH_LINE_RL], 0);
    ck_assert_uint_eq(rear_lines(3, 2.8, -0.2, &rest), BT_FLAG_DRAG);
    ck_assert_uint_eq(rear_lines(3, 2.8, 2.5, &rest), BT_FLAG_DRAG);
    ck_assert_uint_eq(rest.flag[BT_CH_LINE_RR], BT_FLAG_DRAG);
    ck_assert_uint_eq(rear_lines(0.3, 2.8, -0.2, &rest), BT_FLAG_DRAG); /* behind its hose */
    ck_assert_double_nan(rest.level[BT_CH_PEDAL_FRONT]);
}
END_TEST

/* Front and rear master cylinder and front line, at these levels in bar before a zone. */
static uint32_t zeros_of(double front, double rear, double line, double zero[BT_CH_COUNT])
{
    start(100, 2);
    double *f = channel(BT_CH_PEDAL_FRONT), *r = channel(BT_CH_PEDAL_REAR),
           *l = channel(BT_CH_LINE_FRONT);
    for (size_t i = 0; i < block.n; i++) f[i] = 1e5 * front, r[i] = 1e5 * rear, l[i] = 1e5 * line;
    bt_zeros_reset(zeros);
    bt_zeros_push(zeros, &block, 0, block.n);
    uint32_t flags = 0;
    bt_zeros_at(zeros, 2, zero, NULL, &flags);
    return flags;
}

START_TEST(a_resting_foot_lifts_all_that_hangs_on_the_pedal_and_an_offset_one)
{
    double zero[BT_CH_COUNT];
    ck_assert_uint_eq(zeros_of(1, 0.5, 1, zero), 0);
    ck_assert_uint_eq(zeros_of(2.6, 1.9, 2.4, zero), 0);
    ck_assert_double_eq(zero[BT_CH_PEDAL_FRONT], 1e5);
    ck_assert_double_eq(zero[BT_CH_LINE_FRONT], 1e5);
    ck_assert_uint_eq(zeros_of(1, 0.5, 1, zero), 0);
    ck_assert_uint_eq(zeros_of(2.6, 0.5, 1, zero), BT_FLAG_ZERO_OFFSET);
    ck_assert_double_eq(zero[BT_CH_PEDAL_FRONT], 0);
    ck_assert_uint_eq(zeros_of(1, 0.5, 2.6, zero), BT_FLAG_DRAG);
}
END_TEST

START_TEST(without_samples_there_is_no_zero)
{
    double zero[BT_CH_COUNT];
    uint32_t flags = 0;
    bt_zeros_at(zeros, 2, zero, NULL, &flags);
    ck_assert_uint_eq(flags, BT_FLAG_NO_ZERO);
    ck_assert_double_eq(zero[BT_CH_PEDAL_FRONT], 0);
    ck_assert(isnan(bt_zeros_running(zeros, BT_CH_PEDAL_FRONT)));
}
END_TEST

START_TEST(a_slow_log_reaches_back_for_three_samples_but_not_over_a_hole)
{
    start(1, 10);
    double *v = channel(BT_CH_PEDAL_FRONT), zero[BT_CH_COUNT];
    for (size_t i = 0; i < block.n; i++) v[i] = 1e4 * (double)i;
    bt_zeros_push(zeros, &block, 0, block.n);
    uint32_t flags = 0;
    bt_zeros_at(zeros, 10.5, zero, NULL, &flags); /* 10, 9, 8 s */
    ck_assert_double_eq(zero[BT_CH_PEDAL_FRONT], 9e4);
    bt_zeros_at(zeros, 14.5, zero, NULL, &flags); /* 10 s only: 9 s is more than 5 s old */
    ck_assert_double_eq(zero[BT_CH_PEDAL_FRONT], 10e4);
    ck_assert_uint_eq(flags, 0);
    bt_zeros_at(zeros, 16, zero, NULL, &flags);
    ck_assert_uint_eq(flags, BT_FLAG_NO_ZERO);
}
END_TEST

START_TEST(how_the_samples_were_pushed_does_not_change_a_zero)
{
    start(1000, 3.5);
    double *v = channel(BT_CH_LINE_FRONT), one[BT_CH_COUNT], many[BT_CH_COUNT];
    for (size_t i = 0; i < block.n; i++) v[i] = 1e5 * sin(0.7 * (double)i);
    uint32_t flags = 0;
    bt_zeros_push(zeros, &block, 0, block.n);
    bt_zeros_at(zeros, 3.4, one, NULL, &flags);
    for (size_t size = 1; size < block.n; size += 97) {
        bt_zeros_reset(zeros);
        for (size_t lo = 0; lo < block.n; lo += size)
            bt_zeros_push(zeros, &block, lo, lo + size < block.n ? lo + size : block.n);
        bt_zeros_at(zeros, 3.4, many, NULL, &flags);
        ck_assert(memcmp(one, many, sizeof one) == 0);
    }
}
END_TEST

START_TEST(the_running_zero_follows_only_what_is_quiet_and_small)
{
    start(100, 8);
    double *v = channel(BT_CH_PEDAL_FRONT);
    for (size_t i = 0; i < block.n; i++)
        v[i] = t[i] < 2 ? 0.8e5 : t[i] < 4 ? 1e5 * (t[i] - 2) : t[i] < 6 ? 1.5e5 : 5e5;
    bt_zeros_push(zeros, &block, 0, 200);
    ck_assert_double_eq(bt_zeros_running(zeros, BT_CH_PEDAL_FRONT), 0.8e5);
    ck_assert_double_eq(bt_zeros_running(zeros, BT_CH_PEDAL_FRONT), 0.8e5);
    for (size_t i = 200; i < 400; i++) v[i] = i % 2 ? 0 : 1.5e5; /* a foot that trembles */
    bt_zeros_push(zeros, &block, 200, 400);
    ck_assert_double_eq(bt_zeros_running(zeros, BT_CH_PEDAL_FRONT), 0.8e5);
    bt_zeros_push(zeros, &block, 400, 600);
    ck_assert_double_eq(bt_zeros_running(zeros, BT_CH_PEDAL_FRONT), 1.5e5);
    bt_zeros_push(zeros, &block, 600, 800);
    ck_assert_double_eq(bt_zeros_running(zeros, BT_CH_PEDAL_FRONT), 1.5e5);
    bt_zeros_reset(zeros);
    ck_assert(isnan(bt_zeros_running(zeros, BT_CH_PEDAL_FRONT)));
}
END_TEST

/* ---- healthy braking ---- */

/* Four seconds: pedal up to 60 bar, held, let go; four wheels from 60 to 20 m/s; the motor covers
 * the rear up to 40 bar and fades out at 3 s, so that the rear line first rests at its threshold.
 * In steps. */
static void healthy(double step_bar)
{
    static const bt_channel wheels[] = {BT_CH_WHEEL_FL, BT_CH_WHEEL_FR, BT_CH_WHEEL_RL,
                                        BT_CH_WHEEL_RR};
    start(100, 4);
    double *front = channel(BT_CH_PEDAL_FRONT), *rear = channel(BT_CH_PEDAL_REAR),
           *line = channel(BT_CH_LINE_FRONT), *by_wire = channel(BT_CH_LINE_REAR),
           *request = channel(BT_CH_LINE_REQUEST), *motor = channel(BT_CH_MOTOR_TORQUE);
    for (size_t i = 0; i < block.n; i++) {
        const double p = ramp(t[i], 0, 2, 0.3, 60) - ramp(t[i], 3.6, 0, 4, 58);
        front[i] = 1e5 * quantised(p, step_bar);
        rear[i] = 1e5 * quantised(0.8 * p, step_bar);
        line[i] = 1e5 * quantised(p - 0.4, step_bar);
        by_wire[i] = 1e5 * quantised(ramp(t[i], 3, 0.5, 3.3, 20), step_bar);
        request[i] = by_wire[i];
        motor[i] = -100;
        for (int w = 0; w < 4; w++)
            channel(wheels[w])[i] = quantised(ramp(t[i], 0, 60, 4, 20) - 0.3 * w, 0.05);
    }
}

static const double steps_bar[] = {1e-9, 0.1, 0.5, 1};
START_TEST(a_healthy_braking_is_not_flagged_however_coarse_the_steps)
{
    healthy(steps_bar[_i]);
    uint32_t which[BT_CH_COUNT];
    ck_assert_uint_eq(bt_sensors_check(&block, which), 0);
    for (int c = 0; c < BT_CH_COUNT; c++) ck_assert_uint_eq(which[c], 0);
}
END_TEST

START_TEST(a_rear_line_at_rest_while_the_motor_brakes_is_healthy)
{
    healthy(0.1);
    for (size_t i = 0; i < block.n; i++) x[BT_CH_LINE_REAR][i] = 1.2e5;
    ck_assert_uint_eq(bt_sensors_check(&block, NULL), 0);
}
END_TEST

START_TEST(a_locked_wheel_is_no_stuck_sensor)
{
    healthy(0.1);
    for (size_t i = 50; i < block.n; i++) x[BT_CH_WHEEL_RL][i] = x[BT_CH_WHEEL_RR][i] = 0;
    ck_assert_uint_eq(bt_sensors_check(&block, NULL), 0);
}
END_TEST

START_TEST(the_last_interval_of_a_slow_channel_is_no_hole)
{
    healthy(0.1);
    for (size_t i = block.n - 15; i < block.n; i++) x[BT_CH_MOTOR_TORQUE][i] = NAN;
    ck_assert_uint_eq(bt_sensors_check(&block, NULL), 0);
}
END_TEST

/* ---- faults ---- */

/* From `from` s on the channel stays at `level`. */
static const struct {
    int channel;
    double from, level;
    uint32_t flag;
} faults[] = {
    {BT_CH_PEDAL_FRONT, 0.1, 20e5, BT_FLAG_SENSOR_STUCK},
    {BT_CH_PEDAL_REAR, 0.05, 5e5, BT_FLAG_SENSOR_STUCK},
    {BT_CH_LINE_FRONT, 0, 0, BT_FLAG_SENSOR_STUCK},
    {BT_CH_LINE_REAR, 0, 12e5, BT_FLAG_SENSOR_STUCK},
    {BT_CH_WHEEL_FL, 0, 0, BT_FLAG_SENSOR_STUCK}, /* dead from the beginning */
    {BT_CH_WHEEL_RR, 1, 41, BT_FLAG_SENSOR_STUCK},
    {BT_CH_PEDAL_FRONT, 3.9, 300e5, BT_FLAG_SENSOR_RANGE},
    {BT_CH_LINE_REAR, 3.9, -12e5, BT_FLAG_SENSOR_RANGE}, /* a broken wire */
    {BT_CH_WHEEL_FR, 3.9, -2, BT_FLAG_SENSOR_RANGE},
    {BT_CH_MOTOR_TORQUE, 3.5, NAN, BT_FLAG_SENSOR_GAP},
};
START_TEST(a_fault_is_flagged_on_its_channel_and_on_no_other)
{
    healthy(0.1);
    for (size_t i = 0; i < block.n; i++)
        if (t[i] >= faults[_i].from) x[faults[_i].channel][i] = faults[_i].level;
    uint32_t which[BT_CH_COUNT];
    ck_assert_uint_eq(bt_sensors_check(&block, which), faults[_i].flag);
    for (int c = 0; c < BT_CH_COUNT; c++)
        ck_assert_uint_eq(which[c], c == faults[_i].channel ? faults[_i].flag : 0);
}
END_TEST

START_TEST(a_pressure_clipped_at_its_limit_while_its_sister_rises_on_is_flagged)
{
    healthy(0.1);
    for (size_t i = 0; i < block.n; i++) {
        x[BT_CH_PEDAL_FRONT][i] = 1e5 * (40 + 30 * sin(2.5 * t[i])); /* 70 bar, 10 bar, ... */
        x[BT_CH_PEDAL_REAR][i] = 0.8 * x[BT_CH_PEDAL_FRONT][i];
        x[BT_CH_LINE_FRONT][i] = fmin(x[BT_CH_PEDAL_FRONT][i], 36e5);
    }
    uint32_t which[BT_CH_COUNT];
    ck_assert_uint_eq(bt_sensors_check(&block, which), BT_FLAG_SENSOR_RANGE);
    ck_assert_uint_eq(which[BT_CH_LINE_FRONT], BT_FLAG_SENSOR_RANGE);
}
END_TEST

START_TEST(left_and_right_lines_watch_each_other)
{
    healthy(0.1);
    double *left = channel(BT_CH_LINE_RL), *right = channel(BT_CH_LINE_RR);
    for (size_t i = 0; i < block.n; i++) left[i] = 7e5, right[i] = x[BT_CH_PEDAL_REAR][i];
    uint32_t which[BT_CH_COUNT];
    ck_assert_uint_eq(bt_sensors_check(&block, which), BT_FLAG_SENSOR_STUCK);
    ck_assert_uint_eq(which[BT_CH_LINE_RL], BT_FLAG_SENSOR_STUCK);
    ck_assert_uint_eq(which[BT_CH_LINE_RR], 0);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("sensors");
    TCase *z = tcase_create("zeros");
    tcase_add_checked_fixture(z, set_up, tear_down);
    tcase_add_test(z, a_zero_is_the_level_of_half_a_second_that_ends_a_tenth_before_the_zone);
    tcase_add_test(z, a_zero_is_finer_than_the_steps_of_its_sensor);
    tcase_add_test(z, two_bar_is_subtracted_and_more_is_flagged);
    tcase_add_test(z, a_line_pressure_left_over_after_a_good_zero_is_drag);
    tcase_add_test(z, a_line_alone_above_its_calipers_is_offset_and_with_one_of_them_it_drags);
    tcase_add_test(z, a_resting_foot_lifts_all_that_hangs_on_the_pedal_and_an_offset_one);
    tcase_add_test(z, without_samples_there_is_no_zero);
    tcase_add_test(z, a_slow_log_reaches_back_for_three_samples_but_not_over_a_hole);
    tcase_add_test(z, how_the_samples_were_pushed_does_not_change_a_zero);
    tcase_add_test(z, the_running_zero_follows_only_what_is_quiet_and_small);
    suite_add_tcase(s, z);
    TCase *c = tcase_create("plausibility");
    tcase_add_loop_test(c, a_healthy_braking_is_not_flagged_however_coarse_the_steps, 0, 4);
    tcase_add_test(c, a_rear_line_at_rest_while_the_motor_brakes_is_healthy);
    tcase_add_test(c, a_locked_wheel_is_no_stuck_sensor);
    tcase_add_test(c, the_last_interval_of_a_slow_channel_is_no_hole);
    tcase_add_loop_test(c, a_fault_is_flagged_on_its_channel_and_on_no_other, 0,
                        sizeof faults / sizeof *faults);
    tcase_add_test(c, a_pressure_clipped_at_its_limit_while_its_sister_rises_on_is_flagged);
    tcase_add_test(c, left_and_right_lines_watch_each_other);
    suite_add_tcase(s, c);
    return s;
}

BT_CHECK_MAIN(suite)
