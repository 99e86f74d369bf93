/* Channels frozen at one value.  What must not be told comes beside what must. */
#include "check_support.h"

#include <math.h>
#include <string.h>

#include "verdict/frozen.h"

#define BAR  1e5
#define ROOM 4000

static bt_frozen *frozen;
static bt_events events;
static double t[ROOM], x[BT_SIGNALS][ROOM];
static double clock_;

static void setup(void)
{
    bt_error err = {0};
    ck_assert_int_eq(bt_frozen_new(&frozen, BT_REAR, &err), BT_OK);
    clock_ = 50;
}

static void teardown(void)
{
    bt_frozen_free(frozen);
    frozen = NULL;
    bt_events_clear(&events);
}

/* A channel that goes straight from one value to another, SI. */
typedef struct {
    int channel;
    double from, to;
} course;

static bt_block drive(double seconds, double zone, const course *c, size_t n)
{
    bt_error err = {0};
    bt_block b = {.t = t, .n = (size_t)lround(100 * seconds)};
    for (size_t i = 0; i < b.n; i++) {
        const double part = (double)i / (double)b.n;
        t[i] = clock_ + 0.01 * (double)i;
        for (size_t k = 0; k < n; k++)
            x[c[k].channel][i] = c[k].from + part * (c[k].to - c[k].from);
    }
    for (size_t k = 0; k < n; k++) b.ch[c[k].channel] = x[c[k].channel];
    clock_ += seconds;
    ck_assert_int_eq(bt_frozen_take(frozen, &b, zone, &events, &err), BT_OK);
    return b;
}
#define DRIVE(seconds, ...)                                                                        \
    drive(seconds, NAN, (course[]){__VA_ARGS__}, sizeof((course[]){__VA_ARGS__}) / sizeof(course))

/* Three brakings, and what lies between. */
static void brake(size_t times, bool by_wire, const course *braking, const course *between,
                  size_t n)
{
    for (size_t i = 0; i < times; i++) {
        const bt_block zone = drive(3, (double)(i + 1), braking, n);
        bt_frozen_braking(frozen, &zone, by_wire);
        drive(10, NAN, between, n);
    }
}

static void finish(void)
{
    bt_error err = {0};
    ck_assert_int_eq(bt_frozen_end(frozen, &events, &err), BT_OK);
}

/* ---- the speed ---- */

START_TEST(speed_against_wheels)
{
    DRIVE(5, {BT_CH_SPEED, 20, 40}, {BT_CH_WHEEL_FL, 20, 40}, {BT_CH_WHEEL_FR, 20, 40});
    DRIVE(8, {BT_CH_SPEED, 25, 25}, {BT_CH_WHEEL_FL, 40, 15}, {BT_CH_WHEEL_FR, 40, 15});
    DRIVE(2, {BT_CH_SPEED, 25, 25}, {BT_CH_WHEEL_FL, 15, 15}, {BT_CH_WHEEL_FR, 15, 15});
    DRIVE(5, {BT_CH_SPEED, 15, 30}, {BT_CH_WHEEL_FL, 15, 30}, {BT_CH_WHEEL_FR, 15, 30});
    finish();
    ck_assert_uint_eq(events.n, 1);
    const bt_event *e = &events.event[0];
    ck_assert_str_eq(e->kind, "sensor-stuck");
    ck_assert_int_eq(e->severity, BT_WATCH);
    ck_assert_double_eq_tol(e->start, 55, 0.11);
    ck_assert_double_eq_tol(e->duration, 10, 0.21);
    ck_assert_double_eq_tol(e->value, 90, 1e-9);
    ck_assert_str_eq(e->reason,
                     "speed stands at 90.0 km/h while wheel_fl goes from 54 to 144 km/h");
    ck_assert_double_eq_tol(bt_frozen_speed_time(frozen), e->duration, 1e-9);
}
END_TEST

START_TEST(speed_to_the_end)
{
    DRIVE(10, {BT_CH_SPEED, 0, 0}, {BT_CH_WHEEL_FL, 0, 36});
    DRIVE(1, {BT_CH_SPEED, 0, 0}, {BT_CH_WHEEL_FL, 36, 36});
    finish();
    ck_assert_uint_eq(events.n, 1);
    ck_assert_str_eq(
        events.event[0].reason,
        "speed stands at 0.0 km/h while wheel_fl goes from 0 to 130 km/h; so to the end");
}
END_TEST

START_TEST(speed_against_the_accelerometer)
{
    DRIVE(10, {BT_CH_SPEED, 30, 30}, {BT_CH_ACCEL_LONG, -6, -6});
    finish();
    ck_assert_uint_eq(events.n, 1);
    ck_assert_str_eq(events.event[0].reason,
                     "speed stands at 108.0 km/h while accel_long shows -6.0 m/s²; so to the end");
}
END_TEST

START_TEST(speed_that_may_stand)
{
    /* At rest, with an accelerometer that is tilted. */
    DRIVE(20, {BT_CH_SPEED, 0, 0}, {BT_CH_ACCEL_LONG, 3, 3});
    /* On a rolling road, where two of four turn. */
    DRIVE(20, {BT_CH_SPEED, 0, 0}, {BT_CH_WHEEL_FL, 0, 0}, {BT_CH_WHEEL_FR, 0, 0},
          {BT_CH_WHEEL_RL, 0, 40}, {BT_CH_WHEEL_RR, 0, 40});
    /* Renewed once in 1.9 s, and a cruise. */
    for (int i = 0; i < 8; i++)
        DRIVE(1.9, {BT_CH_SPEED, 40 - 3 * i, 40 - 3 * i}, {BT_CH_WHEEL_FL, 40 - 3 * i, 36 - 3 * i});
    DRIVE(30, {BT_CH_SPEED, 30, 30}, {BT_CH_WHEEL_FL, 30, 30.2}, {BT_CH_ACCEL_LONG, 0.3, 0.3});
    finish();
    ck_assert_uint_eq(events.n, 0);
    ck_assert_double_eq(bt_frozen_speed_time(frozen), 0);
}
END_TEST

START_TEST(speed_without_a_value_is_a_gap)
{
    DRIVE(10, {BT_CH_SPEED, NAN, NAN}, {BT_CH_WHEEL_FL, 40, 10});
    DRIVE(10, {BT_CH_WHEEL_FL, 10, 40});
    finish();
    ck_assert_uint_eq(events.n, 0);
}
END_TEST

/* ---- what is given and asked ---- */

START_TEST(motor_stands)
{
    const course braking[] = {{BT_CH_MOTOR_TORQUE, 12, 12}, {BT_CH_MOTOR_REQUEST, 0, -60}};
    const course between[] = {{BT_CH_MOTOR_TORQUE, 12, 12}, {BT_CH_MOTOR_REQUEST, 80, 80}};
    brake(2, true, braking, between, 2);
    finish();
    ck_assert_uint_eq(events.n, 0);
    brake(1, true, braking, between, 2);
    finish();
    ck_assert_uint_eq(events.n, 1);
    ck_assert_str_eq(events.event[0].reason,
                     "motor_torque stands at 12.0 N·m through 3 brakings and all between, while "
                     "motor_request moves by 60 N·m; so to the end");
    ck_assert_double_eq_tol(events.event[0].start, 50, 1e-9);
    ck_assert_str_eq(events.event[0].unit, "N.m");
}
END_TEST

START_TEST(motor_gone_is_no_sensor)
{
    const course braking[] = {{BT_CH_MOTOR_TORQUE, 0, 0}, {BT_CH_MOTOR_REQUEST, 0, -60}};
    brake(5, true, braking, braking, 2);
    finish();
    ck_assert_uint_eq(events.n, 0);
}
END_TEST

START_TEST(request_stands)
{
    const course braking[] = {{BT_CH_MOTOR_TORQUE, 0, -70}, {BT_CH_MOTOR_REQUEST, 0, 0}};
    brake(3, true, braking, braking, 2);
    finish();
    ck_assert_uint_eq(events.n, 1);
    ck_assert_ptr_nonnull(strstr(events.event[0].reason, "motor_request stands at 0.0 N·m"));
}
END_TEST

/* At its limit through every braking, as the charge allows no more, it lives between. */
START_TEST(request_at_its_limit)
{
    const course braking[] = {{BT_CH_MOTOR_TORQUE, -80, -20}, {BT_CH_MOTOR_REQUEST, -80, -80}};
    const course between[] = {{BT_CH_MOTOR_TORQUE, 0, 90}, {BT_CH_MOTOR_REQUEST, 0, 90}};
    brake(6, true, braking, between, 2);
    finish();
    ck_assert_uint_eq(events.n, 0);
}
END_TEST

START_TEST(line_request_stands)
{
    const course braking[] = {{BT_CH_LINE_REAR, 0, 25 * BAR}, {BT_CH_LINE_REQUEST, 0, 0}};
    brake(3, true, braking, braking, 2);
    DRIVE(1, {BT_CH_LINE_REQUEST, 1 * BAR, 2 * BAR});
    finish();
    ck_assert_uint_eq(events.n, 1);
    ck_assert_str_eq(events.event[0].reason,
                     "line_request stands at 0.0 bar through 3 brakings and all between, while "
                     "line_rear moves by 25 bar");
    ck_assert_double_eq_tol(events.event[0].duration, 39, 0.11);
}
END_TEST

START_TEST(line_on_its_bypass_needs_no_request)
{
    const course braking[] = {{BT_CH_LINE_REAR, 0, 25 * BAR}, {BT_CH_LINE_REQUEST, 0, 0}};
    brake(5, false, braking, braking, 2);
    finish();
    ck_assert_uint_eq(events.n, 0);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("frozen");
    TCase *c = tcase_create("frozen");
    tcase_add_checked_fixture(c, setup, teardown);
    tcase_add_test(c, speed_against_wheels);
    tcase_add_test(c, speed_to_the_end);
    tcase_add_test(c, speed_against_the_accelerometer);
    tcase_add_test(c, speed_that_may_stand);
    tcase_add_test(c, speed_without_a_value_is_a_gap);
    tcase_add_test(c, motor_stands);
    tcase_add_test(c, motor_gone_is_no_sensor);
    tcase_add_test(c, request_stands);
    tcase_add_test(c, request_at_its_limit);
    tcase_add_test(c, line_request_stands);
    tcase_add_test(c, line_on_its_bypass_needs_no_request);
    suite_add_tcase(s, c);
    return s;
}

BT_CHECK_MAIN(suite)
