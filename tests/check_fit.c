/* The fit on rows made by hand from known parameters: what is put in has to come out, intervals hold at
 * their rate, and what rows cannot tell is said.  Least squares against an exact parabola and against the
 * plain line of stats.h. */
#include "check_support.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "fit/fit.h"
#include "fit/leastsq.h"
#include "zones/plateau.h"
#include "plan/replay.h"
#include "base/stats.h"

enum { N = 40 };
static struct bt_car car;
static bt_zone zones[N];
static bt_random chance;

/* Sum of 12 uniforms less 6: near enough normal, sigma 1. */
static double noise(void)
{
    double sum = -6;
    for (int i = 0; i < 12; i++) sum += (double)bt_random_below(&chance, 1 << 20) / (1 << 20);
    return sum;
}

static void setup(void)
{
    chance.state = 7;
    memset(&car, 0, sizeof car);
    for (int q = 0; q < BT_CAR_COUNT; q++) car.value[q] = car.u[q] = NAN;
    car.motor_axle = car.bywire_axle = BT_REAR;
    for (unsigned a = 0; a < 2; a++) {
        car.value[BT_CAR_ROLLING_RADIUS_FRONT + a] = 0.3;
        car.value[BT_CAR_PAD_FRICTION_FRONT + a] = 0.4;
        car.value[BT_CAR_PISTON_AREA_FRONT + a] = 0.002;
        car.value[BT_CAR_EFFECTIVE_RADIUS_FRONT + a] = 0.15;
    }
    car.value[BT_CAR_MASS] = 1200;
    car.value[BT_CAR_INERTIA_FACTOR] = 1.05;
    car.value[BT_CAR_ROAD_LOAD_A] = 300;
}

/* Torque asked for 45 N*m per bar above 0.9 bar, friction 60 ms late after the pedal and 85 ms after the
 * motor; true pads 0.38 front, 0.44 rear; every third zone in fallback at a ratio of 0.9.  sigma: N*m, N and bar of noise at once. */
static void make_zones(double sigma)
{
    for (int i = 0; i < N; i++) {
        bt_zone *z = &zones[i];
        bt_row_blank(BT_TABLE_ZONES, z);
        snprintf(z->run, sizeof z->run, "run1");
        const double pedal = 8 + 30.0 * ((i * 7) % N) / N, slope = -1 - (i * 5) % 7;
        snprintf(z->mode, sizeof z->mode, "%s", i % 3 ? "by-wire" : "fallback");
        z->hold_time = 1;
        z->hold_speed = 40;
        z->hold_pedal_rear = pedal * 1e5;
        z->hold_pedal_slope = slope * 1e5;
        z->hold_motor = i % 3 ? 0.2 * ((i * 11) % 5) * 45 * (pedal - 0.9) : 0;
        z->hold_motor_slope = i % 3 ? 30.0 * ((i * 3) % 8) - 150 : 0;
        z->hold_rear_friction = i % 3 ? 45 * (pedal - 0.9) - z->hold_motor - 0.06 * 45 * slope +
                                            0.085 * z->hold_motor_slope + 10 * sigma * noise()
                                      : 30 * 0.9 * pedal;
        z->hold_line_rear = (0.9 * pedal + 0.1 * sigma * noise()) * 1e5;
        z->hold_front = 1800 + 20 * ((i * 13) % 17);
        const double force =
            (z->hold_front * 0.38 / 0.4 + z->hold_rear_friction * 0.44 / 0.4 + z->hold_motor) / 0.3;
        z->hold_decel = (force + 300 + 50 * sigma * noise()) / 1260;
        z->effort_ratio = 1 + 0.01 * sigma * noise();
        z->blend_delay = 0.03 + 0.001 * sigma * noise();
    }
}

static const bt_fit *row_of(const bt_fitted *f, const char *quantity)
{
    for (size_t i = 0; i < f->n_rows; i++)
        if (strcmp(f->rows[i].quantity, quantity) == 0) return &f->rows[i];
    return NULL;
}

static bt_fitted fit(void)
{
    bt_fitted f;
    bt_error err = {0};
    ck_assert_msg(bt_fit_zones(zones, N, &car, &f, &err) == BT_OK, "%s", err.message);
    return f;
}

static const struct {
    const char *name;
    double value;
} truth[] = {{"demand_gain", 45},          {"demand_threshold", 0.9},   {"# friction_delay", 0.06},
             {"pad_friction_front", 0.38}, {"pad_friction_rear", 0.44}, {"bypass_ratio", 0.9}};
enum { TRUTHS = sizeof truth / sizeof *truth };

START_TEST(without_noise_every_parameter_comes_out)
{
    make_zones(0);
    bt_fitted f = fit();
    for (int k = 0; k < TRUTHS; k++) {
        const bt_fit *row = row_of(&f, truth[k].name);
        ck_assert_ptr_nonnull(row);
        ck_assert_double_eq_tol(row->value, truth[k].value, 1e-6 * truth[k].value);
    }
    ck_assert_str_eq(row_of(&f, "demand_gain")->unit, "N.m/bar");
    bt_fitted_clear(&f);
}
END_TEST

START_TEST(intervals_hold_at_their_rate)
{
    enum { TIMES = 400 };
    int held[TRUTHS] = {0};
    for (int i = 0; i < TIMES; i++) {
        make_zones(1);
        bt_fitted f = fit();
        for (int k = 0; k < TRUTHS; k++) {
            const bt_fit *row = row_of(&f, truth[k].name);
            ck_assert_ptr_nonnull(row);
            held[k] += row->low <= truth[k].value && truth[k].value <= row->high;
        }
        bt_fitted_clear(&f);
    }
    /* 95 % of 400 is 380, with a standard deviation of 4.4 */
    for (int k = 0; k < TRUTHS; k++) ck_assert_int_ge(held[k], 380 - 18);
    for (int k = 0; k < TRUTHS; k++) ck_assert_int_le(held[k], 380 + 18);
}
END_TEST

START_TEST(rows_can_be_pasted_into_a_sheet)
{
    make_zones(1);
    bt_fitted f = fit();
    bt_car *fresh;
    bt_error err = {0};
    ck_assert_int_eq(bt_car_new(&fresh, &err), BT_OK);
    for (size_t i = 0; i < f.n_rows; i++) {
        if (f.rows[i].quantity[0] == '#') continue;
        char text[128];
        snprintf(text, sizeof text, "%s=%.6f %s", f.rows[i].quantity, f.rows[i].value,
                 strcmp(f.rows[i].unit, "1") == 0 ? "" : f.rows[i].unit);
        ck_assert_msg(bt_car_set(fresh, text, &err) == BT_OK, "%s: %s", text, err.message);
    }
    double value, u;
    ck_assert(bt_car_get(fresh, "demand_gain", &value, &u));
    ck_assert_double_eq_tol(value * 1e5, 45, 1);
    bt_car_free(fresh);
    bt_fitted_clear(&f);
}
END_TEST

START_TEST(no_more_digits_than_the_tolerance_allows)
{
    make_zones(1);
    bt_fitted f = fit();
    for (size_t i = 0; i < f.n_rows; i++) { /* two digits of the tolerance (JCGM 100 7.2.6) */
        const bt_fit *row = &f.rows[i];
        const double last = pow(10, floor(log10(row->tolerance * 1.0000001)) - 1);
        ck_assert_double_eq_tol(row->value / last, rint(row->value / last), 1e-6);
        ck_assert_double_eq_tol(row->tolerance / last, rint(row->tolerance / last), 1e-6);
        ck_assert_double_eq_tol(row->value, 0.5 * (row->low + row->high), 0.5001 * last);
    }
    ck_assert_uint_ge(f.n_rows, TRUTHS);
    bt_fitted_clear(&f);
}
END_TEST

START_TEST(a_by_wire_car_without_motor_tells_its_demand)
{
    make_zones(0);
    for (int i = 0; i < N; i++) {
        zones[i].hold_rear_friction += zones[i].hold_motor - 0.085 * zones[i].hold_motor_slope;
        zones[i].hold_motor = zones[i].hold_motor_slope = 0;
    }
    bt_fitted f = fit();
    for (int k = 0; k < 3; k++)
        ck_assert_double_eq_tol(row_of(&f, truth[k].name)->value, truth[k].value, 1e-6);
    bt_fitted_clear(&f);
}
END_TEST

START_TEST(doubtful_zones_are_left_out)
{
    make_zones(0);
    for (int i = 0; i < 10; i++) {
        zones[i].hold_rear_friction = 1e4; /* nonsense */
        zones[i].flags = BT_FLAG_SENSOR_GAP;
        if (i % 2) zones[i].flags = 0, zones[i].lock = 0.2;
    }
    bt_fitted f = fit();
    ck_assert_double_eq_tol(row_of(&f, "demand_gain")->value, 45, 1e-6);
    bt_fitted_clear(&f);
}
END_TEST

static bool says(const bt_fitted *f, const char *word)
{
    for (size_t i = 0; i < f->n_notes; i++)
        if (strstr(f->notes[i], word)) return true;
    return false;
}

START_TEST(what_the_rows_cannot_tell_is_said_and_not_given)
{
    make_zones(1);
    for (int i = 0; i < N; i++) {
        snprintf(zones[i].mode, sizeof zones[i].mode, "by-wire");
        zones[i].hold_pedal_rear = 20e5;                       /* one level: no gain */
        zones[i].hold_front = 2 * zones[i].hold_rear_friction; /* one ratio: no two pads */
    }
    bt_fitted f = fit();
    ck_assert_ptr_null(row_of(&f, "demand_gain"));
    ck_assert_ptr_null(row_of(&f, "bypass_ratio"));
    ck_assert_ptr_null(row_of(&f, "pad_friction_front"));
    ck_assert_ptr_null(row_of(&f, "disc_share_front"));
    ck_assert(says(&f, "demand_gain") && says(&f, "bypass_ratio: 0 zones in fallback"));
    ck_assert(says(&f, "pad_friction_front") && says(&f, "cool_speed_rear"));
    bt_fitted_clear(&f);
    ck_assert_int_eq(bt_fit_zones(NULL, 0, &car, &f, NULL), BT_OK);
    ck_assert_uint_eq(f.n_rows, 0);
    ck_assert_uint_gt(f.n_notes, 3);
    bt_fitted_clear(&f);
}
END_TEST

START_TEST(a_demand_that_bends_is_named_with_points_of_its_curve)
{
    make_zones(0.1);
    for (int i = 0; i < N; i++) {
        const double bar = zones[i].hold_pedal_rear / 1e5;
        zones[i].hold_rear_friction += 0.5 * bar * bar;
    }
    bt_fitted f = fit();
    ck_assert(says(&f, "demand_curve"));
    for (size_t i = 0; i < f.n_notes;
         i++) { /* its points lie on the curve, without what comes late */
        const char *at = strstr(f.notes[i], "demand_curve (");
        double bar, nm;
        if (!at || sscanf(at, "demand_curve (%lf bar %lf", &bar, &nm) != 2) continue;
        ck_assert_double_eq_tol(nm, 45 * (bar - 0.9) + 0.5 * bar * bar, 4);
    }
    bt_fitted_clear(&f);
    make_zones(1);
    f = fit();
    ck_assert(!says(&f, "demand_curve"));
    bt_fitted_clear(&f);
}
END_TEST

START_TEST(a_mode_told_with_a_wrong_sheet_misleads_neither_demand_nor_bypass)
{
    make_zones(0);
    for (int i = 0; i < N; i++) {
        bt_zone *z = &zones[i];
        z->flagged = i % 3 ? 0 : 1;
        if (i % 3) { /* motor in every by-wire zone */
            z->hold_rear_friction -= 200 - z->hold_motor;
            z->hold_motor = 200;
        }
        snprintf(z->mode, sizeof z->mode, "%s", (i / 3) % 2 ? "by-wire" : "fallback");
    }
    bt_fitted f = fit();
    ck_assert_double_eq_tol(row_of(&f, "demand_gain")->value, 45, 1e-6);
    ck_assert_double_eq_tol(row_of(&f, "bypass_ratio")->value, 0.9, 1e-6);
    ck_assert(!says(&f, "left out"));
    bt_fitted_clear(&f);
}
END_TEST

START_TEST(zones_whose_witnesses_disagree_are_left_out_and_counted)
{
    make_zones(0);
    for (int i = 0; i < N; i++) zones[i].flagged = i % 3 ? 0 : 1;
    for (int i = 1; i < 8; i += 3) {       /* gave up half-way: between the lines */
        zones[i].hold_rear_friction = 1e4; /* nonsense */
        zones[i].flagged = 0.5;
        snprintf(zones[i].mode, sizeof zones[i].mode, "mixed");
    }
    for (int i = 0; i < N; i++)
        if (i % 3 && !(zones[i].hold_motor > 0)) zones[i].flags = BT_FLAG_SENSOR_GAP;
    bt_fitted f = fit();
    ck_assert_double_eq_tol(row_of(&f, "demand_gain")->value, 45, 1e-6);
    ck_assert(says(&f, "3 of ") && says(&f, "left out"));
    bt_fitted_clear(&f);
}
END_TEST

START_TEST(a_motor_that_the_controller_counts_for_less_is_no_bend_of_the_demand)
{
    make_zones(0.1);
    for (int i = 0; i < N; i++) { /* up to its limit of 300 N*m */
        bt_zone *z = &zones[i];
        if (i % 3 == 0) continue;
        const double pedal = z->hold_pedal_rear / 1e5, was = z->hold_motor;
        z->hold_motor = fmin(0.6 * 45 * (pedal - 0.9), 300 - 5 * (i % 4));
        z->hold_rear_friction += was - z->hold_motor + 0.2 * z->hold_motor;
    }
    bt_fitted f = fit();
    const bt_fit *excess = row_of(&f, "# motor_excess");
    ck_assert_ptr_nonnull(excess);
    ck_assert(excess->low <= 0.2 && 0.2 <= excess->high);
    ck_assert_double_eq_tol(row_of(&f, "demand_gain")->value, 45, 0.2);
    ck_assert_double_eq_tol(row_of(&f, "# friction_delay")->value, 0.06, 0.01);
    ck_assert(says(&f, "motor torque") && !says(&f, "demand_curve"));
    bt_fitted_clear(&f);
}
END_TEST

/* Share 0.9 and 1.2 W/K per m/s: temperatures made with exact exponentials, written out here. */
START_TEST(disc_share_and_cooling_come_out_of_measured_temperatures)
{
    const double mc = 7 * 460, still = 5, by_speed = 1.2, ambient = 293.15;
    car.value[BT_CAR_DISC_MASS_FRONT] = 7;
    car.value[BT_CAR_DISC_HEAT_FRONT] = 460;
    car.value[BT_CAR_COOL_STILL_FRONT] = still;
    car.value[BT_CAR_AMBIENT] = ambient;
    make_zones(0);
    double temp = 350;
    for (int i = 0; i < N; i++) {
        bt_zone *z = &zones[i];
        z->start = 20 * i;
        z->start_dist = 800 * i;
        z->duration = 1e-3;
        z->distance = 0.04;
        z->entry = z->exit = 40;
        z->entry += 1e-9;
        z->energy_front = 2e5 + 1e4 * ((i * 7) % 11);
        z->energy_rear = z->energy_motor = 0;
        z->front = 1000;
        z->rear_friction = z->motor = 0;
        z->disc_front_first = temp;
        temp += 0.9 * 0.5 * z->energy_front / mc;
        z->disc_front_final = temp;
        temp = ambient + (temp - ambient) * exp(-(still + by_speed * 40) * 19.999 / mc);
    }
    bt_fitted f = fit();
    ck_assert_double_eq_tol(row_of(&f, "disc_share_front")->value, 90, 0.01);
    ck_assert_double_eq_tol(row_of(&f, "cool_speed_front")->value, by_speed, 1e-3);
    ck_assert_ptr_null(row_of(&f, "disc_share_rear"));
    bt_fitted_clear(&f);
}
END_TEST

START_TEST(least_squares_finds_an_exact_parabola_and_refuses_twins)
{
    double x[15], y[5];
    for (int i = 0; i < 5; i++) {
        x[3 * i] = 1;
        x[3 * i + 1] = i;
        x[3 * i + 2] = i * i;
        y[i] = 3 - 2 * i + 0.5 * i * i;
    }
    bt_leastsq f;
    ck_assert(bt_least_squares(x, y, 5, 3, &f));
    ck_assert_double_eq_tol(f.value[0], 3, 1e-9);
    ck_assert_double_eq_tol(f.value[2], 0.5, 1e-9);
    ck_assert_double_eq(f.df, 2);
    ck_assert(!bt_least_squares(x, y, 3, 3, &f)); /* no spare point */
    for (int i = 0; i < 5; i++) x[3 * i + 2] = 2 * x[3 * i + 1];
    ck_assert(!bt_least_squares(x, y, 5, 3, &f));
}
END_TEST

START_TEST(least_squares_errors_are_those_of_a_line)
{
    /* the same points as a plain line: standard errors must agree with bt_fit_line's */
    static const double at[6] = {0, 1, 2, 4, 7, 9}, y[6] = {1.1, 2.9, 5.2, 8.8, 15.1, 18.9};
    double x[12];
    for (int i = 0; i < 6; i++) {
        x[2 * i] = at[i];
        x[2 * i + 1] = 1;
    }
    bt_leastsq f;
    ck_assert(bt_least_squares(x, y, 6, 2, &f));
    const bt_line line = bt_fit_line(at, y, 6);
    ck_assert_double_eq_tol(f.value[0], line.slope, 1e-12);
    ck_assert_double_eq_tol(f.u[0], line.u_slope, 1e-12);
    ck_assert_double_eq_tol(f.u[1], line.u_intercept, 1e-12);
    ck_assert_double_eq_tol(bt_leastsq_at(&f, (const double[BT_LEASTSQ_MAX]){0, 1}),
                            line.u_intercept, 1e-12);
}
END_TEST

START_TEST(the_held_part_leaves_out_applying_and_releasing)
{
    enum { S = 301 };
    static double t[S], v[S], pedal[S], line[S], torque[S];
    for (int i = 0; i < S; i++) { /* up in 0.5 s, held to 2.5 s falling by 1 bar/s, down at once */
        t[i] = 0.01 * i;
        v[i] = 50 - 8 * t[i];
        pedal[i] = t[i] < 0.5 ? 60e5 * t[i] : t[i] <= 2.5 ? 30e5 - 1e5 * (t[i] - 0.5) : 0;
        line[i] = 0.5 * pedal[i];
        torque[i] = 1e-3 * pedal[i];
    }
    bt_braking zone = {.s = {.n = S, .t = t}, .pedal = BT_CH_PEDAL_REAR};
    zone.s.ch[BT_SIG_SPEED] = v;
    zone.s.ch[BT_CH_PEDAL_REAR] = pedal;
    zone.s.ch[BT_CH_LINE_REAR] = line;
    const bt_torques q = {.n = S, .rear = torque};
    bt_zone row;
    bt_row_blank(BT_TABLE_ZONES, &row);
    bt_plateau(&zone, &q, &car, &row);
    /* from 0.45 + 0.25 s to 2.5 s: pedal 29.8 .. 28 bar */
    ck_assert_double_eq_tol(row.hold_time, 1.8, 1e-9);
    ck_assert_double_eq_tol(row.hold_pedal_rear, 28.9e5, 1);
    ck_assert_double_eq_tol(row.hold_pedal_slope, -1e5, 1e-3);
    ck_assert_double_eq_tol(row.hold_line_rear, 14.45e5, 1);
    ck_assert_double_eq_tol(row.hold_rear_friction, 2890, 1e-3);
    ck_assert_double_eq_tol(row.hold_decel, 8, 1e-9);
    ck_assert_double_eq_tol(row.hold_speed, 50 - 8 * 1.6, 1e-9);
    ck_assert(isnan(row.hold_front) && isnan(row.hold_motor) && isnan(row.hold_wheel_decel));
    bt_row_blank(BT_TABLE_ZONES, &row);
    zone.pedal = BT_CH_COUNT;
    bt_plateau(&zone, &q, &car, &row);
    ck_assert(isnan(row.hold_time));
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("fit");
    TCase *t = tcase_create("car");
    tcase_add_checked_fixture(t, setup, NULL);
    tcase_add_test(t, without_noise_every_parameter_comes_out);
    tcase_add_test(t, intervals_hold_at_their_rate);
    tcase_add_test(t, rows_can_be_pasted_into_a_sheet);
    tcase_add_test(t, no_more_digits_than_the_tolerance_allows);
    tcase_add_test(t, a_by_wire_car_without_motor_tells_its_demand);
    tcase_add_test(t, doubtful_zones_are_left_out);
    tcase_add_test(t, what_the_rows_cannot_tell_is_said_and_not_given);
    tcase_add_test(t, a_demand_that_bends_is_named_with_points_of_its_curve);
    tcase_add_test(t, a_mode_told_with_a_wrong_sheet_misleads_neither_demand_nor_bypass);
    tcase_add_test(t, zones_whose_witnesses_disagree_are_left_out_and_counted);
    tcase_add_test(t, a_motor_that_the_controller_counts_for_less_is_no_bend_of_the_demand);
    tcase_add_test(t, disc_share_and_cooling_come_out_of_measured_temperatures);
    tcase_add_test(t, least_squares_finds_an_exact_parabola_and_refuses_twins);
    tcase_add_test(t, least_squares_errors_are_those_of_a_line);
    tcase_add_test(t, the_held_part_leaves_out_applying_and_releasing);
    suite_add_tcase(s, t);
    return s;
}
BT_CHECK_MAIN(suite)
