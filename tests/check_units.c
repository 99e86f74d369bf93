/* Units against their definitions (SI Brochure, NIST SP 811 B.8, exact yard and pound). */
#include "check_support.h"
#include "base/text.h"
#include "base/units.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define COUNT(array) ((int)(sizeof(array) / sizeof *(array)))

static const bt_unit *find(const char *text, bt_dimension wanted)
{
    return bt_unit_find(text, strlen(text), wanted);
}

/* What `value` in that unit is in SI. */
static const struct {
    const char *text;
    bt_dimension wanted;
    double value, si;
} factors[] = {
    {"bar", BT_DIM_PRESSURE, 1, 1e5},
    {"kPa", BT_DIM_PRESSURE, 1, 1e3},
    {"MPa", BT_DIM_PRESSURE, 1, 1e6},
    {"psi", BT_DIM_PRESSURE, 1, 0.45359237 * 9.80665 / (0.0254 * 0.0254)},
    {"km/h", BT_DIM_SPEED, 36, 10},
    {"mph", BT_DIM_SPEED, 1, 1609.344 / 3600},
    {"ft/s", BT_DIM_SPEED, 1, 0.3048},
    {"kn", BT_DIM_SPEED, 1, 1852.0 / 3600},
    {"rpm", BT_DIM_ANGULAR_SPEED, 60, 6.283185307179586},
    {"Hz", BT_DIM_ANGULAR_SPEED, 1, 6.283185307179586},
    {"deg/s", BT_DIM_ANGULAR_SPEED, 180, 3.141592653589793},
    {"deg", BT_DIM_ANGLE, 180, 3.141592653589793},
    {"N\u00b7m", BT_DIM_TORQUE, 1, 1},
    {"lbf\u00b7ft", BT_DIM_TORQUE, 1, 0.45359237 * 9.80665 * 0.3048},
    {"lbf\u00b7in", BT_DIM_TORQUE, 1, 0.45359237 * 9.80665 * 0.0254},
    {"lbf", BT_DIM_FORCE, 1, 0.45359237 * 9.80665},
    {"g", BT_DIM_ACCEL, 1, 9.80665},
    {"g", BT_DIM_ANY, 1, 9.80665},
    {"g", BT_DIM_MASS, 1, 1e-3},
    {"lb", BT_DIM_MASS, 1, 0.45359237},
    {"\u00b0C", BT_DIM_TEMPERATURE, 25, 298.15},
    {"\u00b0F", BT_DIM_TEMPERATURE, 212, 373.15},
    {"\u00b0F", BT_DIM_TEMPERATURE, 32, 273.15},
    {"K", BT_DIM_TEMPERATURE, 300, 300},
    {"mm", BT_DIM_LENGTH, 1, 1e-3},
    {"cm2", BT_DIM_AREA, 1, 1e-4},
    {"mm2", BT_DIM_AREA, 1, 1e-6},
    {"%", BT_DIM_RATIO, 50, 0.5},
    {"1", BT_DIM_RATIO, 0.5, 0.5},
    {"ms", BT_DIM_TIME, 1, 1e-3},
    {"V", BT_DIM_VOLTAGE, 1, 1},
    {"A", BT_DIM_CURRENT, 1, 1},
    {"N\u00b7m/bar", BT_DIM_TORQUE_PER_PRESSURE, 1e5, 1},
    {"lbf\u00b7ft/psi", BT_DIM_TORQUE_PER_PRESSURE, 1, 0.3048 * 0.0254 * 0.0254},
    {"N/(m/s)", BT_DIM_FORCE_PER_SPEED, 1, 1},
    {"N/(km/h)", BT_DIM_FORCE_PER_SPEED, 1, 3.6},
    {"N/(m/s)2", BT_DIM_FORCE_PER_SPEED2, 1, 1},
    {"N/(km/h)2", BT_DIM_FORCE_PER_SPEED2, 1, 12.96},
    {"J/kg/K", BT_DIM_SPECIFIC_HEAT, 1, 1},
    {"J/kg/K2", BT_DIM_SPECIFIC_HEAT_SLOPE, 1, 1},
    {"W/K", BT_DIM_COOLING, 1, 1},
    {"W/K/(m/s)", BT_DIM_COOLING_PER_SPEED, 1, 1},
    {"W/K/(km/h)", BT_DIM_COOLING_PER_SPEED, 1, 3.6},
};

START_TEST(a_unit_is_what_its_definition_says)
{
    const bt_unit *u = find(factors[_i].text, factors[_i].wanted);
    ck_assert_msg(u != NULL, "%s", factors[_i].text);
    const double si = factors[_i].value * u->factor + u->offset;
    ck_assert_msg(fabs(si - factors[_i].si) <= 4e-16 * fabs(factors[_i].si), "%s: %.17g, not %.17g",
                  factors[_i].text, si, factors[_i].si);
}
END_TEST

/* Spellings of one unit, told by its UCUM code. */
static const struct {
    const char *text;
    bt_dimension wanted;
    const char *ucum;
} spellings[] = {
    {"Bar", BT_DIM_PRESSURE, "bar"},
    {"[bar]", BT_DIM_PRESSURE, "bar"},
    {" bar ", BT_DIM_PRESSURE, "bar"},
    {"PSI", BT_DIM_PRESSURE, "[psi]"},
    {"[lbf_av]/[in_i]2", BT_DIM_PRESSURE, "[psi]"},
    {"kpa", BT_DIM_PRESSURE, "kPa"},
    {"KPA", BT_DIM_PRESSURE, "kPa"},
    {"mpa", BT_DIM_PRESSURE, "MPa"},
    {"MPA", BT_DIM_PRESSURE, "MPa"},
    {"Nm", BT_DIM_TORQUE, "N.m"},
    {"nm", BT_DIM_TORQUE, "N.m"},
    {"N.m", BT_DIM_TORQUE, "N.m"},
    {"N m", BT_DIM_TORQUE, "N.m"},
    {"N*m", BT_DIM_TORQUE, "N.m"},
    {"N-m", BT_DIM_TORQUE, "N.m"},
    {"N\u22c5m", BT_DIM_TORQUE, "N.m"},
    {"ft-lb", BT_DIM_TORQUE, "[ft_i].[lbf_av]"},
    {"lb-ft", BT_DIM_TORQUE, "[ft_i].[lbf_av]"},
    {"lbf ft", BT_DIM_TORQUE, "[ft_i].[lbf_av]"},
    {"[lbf_av].[ft_i]", BT_DIM_TORQUE, "[ft_i].[lbf_av]"},
    {"m/s^2", BT_DIM_ACCEL, "m/s2"},
    {"m/s2", BT_DIM_ACCEL, "m/s2"},
    {"m/s\u00b2", BT_DIM_ACCEL, "m/s2"},
    {"m\u00b7s\u207b\u00b2", BT_DIM_ACCEL, "m/s2"},
    {"m.s-2", BT_DIM_ACCEL, "m/s2"},
    {"mps2", BT_DIM_ACCEL, "m/s2"},
    {"G", BT_DIM_ACCEL, "[g]"},
    {"[g]", BT_DIM_ACCEL, "[g]"},
    {"kph", BT_DIM_SPEED, "km/h"},
    {"kmph", BT_DIM_SPEED, "km/h"},
    {"KM/H", BT_DIM_SPEED, "km/h"},
    {"kmh", BT_DIM_SPEED, "km/h"},
    {"MPH", BT_DIM_SPEED, "[mi_i]/h"},
    {"Mph", BT_DIM_SPEED, "[mi_i]/h"},
    {"[mi_i]/h", BT_DIM_SPEED, "[mi_i]/h"},
    {"1/min", BT_DIM_ANGULAR_SPEED, "circ/min"},
    {"rev/min", BT_DIM_ANGULAR_SPEED, "circ/min"},
    {"RPM", BT_DIM_ANGULAR_SPEED, "circ/min"},
    {"degC", BT_DIM_TEMPERATURE, "Cel"},
    {"deg C", BT_DIM_TEMPERATURE, "Cel"},
    {"Deg C", BT_DIM_TEMPERATURE, "Cel"},
    {"C", BT_DIM_TEMPERATURE, "Cel"},
    {"c", BT_DIM_TEMPERATURE, "Cel"},
    {"Cel", BT_DIM_TEMPERATURE, "Cel"},
    {"\u2103", BT_DIM_TEMPERATURE, "Cel"},
    {"\u00b0 C", BT_DIM_TEMPERATURE, "Cel"},
    {"\u00baC", BT_DIM_TEMPERATURE, "Cel"},
    {"[degF]", BT_DIM_TEMPERATURE, "[degF]"},
    {"percent", BT_DIM_RATIO, "%"},
    {"\u00b5s", BT_DIM_TIME, "us"},
    {"(s)", BT_DIM_TIME, "s"},
    {"cm\u00b2", BT_DIM_AREA, "cm2"},
    {"N/(m/s)^2", BT_DIM_FORCE_PER_SPEED2, "N/(m2/s2)"},
    {"N/(km/h)\u00b2", BT_DIM_FORCE_PER_SPEED2, "N/(km2/h2)"},
    {"N/kph", BT_DIM_FORCE_PER_SPEED, "N/(km/h)"},
    {"J/(kg K)", BT_DIM_SPECIFIC_HEAT, "J/kg/K"},
    {"J/(kg*K)", BT_DIM_SPECIFIC_HEAT, "J/kg/K"},
    {"W/(K*m/s)", BT_DIM_COOLING_PER_SPEED, "W/K/(m/s)"},
    {"", BT_DIM_NONE, "1"},
    {"-", BT_DIM_NONE, "1"},
    {"", BT_DIM_RATIO, "1"},
    {"1", BT_DIM_RATIO, "1"},
};

START_TEST(a_unit_is_known_by_its_usual_spellings)
{
    const bt_unit *u = find(spellings[_i].text, spellings[_i].wanted);
    ck_assert_msg(u != NULL, "'%s' is not known", spellings[_i].text);
    ck_assert_str_eq(u->ucum, spellings[_i].ucum);
}
END_TEST

static const struct {
    const char *text;
    bt_dimension wanted;
} strangers[] = {
    {"mPa", BT_DIM_PRESSURE}, /* milli, not mega */
    {"Mm", BT_DIM_LENGTH},
    {"Ms", BT_DIM_TIME},
    {"Mbar", BT_DIM_PRESSURE},
    {"bar", BT_DIM_SPEED},
    {"furlong/h", BT_DIM_ANY},
    {"barr", BT_DIM_ANY},
    {"deg", BT_DIM_TEMPERATURE}, /* of what? */
    {"", BT_DIM_PRESSURE},
    {"kg", BT_DIM_FORCE},
    {"m/s", BT_DIM_ACCEL},
    {"mN", BT_DIM_TORQUE},
    {"a text far too long to be the unit of anything at all", BT_DIM_ANY},
};

START_TEST(what_is_no_unit_of_that_kind_is_not_guessed)
{
    ck_assert_ptr_null(find(strangers[_i].text, strangers[_i].wanted));
}
END_TEST

START_TEST(every_unit_is_found_by_its_label_and_by_its_code)
{
    char labels[400];
    int found = 0;
    for (int d = 0; d < BT_DIM_COUNT; d++) {
        bt_unit_labels((bt_dimension)d, labels, sizeof labels);
        for (char *label = strtok(labels, ", "); label; label = strtok(NULL, ", "), found++) {
            const bt_unit *u = find(label, (bt_dimension)d);
            ck_assert_msg(u != NULL, "label %s", label);
            ck_assert_str_eq(u->label, label);
            /* 1 is the code of two: the plain number and the ratio */
            ck_assert_msg(find(u->ucum, (bt_dimension)d) == u, "code %s", u->ucum);
        }
    }
    ck_assert_int_ge(found, 60);
}
END_TEST

START_TEST(messages_name_the_units_and_the_nearest_one)
{
    char labels[60], few[12];
    ck_assert_str_eq(bt_unit_labels(BT_DIM_PRESSURE, labels, sizeof labels),
                     "bar, mbar, kPa, hPa, MPa, Pa, psi");
    ck_assert_str_eq(bt_unit_labels(BT_DIM_PRESSURE, few, sizeof few), "bar, mbar");
    ck_assert_str_eq(bt_unit_nearest("barr", 4, BT_DIM_PRESSURE), "bar");
    ck_assert_str_eq(bt_unit_nearest("km/hh", 5, BT_DIM_SPEED), "km/h");
    ck_assert_ptr_null(bt_unit_nearest("furlong", 7, BT_DIM_SPEED));
    ck_assert_str_eq(bt_dimension_name(BT_DIM_PRESSURE), "pressure");
}
END_TEST

static const struct {
    const char *text, *name, *unit;
} names[] = {
    {"Line rear [bar]", "Line rear", "bar"},
    {"Line rear (bar)", "Line rear", "bar"},
    {"Line rear{bar}", "Line rear", "bar"},
    {"line_rear_bar", "line_rear", "bar"},
    {"Line rear bar", "Line rear", "bar"},
    {"Line rear, bar", "Line rear", "bar"},
    {"Speed / km/h", "Speed", "km/h"},
    {"speed_kmh", "speed", "km/h"},
    {"speed_km_h", "speed", "km/h"},
    {"speed_m_s", "speed", "m/s"},
    {"accel_long_m_s2", "accel_long", "m/s\u00b2"},
    {"motor_torque_n_m", "motor_torque", "N\u00b7m"},
    {"disc_fl_deg_c", "disc_fl", "\u00b0C"},
    {"disc_fl_c", "disc_fl", "\u00b0C"},
    {"Temp [deg C]", "Temp", "deg C"},
    {"Throttle [percent]", "Throttle", "percent"},
    {"Throttle %", "Throttle", "%"},
    {"time(s)", "time", "s"},
    {"ax(m/s^2)", "ax", "m/s^2"},
    {"c1 [N/(m/s)]", "c1", "N/(m/s)"},
    {"c1 (N/(m/s))", "c1", "N/(m/s)"},
    {"Brake pressure (front)", "Brake pressure", "front"}, /* refused later, if used */
    {"gear [-]", "gear", "-"},
    {"gear []", "gear", ""},
    {"line_rear", "line_rear", ""},
    {"wheel_fl", "wheel_fl", ""},
    {"brake_1", "brake_1", ""},
    {"bar", "bar", ""},
    {"[bar]", "[bar]", ""},
    {"_bar", "_bar", ""},
    {"lap", "lap", ""},
    {"", "", ""},
};

START_TEST(a_name_gives_up_its_unit)
{
    size_t name_len, unit_len;
    const char *unit, *text = names[_i].text;
    bt_unit_in_name(text, strlen(text), &name_len, &unit, &unit_len);
    ck_assert_msg(name_len == strlen(names[_i].name) && !memcmp(text, names[_i].name, name_len),
                  "'%s': name '%.*s'", text, (int)name_len, text);
    ck_assert_msg(unit_len == strlen(names[_i].unit) && !memcmp(unit, names[_i].unit, unit_len),
                  "'%s': unit '%.*s'", text, (int)unit_len, unit);
}
END_TEST

static const struct {
    const char *ucum, *label;
} labels[] = {
    {"1", ""},
    {"", ""},
    {"s", "s"},
    {"km/h", "km/h"},
    {"m/s2", "m/s²"},
    {"m/s3", "m/s³"},
    {"N.m", "N·m"},
    {"N.m/{lap}", "N·m/lap"},
    {"Cel", "°C"},
    {"deg", "°"},
    {"%", "%"},
    {"%/{lap}", "pp/lap"},
    {"%/s", "pp/s"},
    {"%/min", "pp/min"},
    {"J/kg/K2", "J/kg/K²"},
    {"1/{run}", "/run"},
};

START_TEST(a_column_s_unit_is_written_as_people_write_it)
{
    char out[BT_UNIT_LABEL_MAX];
    ck_assert_str_eq(bt_unit_label(labels[_i].ucum, out), labels[_i].label);
}
END_TEST

START_TEST(a_unit_longer_than_its_room_is_cut_between_characters)
{
    char out[BT_UNIT_LABEL_MAX];
    bt_unit_label("N.m.N.m.N.m.N.m.N.m.N.m.N.m.N.m.N.m.N.m.N.m.N.m", out);
    const size_t n = strlen(out);
    ck_assert_uint_lt(n, sizeof out);
    ck_assert_uint_eq(bt_utf8_valid(out, n, false), n);
    char text[60] = "x";
    for (int i = 0; i < 20; i++) strcat(text, "\xc3\xa9");
    ck_assert_uint_eq(strlen(bt_unit_label(text, out)), 31); /* x and 15 of two bytes */
    ck_assert_uint_eq(strlen(bt_unit_label(text + 1, out)), 30);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("units");
    TCase *t = tcase_create("units");
    tcase_add_loop_test(t, a_unit_is_what_its_definition_says, 0, COUNT(factors));
    tcase_add_loop_test(t, a_unit_is_known_by_its_usual_spellings, 0, COUNT(spellings));
    tcase_add_loop_test(t, what_is_no_unit_of_that_kind_is_not_guessed, 0, COUNT(strangers));
    tcase_add_test(t, every_unit_is_found_by_its_label_and_by_its_code);
    tcase_add_test(t, messages_name_the_units_and_the_nearest_one);
    tcase_add_loop_test(t, a_name_gives_up_its_unit, 0, COUNT(names));
    tcase_add_loop_test(t, a_column_s_unit_is_written_as_people_write_it, 0, COUNT(labels));
    tcase_add_test(t, a_unit_longer_than_its_room_is_cut_between_characters);
    suite_add_tcase(s, t);
    return s;
}

BT_CHECK_MAIN(suite)
