/* What the pedal asks for (METHODS 7): which source serves, and its form. */
#include "check_support.h"

#include "signals/demand.h"
#include "signals/friction.h"

#include <math.h>

static bt_car blank_car(void)
{
    bt_car car = {.motor_axle = BT_REAR, .bywire_axle = BT_REAR};
    for (int i = 0; i < BT_CAR_COUNT; i++) car.value[i] = car.u[i] = NAN;
    return car;
}

static void give_hydraulics(bt_car *car, bt_car_quantity front_or_rear)
{
    car->value[BT_CAR_PISTON_AREA_FRONT + front_or_rear] = 0.001;
    car->value[BT_CAR_PAD_FRICTION_FRONT + front_or_rear] = 0.4;
    car->value[BT_CAR_EFFECTIVE_RADIUS_FRONT + front_or_rear] = 0.125;
    car->value[BT_CAR_THRESHOLD_FRONT + front_or_rear] = 1e5;
}

START_TEST(without_any_source_nothing_is_known)
{
    const bt_car car = blank_car();
    ck_assert_int_eq(bt_demand_source_of(&car), BT_DEMAND_NONE);
    ck_assert_double_nan(bt_demand_torque(&car, 30e5));
}
END_TEST

START_TEST(gain_and_threshold_are_a_bent_line)
{
    bt_car car = blank_car();
    car.value[BT_CAR_DEMAND_GAIN] = 25e-5;
    ck_assert_double_eq_tol(bt_demand_torque(&car, 30e5), 750, 1e-9); /* threshold not given: 0 */
    car.value[BT_CAR_DEMAND_THRESHOLD] = 2e5;
    ck_assert_double_eq_tol(bt_demand_torque(&car, 30e5), 700, 1e-9);
    ck_assert_double_eq(bt_demand_torque(&car, 1e5), 0);
    ck_assert_double_nan(bt_demand_torque(&car, NAN));
}
END_TEST

START_TEST(without_gain_the_axle_is_asked_for_what_its_hydraulics_would_make_of_the_bypass)
{
    bt_car car = blank_car();
    give_hydraulics(&car, 1);
    ck_assert_int_eq(bt_demand_source_of(&car), BT_DEMAND_NONE);
    car.value[BT_CAR_BYPASS_RATIO] = 0.8;
    ck_assert_int_eq(bt_demand_source_of(&car), BT_DEMAND_BYPASS);
    /* 2 * 2 * 0.4 * 0.001 m2 * 0.125 m * (0.8 * 30 - 1) bar */
    ck_assert_double_eq_tol(bt_demand_torque(&car, 30e5), 2e-4 * 23e5, 1e-9);
    ck_assert_double_eq(bt_demand_torque(&car, 1e5), 0);
    car.bywire_axle = BT_FRONT; /* whose hydraulics are not on the sheet */
    ck_assert_int_eq(bt_demand_source_of(&car), BT_DEMAND_NONE);
}
END_TEST

START_TEST(a_curve_comes_first_and_goes_on_with_its_last_slope_but_never_below_zero)
{
    double pedal[] = {5e5, 10e5, 30e5, 40e5}, torque[] = {50, 200, 900, 1100};
    bt_car car = blank_car();
    car.value[BT_CAR_DEMAND_GAIN] = 1;
    car.curve_pedal = pedal;
    car.curve_torque = torque;
    car.curve_n = 4;
    ck_assert_int_eq(bt_demand_source_of(&car), BT_DEMAND_CURVE);
    for (size_t i = 0; i < 4; i++)
        ck_assert_double_eq_tol(bt_demand_torque(&car, pedal[i]), torque[i], 1e-9);
    ck_assert_double_eq_tol(bt_demand_torque(&car, 20e5), 550, 1e-9);
    ck_assert_double_eq_tol(bt_demand_torque(&car, 60e5), 1500, 1e-9); /* 20 N*m per bar goes on */
    ck_assert_double_eq_tol(bt_demand_torque(&car, 4e5), 20, 1e-9); /* 30 N*m per bar backwards */
    ck_assert_double_eq(bt_demand_torque(&car, 0), 0);
    ck_assert_double_nan(bt_demand_torque(&car, NAN));
}
END_TEST

START_TEST(an_array_is_as_its_samples_are)
{
    bt_car car = blank_car();
    car.value[BT_CAR_DEMAND_GAIN] = 25e-5;
    const double pedal[] = {0, 10e5, NAN};
    double out[3];
    bt_demand_torques(&car, pedal, 3, out);
    ck_assert_double_eq(out[0], 0);
    ck_assert_double_eq_tol(out[1], 250, 1e-9);
    ck_assert_double_nan(out[2]);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("demand");
    TCase *c = tcase_create("demand");
    tcase_add_test(c, without_any_source_nothing_is_known);
    tcase_add_test(c, gain_and_threshold_are_a_bent_line);
    tcase_add_test(c,
                   without_gain_the_axle_is_asked_for_what_its_hydraulics_would_make_of_the_bypass);
    tcase_add_test(c, a_curve_comes_first_and_goes_on_with_its_last_slope_but_never_below_zero);
    tcase_add_test(c, an_array_is_as_its_samples_are);
    suite_add_tcase(s, c);
    return s;
}

BT_CHECK_MAIN(suite)
