/* Doubts: a sound car raises none, and each mistake that a map or a sheet can hold is named, with the
 * place to look at.  The car is a straight line made here by hand: what it does is known. */
#include "check_support.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "braketally.h"

enum { TIME, SPEED, FL, FR, RL, RR, FRONT, REAR, ACCEL, MOTOR, STATE, VOLTS, AMPERES, COLUMNS };
static const char *const columns[COLUMNS] = {
    "time [s]",           "speed [m/s]",       "wheel_fl [m/s]",    "wheel_fr [m/s]",
    "wheel_rl [m/s]",     "wheel_rr [m/s]",    "pedal_front [bar]", "pedal_rear [bar]",
    "accel_long [m/s2]",  "motor_torque [Nm]", "bywire_state",      "battery_voltage [V]",
    "battery_current [A]"};

/* A hundred rows a second.  Every 10 s the car slows from 40 m/s to 16 m/s at 8 m/s2, with 60 bar and a
 * motor that takes 50 N*m at the shaft and gives 40 kW to the battery. */
static void make_row(int i, double row[COLUMNS])
{
    const double within = 0.01 * (i % 1000);
    const bool brakes = within >= 4 && within < 7;
    row[TIME] = 0.01 * i;
    row[SPEED] = within < 4 ? 40 : within < 7 ? 40 - 8 * (within - 4) : 16 + 8 * (within - 7);
    for (int w = FL; w <= RR; w++) row[w] = row[SPEED] * (1 + 0.001 * w);
    row[FRONT] = brakes ? 60 : 0;
    row[REAR] = brakes ? 55 : 0;
    row[ACCEL] = within < 4 ? 0 : within < 7 ? -8 : 8;
    row[MOTOR] = brakes ? -50 : 50;
    row[STATE] = 0;
    row[VOLTS] = 400;
    row[AMPERES] = brakes ? -100 : 100;
}

/* Column `column`, and those up to `last`, times `factor`, plus `shift`. */
typedef struct {
    int column, last;
    double factor, shift;
    const char *note;
} mistake;

static bt_result analyse(const mistake *m)
{
    enum { ROWS = 6000 };
    bt_error err = {0};
    bt_car *car;
    ck_assert_int_eq(bt_car_new(&car, &err), BT_OK);
    ck_assert_int_eq(bt_car_set(car, "motor_ratio=8", &err), BT_OK);
    ck_assert_int_eq(bt_car_set(car, "rolling_radius_rear=0.3 m", &err), BT_OK);
    const bt_setup setup = {.car = car};
    bt_feed *feed;
    bt_result result;
    ck_assert_int_eq(bt_feed_new(&feed, "bench", columns, COLUMNS, &setup, &err), BT_OK);
    for (int i = 0; i < ROWS; i++) {
        double row[COLUMNS];
        make_row(i, row);
        for (int c = m->column; c <= m->last; c++) row[c] = row[c] * m->factor + m->shift;
        ck_assert_int_eq(bt_feed_push(feed, row, 1, &err), BT_OK);
    }
    ck_assert_int_eq(bt_feed_end(feed, &result, &err), BT_OK);
    bt_feed_free(feed);
    bt_car_free(car);
    return result;
}

static size_t doubts_in(const bt_result *result)
{
    size_t n = 0;
    for (size_t i = 0; i < result->n_notes; i++)
        n += strncmp(result->notes[i], "implausible: ", 13) == 0 ? 1 : 0;
    return n;
}

START_TEST(a_sound_log_raises_no_doubt)
{
    const mistake none = {TIME, TIME, 1, 0, NULL};
    bt_result result = analyse(&none);
    ck_assert_uint_eq(result.n_zones, 6);
    for (size_t i = 0; i < result.n_notes; i++)
        ck_assert_msg(doubts_in(&result) == 0, "%s", result.notes[i]);
    ck_assert(!(result.run.flags & BT_FLAG_IMPLAUSIBLE));
    bt_result_clear(&result);
}
END_TEST

static const mistake mistakes[] = {
    {FRONT, FRONT, 0.01, 0,
     "pedal_front reaches 0.6 bar while the car slows by 8.0 m/s²; look at its unit in the map"},
    {FRONT, FRONT, 0.01, 0,
     "pedal_rear reaches 55 bar and pedal_front 0.6 bar by the same pedal; look at their units in "
     "the map"},
    {REAR, REAR, 14.5, 0,
     "pedal_rear reaches 798 bar and pedal_front 60 bar by the same pedal; look at their units in "
     "the map"},
    {FL, RR, 3.6, 0,
     "wheel_fl, wheel_fr, wheel_rl, wheel_rr: 3.6 times the speed while rolling freely; look at "
     "the "
     "units in the map"},
    {FR, FR, 0, 0,
     "wheel_fr: always 0 while the car moves (by the speed); leave it out of the map"},
    {SPEED, RR, 3.6, 0, "the car reaches 520 km/h; look at the units of its speeds in the map"},
    {SPEED, RR, 3.6, 0,
     "speed falls faster than grip allows (1.5 g) in 6 of 6 brakings; look at the units of speed "
     "and "
     "time in the map, or give grip_limit in the car sheet"},
    {ACCEL, ACCEL, -1, 0,
     "accel_long falls where the speed rises; it must be positive forward: scale -1 in the map"},
    {ACCEL, ACCEL, 1 / 9.80665, 0,
     "accel_long is 0.1 times what the speed does; look at its unit in the map"},
    {MOTOR, MOTOR, -1, 0,
     "motor_torque drives in 6 of 6 brakings; it must be negative where it brakes: scale -1 in the "
     "map"},
    {STATE, STATE, 1, 3,
     "bywire_state is 3 to 3 and never 0, in charge; if another value means that, give it as "
     "bywire_ok in the car sheet"},
    {TIME, TIME, 1000, 0,
     "rows are 10 s apart; if time is in milliseconds, give it the unit ms in the map"},
};

START_TEST(a_mistake_is_named_with_the_place_to_look_at)
{
    const mistake *m = &mistakes[_i];
    bt_result result = analyse(m);
    char want[300];
    snprintf(want, sizeof want, "implausible: %s", m->note);
    bool found = false;
    for (size_t i = 0; i < result.n_notes; i++) found = found || !strcmp(result.notes[i], want);
    ck_assert_msg(found, "wanted '%s', %zu other notes, the second '%s'", want, result.n_notes,
                  result.n_notes > 1 ? result.notes[1] : "");
    ck_assert(result.run.flags & BT_FLAG_IMPLAUSIBLE);
    bt_result_clear(&result);
}
END_TEST

/* 40 kW in 3 s against 50 N*m x 8 at the axle over 28 m/s x 3 s at 0.3 m: 120 kJ and 112 kJ. */
START_TEST(a_battery_current_with_the_other_sign_is_named_with_both_energies)
{
    const mistake turned = {AMPERES, AMPERES, -1, 0, NULL};
    bt_result result = analyse(&turned);
    double battery = NAN, motor = NAN;
    for (size_t i = 0; i < result.n_notes; i++)
        (void)!sscanf(result.notes[i],
                      "implausible: the battery gives %lf kJ in brakings in which the motor takes "
                      "%lf kJ; battery_current must",
                      &battery, &motor);
    ck_assert_double_eq_tol(battery, 6 * 120, 0.02 * 720);
    ck_assert_double_eq_tol(motor, 6 * 112, 0.02 * 672);
    bt_result_clear(&result);
}
END_TEST

/* 8 m/s2 x 1000 kg against two axles of 60 and 55 bar and the motor; pads as grippy as none are. */
START_TEST(brakes_that_cannot_be_this_cars_are_seen_in_the_force_that_slows_it)
{
    static const char *const sheet[] = {"mass=1000",
                                        "inertia_factor=1",
                                        "rolling_radius_front=0.3 m",
                                        "road_load_a=0",
                                        "piston_area_front=20 cm2",
                                        "pad_friction_front=0.4",
                                        "pad_friction_rear=0.4",
                                        "effective_radius_front=0.14 m",
                                        "effective_radius_rear=0.14 m",
                                        "bywire_axle=front",
                                        "motor_axle=rear",
                                        "piston_area_rear=20 cm2",
                                        "rolling_radius_rear=0.3 m"};
    enum { ROWS = 6000, N = 5 };
    static const char *const names[N] = {"time", "speed [m/s]", "pedal_rear [bar]",
                                         "pedal_front [bar]", "line_front [bar]"};
    bt_error err = {0};
    for (int wrong = 0; wrong < 2; wrong++) {
        bt_car *car;
        ck_assert_int_eq(bt_car_new(&car, &err), BT_OK);
        for (size_t i = 0; i < sizeof sheet / sizeof *sheet; i++)
            ck_assert_int_eq(bt_car_set(car, sheet[i], &err), BT_OK);
        if (wrong) ck_assert_int_eq(bt_car_set(car, "mass=2204.6", &err), BT_OK);
        const bt_setup setup = {.car = car};
        bt_feed *feed;
        bt_result result;
        ck_assert_int_eq(bt_feed_new(&feed, "bench", names, N, &setup, &err), BT_OK);
        for (int i = 0; i < ROWS; i++) {
            double r[COLUMNS];
            make_row(i, r);
            /* 4 x 0.4 x 0.002 m2 x 0.14 m = 4.48e-4 N*m/Pa an axle, over 0.3 m, twice, is 8000 N at: */
            const double p = r[FRONT] > 0 ? 8000 * 0.3 / (2 * 4.48e-4) / 1e5 : 0;
            const double row[N] = {r[TIME], r[SPEED], p, p, p};
            ck_assert_int_eq(bt_feed_push(feed, row, 1, &err), BT_OK);
        }
        ck_assert_int_eq(bt_feed_end(feed, &result, &err), BT_OK);
        ck_assert_double_eq_tol(result.run.effort_ratio, (wrong ? 2.2046 : 1), 0.02);
        ck_assert_uint_eq(doubts_in(&result), wrong ? 1 : 0);
        ck_assert(!wrong || strstr(result.notes[result.n_notes - 1],
                                   "the car slows as if by 2.2 times the force that brakes, motor "
                                   "and road load make by the car sheet (effort_ratio)"));
        bt_result_clear(&result);
        bt_feed_free(feed);
        bt_car_free(car);
    }
}
END_TEST

START_TEST(one_wheel_sensor_under_two_names_is_named)
{
    const mistake twins = {FL, FR, 0, 30, NULL}; /* both stand at 30 m/s */
    bt_result result = analyse(&twins);
    bool found = false;
    for (size_t i = 0; i < result.n_notes; i++)
        found =
            found || !strcmp(result.notes[i], "implausible: wheel_fl and wheel_fr never differ; "
                                              "one sensor under two names?");
    ck_assert(found);
    bt_result_clear(&result);
}
END_TEST

START_TEST(no_zone_at_all_has_its_reason)
{
    const mistake weak = {FRONT, REAR, 0.04, 0, NULL};
    bt_result result = analyse(&weak);
    bool found = false;
    for (size_t i = 0; i < result.n_notes; i++)
        found = found || !strcmp(result.notes[i], "no braking zone: pedal_front reaches 2.4 bar, "
                                                  "zones begin above 3 (zone_on)");
    ck_assert(found);
    bt_result_clear(&result);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("doubts");
    TCase *t = tcase_create("doubts");
    tcase_add_test(t, a_sound_log_raises_no_doubt);
    tcase_add_loop_test(t, a_mistake_is_named_with_the_place_to_look_at, 0,
                        sizeof mistakes / sizeof *mistakes);
    tcase_add_test(t, a_battery_current_with_the_other_sign_is_named_with_both_energies);
    tcase_add_test(t, brakes_that_cannot_be_this_cars_are_seen_in_the_force_that_slows_it);
    tcase_add_test(t, one_wheel_sensor_under_two_names_is_named);
    tcase_add_test(t, no_zone_at_all_has_its_reason);
    suite_add_tcase(s, t);
    return s;
}
BT_CHECK_MAIN(suite)
