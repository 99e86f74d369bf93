/* The column table against CONTRACT 6-9 (names and order), and against itself. */
#include "check_support.h"

#include "base/columns.h"

#include <stdio.h>
#include <string.h>

/* As CONTRACT.md has them; columns may follow. */
static const struct {
    bt_table_kind table;
    const char *names;
} contract[] = {
    {BT_TABLE_ZONES,
     "run zone lap place start_s duration_s start_m distance_m entry_kmh exit_kmh "
     "decel_mean_mps2 decel_peak_mps2 decel_dist_mps2 mfdd_mps2 decel_u_mps2 "
     "pedal_peak_bar pedal_rate_barps rise_s "
     "front_nm rear_friction_nm motor_nm motor_share_pct "
     "balance_pct balance_u_pct balance_hyd_pct balance_ideal_pct balance_slope_pctps "
     "demand_nm blend_mean_nm blend_rms_nm blend_peak_nm blend_pct blend_inband_pct "
     "blend_delay_s blend_gain blend_rest_nm blend_cause handover_nm "
     "slip_front_pct slip_rear_pct lock_s "
     "energy_front_kj energy_rear_kj energy_motor_kj recovered_kj disc_front_c disc_rear_c "
     "effort_ratio mode flags"},
    {BT_TABLE_EVENTS, "run event zone lap place start_s duration_s severity value unit reason"},
    {BT_TABLE_RUNS,
     "run status duration_s laps zones braking_s decel_peak_mps2 balance_pct "
     "balance_drift_pctplap drift_low drift_high drift_p "
     "blend_rms_nm blend_pct blend_delay_s worst_zone motor_share_pct recovered_kj fallbacks "
     "first_fallback_s fallback_s silent_fallbacks "
     "locks disc_front_c disc_rear_c effort_ratio events stops rows dropped_rows gaps flags"},
    {BT_TABLE_TRACE,
     "time_s speed_mps decel_mps2 front_nm rear_friction_nm motor_nm demand_nm blend_nm "
     "balance_pct slip_fl_pct slip_fr_pct slip_rl_pct slip_rr_pct disc_front_c disc_rear_c "
     "zone mode"},
};

START_TEST(names_and_order_are_those_of_the_contract)
{
    size_t n;
    const bt_column *columns = bt_columns(contract[_i].table, &n);
    char list[2048];
    snprintf(list, sizeof list, "%s", contract[_i].names);
    size_t i = 0;
    for (char *name = strtok(list, " "); name; name = strtok(NULL, " "), i++) {
        ck_assert_uint_lt(i, n);
        ck_assert_str_eq(columns[i].name, name);
    }
}
END_TEST

/* What the unit word at the end of a name says, in UCUM, and what a 1 in SI is then printed as. */
static const struct {
    const char *suffix, *unit;
    double one, zero; /* SI value of 1 and of 0 as printed */
} suffixes[] = {
    {"_s", "s", 1, 0},
    {"_m", "m", 1, 0},
    {"_kmh", "km/h", 1000.0 / 3600.0, 0},
    {"_mps", "m/s", 1, 0},
    {"_mps2", "m/s2", 1, 0},
    {"_mps3", "m/s3", 1, 0},
    {"_bar", "bar", 1e5, 0},
    {"_barps", "bar/s", 1e5, 0},
    {"_nm", "N.m", 1, 0},
    {"_pct", "%", 0.01, 0},
    {"_pctps", "%/s", 0.01, 0},
    {"_pctplap", "%/{lap}", 0.01, 0},
    {"_kj", "kJ", 1000, 0},
    {"_c", "Cel", 274.15, 273.15},
    {"_hz", "Hz", 1, 0},
};

START_TEST(the_unit_in_a_name_is_the_unit_of_the_column)
{
    size_t n, checked = 0;
    const bt_column *columns = bt_columns((bt_table_kind)_i, &n);
    for (size_t i = 0; i < n; i++) {
        const bt_column *c = &columns[i];
        const char *last = strrchr(c->name, '_');
        for (size_t k = 0; last && k < sizeof suffixes / sizeof suffixes[0]; k++) {
            if (strcmp(last, suffixes[k].suffix) != 0) continue;
            ck_assert_msg(strcmp(c->unit, suffixes[k].unit) == 0, "%s is in %s", c->name, c->unit);
            ck_assert_int_eq(c->kind, BT_CELL_NUMBER);
            ck_assert_double_eq_tol((suffixes[k].one - c->shift) * c->factor, 1, 1e-12);
            ck_assert_double_eq_tol((suffixes[k].zero - c->shift) * c->factor, 0, 1e-12);
            checked++;
        }
    }
    if (_i == BT_TABLE_ZONES) ck_assert_uint_ge(checked, 40);
}
END_TEST

START_TEST(no_name_comes_twice_and_every_column_has_a_meaning)
{
    size_t n;
    const bt_column *columns = bt_columns((bt_table_kind)_i, &n);
    for (size_t i = 0; i < n; i++) {
        ck_assert_uint_gt(strlen(columns[i].meaning), 4);
        ck_assert_ptr_null(strpbrk(columns[i].meaning, "\n\t\""));
        ck_assert_int_ge(columns[i].decimals, BT_DECIMALS_AS_IS);
        for (size_t k = 0; k < i; k++) ck_assert_str_ne(columns[i].name, columns[k].name);
    }
}
END_TEST

START_TEST(no_two_columns_read_the_same_member)
{
    size_t n;
    const bt_column *columns = bt_columns((bt_table_kind)_i, &n);
    for (size_t i = 0; i < n; i++)
        for (size_t k = 0; k < i; k++)
            ck_assert_msg(columns[i].offset != columns[k].offset, "%s and %s", columns[i].name,
                          columns[k].name);
}
END_TEST

START_TEST(every_number_of_a_zone_row_is_a_column)
{
    size_t n, numbers = 0;
    const bt_column *columns = bt_columns(BT_TABLE_ZONES, &n);
    for (size_t i = 0; i < n; i++) numbers += columns[i].kind == BT_CELL_NUMBER;
    ck_assert_uint_eq(numbers, (sizeof(bt_zone) - offsetof(bt_zone, zone)) / sizeof(double));
}
END_TEST

START_TEST(every_number_of_a_run_row_is_a_column)
{
    size_t n, numbers = 0;
    const bt_column *columns = bt_columns(BT_TABLE_RUNS, &n);
    for (size_t i = 0; i < n; i++) numbers += columns[i].kind == BT_CELL_NUMBER;
    ck_assert_uint_eq(numbers, (sizeof(bt_run) - offsetof(bt_run, duration)) / sizeof(double));
}
END_TEST

START_TEST(a_table_beyond_the_last_has_neither_columns_nor_name)
{
    size_t n = 7;
    ck_assert_ptr_null(bt_columns(BT_TABLE_COUNT, &n));
    ck_assert_uint_eq(n, 0);
    ck_assert_ptr_null(bt_table_name(BT_TABLE_COUNT));
    ck_assert_str_eq(bt_table_name(BT_TABLE_ZONES), "zones");
    ck_assert_str_eq(bt_table_name(BT_TABLE_DRIFT), "drift");
    ck_assert_str_eq(bt_table_name(BT_TABLE_FIT), "fit");
}
END_TEST

START_TEST(each_flag_has_one_word_without_blanks)
{
    for (unsigned i = 0; i < BT_FLAG_COUNT; i++) {
        ck_assert_ptr_null(strpbrk(bt_flag_word(i), " ,;\t"));
        for (unsigned k = 0; k < i; k++) ck_assert_str_ne(bt_flag_word(i), bt_flag_word(k));
    }
    ck_assert_ptr_null(bt_flag_word(BT_FLAG_COUNT));
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("columns");
    TCase *t = tcase_create("columns");
    tcase_add_loop_test(t, names_and_order_are_those_of_the_contract, 0,
                        sizeof contract / sizeof contract[0]);
    tcase_add_loop_test(t, the_unit_in_a_name_is_the_unit_of_the_column, 0, BT_TABLE_COUNT);
    tcase_add_loop_test(t, no_name_comes_twice_and_every_column_has_a_meaning, 0, BT_TABLE_COUNT);
    tcase_add_loop_test(t, no_two_columns_read_the_same_member, 0, BT_TABLE_COUNT);
    tcase_add_test(t, every_number_of_a_zone_row_is_a_column);
    tcase_add_test(t, every_number_of_a_run_row_is_a_column);
    tcase_add_test(t, a_table_beyond_the_last_has_neither_columns_nor_name);
    tcase_add_test(t, each_flag_has_one_word_without_blanks);
    suite_add_tcase(s, t);
    return s;
}

BT_CHECK_MAIN(suite)
