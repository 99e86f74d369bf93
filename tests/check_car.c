/* The car sheet (CONTRACT 5): units, ranges, defaults, and what is refused with its place. */
#include "check_support.h"

#include "samples/car.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

static char folder[] = "/tmp/check_car_XXXXXX";
static char sheet_path[64], curve_path[64];

static void make_folder(void)
{
    ck_assert_ptr_nonnull(mkdtemp(folder));
    snprintf(sheet_path, sizeof sheet_path, "%s/car.csv", folder);
    snprintf(curve_path, sizeof curve_path, "%s/curve.csv", folder);
}

static void remove_folder(void)
{
    unlink(sheet_path);
    unlink(curve_path);
    rmdir(folder);
    memcpy(folder + strlen(folder) - 6, "XXXXXX", 6);
}

static void put_file(const char *path, const char *text)
{
    FILE *f = fopen(path, "w");
    ck_assert_ptr_nonnull(f);
    ck_assert_int_ge(fputs(text, f), 0);
    ck_assert_int_eq(fclose(f), 0);
}

/* The header and one or more rows. */
static bt_status read_rows(bt_car **car, const char *rows, bt_error *err)
{
    char text[2048];
    snprintf(text, sizeof text, "quantity,value,unit,tolerance,note\n%s", rows);
    put_file(sheet_path, text);
    ck_assert_int_eq(bt_car_new(car, err), BT_OK);
    return bt_car_read(*car, sheet_path, err);
}

static double get(const bt_car *car, const char *name)
{
    double value = 0;
    ck_assert(bt_car_get(car, name, &value, NULL));
    return value;
}

#define NEAR(a, b) ck_assert_double_eq_tol(a, b, 1e-12 * (1e-3 + fabs((double)(b))))

START_TEST(defaults_are_those_of_the_methods_and_the_rest_is_unknown)
{
    bt_car *car;
    ck_assert_int_eq(bt_car_new(&car, NULL), BT_OK);
    NEAR(get(car, "inertia_factor"), 1.04);
    NEAR(get(car, "grip_limit"), 1.5 * 9.80665);
    NEAR(get(car, "threshold_front"), 0);
    NEAR(get(car, "motor_efficiency"), 1);
    NEAR(get(car, "bywire_ok"), 0);
    NEAR(get(car, "slip_limit"), 0.2);
    NEAR(get(car, "smooth_window"), 0.2);
    NEAR(get(car, "zone_on"), 3e5);
    NEAR(get(car, "zone_off"), 1.5e5);
    NEAR(get(car, "zone_on_decel"), 1);
    NEAR(get(car, "zone_off_decel"), 0.5);
    NEAR(get(car, "zone_min_time"), 0.3);
    NEAR(get(car, "zone_min_drop"), 2);
    NEAR(get(car, "zone_gap"), 0.25);
    NEAR(get(car, "band_abs"), 30);
    NEAR(get(car, "band_rel"), 0.05);
    ck_assert(isnan(get(car, "mass")) && isnan(get(car, "demand_gain")));
    ck_assert(isnan(get(car, "ambient")) && isnan(get(car, "disc_limit_rear")));
    ck_assert_int_eq(car->motor_axle, BT_REAR);
    ck_assert_int_eq(car->bywire_axle, BT_REAR);
    for (int i = 0; i < BT_CAR_COUNT; i++) ck_assert(!car->given[i] && isnan(car->u[i]));
    ck_assert(!bt_car_get(car, "weight", NULL, NULL));
    bt_car_free(car);
}
END_TEST

/* Factors by definition: 1 bar = 1e5 Pa, 1 km/h = 1/3.6 m/s, 0 degC = 273.15 K, 1 psi = 6894.757 Pa
 * (SP 811), 1 in = 0.0254 m. */
static const struct {
    const char *row, *name;
    double si, u;
} values[] = {
    {"mass,740,,5,with driver", "mass", 740, 5},
    {"mass,740,kg,1%,", "mass", 740, 7.4},
    {"Cg Height,310,mm,10,", "cg_height", 0.31, 0.01},
    {"static_front_share,46.5,,0.5,", "static_front_share", 0.465, 0.005},
    {"static_front_share,0.465,1,,", "static_front_share", 0.465, NAN},
    {"grip_limit,2,,,", "grip_limit", 2 * 9.80665, NAN},
    {"grip_limit,20,m/s2,,", "grip_limit", 20, NAN},
    {"piston_area_front,28.3,cm2,,", "piston_area_front", 28.3e-4, NAN},
    {"piston_area_rear,1134,mm2,1 %,", "piston_area_rear", 1134e-6, 11.34e-6},
    {"pad_friction_front,0.45,,10%,", "pad_friction_front", 0.45, 0.045},
    {"threshold_rear,10,psi,,", "threshold_rear", 68947.57293168362, NAN},
    {"motor_efficiency,93,,,", "motor_efficiency", 0.93, NAN},
    {"demand_gain,25,N\u00b7m/bar,1,", "demand_gain", 25e-5, 1e-5},
    {"demand_gain,25,,,", "demand_gain", 25e-5, NAN},
    {"road_load_b,3.6,N/(m/s),,", "road_load_b", 3.6, NAN},
    {"road_load_b,1,N/(km/h),,", "road_load_b", 3.6, NAN},
    {"road_load_c,0.1,N/(km/h)2,,", "road_load_c", 0.1 * 3.6 * 3.6, NAN},
    {"disc_limit_front,650,,20,", "disc_limit_front", 923.15, 20},
    {"ambient,86,\u00b0F,9,", "ambient", 303.15, 5},
    {"cool_speed_rear,3.6,W/K/(m/s),,", "cool_speed_rear", 3.6, NAN},
    {"disc_share_front,95,%,,", "disc_share_front", 0.95, NAN},
    {"zone_on,200,kPa,,", "zone_on", 2e5, NAN},
    {"zone_min_drop,7.2,km/h,,", "zone_min_drop", 2, NAN},
};

START_TEST(values_become_si_with_their_uncertainty)
{
    bt_car *car;
    bt_error err = {0};
    ck_assert_msg(read_rows(&car, values[_i].row, &err) == BT_OK, "%s: %s", values[_i].row,
                  err.message);
    double value, u;
    ck_assert(bt_car_get(car, values[_i].name, &value, &u));
    ck_assert_double_eq_tol(value, values[_i].si, 1e-9 * values[_i].si);
    if (isnan(values[_i].u))
        ck_assert(isnan(u));
    else
        ck_assert_double_eq_tol(u, values[_i].u, 1e-9 * values[_i].u);
    bt_car_free(car);
}
END_TEST

static const struct {
    const char *rows;
    bt_status status;
    uint64_t line, column;
    const char *message;
} refused[] = {
    {"mass,-740,kg,,", BT_RANGE, 2, 2, "mass: expected more than 0 kg, found -740"},
    {"wheelbase,2600,,,", BT_RANGE, 2, 2, "wheelbase: expected at most 20 m, found 2600"},
    {"wheelbase,26000,mm,,", BT_RANGE, 2, 2, "wheelbase: expected at most 20 m, found 26000 mm"},
    {"static_front_share,0.46,,,", BT_RANGE, 2, 2,
     "static_front_share: expected at least 10 %, found 0.46"},
    {"mass,740,,,\nmas,3,,,", BT_SYNTAX, 3, 1,
     "expected a quantity of the car sheet, found 'mas'; near: mass"},
    {"mass,740,,,\n\nmass,750,,,", BT_SYNTAX, 4, 1,
     "mass: expected one row, found another one on line 2"},
    {"mass,740,stone,,", BT_SYNTAX, 2, 3, NULL},
    {"mass,740,bar,,", BT_SYNTAX, 2, 3, NULL},
    {"mass,74O,kg,,", BT_SYNTAX, 2, 2, NULL},
    {"mass,740,kg,-1,", BT_RANGE, 2, 4,
     "mass: expected a tolerance of 0 or more, or n%, found '-1'"},
    {"mass,740,kg,some,", BT_SYNTAX, 2, 4,
     "mass: expected a tolerance of 0 or more, or n%, found 'some'"},
    {"motor_axle,middle,,,", BT_SYNTAX, 2, 2, "motor_axle: expected front or rear, found 'middle'"},
    {"motor_axle,front,m,,", BT_SYNTAX, 2, 3, "motor_axle: expected no unit, found 'm'"},
};

START_TEST(what_cannot_be_is_refused_with_its_place)
{
    bt_car *car;
    bt_error err = {0};
    ck_assert_int_eq(read_rows(&car, refused[_i].rows, &err), refused[_i].status);
    ck_assert_str_eq(err.file, sheet_path);
    ck_assert_uint_eq(err.line, refused[_i].line);
    ck_assert_uint_eq(err.column, refused[_i].column);
    if (refused[_i].message) ck_assert_str_eq(err.message, refused[_i].message);
    bt_car_free(car);
}
END_TEST

START_TEST(a_unit_of_another_kind_is_named_as_such)
{
    bt_car *car;
    bt_error err = {0};
    ck_assert_int_eq(read_rows(&car, "mass,740,bar,,", &err), BT_SYNTAX);
    ck_assert_ptr_nonnull(strstr(err.message, "mass: expected a unit of mass (kg"));
    ck_assert_ptr_nonnull(strstr(err.message, "found 'bar' (pressure)"));
    bt_car_free(car);
}
END_TEST

START_TEST(blank_values_and_rows_behind_a_hash_are_not_given)
{
    bt_car *car;
    bt_error err = {0};
    ck_assert_int_eq(
        read_rows(&car, "mass,,kg,,to be weighed\n#wheelbase,2.6,m,,\ncg_height,0.3,m,,", &err),
        BT_OK);
    ck_assert(isnan(get(car, "mass")) && isnan(get(car, "wheelbase")));
    NEAR(get(car, "cg_height"), 0.3);
    bt_car_free(car);
}
END_TEST

START_TEST(a_demand_curve_stands_beside_its_sheet)
{
    bt_car *car;
    bt_error err = {0};
    put_file(curve_path, "pedal_bar,axle_nm\n0,0\n5,20\n40,900\n");
    ck_assert_int_eq(read_rows(&car, "demand_curve,curve.csv,,,\nbywire_axle,Front,,,", &err),
                     BT_OK);
    ck_assert_uint_eq(car->curve_n, 3);
    NEAR(car->curve_pedal[1], 5e5);
    NEAR(car->curve_torque[2], 900);
    ck_assert_int_eq(car->bywire_axle, BT_FRONT);
    bt_car_free(car);
}
END_TEST

START_TEST(a_demand_curve_that_does_not_rise_is_refused_at_its_own_line)
{
    bt_car *car;
    bt_error err = {0};
    put_file(curve_path, "pedal_bar,axle_nm\n0,0\n5,20\n5,30\n");
    ck_assert_int_eq(read_rows(&car, "demand_curve,curve.csv,,,", &err), BT_RANGE);
    ck_assert_str_eq(err.file, curve_path);
    ck_assert_uint_eq(err.line, 4);
    ck_assert_str_eq(err.message, "pedal_bar: expected more than 5, found '5'");
    ck_assert_ptr_null(car->curve_pedal);
    bt_car_free(car);
}
END_TEST

START_TEST(a_demand_curve_of_one_row_or_below_zero_is_refused)
{
    bt_car *car;
    bt_error err = {0};
    put_file(curve_path, "pedal_bar,axle_nm\n5,20\n");
    ck_assert_int_eq(read_rows(&car, "demand_curve,curve.csv,,,", &err), BT_SYNTAX);
    ck_assert_str_eq(err.file, curve_path);
    ck_assert_uint_eq(err.line, 1);
    ck_assert_str_eq(err.message, "expected two or more rows of a demand curve, found 1");
    bt_car_free(car);
    err = (bt_error){0};
    put_file(curve_path, "pedal_bar,axle_nm\n0,0\n5,-20\n");
    ck_assert_int_eq(read_rows(&car, "demand_curve,curve.csv,,,", &err), BT_RANGE);
    ck_assert_uint_eq(err.line, 3);
    ck_assert_uint_eq(err.column, 2);
    ck_assert_str_eq(err.message, "axle_nm: expected at least 0, found '-20'");
    bt_car_free(car);
}
END_TEST

START_TEST(a_missing_demand_curve_names_the_file)
{
    bt_car *car;
    bt_error err = {0};
    ck_assert_int_eq(read_rows(&car, "demand_curve,none.csv,,,", &err), BT_READ);
    ck_assert_ptr_nonnull(strstr(err.file, "none.csv"));
    bt_car_free(car);
}
END_TEST

START_TEST(set_overrides_one_quantity_and_keeps_how_well_it_is_known)
{
    bt_car *car;
    bt_error err = {0};
    ck_assert_int_eq(read_rows(&car, "mass,740,kg,5,", &err), BT_OK);
    double value, u;
    ck_assert_int_eq(bt_car_set(car, "mass=760", &err), BT_OK);
    ck_assert(bt_car_get(car, "mass", &value, &u));
    NEAR(value, 760);
    NEAR(u, 5);
    ck_assert_int_eq(bt_car_set(car, "zone_on=250 kPa", &err), BT_OK);
    NEAR(get(car, "zone_on"), 2.5e5);
    ck_assert_int_eq(bt_car_set(car, "wheelbase = 2600mm", &err), BT_OK);
    NEAR(get(car, "wheelbase"), 2.6);
    ck_assert_int_eq(bt_car_set(car, "motor_axle=front", &err), BT_OK);
    ck_assert_int_eq(car->motor_axle, BT_FRONT);
    bt_car_free(car);
}
END_TEST

static const struct {
    const char *assignment, *message;
} bad_sets[] = {
    {"mass", "expected NAME=VALUE, found 'mass'"},
    {"mass=", "mass: expected a number, found ''"},
    {"mass=heavy", "mass: expected a number, found 'heavy'"},
    {"mass=-1 kg", "mass: expected more than 0 kg, found -1"},
    {"zone_onn=3", "expected a quantity of the car sheet, found 'zone_onn'; near: zone_on"},
    {"pad_friction=0.4",
     "expected a quantity of the car sheet, found 'pad_friction'; near: pad_friction_front"},
    {"weight=700", "expected a quantity of the car sheet, found 'weight'; see braketally-car(5)"},
};

START_TEST(a_faulty_set_says_what_was_expected)
{
    bt_car *car;
    bt_error err = {0};
    ck_assert_int_eq(bt_car_new(&car, &err), BT_OK);
    ck_assert_int_ne(bt_car_set(car, bad_sets[_i].assignment, &err), BT_OK);
    ck_assert_str_eq(err.message, bad_sets[_i].message);
    bt_car_free(car);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("car");
    TCase *c = tcase_create("sheet");
    tcase_add_checked_fixture(c, make_folder, remove_folder);
    tcase_add_test(c, defaults_are_those_of_the_methods_and_the_rest_is_unknown);
    tcase_add_loop_test(c, values_become_si_with_their_uncertainty, 0,
                        sizeof values / sizeof *values);
    tcase_add_loop_test(c, what_cannot_be_is_refused_with_its_place, 0,
                        sizeof refused / sizeof *refused);
    tcase_add_test(c, a_unit_of_another_kind_is_named_as_such);
    tcase_add_test(c, blank_values_and_rows_behind_a_hash_are_not_given);
    tcase_add_test(c, a_demand_curve_stands_beside_its_sheet);
    tcase_add_test(c, a_demand_curve_that_does_not_rise_is_refused_at_its_own_line);
    tcase_add_test(c, a_demand_curve_of_one_row_or_below_zero_is_refused);
    tcase_add_test(c, a_missing_demand_curve_names_the_file);
    tcase_add_test(c, set_overrides_one_quantity_and_keeps_how_well_it_is_known);
    tcase_add_loop_test(c, a_faulty_set_says_what_was_expected, 0,
                        sizeof bad_sets / sizeof *bad_sets);
    suite_add_tcase(s, c);
    return s;
}

BT_CHECK_MAIN(suite)
