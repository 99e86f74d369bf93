/* The list of events, and the detectors on zones made by hand. */
#include "check_support.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "verdict/detectors.h"
#include "zones/sensors.h"

#define BAR 1e5
#define N   300
#define DT  0.01

static bt_car *car;
static bt_channels channels;
static bt_detectors *detectors;
static bt_events events;
static bt_torques torques;
static bt_slip slip;
static bt_zone row;
static bt_braking zone;
static double t[N], value[BT_CH_COUNT][N];
static double clock_;

static void setup(void)
{
    bt_error err = {0};
    ck_assert_int_eq(bt_car_new(&car, &err), BT_OK);
    ck_assert_int_eq(bt_car_set(car, "disc_limit_rear=550", &err), BT_OK);
    for (int c = 0; c < BT_CH_COUNT; c++) channels.ch[c].column = -1;
    memset(&events, 0, sizeof events);
    snprintf(events.run, sizeof events.run, "run1");
    events.offset = 1000;
    memset(&torques, 0, sizeof torques);
    slip = (bt_slip){.front = NAN, .rear = NAN, .first_lock = NAN, .wheel = BT_CH_COUNT};
    clock_ = 100;
    row.zone = 0;
    ck_assert_int_eq(bt_detectors_new(&detectors, &channels, car, &err), BT_OK);
}

static void teardown(void)
{
    bt_events_clear(&events);
    bt_detectors_free(detectors);
    bt_car_free(car);
}

/* A new zone of nothing; channels are added by give(). */
static void start(void)
{
    const double number = row.zone;
    zone = (bt_braking){.s = {.n = N, .t = t}};
    bt_row_blank(BT_TABLE_ZONES, &row);
    row.zone = number + 1;
    row.lap = 2;
    for (int i = 0; i < N; i++) t[i] = clock_ + i * DT;
    clock_ += N * DT;
}

static double *give(bt_channel c)
{
    zone.s.ch[c] = value[c];
    channels.ch[c].column = (int)c;
    return value[c];
}

static void judge(void)
{
    bt_error err = {0};
    uint32_t which[BT_CH_COUNT];
    (void)bt_sensors_check(&zone.s, which);
    ck_assert_int_eq(
        bt_detectors_zone(detectors, &zone, &torques, &slip, which, &row, &events, &err), BT_OK);
}

/* 5 s at 100 Hz without braking, one channel at a level with a ripple. */
static void coast(bt_channel c, double level, double ripple)
{
    static double at[500], x[500];
    bt_error err = {0};
    for (int i = 0; i < 500; i++) {
        at[i] = clock_ + 0.01 * i;
        x[i] = level + ripple * (i % 7) / 6;
    }
    bt_block run = {.n = 500, .t = at};
    run.ch[c] = x;
    ck_assert_int_eq(bt_detectors_free_run(detectors, &run, BT_CH_PEDAL_FRONT, &events, &err),
                     BT_OK);
    clock_ += 5;
}

static void finish(void)
{
    bt_error err = {0};
    ck_assert_int_eq(bt_detectors_end(detectors, &events, &err), BT_OK);
}

static const bt_event *only(const char *kind)
{
    ck_assert_uint_eq(events.n, 1);
    ck_assert_str_eq(events.event[0].kind, kind);
    ck_assert_str_eq(events.event[0].run, "run1");
    return &events.event[0];
}

START_TEST(events_are_sorted_by_start_and_equal_ones_keep_their_order)
{
    static const struct {
        const char *kind;
        double start;
    } made[] = {{"a", 5}, {"b", 2}, {"c", 5}, {"d", 1}};
    bt_error err = {0};
    for (int i = 0; i < 4; i++) {
        bt_event *e;
        ck_assert_int_eq(bt_events_add(&events, made[i].kind, BT_NOTE, made[i].start, 1, &e, &err),
                         BT_OK);
        ck_assert_double_nan(e->value);
        ck_assert_double_nan(e->zone);
    }
    bt_events_sort(&events);
    const char *want[] = {"d", "b", "a", "c"};
    for (int i = 0; i < 4; i++) ck_assert_str_eq(events.event[i].kind, want[i]);
    ck_assert_double_eq(events.event[0].start, 1001); /* the log's own seconds */
}
END_TEST

START_TEST(a_reason_is_made_of_whole_pieces)
{
    bt_error err = {0};
    bt_event *e;
    ck_assert_int_eq(bt_events_add(&events, "drag", BT_NOTE, 0, 1, &e, &err), BT_OK);
    bt_event_say(e, "%s %d", "one", 1);
    bt_event_say(e, "two");
    ck_assert_str_eq(e->reason, "one 1; two");
    bt_event_say(e, "%0190d", 0);
    ck_assert_str_eq(e->reason, "one 1; two"); /* 10 + 2 + 190 bytes do not fit into 199 */
    bt_event_say(e, "three");
    ck_assert_str_eq(e->reason, "one 1; two; three");
}
END_TEST

START_TEST(a_motor_gone_over_two_zones_is_one_loss)
{
    static double asked[N], given[N], demand[N];
    torques = (bt_torques){
        .n = N, .demand = demand, .motor = given, .req_motor = asked, .motor_bywire = true};
    for (int i = 0; i < N; i++) demand[i] = 1000, asked[i] = 600, given[i] = 0;
    const double first = clock_;
    for (int z = 0; z < 2; z++) {
        start();
        judge();
    }
    ck_assert_uint_eq(events.n, 0);
    for (int i = 0; i < N; i++) given[i] = 580;
    start();
    judge();
    const bt_event *e = only("motor-loss");
    ck_assert_double_eq_tol(e->start, first + 1000, 1e-9);
    ck_assert_double_eq_tol(e->duration, 2 * N * DT - DT, 1e-9);
    ck_assert_double_eq(e->zone, 1);
    ck_assert_str_eq(e->reason, "motor gone while asked for: 600 N·m less than asked");
}
END_TEST

START_TEST(a_motor_that_answers_late_or_is_gone_in_a_fallback_is_no_loss)
{
    static double asked[N], given[N], demand[N];
    torques = (bt_torques){
        .n = N, .demand = demand, .motor = given, .req_motor = asked, .motor_bywire = true};
    for (int i = 0; i < N; i++) demand[i] = 1000, asked[i] = 600, given[i] = i < 25 ? 0 : 600;
    start();
    judge();
    for (int i = 0; i < N; i++) given[i] = 0;
    start();
    snprintf(row.mode, sizeof row.mode, "fallback");
    judge();
    finish();
    ck_assert_uint_eq(events.n, 0);
}
END_TEST

START_TEST(a_line_that_stays_while_its_request_moves_is_a_stall)
{
    start();
    double *line = give(BT_CH_LINE_REAR), *asked = give(BT_CH_LINE_REQUEST);
    for (int i = 0; i < N; i++) {
        asked[i] = BAR * (30 + 25 * sin(3 * i * DT)); /* 8 bar take 0.1 s and more */
        line[i] = BAR * (40 + 0.01 * (i % 3));
    }
    judge();
    finish();
    const bt_event *e = only("actuator-stall");
    ck_assert_int_eq(e->severity, BT_WATCH);
    ck_assert_double_gt(e->duration, 1);
    ck_assert_ptr_nonnull(strstr(e->reason, "by-wire line stands at 40.0 bar"));
}
END_TEST

START_TEST(a_line_that_follows_its_request_late_is_no_stall)
{
    start();
    double *line = give(BT_CH_LINE_REAR), *asked = give(BT_CH_LINE_REQUEST);
    for (int i = 0; i < N; i++) {
        asked[i] = BAR * (30 + 25 * sin(3 * i * DT));
        line[i] = i < 15 ? 30 * BAR : asked[i - 15];
    }
    judge();
    finish();
    ck_assert_uint_eq(events.n, 0);
}
END_TEST

START_TEST(a_locked_wheel_is_an_event_of_its_zone)
{
    start();
    slip = (bt_slip){.front = 0.9,
                     .rear = 0.1,
                     .lock = 0.4,
                     .locks = 2,
                     .first_lock = 101.5,
                     .wheel = BT_CH_WHEEL_FL};
    judge();
    const bt_event *e = only("wheel-lock");
    ck_assert_double_eq(e->start, 1101.5);
    ck_assert_double_eq(e->duration, 0.4);
    ck_assert_double_eq_tol(e->value, 90, 1e-9);
    ck_assert_str_eq(
        e->reason,
        "wheel_fl first beyond the slip limit of 20 %, up to 90.0 %; 0.40 s in all, in 2 pieces");
}
END_TEST

START_TEST(lines_of_one_axle_apart_by_more_than_a_tenth_are_told)
{
    for (int z = 0; z < 2; z++) {
        start();
        double *left = give(BT_CH_LINE_RL), *right = give(BT_CH_LINE_RR);
        for (int i = 0; i < N; i++) left[i] = 30 * BAR, right[i] = (z ? 20 : 28) * BAR;
        judge(); /* 2 of 29 bar are no matter, 10 of 25 are 40 % */
    }
    finish();
    const bt_event *e = only("left-right");
    ck_assert_str_eq(e->reason, "line_rr is 40 % below line_rl, of their mean 25.0 bar");
    ck_assert_double_eq(e->zone, 2);
    ck_assert_double_eq_tol(e->value, 40, 1e-9);
}
END_TEST

START_TEST(a_disc_over_its_limit_stops_the_car)
{
    const double temps[] = {500, 560, 575, 520};
    for (int z = 0; z < 4; z++) {
        start();
        row.disc_rear = temps[z] + 273.15;
        judge();
    }
    const bt_event *e = only("disc-limit");
    ck_assert_int_eq(e->severity, BT_STOP);
    ck_assert_double_eq(e->zone, 2);
    ck_assert_double_eq_tol(e->value, 575, 1e-9);
    ck_assert_str_eq(e->reason, "rear discs at 575 °C, limit 550 °C");
}
END_TEST

/* Zones whose line read `level` at rest, was zeroed by `zero` and flagged, as the segment stage does. */
static void zone_after_rest(double level, double zero, uint32_t flags)
{
    start();
    for (int c = 0; c < BT_CH_COUNT; c++) zone.rest.level[c] = NAN;
    zone.rest.level[BT_CH_LINE_REAR] = level;
    zone.rest.flag[BT_CH_LINE_REAR] = flags;
    double *line = give(BT_CH_LINE_REAR);
    for (int i = 0; i < N; i++) line[i] = BAR * (10 + i % 7);
    zone.zero[BT_CH_LINE_REAR] = zero;
    zone.flags = flags;
    judge();
}

START_TEST(pressure_left_after_release_is_drag)
{
    coast(BT_CH_LINE_REAR, 0.4 * BAR, 0.1 * BAR);
    zone_after_rest(0.45 * BAR, 0.45 * BAR, 0);
    coast(BT_CH_LINE_REAR, 5 * BAR, 0.1 * BAR);
    zone_after_rest(5.05 * BAR, 0.45 * BAR, BT_FLAG_DRAG); /* the zero is the last good one */
    finish();
    const bt_event *e = only("drag");
    ck_assert_int_eq(e->severity, BT_WATCH);
    ck_assert_double_eq_tol(e->value, 4.6, 1e-9);
    ck_assert_str_eq(e->reason,
                     "4.6 bar in line_rear left with the pedal released; or its sensor's "
                     "zero moved: no other line is logged to tell");
    ck_assert_double_eq_tol(e->start, 1000 + 107.99, 1e-6); /* the first zone's end */
}
END_TEST

/* A zone before which these channels read these levels, in bar; flagged beyond 2 bar as the segment stage does. */
typedef struct {
    bt_channel channel;
    double bar;
    uint32_t flag;
} at_rest;
static void zone_from(const at_rest *r, size_t n)
{
    start();
    for (int c = 0; c < BT_CH_COUNT; c++) zone.rest.level[c] = NAN;
    for (size_t i = 0; i < n; i++) {
        double *x = give(r[i].channel);
        for (int k = 0; k < N; k++) x[k] = BAR * (10 + k % 7);
        zone.rest.level[r[i].channel] = r[i].bar * BAR;
        zone.rest.flag[r[i].channel] = r[i].flag;
        zone.flags |= r[i].flag;
    }
    judge();
}
#define FROM(r) zone_from(r, sizeof(r) / sizeof *(r))

static const at_rest sound[] = {{BT_CH_PEDAL_FRONT, 0.3, 0}, {BT_CH_PEDAL_REAR, -0.2, 0},
                                {BT_CH_LINE_FRONT, 0.2, 0},  {BT_CH_LINE_REAR, 0.4, 0},
                                {BT_CH_LINE_RL, 0.1, 0},     {BT_CH_LINE_RR, 0, 0}};

START_TEST(one_drag_is_one_event_that_names_the_calipers)
{
    static const at_rest drags[] = {{BT_CH_LINE_REAR, 5.4, BT_FLAG_DRAG},
                                    {BT_CH_LINE_RL, 5.2, BT_FLAG_DRAG},
                                    {BT_CH_LINE_RR, 4.8, BT_FLAG_DRAG}};
    FROM(sound);
    FROM(drags);
    FROM(drags);
    finish();
    const bt_event *e = only("drag");
    ck_assert_double_eq_tol(e->value, 5.1, 1e-9);
    ck_assert_str_eq(e->reason,
                     "5.1 bar in line_rl and 4.8 bar in line_rr left with the pedal released");
}
END_TEST

START_TEST(a_caliper_that_drags_alone_is_told_from_its_twin)
{
    static const at_rest drags[] = {
        {BT_CH_LINE_REAR, 0.4, 0}, {BT_CH_LINE_RL, 0.1, 0}, {BT_CH_LINE_RR, 6, BT_FLAG_DRAG}};
    FROM(sound);
    FROM(drags);
    finish();
    ck_assert_str_eq(only("drag")->reason,
                     "6.0 bar in line_rr left with the pedal released; the other side is free");
}
END_TEST

START_TEST(a_little_pressure_in_all_lines_of_an_axle_is_drag_and_no_three_offsets)
{
    static const at_rest drags[] = {
        {BT_CH_LINE_REAR, 1.9, 0}, {BT_CH_LINE_RL, 1.6, 0}, {BT_CH_LINE_RR, 1.5, 0}};
    FROM(sound);
    FROM(drags);
    finish();
    ck_assert_double_eq_tol(only("drag")->value, 1.5, 1e-9);
}
END_TEST

START_TEST(a_foot_that_rests_is_no_event_and_one_sensor_that_reads_more_is)
{
    static const at_rest foot[] = {
        {BT_CH_PEDAL_FRONT, 1.9, 0}, {BT_CH_PEDAL_REAR, 1.2, 0}, {BT_CH_LINE_FRONT, 1.8, 0}};
    static const at_rest one[] = {
        {BT_CH_PEDAL_FRONT, 1.9, 0}, {BT_CH_PEDAL_REAR, -0.2, 0}, {BT_CH_LINE_FRONT, 0.2, 0}};
    FROM(sound);
    FROM(foot);
    finish();
    ck_assert_uint_eq(events.n, 0);
    FROM(one);
    finish();
    const bt_event *e = only("sensor-offset");
    ck_assert_int_eq(e->severity, BT_WATCH);
    ck_assert_double_eq_tol(e->value, 1.6, 1e-9);
    ck_assert_str_eq(e->reason, "pedal_front: zero moved by +1.60 bar since the first braking, to "
                                "+1.90 bar; subtracted");
}
END_TEST

START_TEST(what_a_pedal_alone_reads_is_told_with_its_doubt)
{
    static const at_rest before[] = {{BT_CH_PEDAL_FRONT, 0.3, 0}},
                         now[] = {{BT_CH_PEDAL_FRONT, 3.7, 0}};
    FROM(before);
    FROM(now);
    finish();
    const bt_event *e = only("sensor-offset");
    ck_assert_int_eq(e->severity, BT_WATCH);
    ck_assert_str_eq(
        e->reason,
        "pedal_front reads +3.70 bar between brakings, +0.30 bar at first; its zero moved "
        "or a foot rests: no other sensor on the pedal tells");
}
END_TEST

START_TEST(pressure_left_without_any_noise_is_a_stuck_sensor)
{
    coast(BT_CH_LINE_REAR, 0.4 * BAR, 0.1 * BAR);
    zone_after_rest(0.45 * BAR, 0.45 * BAR, 0);
    coast(BT_CH_LINE_REAR, 5 * BAR, 0);
    zone_after_rest(5 * BAR, 0.45 * BAR, BT_FLAG_DRAG);
    finish();
    ck_assert_int_eq(only("sensor-stuck")->severity, BT_STOP);
}
END_TEST

START_TEST(a_pressure_that_cannot_be_is_told_without_any_zone)
{
    const double from = clock_;
    coast(BT_CH_PEDAL_FRONT, -25 * BAR, 0.1 * BAR);
    coast(BT_CH_PEDAL_FRONT, -25 * BAR, 0);
    coast(BT_CH_LINE_REAR, 3 * BAR, 0.1 * BAR);
    finish();
    const bt_event *e = only("sensor-range");
    ck_assert_int_eq(e->severity, BT_STOP);
    ck_assert_double_eq_tol(e->start, 1000 + from, 1e-9);
    ck_assert_double_eq_tol(e->duration, 9.99, 1e-9);
    ck_assert_double_eq_tol(e->value, -25, 0.1);
    ck_assert_double_nan(e->zone);
    ck_assert_str_eq(e->reason, "pedal_front at -25.0 bar: no sensor reads that");
}
END_TEST

START_TEST(what_is_out_of_range_is_told_in_its_own_unit)
{
    start();
    double *wheel = give(BT_CH_WHEEL_FL), *disc = give(BT_CH_DISC_RL);
    for (int i = 0; i < N; i++) wheel[i] = 200, disc[i] = 2000 + 273.15;
    judge();
    finish();
    ck_assert_uint_eq(events.n, 2);
    ck_assert_str_eq(events.event[0].reason, "wheel_fl at 720.0 km/h: no sensor reads that");
    ck_assert_str_eq(events.event[1].reason, "disc_rl at 2000.0 °C: no sensor reads that");
    ck_assert_str_eq(events.event[1].unit, "Cel");
}
END_TEST

START_TEST(a_zero_beyond_two_bar_is_an_offset)
{
    coast(BT_CH_LINE_REAR, 3 * BAR, 0.1 * BAR);
    zone_after_rest(3.05 * BAR, 0, BT_FLAG_ZERO_OFFSET);
    finish();
    const bt_event *e = only("sensor-offset");
    ck_assert_int_eq(e->severity, BT_STOP);
    ck_assert_double_eq_tol(e->value, 3.05, 1e-9);
}
END_TEST

START_TEST(a_zero_that_wanders_by_more_than_a_bar_is_watched)
{
    for (int z = 0; z < 4; z++) {
        coast(BT_CH_LINE_REAR, (0.2 + 0.5 * z) * BAR, 0.1 * BAR);
        zone_after_rest((0.2 + 0.5 * z) * BAR, (0.2 + 0.5 * z) * BAR, 0);
    }
    finish();
    const bt_event *e = only("sensor-offset");
    ck_assert_int_eq(e->severity, BT_WATCH);
    ck_assert_double_eq(e->zone, 4); /* 1.5 bar; the third had just 1.0 */
    ck_assert_double_eq_tol(e->value, 1.5, 1e-9);
}
END_TEST

START_TEST(a_hole_between_zones_is_a_gap_and_a_short_one_is_none)
{
    coast(BT_CH_LINE_REAR, 0.4 * BAR, 0.1 * BAR);
    const double from = clock_;
    coast(BT_CH_LINE_REAR, NAN, 0);
    coast(BT_CH_LINE_REAR, 0.4 * BAR, 0.1 * BAR);
    zone_after_rest(0.45 * BAR, 0.45 * BAR, 0);
    start();
    double *line = give(BT_CH_LINE_REAR);
    for (int i = 0; i < N; i++) line[i] = i > 100 && i < 180 ? NAN : BAR * (10 + i % 7);
    judge();
    finish();
    const bt_event *e = only("sensor-gap");
    ck_assert_int_eq(e->severity, BT_STOP);
    ck_assert_double_eq_tol(e->start, from + 1000, 1e-9);
    ck_assert_double_eq_tol(e->duration, 5, 1e-9);
}
END_TEST

START_TEST(a_quiet_run_has_no_events)
{
    for (int z = 0; z < 10; z++) {
        coast(BT_CH_LINE_REAR, 0.4 * BAR, 0.1 * BAR);
        zone_after_rest(0.45 * BAR, 0.45 * BAR, 0);
    }
    finish();
    ck_assert_uint_eq(events.n, 0);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("events");
    TCase *c = tcase_create("events");
    tcase_add_checked_fixture(c, setup, teardown);
    tcase_add_test(c, events_are_sorted_by_start_and_equal_ones_keep_their_order);
    tcase_add_test(c, a_reason_is_made_of_whole_pieces);
    tcase_add_test(c, a_motor_gone_over_two_zones_is_one_loss);
    tcase_add_test(c, a_motor_that_answers_late_or_is_gone_in_a_fallback_is_no_loss);
    tcase_add_test(c, a_line_that_stays_while_its_request_moves_is_a_stall);
    tcase_add_test(c, a_line_that_follows_its_request_late_is_no_stall);
    tcase_add_test(c, a_locked_wheel_is_an_event_of_its_zone);
    tcase_add_test(c, lines_of_one_axle_apart_by_more_than_a_tenth_are_told);
    tcase_add_test(c, a_disc_over_its_limit_stops_the_car);
    tcase_add_test(c, pressure_left_after_release_is_drag);
    tcase_add_test(c, one_drag_is_one_event_that_names_the_calipers);
    tcase_add_test(c, a_caliper_that_drags_alone_is_told_from_its_twin);
    tcase_add_test(c, a_little_pressure_in_all_lines_of_an_axle_is_drag_and_no_three_offsets);
    tcase_add_test(c, a_foot_that_rests_is_no_event_and_one_sensor_that_reads_more_is);
    tcase_add_test(c, what_a_pedal_alone_reads_is_told_with_its_doubt);
    tcase_add_test(c, pressure_left_without_any_noise_is_a_stuck_sensor);
    tcase_add_test(c, a_pressure_that_cannot_be_is_told_without_any_zone);
    tcase_add_test(c, what_is_out_of_range_is_told_in_its_own_unit);
    tcase_add_test(c, a_zero_beyond_two_bar_is_an_offset);
    tcase_add_test(c, a_zero_that_wanders_by_more_than_a_bar_is_watched);
    tcase_add_test(c, a_hole_between_zones_is_a_gap_and_a_short_one_is_none);
    tcase_add_test(c, a_quiet_run_has_no_events);
    suite_add_tcase(s, c);
    return s;
}

BT_CHECK_MAIN(suite)
