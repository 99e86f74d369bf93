/* The bypass plan on brakings made by hand: circuits, adhesion and lost deceleration from elementary
 * mechanics, the discs against the handbook's series of repeated stops (CHECKS 6.2). */
#include "check_support.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "plan/bypass.h"

static struct bt_car car;

/* Round numbers: 0.002 N/Pa at both axles, geometry 50 % front and h/L = 0.2. */
static void setup(void)
{
    memset(&car, 0, sizeof car);
    for (int q = 0; q < BT_CAR_COUNT; q++) car.value[q] = car.u[q] = NAN;
    car.motor_axle = car.bywire_axle = BT_REAR;
    double *v = car.value;
    for (unsigned a = 0; a < 2; a++) {
        v[BT_CAR_ROLLING_RADIUS_FRONT + a] = 0.3;
        v[BT_CAR_PISTON_AREA_FRONT + a] = 0.002;
        v[BT_CAR_PAD_FRICTION_FRONT + a] = 0.5;
        v[BT_CAR_EFFECTIVE_RADIUS_FRONT + a] = 0.15;
        v[BT_CAR_DISC_MASS_FRONT + a] = 7.5;
        v[BT_CAR_DISC_HEAT_FRONT + a] = 460;
        v[BT_CAR_DISC_SHARE_FRONT + a] = 1;
        v[BT_CAR_COOL_STILL_FRONT + a] = 7.2;
    }
    v[BT_CAR_BYPASS_RATIO] = 0.5;
    v[BT_CAR_MASS] = 1000;
    v[BT_CAR_INERTIA_FACTOR] = 1;
    v[BT_CAR_WHEELBASE] = 2.5;
    v[BT_CAR_CG_HEIGHT] = 0.5;
    v[BT_CAR_STATIC_FRONT_SHARE] = 0.5;
    v[BT_CAR_GRIP_LIMIT] = 1.2 * BT_GRAVITY;
    v[BT_CAR_AMBIENT] = 293.15;
}

/* A braking at 1 g whose brakes take out `work`, half of it each axle's friction and the motor's. */
static bt_zone braking(double lap, double start, double work)
{
    bt_zone z;
    bt_row_blank(BT_TABLE_ZONES, &z);
    snprintf(z.run, sizeof z.run, "run1");
    z.lap = lap;
    z.start = start;
    z.duration = 1e-3; /* no time to cool */
    z.entry = 40;
    z.exit = 20;
    z.start_dist = 30 * start;
    z.distance = 0.03;
    z.decel_mean = z.decel_peak = BT_GRAVITY;
    z.energy_front = 0.5 * work;
    z.energy_rear = z.energy_motor = 0.25 * work;
    z.front = 0.5 * 1000 * BT_GRAVITY * 0.3;
    z.rear_friction = z.motor = 0.25 * 1000 * BT_GRAVITY * 0.3;
    z.disc_front_first = z.disc_rear_first = 293.15;
    return z;
}

START_TEST(pressures_and_share_of_two_circuits_come_out_as_by_hand)
{
    car.value[BT_CAR_THRESHOLD_FRONT] = 1e5;
    const bt_circuits c = bt_circuits_of(&car);
    ck_assert_double_eq_tol(c.gain[0], 0.002, 1e-15);
    /* 8000 N front: 40 bar + 1; 2000 N rear: 10 bar of line, 20 of pedal */
    const double setting = bt_circuits_setting(&c, 0.8, 10000);
    ck_assert_double_eq_tol(setting, 41.0 / 61, 1e-12);
    double pedal[2];
    bt_circuits_pedals(&c, setting, 10000, pedal);
    ck_assert_double_eq_tol(pedal[0], 41e5, 1e-3);
    ck_assert_double_eq_tol(pedal[1], 20e5, 1e-3);
    ck_assert_double_eq_tol(bt_circuits_share(&c, setting, 10000), 0.8, 1e-12);
    /* half the force: the threshold eats more of the front */
    ck_assert_double_lt(bt_circuits_share(&c, setting, 5000), 0.8);
}
END_TEST

static bt_plan plan_of(const bt_zone *zones, size_t n, bt_bypass_options options)
{
    bt_plan plan;
    bt_error err = {0};
    ck_assert_msg(bt_bypass_plan(zones, n, &car, &options, &plan, &err) == BT_OK, "%s",
                  err.message);
    return plan;
}

START_TEST(discs_follow_the_handbook_series_lap_by_lap)
{
    /* 466666.667 J at the front: 233333.333 J a disc, every 45 s */
    const double work = 2 * 233333.3333333333 / 0.7;
    bt_zone zones[3];
    for (int i = 0; i < 3; i++) zones[i] = braking(i + 1, 45.001 * i, work);
    static const struct {
        double laps, peak;
    } want[] = {{1, 67.632850}, {2, 129.203222}, {5, 282.734560}, {10, 459.521148}};
    car.value[BT_CAR_DISC_LIMIT_FRONT] = 293.15 + 459;
    car.value[BT_CAR_MASS] = NAN; /* no adhesion: the discs alone decide */
    for (size_t i = 0; i < 4; i++) {
        bt_plan p = plan_of(zones, 3, (bt_bypass_options){0, want[i].laps, 0.7, 0.7, 0.1});
        ck_assert_uint_eq(p.n_rows, 1);
        ck_assert_double_eq_tol(p.rows[0].disc_front - 293.15, want[i].peak, 1e-3 * want[i].peak);
        ck_assert_double_eq_tol(p.rows[0].settled_front - 293.15, 754.510257, 0.75);
        ck_assert_double_eq(p.rows[0].limit_lap, 10);
        ck_assert(p.rows[0].keeps == (want[i].laps < 10));
        bt_plan_clear(&p);
    }
}
END_TEST

START_TEST(the_energy_of_the_motor_goes_to_the_discs_with_the_share)
{
    bt_zone zone = braking(1, 0, 1e6);
    bt_plan p = plan_of(&zone, 1, (bt_bypass_options){0, 1, 0.6, 0.7, 0.1});
    ck_assert_uint_eq(p.n_rows, 2);
    ck_assert_double_eq_tol(p.rows[0].disc_front - 293.15, 0.6e6 / 2 / 3450, 0.01);
    ck_assert_double_eq_tol(p.rows[0].disc_rear - 293.15, 0.4e6 / 2 / 3450, 0.01);
    ck_assert_double_eq_tol(p.rows[1].disc_rear - 293.15, 0.3e6 / 2 / 3450, 0.01);
    bt_plan_clear(&p);
}
END_TEST

START_TEST(a_single_braking_is_driven_once)
{
    car.value[BT_CAR_DISC_LIMIT_FRONT] = 293.15 + 2 * 0.6e6 / 2 / 3450; /* twice its rise */
    bt_zone zone = braking(1, 0, 1e6);
    bt_plan p = plan_of(&zone, 1, (bt_bypass_options){0, 20, 0.72, 0.72, 0.1});
    ck_assert_double_eq_tol(p.rows[0].disc_front - 293.15, 0.72e6 / 2 / 3450, 0.01);
    ck_assert(isnan(p.rows[0].settled_front) && isnan(p.rows[0].limit_lap));
    bool said = false;
    for (size_t i = 0; i < p.n_notes; i++) said |= strstr(p.notes[i], "a single braking") != NULL;
    ck_assert(said);
    ck_assert_ptr_nonnull(strstr(p.summary, "A front share of 72 % keeps all limits"));
    bt_plan_clear(&p);
}
END_TEST

START_TEST(adhesion_lock_order_and_lost_deceleration_come_from_loads)
{
    /* at 1 g the front carries 0.7 of the weight */
    bt_zone zone = braking(1, 0, 1e5);
    bt_plan p = plan_of(&zone, 1, (bt_bypass_options){0, 1, 0.6, 0.8, 0.1});
    ck_assert_double_eq_tol(p.rows[0].adhesion_front, 0.6 / 0.7, 1e-9);
    ck_assert_double_eq_tol(p.rows[0].adhesion_rear, 0.4 / 0.3, 1e-9);
    ck_assert_str_eq(p.rows[0].locks_first, "rear");
    ck_assert_str_eq(p.rows[0].finding, "rear locks first");
    /* grip 1.2 at the rear: 0.4 z = 1.2 (0.5 - 0.2 z), z = 0.9375 */
    ck_assert_double_eq_tol(p.rows[0].decel_lost, 0.0625 * BT_GRAVITY, 1e-9);
    ck_assert_double_eq_tol(p.rows[1].adhesion_rear, 1, 1e-9);
    ck_assert_double_eq_tol(p.rows[1].adhesion_front, 1, 1e-9);
    ck_assert_str_eq(p.rows[1].locks_first, "either"); /* a tie is no order and keeps no limit */
    ck_assert_str_eq(p.rows[1].finding, "either axle may lock first");
    ck_assert(!p.rows[1].keeps);
    ck_assert_str_eq(p.rows[2].locks_first, "front");
    ck_assert_double_eq(p.rows[2].decel_lost, 0);
    ck_assert_double_eq_tol(p.rows[2].pedal_front, 0.8 * 1000 * BT_GRAVITY / 0.002, 1);
    ck_assert_double_eq_tol(p.rows[2].pedal_rear, 0.2 * 1000 * BT_GRAVITY / 0.002 / 0.5, 1);
    bt_plan_clear(&p);
}
END_TEST

START_TEST(the_window_lies_between_the_rear_that_locks_and_the_front_that_is_too_hot)
{
    car.value[BT_CAR_DISC_LIMIT_FRONT] = 293.15 + 0.805e6 / 2 / 3450;
    car.value[BT_CAR_DISC_LIMIT_REAR] = 900;
    bt_zone zone = braking(1, 0, 1e6);
    bt_plan p = plan_of(&zone, 1, (bt_bypass_options){0, 1, 0.5, 0.9, 0.02});
    ck_assert_double_eq_tol(p.low, 0.72, 1e-9); /* at 0.70 both axles use the same */
    ck_assert_double_eq_tol(p.high, 0.80, 1e-9);
    ck_assert_ptr_nonnull(strstr(p.summary, "Front shares from 72 to 80 %"));
    ck_assert_ptr_nonnull(strstr(p.summary, "Below that: either axle may lock first"));
    ck_assert_ptr_nonnull(strstr(p.summary, "Above it: front discs over limit in lap 1"));
    bt_plan_clear(&p);
    car.value[BT_CAR_DISC_LIMIT_FRONT] = 300;
    p = plan_of(&zone, 1, (bt_bypass_options){0, 1, 0.5, 0.9, 0.02});
    ck_assert(isnan(p.low) && isnan(p.high));
    ck_assert_ptr_nonnull(strstr(p.summary, "No front share from 50 to 90 % keeps all limits"));
    bt_plan_clear(&p);
}
END_TEST

START_TEST(without_sensors_discs_start_at_the_peak_less_their_own_rise)
{
    bt_zone zone = braking(1, 0, 1e6);
    zone.disc_front_first = zone.disc_rear_first = NAN;
    zone.disc_front = 500;
    bt_replay r;
    ck_assert_int_eq(bt_replay_new(&r, &zone, 1, &car, NAN, NULL), BT_OK);
    ck_assert_double_eq_tol(r.start[BT_FRONT], 500 - 0.5e6 / 2 / 3450, 0.01);
    ck_assert_double_eq(r.start[BT_REAR], 293.15); /* nothing known: as the air */
    bt_replay_free(&r);
}
END_TEST

START_TEST(the_way_between_brakings_has_the_mean_speed_of_its_length)
{
    bt_zone zones[3] = {braking(1, 0, 1e5), braking(1, 20, 1e5), braking(2, 40, 1e5)};
    zones[1].start_dist = 700.03;
    zones[2].start_dist = 100; /* the lap's way began anew */
    bt_replay r;
    ck_assert_int_eq(bt_replay_new(&r, zones, 3, &car, NAN, NULL), BT_OK);
    ck_assert_double_eq_tol(r.load[0].gap, 19.999, 1e-9);
    ck_assert_double_eq_tol(r.load[0].gap_speed, 700 / 19.999, 1e-9);
    ck_assert_double_eq_tol(r.load[1].gap_speed, 30, 1e-9); /* between 20 and 40 m/s */
    ck_assert(!r.load[0].lap_ends && r.load[1].lap_ends);
    ck_assert_double_eq(r.laps, 2);
    bt_replay_free(&r);
    ck_assert_int_eq(bt_replay_new(&r, zones, 3, &car, 2, NULL), BT_OK);
    ck_assert_uint_eq(r.n, 1);
    ck_assert_double_eq(r.first_lap, 2);
    bt_replay_free(&r);
}
END_TEST

START_TEST(what_the_sheet_lacks_is_blank_and_named_once)
{
    for (int q = 0; q < BT_CAR_COUNT; q++)
        if (q != BT_CAR_GRIP_LIMIT) car.value[q] = NAN;
    bt_zone zone = braking(1, 0, 1e6);
    bt_plan p = plan_of(&zone, 1, (bt_bypass_options){0});
    for (size_t i = 0; i < p.n_rows; i++) {
        const bt_bypass *row = &p.rows[i];
        ck_assert(isnan(row->disc_front) && isnan(row->adhesion_rear) && isnan(row->setting));
        ck_assert(isnan(row->decel_lost) && isnan(row->pedal_front) && !row->keeps);
        ck_assert_str_eq(row->finding, "cannot be told");
    }
    int named = 0;
    for (size_t i = 0; i < p.n_notes; i++) named += strstr(p.notes[i], "bypass_ratio") != NULL;
    ck_assert_int_eq(named, 1);
    bt_plan_clear(&p);
}
END_TEST

START_TEST(what_cannot_be_is_refused)
{
    bt_zone zones[2] = {braking(1, 0, 1e6), braking(1, 30, 1e6)};
    bt_plan p;
    static const bt_bypass_options wrong[] = {
        {0, 0, 0.8, 0.6, 0.01}, {0, 0, 0.6, 1, 0.01}, {0, 0, 0.6, 0.8, 1e-6}, {9, 0, 0, 0, 0}};
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        bt_error err = {0};
        ck_assert_int_eq(bt_bypass_plan(zones, 2, &car, &wrong[i], &p, &err), BT_RANGE);
        bt_plan_clear(&p);
    }
    bt_error err = {0};
    snprintf(zones[1].run, sizeof zones[1].run, "run2");
    ck_assert_int_eq(bt_bypass_plan(zones, 2, &car, NULL, &p, &err), BT_RANGE);
    bt_plan_clear(&p);
    ck_assert_int_eq(bt_bypass_plan(NULL, 0, &car, NULL, &p, NULL), BT_RANGE);
    bt_plan_clear(&p);
    zones[0].energy_front = NAN;
    ck_assert_int_eq(bt_bypass_plan(zones, 1, &car, NULL, &p, NULL), BT_MISSING);
    bt_plan_clear(&p);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("bypass");
    TCase *t = tcase_create("plan");
    tcase_add_checked_fixture(t, setup, NULL);
    tcase_add_test(t, pressures_and_share_of_two_circuits_come_out_as_by_hand);
    tcase_add_test(t, discs_follow_the_handbook_series_lap_by_lap);
    tcase_add_test(t, the_energy_of_the_motor_goes_to_the_discs_with_the_share);
    tcase_add_test(t, a_single_braking_is_driven_once);
    tcase_add_test(t, adhesion_lock_order_and_lost_deceleration_come_from_loads);
    tcase_add_test(t, the_window_lies_between_the_rear_that_locks_and_the_front_that_is_too_hot);
    tcase_add_test(t, without_sensors_discs_start_at_the_peak_less_their_own_rise);
    tcase_add_test(t, the_way_between_brakings_has_the_mean_speed_of_its_length);
    tcase_add_test(t, what_the_sheet_lacks_is_blank_and_named_once);
    tcase_add_test(t, what_cannot_be_is_refused);
    suite_add_tcase(s, t);
    return s;
}
BT_CHECK_MAIN(suite)
