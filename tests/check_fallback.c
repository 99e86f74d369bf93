/* The by-wire verdict on zones made by hand.  The car: friction makes 30 N*m per bar above 0.5 bar, the
 * pedal asks for 40 N*m per bar, the bypass passes 0.9 of the pedal's pressure.  So a line by wire is
 * at 40/30 P - M/30 + 0.5 bar, one on the bypass at 0.9 P. */
#include "check_support.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "verdict/fallback.h"
#include "verdict/harm.h"

#define BAR     1e5
#define N       400 /* samples of a zone, ... */
#define DT      0.01
#define DELAY   4 /* samples by which the by-wire's line is late */
#define NO_TIME 1e9

static bt_car *car;
static bt_channels channels;
static bt_fallback *watch;
static bt_events events;
static bt_torques torques;
static double t[N], pedal[N], line[N], shaft[N], flag[N];
static const double *asked_line; /* of a log with requests */
static bt_run run;
static bt_zone row;
static double clock_;
static size_t count = N; /* samples of the zone */

static void set(const char *assignment)
{
    bt_error err = {0};
    ck_assert_int_eq(bt_car_set(car, assignment, &err), BT_OK);
}

static void log_channel(bt_channel c)
{
    channels.ch[c].column = (int)c;
}

static void setup(void)
{
    bt_error err = {0};
    ck_assert_int_eq(bt_car_new(&car, &err), BT_OK);
    set("pad_friction_rear=0.5");
    set("piston_area_rear=0.0015 m2");
    set("effective_radius_rear=0.1 m"); /* 4 * 0.5 * 0.0015 * 0.1 * 1e5 = 30 N*m per bar */
    set("threshold_rear=0.5 bar");
    set("demand_gain=40 N·m/bar");
    set("bypass_ratio=0.9");
    set("motor_ratio=8");
    for (int c = 0; c < BT_CH_COUNT; c++)
        channels.ch[c] = (bt_binding){.column = -1, .factor = 1, .tolerance = NAN};
    log_channel(BT_CH_PEDAL_REAR);
    log_channel(BT_CH_LINE_REAR);
    log_channel(BT_CH_MOTOR_TORQUE);
    memset(&events, 0, sizeof events);
    memset(&torques, 0, sizeof torques);
    bt_row_blank(BT_TABLE_RUNS, &run);
    bt_row_blank(BT_TABLE_ZONES, &row);
    clock_ = 100;
    count = N;
    watch = NULL;
}

static void teardown(void)
{
    bt_events_clear(&events);
    bt_torques_clear(&torques);
    bt_fallback_free(watch);
    bt_car_free(car);
}

static void begin(void)
{
    bt_error err = {0};
    ck_assert_int_eq(bt_fallback_new(&watch, &channels, car, &err), BT_OK);
}

/* 0.3 s up to `peak` bar with a swing of 5 % around it, the last 0.7 s down to nothing. */
static double foot(int i, double peak)
{
    const double s = i * DT, end = N * DT - s;
    if (s < 0.3) return peak * s / 0.3;
    const double hold = peak * (1 + 0.05 * sin(7 * (s - 0.3)));
    return end < 0.7 ? hold * end / 0.7 : hold;
}

/* Axle torque that the motor takes: up to `most`, three fifths of the demand. */
static double motor_nm(double bar, double most)
{
    return fmin(0.6 * 40 * bar, most);
}

static double wire_bar(double bar, double motor)
{
    const double left = 40 * bar - motor;
    return left > 0 ? left / 30 + 0.5 : 0;
}

/* A zone that starts now; the line goes over to the bypass after `gone` s and comes back after `back` s;
 * the motor goes and comes with it. */
static void fill(double peak, double most, double gone, double back)
{
    for (int i = 0; i < N; i++) {
        const double s = i * DT, bar = foot(i, peak);
        const double was = i < DELAY ? 0 : foot(i - DELAY, peak);
        const bool piped = s >= gone && s < back;
        t[i] = clock_ + s;
        pedal[i] = BAR * bar;
        shaft[i] = piped ? 0 : -motor_nm(bar, most) / 8;
        line[i] = BAR * (piped ? 0.9 * bar : wire_bar(was, motor_nm(was, most)));
    }
}

static const uint8_t *judge(void)
{
    bt_error err = {0};
    bt_braking zone = {.s = {.n = count, .t = t}, .pedal = BT_CH_PEDAL_REAR};
    const struct {
        bt_channel c;
        const double *x;
    } logged[] = {{BT_CH_PEDAL_REAR, pedal},
                  {BT_CH_LINE_REAR, line},
                  {BT_CH_MOTOR_TORQUE, shaft},
                  {BT_CH_LINE_REQUEST, asked_line},
                  {BT_CH_BYWIRE_STATE, flag}};
    for (size_t i = 0; i < sizeof logged / sizeof *logged; i++)
        if (bt_channels_has(&channels, logged[i].c)) zone.s.ch[logged[i].c] = logged[i].x;
    const double number = isnan(row.zone) ? 0 : row.zone;
    bt_row_blank(BT_TABLE_ZONES, &row);
    row.zone = number + 1;
    row.lap = 7;
    row.start = t[0];
    row.pedal_peak = 40 * BAR;
    ck_assert_int_eq(bt_torques_make(&torques, &zone.s, car, &err), BT_OK);
    row.demand = row.motor = 0;
    for (size_t i = 0; i < count; i++) {
        row.demand += 40 * pedal[i] / BAR / (double)count;
        row.motor -= shaft[i] * 8 / (double)count;
    }
    const uint8_t *states;
    ck_assert_int_eq(bt_fallback_zone(watch, &zone, &torques, &row, &states, &events, &err), BT_OK);
    clock_ = t[count - 1] + DT;
    return states;
}

static void by_wire(void)
{
    fill(40, 600, NO_TIME, NO_TIME);
    judge();
}

static void piped(void)
{
    fill(40, 600, 0, NO_TIME);
    judge();
}

/* 10 s without braking at 20 Hz. */
static void coast(double value)
{
    static double at[200], state[200];
    bt_error err = {0};
    for (int i = 0; i < 200; i++) at[i] = clock_ + 0.05 * i, state[i] = value;
    bt_block free_run = {.n = 200, .t = at};
    if (bt_channels_has(&channels, BT_CH_BYWIRE_STATE)) free_run.ch[BT_CH_BYWIRE_STATE] = state;
    ck_assert_int_eq(bt_fallback_free_run(watch, &free_run, &events, &err), BT_OK);
    clock_ += 10;
}

static void flag_is(double value)
{
    for (int i = 0; i < N; i++) flag[i] = value;
}

static void finish(void)
{
    bt_error err = {0};
    ck_assert_int_eq(bt_fallback_end(watch, &run, &events, &err), BT_OK);
}

static void assert_mode(const char *mode)
{
    ck_assert_str_eq(row.mode, mode);
}

START_TEST(a_line_where_the_blend_wants_it_is_by_wire)
{
    begin();
    by_wire();
    assert_mode("by-wire");
    finish();
    ck_assert_uint_eq(events.n, 0);
    ck_assert_double_eq(run.fallbacks, 0);
    ck_assert_double_eq(run.fallback_time, 0);
    ck_assert_double_nan(run.first_fallback);
    ck_assert_double_nan(run.silent_fallbacks); /* no flag logged */
}
END_TEST

START_TEST(a_line_that_follows_the_pedal_is_a_fallback_from_the_zones_start)
{
    begin();
    by_wire();
    const double start = clock_;
    piped();
    assert_mode("fallback");
    piped();
    finish();
    ck_assert_uint_eq(events.n, 1);
    const bt_event *e = &events.event[0];
    ck_assert_str_eq(e->kind, "fallback");
    ck_assert_int_eq(e->severity, BT_STOP);
    ck_assert_double_eq_tol(e->start, start, 1e-9);
    ck_assert_double_eq_tol(e->duration, 2 * N * DT - DT, 1e-9); /* to the last sample */
    ck_assert_double_eq(e->zone, 2);
    ck_assert_double_eq(e->lap, 7);
    /* 40 P asked for, 30 (0.9 P - 0.5) given: 13 P + 15 missed, mean of P from the zone itself. */
    double mean = 0;
    for (int i = 0; i < N; i++) mean += pedal[i] / BAR / N;
    ck_assert_double_eq_tol(e->value, 13 * mean + 15, 2);
    ck_assert_str_eq(e->unit, "N.m");
    ck_assert_ptr_nonnull(strstr(e->reason,
                                 "rear line followed the pedal (ratio 0.90) from 104.00 s "
                                 "or since the braking before; motor gone; "));
    ck_assert_double_eq(run.fallbacks, 1);
    ck_assert_double_eq_tol(run.first_fallback, start, 1e-9);
}
END_TEST

START_TEST(a_change_within_a_zone_is_dated_to_the_moment)
{
    begin();
    by_wire();
    fill(40, 600, 1.5, NO_TIME);
    const double start = t[0];
    const uint8_t *states = judge();
    assert_mode("mixed");
    ck_assert_int_eq(states[100], BT_MODE_BYWIRE);
    ck_assert_int_eq(states[200], BT_MODE_FALLBACK);
    finish();
    ck_assert_uint_eq(events.n, 1);
    ck_assert_double_eq_tol(events.event[0].start, start + 1.5, 0.03);
    ck_assert_ptr_null(strstr(events.event[0].reason, "since the braking before"));
}
END_TEST

START_TEST(by_wire_again_ends_it_at_the_start_of_the_zone_that_shows_it)
{
    begin();
    by_wire();
    piped();
    piped();
    coast(NAN);
    const double back = clock_;
    by_wire();
    assert_mode("by-wire");
    finish();
    ck_assert_uint_eq(events.n, 1);
    ck_assert_double_eq_tol(events.event[0].start + events.event[0].duration, back, 1e-9);
    ck_assert_double_eq_tol(run.fallback_time, back - 104, 1e-9);
}
END_TEST

START_TEST(a_log_whose_time_jumps_back_keeps_its_verdict)
{
    begin();
    by_wire();
    piped();
    clock_ -= 100; /* a new stretch */
    piped();
    assert_mode("fallback");
    by_wire();
    assert_mode("by-wire");
    finish();
    ck_assert_uint_eq(events.n, 1);
    ck_assert_double_eq(events.event[0].duration, 0);
}
END_TEST

START_TEST(a_flag_that_stays_down_makes_it_silent)
{
    log_channel(BT_CH_BYWIRE_STATE);
    begin();
    flag_is(0);
    by_wire();
    piped();
    finish();
    ck_assert_uint_eq(events.n, 1);
    ck_assert_str_eq(events.event[0].kind, "silent-fallback");
    ck_assert_ptr_nonnull(strstr(events.event[0].reason, "flag silent"));
    ck_assert_double_eq(run.fallbacks, 1);
    ck_assert_double_eq(run.silent_fallbacks, 1);
}
END_TEST

START_TEST(a_flag_that_comes_later_tells_by_how_much)
{
    log_channel(BT_CH_BYWIRE_STATE);
    begin();
    flag_is(0);
    by_wire();
    fill(40, 600, 1.5, NO_TIME);
    for (int i = 200; i < N; i++) flag[i] = 1;
    judge();
    finish();
    ck_assert_uint_eq(events.n, 1);
    ck_assert_str_eq(events.event[0].kind, "fallback");
    double late;
    const char *said = strstr(events.event[0].reason, "flag 0.");
    ck_assert_ptr_nonnull(said);
    ck_assert_int_eq(sscanf(said, "flag %lf s later", &late), 1);
    ck_assert_double_eq_tol(late, 0.5, 0.03);
    ck_assert_double_eq(run.silent_fallbacks, 0);
}
END_TEST

START_TEST(a_flag_against_the_pressures_is_false)
{
    log_channel(BT_CH_BYWIRE_STATE);
    begin();
    flag_is(0);
    by_wire();
    flag_is(3);
    const double rise = clock_;
    by_wire();
    assert_mode("by-wire");
    flag_is(0);
    const double fall = clock_;
    by_wire();
    finish();
    ck_assert_uint_eq(events.n, 1);
    ck_assert_str_eq(events.event[0].kind, "false-flag");
    ck_assert_int_eq(events.event[0].severity, BT_WATCH);
    ck_assert_double_eq_tol(events.event[0].start, rise, 1e-9);
    ck_assert_double_eq_tol(events.event[0].duration, fall - rise, 1e-9);
    ck_assert_double_eq(run.fallbacks, 0);
}
END_TEST

START_TEST(the_sheet_may_name_the_good_value_of_the_flag)
{
    log_channel(BT_CH_BYWIRE_STATE);
    set("bywire_ok=3");
    begin();
    flag_is(3);
    by_wire();
    finish();
    ck_assert_uint_eq(events.n, 0);
}
END_TEST

START_TEST(a_flag_between_brakings_is_a_note)
{
    log_channel(BT_CH_BYWIRE_STATE);
    begin();
    flag_is(0);
    by_wire();
    coast(1);
    by_wire();
    finish();
    ck_assert_uint_eq(events.n, 1);
    ck_assert_str_eq(events.event[0].kind, "false-flag");
    ck_assert_int_eq(events.event[0].severity, BT_NOTE);
    ck_assert_double_nan(events.event[0].zone);
}
END_TEST

START_TEST(without_line_pressure_the_flag_is_what_there_is)
{
    log_channel(BT_CH_BYWIRE_STATE);
    channels.ch[BT_CH_LINE_REAR].column = -1;
    begin();
    flag_is(0);
    by_wire();
    assert_mode("by-wire");
    flag_is(1);
    by_wire();
    assert_mode("fallback");
    finish();
    ck_assert_uint_eq(events.n, 1);
    ck_assert_str_eq(events.event[0].kind, "fallback");
    ck_assert_ptr_nonnull(strstr(events.event[0].reason, "pressures cannot tell"));
    ck_assert_double_eq(run.fallbacks, 1);
}
END_TEST

START_TEST(without_line_pressure_and_flag_nothing_can_tell)
{
    channels.ch[BT_CH_LINE_REAR].column = -1;
    begin();
    by_wire();
    assert_mode("undetermined");
    finish();
    ck_assert_uint_eq(events.n, 0);
    ck_assert_double_nan(run.fallbacks);
}
END_TEST

/* Demand 30 N*m per bar of 0.9 P above 0.5 bar: without the motor both hypotheses are one. */
START_TEST(hydraulics_only_tells_nothing_where_both_predict_the_same)
{
    bt_car_free(car);
    bt_error err = {0};
    ck_assert_int_eq(bt_car_new(&car, &err), BT_OK);
    set("pad_friction_rear=0.5");
    set("piston_area_rear=0.0015 m2");
    set("effective_radius_rear=0.1 m");
    set("threshold_rear=0.5 bar");
    set("bypass_ratio=0.9");
    set("motor_ratio=8");
    begin();
    piped(); /* nothing known before */
    assert_mode("undetermined");
    for (int i = 0; i < N; i++) { /* by wire: the motor takes a half, the line what is left */
        const double demand = 30 * fmax(0, 0.9 * pedal[i] / BAR - 0.5);
        t[i] = clock_ + i * DT;
        shaft[i] = -0.5 * demand / 8;
        line[i] = BAR * (0.5 * demand / 30 + 0.5);
    }
    judge();
    assert_mode("by-wire");
    piped();
    assert_mode("undetermined");
    finish();
    ck_assert_uint_eq(events.n, 0);
    ck_assert_double_eq(run.fallbacks, 0);
}
END_TEST

START_TEST(hydraulics_only_carries_the_whole_demand_and_is_no_fallback)
{
    begin();
    by_wire();
    fill(40, 0, NO_TIME, NO_TIME);
    judge();
    assert_mode("by-wire");
    finish();
    ck_assert_uint_eq(events.n, 0);
}
END_TEST

START_TEST(a_stuck_line_sensor_is_no_fallback)
{
    begin();
    by_wire();
    fill(40, 600, NO_TIME, NO_TIME);
    for (int i = 60; i < N; i++) line[i] = 0.9 * 40 * BAR; /* just where the bypass would be */
    judge();
    for (int zone = 0; zone < 5; zone++) {
        fill(40, 600, NO_TIME, NO_TIME);
        for (int i = 0; i < N; i++) line[i] = 0.9 * 40 * BAR;
        judge();
    }
    finish();
    ck_assert_uint_eq(events.n, 0);
}
END_TEST

START_TEST(pressure_modulated_around_by_wire_is_no_fallback)
{
    begin();
    for (int zone = 0; zone < 5; zone++) {
        fill(40, 600, NO_TIME, NO_TIME);
        for (int i = 0; i < N; i++) line[i] *= 1 - 0.2 * (1 - cos(2 * 3.14159265 * 7 * i * DT));
        judge();
    }
    finish();
    ck_assert_uint_eq(events.n, 0);
}
END_TEST

static void assert_revised(double zone, bt_mode mode)
{
    const bt_revision r = bt_fallback_revision(watch);
    ck_assert_double_eq(r.zone, zone);
    ck_assert_int_eq(r.mode, mode);
}

START_TEST(a_fallback_that_the_next_zone_denies_is_taken_back_from_its_rows_too)
{
    begin();
    by_wire();
    piped();
    assert_mode("fallback");
    ck_assert_double_nan(bt_fallback_revision(watch).zone);
    fill(40, 600, NO_TIME, NO_TIME);
    for (int i = 0; i < N; i++) line[i] = (60 + i % 3) * BAR; /* neither puts it there */
    judge();
    assert_revised(2, BT_MODE_UNDETERMINED);
    by_wire();
    ck_assert_double_nan(bt_fallback_revision(watch).zone);
    finish();
    ck_assert_uint_eq(events.n, 0);
    ck_assert_double_eq(run.fallbacks, 0);
}
END_TEST

START_TEST(zones_that_only_a_false_flag_called_fallback_are_by_wire)
{
    log_channel(BT_CH_BYWIRE_STATE);
    flag_is(0);
    begin();
    by_wire();
    flag_is(1);
    fill(1, 0, NO_TIME, NO_TIME); /* too little pressure to tell anything */
    judge();
    assert_mode("fallback");
    ck_assert_double_nan(bt_fallback_revision(watch).zone); /* nothing has denied it */
    by_wire();
    assert_mode("by-wire");
    assert_revised(2, BT_MODE_BYWIRE);
    by_wire();
    ck_assert_double_nan(bt_fallback_revision(watch).zone); /* once is enough */
    finish();
    ck_assert_uint_eq(events.n, 1);
    ck_assert_str_eq(events.event[0].kind, "false-flag");
    ck_assert_double_eq(run.fallbacks, 0);
}
END_TEST

/* The line goes over 0.3 s before the pedal is at nought: too little for a verdict, but the next zone dates
 * it to there. */
START_TEST(a_fallback_that_began_in_the_release_before_makes_that_zone_mixed)
{
    begin();
    by_wire();
    by_wire();
    const double at = clock_ + N * DT - 0.3;
    fill(40, 600, N * DT - 0.3, NO_TIME);
    judge();
    piped();
    assert_revised(3, BT_MODE_MIXED);
    finish();
    ck_assert_uint_eq(events.n, 1);
    ck_assert_double_eq(events.event[0].zone, 3);
    ck_assert_double_eq_tol(events.event[0].start, at, 0.05);
}
END_TEST

/* At 5 bar of pedal, where by-wire and bypass are within 1 bar: the motor that goes with it tells. */
START_TEST(a_fallback_in_the_very_last_of_a_release_is_dated_by_the_motor)
{
    begin();
    by_wire();
    by_wire();
    const double at = clock_ + N * DT - 0.09;
    fill(40, 600, N * DT - 0.09, NO_TIME);
    judge();
    piped();
    finish();
    ck_assert_uint_eq(events.n, 1);
    ck_assert_double_eq(events.event[0].zone, 3);
    ck_assert_double_eq_tol(events.event[0].start, at, 0.011);
}
END_TEST

/* 40 bar: 1600 N*m less 120 N*m of the motor is 49.8 bar by wire, and 36 bar by the bypass. */
START_TEST(a_motor_that_brakes_on_does_not_hide_a_fallback)
{
    begin();
    by_wire();
    for (int zone = 0; zone < 2; zone++) {
        fill(40, 120, 0, NO_TIME);
        for (int i = 0; i < N; i++) shaft[i] = -motor_nm(pedal[i] / BAR, 120) / 8;
        judge();
        assert_mode("fallback");
    }
    finish();
    ck_assert_uint_eq(events.n, 1);
    ck_assert_str_eq(events.event[0].kind, "fallback");
}
END_TEST

/* The pedal goes from 30 to 50 bar in a second; the line goes along at 0.95, or stands at 38 bar, or the pedal
 * holds still so that nothing can be said. */
START_TEST(a_line_that_stood_while_the_pedal_moved_did_not_follow)
{
    static const struct {
        double rate, line, along;
        bool stood;
    } cases[] = {{20, 0, 0.95, false}, {20, 38, 0, true}, {20, 33, 0.1, true}, {0.5, 30, 0, false}};
    bt_harm h = {0};
    for (int i = 0; i <= 100; i++) {
        const double p = 30 + cases[_i].rate * i / 100;
        bt_harm_sample s = {.dt = 0.01, .pedal = p * BAR};
        s.line = (cases[_i].line + cases[_i].along * p) * BAR;
        bt_harm_add(&h, &s);
    }
    ck_assert(bt_harm_stood(&h, 0.95) == cases[_i].stood);
    /* How the braking ends tells nothing: a stalled line may let go with the pedal. */
    for (int i = 0; i < 30; i++)
        bt_harm_add(&h, &(bt_harm_sample){.dt = 0.01, .pedal = 4 * BAR, .line = 4 * 0.95 * BAR});
    ck_assert(bt_harm_stood(&h, 0.95) == cases[_i].stood);
}
END_TEST

START_TEST(plain_hydraulics_have_no_mode)
{
    bt_car_free(car);
    bt_error err = {0};
    ck_assert_int_eq(bt_car_new(&car, &err), BT_OK);
    set("bypass_ratio=1");
    channels.ch[BT_CH_MOTOR_TORQUE].column = -1;
    begin();
    piped();
    assert_mode("");
    finish();
    ck_assert_double_nan(run.fallbacks);
}
END_TEST

/* Rows of by-wire zones before and of the fallback are in the same pedal range: the reason compares.  Before, the
 * rear friction did a fifth of the work, which would be 200 of 1000 kJ in the longer brakings behind. */
START_TEST(balance_and_friction_energy_are_held_against_the_zones_before)
{
    begin();
    bt_error err = {0};
    for (int zone = 0; zone < 4; zone++) {
        fill(40, 600, zone < 2 ? NO_TIME : 0, NO_TIME);
        bt_block s = {.n = N, .t = t};
        s.ch[BT_CH_PEDAL_REAR] = pedal;
        s.ch[BT_CH_LINE_REAR] = line;
        s.ch[BT_CH_MOTOR_TORQUE] = shaft;
        const bt_braking braking = {.s = s};
        bt_row_blank(BT_TABLE_ZONES, &row);
        row.pedal_peak = 42 * BAR;
        row.balance = zone < 2 ? 0.60 : 0.68;
        row.energy_front = zone < 2 ? 300e3 : 700e3;
        row.energy_rear = zone < 2 ? 100e3 : 300e3;
        row.energy_motor = zone < 2 ? 100e3 : 0;
        ck_assert_int_eq(bt_torques_make(&torques, &s, car, &err), BT_OK);
        ck_assert_int_eq(bt_fallback_zone(watch, &braking, &torques, &row, NULL, &events, &err),
                         BT_OK);
        clock_ += N * DT;
    }
    finish();
    ck_assert_uint_eq(events.n, 1);
    ck_assert_ptr_nonnull(
        strstr(events.event[0].reason, "balance +8.0 pp; rear friction energy +50 %"));
}
END_TEST

/* ---- zones of a pedal that stands at 30 bar, and a motor at 600 N*m: 20.5 bar by wire, 27 on the bypass ---- */

/* A line that is nowhere known yet. */
static void hold(size_t n, double dt)
{
    count = n;
    for (size_t i = 0; i < n; i++) {
        t[i] = clock_ + dt * (double)i;
        pedal[i] = 30 * BAR + 0.01 * (double)(i % 2); /* or it would be taken for stuck */
        shaft[i] = -600.0 / 8;
        line[i] = NAN;
    }
}

/* 4 nats for by-wire every 10 ms; 2.25 for the bypass; far from both, 1.75 against it. */
static const double wire = 20.5, pipe = 27, nowhere = 60;

static void put(size_t from, size_t to, double bar)
{
    for (size_t i = from; i < to; i++) line[i] = bar * BAR;
}

static void held(double bar)
{
    hold(200, DT);
    put(5, 200, bar);
    judge();
}

START_TEST(a_first_zone_that_only_leans_is_by_wire_or_undetermined)
{
    log_channel(BT_CH_BYWIRE_STATE);
    flag_is(NAN);
    for (int known = 0; known <= 1; known++) {
        begin();
        hold(100, 0.003); /* so that a sample has 0.675 nats */
        put(5, 25, pipe);
        if (known) flag[count - 1] = 0;
        judge();
        assert_mode("undetermined"); /* 13.5 nats; the flag does not settle it */
        finish();
        ck_assert_int_eq(isnan(run.fallbacks), !known);
        bt_fallback_free(watch);
        watch = NULL;
    }
    begin();
    hold(100, DT);
    put(5, 12, wire);
    judge();
    assert_mode("by-wire"); /* 28 nats */
}
END_TEST

START_TEST(short_zones_have_a_mode_too)
{
    begin();
    hold(80, DT);
    put(5, 80, pipe);
    judge();
    assert_mode("fallback");
    hold(80, DT);
    put(5, 80, wire);
    judge();
    assert_mode("by-wire");
}
END_TEST

/* At 12 ms a sample: 60 ms by wire make a zone mixed, 36 ms do not. */
START_TEST(a_piece_of_more_than_50_ms_makes_a_zone_mixed)
{
    static const struct {
        size_t wired;
        const char *mode;
    } pieces[] = {{6, "mixed"}, {4, "fallback"}};
    for (size_t k = 0; k < 2; k++) {
        begin();
        held(wire);
        hold(200, 0.012);
        put(0, pieces[k].wired, wire);
        put(pieces[k].wired, 200, pipe);
        judge();
        assert_mode(pieces[k].mode);
        bt_fallback_free(watch);
        watch = NULL;
    }
}
END_TEST

/* By-wire evidence of less than 40 nats is not enough to be sure of, and from 10 on enough to say what was before the
 * bypass. */
START_TEST(what_was_before_a_first_fallback_is_by_wire_if_ten_nats_said_so)
{
    static const struct {
        double dt;
        size_t told;
        const char *mode;
        bt_mode first;
    } before[] = {{0.01, 7, "mixed", BT_MODE_BYWIRE},        /* 28 */
                  {0.002, 15, "mixed", BT_MODE_BYWIRE},      /* 12, of small change */
                  {0.012, 2, "fallback", BT_MODE_FALLBACK}}; /* 9.6 */
    for (size_t k = 0; k < sizeof before / sizeof *before; k++) {
        begin();
        hold(N, before[k].dt);
        put(20, 20 + before[k].told, wire);
        put(60, N, pipe);
        ck_assert_int_eq(judge()[0], before[k].first);
        assert_mode(before[k].mode);
        bt_fallback_free(watch);
        watch = NULL;
    }
}
END_TEST

START_TEST(a_bypass_at_the_very_end_of_a_zone_is_left_to_the_next_one)
{
    begin();
    held(wire);
    hold(200, DT);
    put(5, 175, wire);
    put(175, 200, pipe); /* 56 nats, in 0.25 s */
    judge();
    assert_mode("by-wire");
    held(wire);
    assert_mode("by-wire");
    finish();
    ck_assert_uint_eq(events.n, 0);
}
END_TEST

START_TEST(by_wire_back_within_a_zone_ends_a_fallback_there)
{
    begin();
    held(wire);
    held(pipe);
    hold(200, DT);
    put(5, 100, pipe);
    put(100, 200, wire);
    const double back = t[100];
    const uint8_t *states = judge();
    assert_mode("mixed");
    ck_assert(states[90] == BT_MODE_FALLBACK && states[110] == BT_MODE_BYWIRE);
    finish();
    ck_assert_uint_eq(events.n, 1);
    const bt_event *e = &events.event[0];
    ck_assert_double_eq_tol(e->start + e->duration, back, 0.02);
    /* 1200 asked for; 30 (27 - 0.5) and the motor's 600 given, and by wire 1200 */
    ck_assert_double_eq_tol(e->value, 1200 - 30 * 26.5 - 600, 3);
}
END_TEST

START_TEST(every_fallback_counts_and_the_first_one_is_told)
{
    begin();
    held(wire);
    const double first = clock_;
    held(pipe);
    held(wire);
    held(pipe);
    coast(NAN);
    finish();
    ck_assert_uint_eq(events.n, 2);
    ck_assert_double_eq(run.fallbacks, 2);
    ck_assert_double_eq_tol(run.first_fallback, first, 1e-9);
    const double end = events.event[1].start + events.event[1].duration;
    ck_assert_double_eq_tol(end, clock_ - 0.05, 1e-9); /* the last sample of all */
}
END_TEST

START_TEST(a_fallback_lasts_from_its_second_zone_on_and_is_announced_once)
{
    bt_events now = {0};
    bt_error err = {0};
    begin();
    held(wire);
    ck_assert_int_eq(bt_fallback_lasting(watch, &now, &err), BT_OK);
    held(pipe);
    ck_assert_int_eq(bt_fallback_lasting(watch, &now, &err), BT_OK);
    ck_assert_uint_eq(now.n, 0);
    held(pipe);
    for (int twice = 0; twice < 2; twice++) {
        ck_assert_int_eq(bt_fallback_lasting(watch, &now, &err), BT_OK);
        ck_assert_uint_eq(now.n, 1);
    }
    ck_assert_double_nan(now.event[0].duration);
    held(wire);
    ck_assert_int_eq(bt_fallback_lasting(watch, &now, &err), BT_OK);
    ck_assert_uint_eq(now.n, 1);
    bt_events_clear(&now);
}
END_TEST

/* After one zone of it.  Far from both are 1.75 nats against it every 10 ms; by-wire's own 4 speak for another. */
START_TEST(forty_nats_against_it_take_a_short_fallback_back_unless_there_are_more_for_it)
{
    static const struct {
        double dt;
        size_t far, on, wired;
        bool stays;
    } zones[] = {{0.0102, 22, 0, 0, true},   /* 39.3 */
                 {0.0106, 22, 0, 0, false},  /* 40.8 */
                 {0.01, 40, 34, 0, true},    /* 70, and 76.5 for it */
                 {0.01, 40, 31, 0, false},   /* 69.75 */
                 {0.003, 100, 100, 0, true}, /* 52.5, 67.5 */
                 {0.003, 100, 60, 0, false}, /* 40.5 */
                 {0.002, 60, 0, 45, true}};  /* 21, and 36 for by-wire */
    for (size_t k = 0; k < sizeof zones / sizeof *zones; k++) {
        begin();
        held(wire);
        held(pipe);
        hold(300, zones[k].dt);
        put(5, 5 + zones[k].on, pipe);
        put(110, 110 + zones[k].far, nowhere);
        put(220, 220 + zones[k].wired, wire);
        judge();
        finish();
        ck_assert_uint_eq(events.n, zones[k].stays);
        bt_events_clear(&events);
        bt_fallback_free(watch);
        watch = NULL;
    }
}
END_TEST

START_TEST(a_fallback_within_one_zone_has_its_start_end_and_loss)
{
    begin();
    held(wire);
    hold(200, DT);
    put(5, 60, wire);
    put(60, 120, pipe);
    put(120, 200, wire);
    const double start = t[60], end = t[120];
    judge();
    finish();
    ck_assert_uint_eq(events.n, 1);
    const bt_event *e = &events.event[0];
    ck_assert_double_eq_tol(e->start, start, 0.02);
    ck_assert_double_eq_tol(e->start + e->duration, end, 0.02);
    ck_assert_double_eq_tol(e->value, 1200 - 30 * 26.5 - 600, 15);
}
END_TEST

/* Nine samples of 4.8 nats by wire, and the bypass again in the very next one. */
START_TEST(a_fallback_that_is_straight_back_is_a_second_one)
{
    begin();
    held(wire);
    hold(200, 0.012);
    put(5, 100, pipe);
    put(100, 109, wire);
    put(109, 200, pipe);
    judge();
    finish();
    ck_assert_uint_eq(events.n, 2);
    ck_assert_double_ge(events.event[1].start, t[0]);
}
END_TEST

/* The pedal swings by 1.6 bar about 30, where the bypass has 27 +- 1.44 bar; the line stands at 27, and then is by
 * wire again. */
START_TEST(a_line_that_stands_where_the_bypass_swings_about_it_is_no_fallback_of_its_own)
{
    for (int piped_before = 0; piped_before <= 1; piped_before++) {
        begin();
        held(wire);
        if (piped_before) held(pipe);
        hold(200, DT);
        for (size_t i = 0; i < count; i++) {
            pedal[i] += 1.6 * BAR * sin(0.1 * (double)i);
            line[i] = i < 5 ? NAN : i < 120 ? pipe * BAR : wire_bar(pedal[i] / BAR, 600) * BAR;
        }
        judge();
        finish();
        ck_assert_uint_eq(events.n, piped_before ? 1 : 0);
        bt_events_clear(&events);
        bt_fallback_free(watch);
        watch = NULL;
    }
}
END_TEST

START_TEST(a_sure_fallback_ends_where_a_zone_denies_it)
{
    begin();
    held(wire);
    held(pipe);
    held(pipe);
    const double end = clock_;
    held(nowhere);
    assert_mode("undetermined");
    const double again = clock_;
    held(pipe);
    finish();
    ck_assert_uint_eq(events.n, 2);
    ck_assert_double_eq_tol(events.event[0].start + events.event[0].duration, end, 1e-9);
    ck_assert_double_ge(events.event[1].start, again);
}
END_TEST

/* With 500 N*m of motor by-wire is at 23.8 bar, which by 5 % of both gains may as well be the bypass's 27: no evidence
 * for either, but a line there has left the pedal.  Before it one zone on the bypass, or one of a line that stood. */
START_TEST(a_fallback_of_one_zone_ends_with_one_in_which_by_wire_fits)
{
    for (int stood = 0; stood <= 1; stood++) {
        begin();
        held(wire);
        hold(200, DT);
        put(5, 200, pipe);
        for (size_t i = 0; stood && i < count; i++) pedal[i] += 1.6 * BAR * sin(0.1 * (double)i);
        const double start = t[0];
        judge();
        assert_mode("fallback");
        const double end = clock_;
        hold(200, DT);
        for (size_t i = 0; i < count; i++) shaft[i] = -500.0 / 8;
        put(5, 200, 23.8);
        judge();
        assert_mode("undetermined");
        finish();
        ck_assert_uint_eq(events.n, stood ? 0 : 1);
        if (!stood) {
            const bt_event *e = &events.event[0];
            ck_assert_double_eq_tol(e->start, start, 0.06);
            ck_assert_double_eq_tol(e->start + e->duration, end, 1e-9);
            ck_assert_double_eq_tol(e->value, 1200 - 30 * 26.5 - 600, 15); /* of its own zone */
        }
        bt_events_clear(&events);
        bt_fallback_free(watch);
        watch = NULL;
    }
}
END_TEST

/* Of the demand, 1200 N*m: what the motor had before and has in a zone whose pressures tell nothing. */
START_TEST(a_motor_that_is_missing_where_it_used_to_brake_is_a_doubt)
{
    static const struct {
        double before, now;
        const char *mode;
    } parts[] = {{0.5, 0.04, "undetermined"},
                 {0.5, 0.06, "by-wire"},
                 {0.12, 0, "undetermined"},
                 {0.09, 0, "by-wire"}};
    for (size_t k = 0; k < sizeof parts / sizeof *parts; k++) {
        begin();
        hold(200, DT);
        put(5, 200, 40 * (1 - parts[k].before) + 0.5);
        for (size_t i = 0; i < count; i++) shaft[i] = -1200 * parts[k].before / 8;
        judge();
        assert_mode("by-wire");
        hold(200, DT);
        for (size_t i = 0; i < count; i++) shaft[i] = -1200 * parts[k].now / 8;
        judge();
        assert_mode(parts[k].mode);
        bt_fallback_free(watch);
        watch = NULL;
    }
    begin();
    held(wire);
    held(pipe);
    hold(200, DT);
    for (size_t i = 0; i < count; i++) shaft[i] = 0;
    judge();
    assert_mode("fallback"); /* no doubt: it has given up */
}
END_TEST

START_TEST(a_sheet_with_a_demand_is_that_of_a_by_wire_car_even_without_a_motor)
{
    channels.ch[BT_CH_MOTOR_TORQUE].column = -1;
    car->value[BT_CAR_MOTOR_RATIO] = NAN;
    begin();
    held(40.5);
    assert_mode("by-wire");
}
END_TEST

/* The sheet's demand is what the bypass gives, 27 N*m per bar, so that it cannot tell; the request can, once a zone
 * has shown that the line follows it (off by `off` bar of a sensor's 0.5) and not the pedal (27 bar, within 0.785). */
START_TEST(a_line_that_was_seen_to_follow_its_request_is_judged_by_that_alone)
{
    static const struct {
        double request, off;
        bool learnt;
    } zones[] = {{40, 0.5, true},    /* 1 */
                 {40, 0.65, false},  /* 1.7 from the request: more than 1.5 */
                 {28.75, 0, true},   /* 5.0 from the bypass: more than 4 */
                 {28.53, 0, false}}; /* 3.8 */
    static double request[N];
    log_channel(BT_CH_LINE_REQUEST);
    channels.ch[BT_CH_MOTOR_TORQUE].column = -1;
    car->value[BT_CAR_MOTOR_RATIO] = NAN;
    set("demand_gain=27 N·m/bar");
    for (size_t k = 0; k < sizeof zones / sizeof *zones; k++) {
        begin();
        asked_line = request;
        hold(200, DT);
        for (size_t i = 0; i < N; i++) request[i] = zones[k].request * BAR;
        put(0, 200, zones[k].request + zones[k].off);
        judge();
        assert_mode("by-wire");
        for (size_t i = 0; i < N; i++) request[i] = 40 * BAR;
        held(pipe);
        assert_mode(zones[k].learnt ? "fallback" : "by-wire");
        bt_fallback_free(watch);
        watch = NULL;
    }
}
END_TEST

/* ---- the flag, to the sample ---- */

START_TEST(a_flag_in_the_first_sample_alone_was_up)
{
    log_channel(BT_CH_BYWIRE_STATE);
    begin();
    flag_is(0);
    flag[0] = 1;
    held(wire);
    ck_assert_uint_eq(events.n, 1);
    ck_assert_double_eq_tol(events.event[0].duration, DT, 1e-9);
    double at[] = {clock_, clock_ + 1}, state[] = {2, 0};
    bt_block between = {.n = 2, .t = at};
    between.ch[BT_CH_BYWIRE_STATE] = state;
    bt_error err = {0};
    ck_assert_int_eq(bt_fallback_free_run(watch, &between, &events, &err), BT_OK);
    ck_assert_uint_eq(events.n, 2);
    ck_assert_double_eq_tol(events.event[1].duration, 1, 1e-9);
}
END_TEST

START_TEST(a_value_below_the_good_one_is_up_as_well)
{
    log_channel(BT_CH_BYWIRE_STATE);
    set("bywire_ok=3");
    begin();
    flag_is(1);
    held(wire);
    finish();
    ck_assert_uint_eq(events.n, 1);
    ck_assert_str_eq(events.event[0].kind, "false-flag");
    ck_assert_double_eq_tol(events.event[0].value, 199 * DT, 1e-9); /* s of braking */
}
END_TEST

START_TEST(a_flag_that_is_known_once_between_brakings_can_tell)
{
    log_channel(BT_CH_BYWIRE_STATE);
    double at[] = {1, 2, 3}, state[] = {NAN, NAN, NAN};
    bt_block between = {.n = 3, .t = at};
    between.ch[BT_CH_BYWIRE_STATE] = state;
    bt_error err = {0};
    for (int known = 0; known <= 3; known++) {
        if (known > 0) state[known - 1] = 0;
        begin();
        ck_assert_int_eq(bt_fallback_free_run(watch, &between, &events, &err), BT_OK);
        finish();
        ck_assert_int_eq(isnan(run.fallbacks), known == 0);
        bt_row_blank(BT_TABLE_RUNS, &run);
        if (known > 0) state[known - 1] = NAN;
        bt_fallback_free(watch);
        watch = NULL;
    }
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("fallback");
    TCase *c = tcase_create("fallback");
    tcase_add_checked_fixture(c, setup, teardown);
    tcase_add_test(c, a_line_where_the_blend_wants_it_is_by_wire);
    tcase_add_test(c, a_line_that_follows_the_pedal_is_a_fallback_from_the_zones_start);
    tcase_add_test(c, a_change_within_a_zone_is_dated_to_the_moment);
    tcase_add_test(c, by_wire_again_ends_it_at_the_start_of_the_zone_that_shows_it);
    tcase_add_test(c, a_log_whose_time_jumps_back_keeps_its_verdict);
    tcase_add_test(c, a_flag_that_stays_down_makes_it_silent);
    tcase_add_test(c, a_flag_that_comes_later_tells_by_how_much);
    tcase_add_test(c, a_flag_against_the_pressures_is_false);
    tcase_add_test(c, the_sheet_may_name_the_good_value_of_the_flag);
    tcase_add_test(c, a_flag_between_brakings_is_a_note);
    tcase_add_test(c, without_line_pressure_the_flag_is_what_there_is);
    tcase_add_test(c, without_line_pressure_and_flag_nothing_can_tell);
    tcase_add_test(c, hydraulics_only_tells_nothing_where_both_predict_the_same);
    tcase_add_test(c, hydraulics_only_carries_the_whole_demand_and_is_no_fallback);
    tcase_add_test(c, a_stuck_line_sensor_is_no_fallback);
    tcase_add_test(c, pressure_modulated_around_by_wire_is_no_fallback);
    tcase_add_test(c, a_fallback_that_the_next_zone_denies_is_taken_back_from_its_rows_too);
    tcase_add_test(c, zones_that_only_a_false_flag_called_fallback_are_by_wire);
    tcase_add_test(c, a_fallback_that_began_in_the_release_before_makes_that_zone_mixed);
    tcase_add_test(c, a_fallback_in_the_very_last_of_a_release_is_dated_by_the_motor);
    tcase_add_test(c, a_motor_that_brakes_on_does_not_hide_a_fallback);
    tcase_add_loop_test(c, a_line_that_stood_while_the_pedal_moved_did_not_follow, 0, 4);
    tcase_add_test(c, plain_hydraulics_have_no_mode);
    tcase_add_test(c, a_first_zone_that_only_leans_is_by_wire_or_undetermined);
    tcase_add_test(c, short_zones_have_a_mode_too);
    tcase_add_test(c, a_piece_of_more_than_50_ms_makes_a_zone_mixed);
    tcase_add_test(c, what_was_before_a_first_fallback_is_by_wire_if_ten_nats_said_so);
    tcase_add_test(c, a_bypass_at_the_very_end_of_a_zone_is_left_to_the_next_one);
    tcase_add_test(c, by_wire_back_within_a_zone_ends_a_fallback_there);
    tcase_add_test(c, every_fallback_counts_and_the_first_one_is_told);
    tcase_add_test(c, a_fallback_lasts_from_its_second_zone_on_and_is_announced_once);
    tcase_add_test(c,
                   forty_nats_against_it_take_a_short_fallback_back_unless_there_are_more_for_it);
    tcase_add_test(c, a_fallback_within_one_zone_has_its_start_end_and_loss);
    tcase_add_test(c, a_fallback_that_is_straight_back_is_a_second_one);
    tcase_add_test(c,
                   a_line_that_stands_where_the_bypass_swings_about_it_is_no_fallback_of_its_own);
    tcase_add_test(c, a_sure_fallback_ends_where_a_zone_denies_it);
    tcase_add_test(c, a_fallback_of_one_zone_ends_with_one_in_which_by_wire_fits);
    tcase_add_test(c, a_motor_that_is_missing_where_it_used_to_brake_is_a_doubt);
    tcase_add_test(c, a_sheet_with_a_demand_is_that_of_a_by_wire_car_even_without_a_motor);
    tcase_add_test(c, a_line_that_was_seen_to_follow_its_request_is_judged_by_that_alone);
    tcase_add_test(c, a_flag_in_the_first_sample_alone_was_up);
    tcase_add_test(c, a_value_below_the_good_one_is_up_as_well);
    tcase_add_test(c, a_flag_that_is_known_once_between_brakings_can_tell);
    tcase_add_test(c, balance_and_friction_energy_are_held_against_the_zones_before);
    suite_add_tcase(s, c);
    return s;
}

BT_CHECK_MAIN(suite)
