/* Looking at unknown logs: what words mean, which speeds contradict each other, what a draft map holds
 * (CONTRACT 2, METHODS 3). */
#include "check_support.h"

#include "braketally.h"
#include "inspect/propose.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

static char folder[] = "/tmp/check_inspect_XXXXXX";
static char log_path[64], map_path[64];

static void make_folder(void)
{
    ck_assert_ptr_nonnull(mkdtemp(folder));
    snprintf(log_path, sizeof log_path, "%s/log.csv", folder);
    snprintf(map_path, sizeof map_path, "%s/map.csv", folder);
}

static void remove_folder(void)
{
    unlink(log_path);
    unlink(map_path);
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

static const bt_inspect_column *column(const bt_inspection *in, const char *name)
{
    for (size_t i = 0; i < in->n_columns; i++)
        if (strcmp(in->columns[i].name, name) == 0) return &in->columns[i];
    ck_abort_msg("no column '%s'", name);
    return NULL;
}

static bool noted(const bt_inspection *in, const char *text)
{
    for (size_t i = 0; i < in->n_notes; i++)
        if (strstr(in->notes[i], text)) return true;
    for (size_t i = 0; i < in->n_allowed; i++)
        if (strstr(in->allowed[i], text)) return true;
    return false;
}

typedef struct {
    char text[8192];
    size_t n;
} page;

static bt_status write_page(void *user, const char *bytes, size_t n, bt_error *err)
{
    page *p = user;
    (void)err;
    ck_assert(p->n + n < sizeof p->text);
    memcpy(p->text + p->n, bytes, n);
    p->n += n;
    p->text[p->n] = '\0';
    return BT_OK;
}

/* Header, unit, and what a reader who knows the trade would say. */
static const struct {
    const char *name, *unit, *channel;
    bool sure;
} words[] = {
    {"Time", "s", "time", true},
    {"Master Cyl Front", "bar", "pedal_front", true},
    {"Brake Pressure Rear Caliper", "psi", "line_rear", true},
    {"FrontBrakePressure", "PSI", "pedal_front", true},
    {"RearBrakePressure", "PSI", "line_rear", false}, /* which end? */
    {"p_Bremse_VL", "bar", "line_fl", true},
    {"Bremsdruck vorne", "bar", "pedal_front", true},
    {"Pression frein avant", "bar", "pedal_front", true},
    {"Pressione freno anteriore", "bar", "pedal_front", true},
    {"Presi\u00f3n freno delantero", "bar", "pedal_front", true},
    {"brake_ped_cmd", "kPa", "pedal_front", false}, /* commanded */
    {"Rear line pressure request", "bar", "line_request", false},
    {"Motor torque feedback", "N.m", "motor_torque", true},
    {"InverterTorqueCommand", "Nm", "motor_request", true},
    {"Motordrehzahl", "rpm", "motor_speed", true},
    {"INV_Motor_Speed", "rpm", "motor_speed", true},
    {"RLSpeed", "kph", "wheel_rl", true},
    {"Raddrehzahl HR", "rpm", "wheel_rr", true},
    {"Wheel speed front left", "km/h", "wheel_fl", true},
    {"Vitesse roue avant droite", "km/h", "wheel_fr", true},
    {"vx", "m/s", "speed", true},
    {"vy", "m/s", "", false},
    {"GPS Speed", "km/h", "speed", true},
    {"ax", "m/s^2", "accel_long", true},
    {"G Lat", "g", "accel_lat", true},
    {"Lat", "deg", "latitude", true},
    {"GPS Longitude", "", "longitude", true},
    {"BrakeTempFrontLeft", "C", "disc_fl", true},
    {"BrakeTempFront", "C", "disc_fl", false}, /* left or right? */
    {"Tyre temp FL", "C", "", false},
    {"Throttle Pedal", "%", "", false},
    {"Steering angle", "deg", "", false},
    {"Lap Distance", "m", "lap_distance", true},
    {"Rundenstrecke", "m", "lap_distance", true},
    {"Lap Time", "s", "", false},
    {"Brake bias", "%", "bias_setting", true},
    {"VoltageBusHV", "V", "battery_voltage", true},
    {"FrontBrakePressure", "", "pedal_front", false}, /* no unit */
    {"xyzzy", "", "", false},
};

START_TEST(a_columns_words_and_unit_say_what_it_could_be)
{
    const bt_proposal p = bt_propose(words[_i].name, words[_i].unit);
    ck_assert_msg(strcmp(p.channel, words[_i].channel) == 0, "%s [%s]: '%s', not '%s'",
                  words[_i].name, words[_i].unit, p.channel, words[_i].channel);
    if (*words[_i].channel)
        ck_assert_msg((p.sure >= BT_SURE_ENOUGH) == words[_i].sure, "%s: %g", words[_i].name,
                      p.sure);
    if (*words[_i].channel && !words[_i].sure) ck_assert(*p.doubt);
}
END_TEST

/* A car that rolls at 20 m/s, brakes to 10 and rolls on; fl reads 2.2 times too much, fr is dead, rl a
 * raw count of 40 per m/s, rr right.  While it brakes all of them slip. */
static void put_rolling_log(void)
{
    FILE *f = fopen(log_path, "w");
    ck_assert_ptr_nonnull(f);
    fprintf(f, "time [s],speed [m/s],wheel_fl [m/s],wheel_fr [m/s],wheel_rl,wheel_rr [m/s],"
               "pedal_front [bar],Word\n");
    for (int i = 0; i < 600; i++) {
        const bool braking = i >= 200 && i < 400;
        const double v = i < 200 ? 20 : braking ? 20 - 0.05 * (i - 200) : 10;
        const double slip = braking ? 0.8 : 1;
        fprintf(f, "%.2f,%.3f,%.3f,0,%.0f,%.3f,%d,%s\n", i * 0.01, v, 2.2 * v * slip, 40 * v * slip,
                v * slip, braking ? 30 : 0, i == 5 ? "" : "on");
    }
    ck_assert_int_eq(fclose(f), 0);
}

START_TEST(speeds_that_contradict_each_other_are_named_with_the_factor)
{
    bt_inspection in;
    bt_error err = {0};
    put_rolling_log();
    ck_assert_msg(bt_inspect(log_path, NULL, &in, &err) == BT_OK, "%s", err.message);
    ck_assert_uint_eq(in.n_columns, 8);
    /* The histogram's steps are 1.2 %. */
    double factor = 0;
    ck_assert_int_eq(
        sscanf(column(&in, "wheel_fl [m/s]")->remark, "reads %lf times the speed", &factor), 1);
    ck_assert_double_eq_tol(factor, 2.2, 0.03);
    ck_assert_ptr_nonnull(strstr(column(&in, "wheel_fr [m/s]")->remark, "dead: always 0"));
    const char *count = strstr(column(&in, "wheel_rl")->remark, "reads ");
    ck_assert_ptr_nonnull(count);
    ck_assert_int_eq(sscanf(count, "reads %lf times", &factor), 1);
    ck_assert_double_eq_tol(factor, 40, 0.5);
    ck_assert_ptr_nonnull(strstr(count, "a raw count?"));
    ck_assert_str_eq(column(&in, "wheel_rr [m/s]")->remark, "");
    ck_assert_str_eq(column(&in, "speed [m/s]")->remark, "");
    bt_inspection_clear(&in);
}
END_TEST

/* 10 m/s and a little more each row; rl and rr are one and the same, fl is not. */
START_TEST(wheels_that_never_differ_are_named_and_stay_out_of_the_draft)
{
    FILE *f = fopen(log_path, "w");
    ck_assert_ptr_nonnull(f);
    fprintf(f, "time [s],Wheel speed FL [m/s],Wheel speed RL [m/s],Wheel speed RR [m/s]\n");
    for (int i = 0; i < 400; i++)
        fprintf(f, "%.2f,%.3f,%.3f,%.3f\n", 0.01 * i, 10.1 + 0.01 * i, 10 + 0.01 * i,
                10 + 0.01 * i);
    ck_assert_int_eq(fclose(f), 0);
    bt_inspection in;
    bt_error err = {0};
    page draft = {.n = 0};
    ck_assert_int_eq(bt_inspect(log_path, NULL, &in, &err), BT_OK);
    ck_assert_str_eq(column(&in, "Wheel speed FL [m/s]")->remark, "");
    ck_assert_str_eq(column(&in, "Wheel speed RL [m/s]")->remark,
                     "never differs from wheel_rr: one sensor under two names?");
    ck_assert_int_eq(bt_inspect_draft(&in, write_page, &draft, &err), BT_OK);
    ck_assert_ptr_nonnull(strstr(draft.text, "\nwheel_fl,"));
    ck_assert_ptr_nonnull(strstr(draft.text, "\n#wheel_rl,"));
    ck_assert_ptr_nonnull(strstr(draft.text, "\n#wheel_rr,"));
    bt_inspection_clear(&in);
}
END_TEST

/* What a map says against the header, the name, the sign and the step of time. */
START_TEST(a_map_that_contradicts_the_log_is_remarked)
{
    FILE *f = fopen(log_path, "w");
    ck_assert_ptr_nonnull(f);
    fprintf(f,
            "Clock,Car speed [km/h],Master cylinder front [bar],Master cylinder rear [bar],HV A\n");
    for (int i = 0; i < 400; i++) fprintf(f, "%d,%d,20,20,%d\n", 10 * i, 200 + i % 2, i % 50);
    ck_assert_int_eq(fclose(f), 0);
    put_file(map_path, "channel,column,unit\ntime,Clock,\nspeed,Car speed [km/h],m/s\n"
                       "pedal_rear,Master cylinder front [bar],\n"
                       "pedal_front,Master cylinder rear [bar],\nbattery_current,HV A,A\n");
    bt_map *map;
    bt_error err = {0};
    ck_assert_msg(bt_map_read(&map, map_path, &err) == BT_OK, "%s", err.message);
    const bt_setup setup = {.map = map};
    bt_inspection in;
    ck_assert_msg(bt_inspect(log_path, &setup, &in, &err) == BT_OK, "%s", err.message);
    ck_assert_ptr_nonnull(
        strstr(column(&in, "Clock")->remark, "rows 10 s apart: in milliseconds?"));
    ck_assert_str_eq(column(&in, "Car speed [km/h]")->remark,
                     "outside -50 to 150 m/s: another unit, or raw counts?; the map says m/s");
    ck_assert_ptr_nonnull(
        strstr(column(&in, "Master cylinder front [bar]")->remark, "its name says pedal_front"));
    ck_assert_ptr_nonnull(
        strstr(column(&in, "Master cylinder rear [bar]")->remark, "its name says pedal_rear"));
    ck_assert_str_eq(column(&in, "HV A")->remark, "never below 0: it does not show charging");
    bt_inspection_clear(&in);
    bt_map_free(map);
}
END_TEST

START_TEST(a_column_is_described_by_rate_blanks_range_and_bad_cells)
{
    bt_inspection in;
    bt_error err = {0};
    put_rolling_log();
    ck_assert_int_eq(bt_inspect(log_path, NULL, &in, &err), BT_OK);
    const bt_inspect_column *c = column(&in, "speed [m/s]");
    ck_assert_double_eq_tol(c->rate, 100, 1e-6);
    ck_assert_double_eq(c->blanks, 0);
    ck_assert_double_eq(c->min, 10);
    ck_assert_double_eq(c->max, 20);
    ck_assert_str_eq(c->unit, "m/s");
    ck_assert_str_eq(c->channel, "speed");
    c = column(&in, "Word");
    ck_assert_double_eq(c->bad, 599);
    ck_assert_double_eq_tol(c->blanks, 1 / 600.0, 1e-12);
    ck_assert(isnan(c->min) && isnan(c->rate));
    ck_assert_str_eq(c->remark, "no numbers");
    bt_inspection_clear(&in);
}
END_TEST

START_TEST(notes_say_what_can_be_worked_out_and_what_is_missing)
{
    bt_inspection in;
    bt_error err = {0};
    put_rolling_log();
    ck_assert_int_eq(bt_inspect(log_path, NULL, &in, &err), BT_OK);
    ck_assert(noted(&in, "can be worked out: speed (braking zones, deceleration)"));
    ck_assert(noted(&in, "front torque: missing piston_area_front, pad_friction_front, "
                         "effective_radius_front"));
    ck_assert(noted(&in, "ideal balance: missing static_front_share, wheelbase, cg_height"));
    ck_assert(noted(&in, "fallback: missing pedal_rear, line_rear or line_rl or line_rr, "
                         "bypass_ratio"));
    ck_assert(!noted(&in, "slip: missing"));
    bt_inspection_clear(&in);
}
END_TEST

START_TEST(a_draft_is_read_back_and_what_is_unsure_stays_out_of_use)
{
    put_file(log_path, "t [s];vx [m/s];FrontBrakePressure [bar];RearBrakePressure [bar];"
                       "\"P; q [bar]\";Throttle [%]\n"
                       "0;10;1;2;3;4\n1;11;1;2;3;4\n2;12;1;2;3;4\n");
    bt_inspection in;
    bt_error err = {0};
    page draft = {.n = 0};
    ck_assert_msg(bt_inspect(log_path, NULL, &in, &err) == BT_OK, "%s", err.message);
    ck_assert(noted(&in, "time: expected a column of that name"));
    ck_assert_int_eq(bt_inspect_draft(&in, write_page, &draft, &err), BT_OK);
    bt_inspection_clear(&in);
    ck_assert_ptr_nonnull(strstr(draft.text, "\ntime,t [s],s,,,,"));
    ck_assert_ptr_nonnull(strstr(draft.text, "\nspeed,vx [m/s],m/s,,,,"));
    ck_assert_ptr_nonnull(strstr(draft.text, "\n#line_rear,RearBrakePressure [bar],bar,,,,"));
    ck_assert_ptr_null(strstr(draft.text, "Throttle"));

    put_file(map_path, draft.text);
    bt_map *map = NULL;
    ck_assert_msg(bt_map_read(&map, map_path, &err) == BT_OK, "%s", err.message);
    const bt_setup setup = {.map = map};
    ck_assert_msg(bt_inspect(log_path, &setup, &in, &err) == BT_OK, "%s", err.message);
    ck_assert_str_eq(column(&in, "t [s]")->channel, "time");
    ck_assert_str_eq(column(&in, "vx [m/s]")->channel, "speed");
    ck_assert_str_eq(column(&in, "FrontBrakePressure [bar]")->channel, "pedal_front");
    ck_assert_str_eq(column(&in, "RearBrakePressure [bar]")->channel, "");
    bt_inspection_clear(&in);
    bt_map_free(map);
}
END_TEST

START_TEST(a_draft_never_takes_one_of_two_equal_columns)
{
    put_file(log_path, "time,Motor torque request A [Nm],Motor torque request B [Nm],speed\n"
                       "0,1,2,3\n1,1,2,3\n2,1,2,3\n");
    bt_inspection in;
    bt_error err = {0};
    page draft = {.n = 0};
    ck_assert_int_eq(bt_inspect(log_path, NULL, &in, &err), BT_OK);
    ck_assert_int_eq(bt_inspect_draft(&in, write_page, &draft, &err), BT_OK);
    ck_assert_ptr_nonnull(strstr(draft.text, "\n#motor_request,Motor torque request A [Nm]"));
    ck_assert_ptr_nonnull(strstr(draft.text, "\n#motor_request,Motor torque request B [Nm]"));
    bt_inspection_clear(&in);
}
END_TEST

START_TEST(a_log_that_cannot_be_bound_yet_is_looked_at_all_the_same)
{
    put_file(log_path, "time,Speed,SPEED\n0,1,2\n1,1,2\n");
    bt_inspection in;
    bt_error err = {0};
    ck_assert_int_eq(bt_inspect(log_path, NULL, &in, &err), BT_OK);
    ck_assert_uint_eq(in.n_columns, 3);
    ck_assert(noted(&in, "speed: columns #2 'Speed' and #3 'SPEED' match equally well"));
    bt_inspection_clear(&in);
}
END_TEST

START_TEST(a_faulty_map_is_an_error_of_the_map)
{
    put_file(log_path, "time,speed\n0,1\n1,1\n");
    put_file(map_path, "channel,column\nspeed,velocity\n");
    bt_map *map = NULL;
    bt_error err = {0};
    bt_inspection in;
    ck_assert_int_eq(bt_map_read(&map, map_path, &err), BT_OK);
    const bt_setup setup = {.map = map};
    ck_assert_int_eq(bt_inspect(log_path, &setup, &in, &err), BT_SYNTAX);
    ck_assert_str_eq(err.file, map_path);
    ck_assert_uint_eq(err.line, 2);
    bt_inspection_clear(&in);
    bt_map_free(map);
}
END_TEST

START_TEST(signals_of_a_long_log_are_its_columns)
{
    put_file(log_path,
             "0.0,speed,1\n0.0,Press,7\n0.1,speed,2\n0.1,Press,8\n0.2,speed,3\n0.2,late,1\n");
    bt_inspection in;
    bt_error err = {0};
    ck_assert_msg(bt_inspect(log_path, NULL, &in, &err) == BT_OK, "%s", err.message);
    ck_assert_uint_eq(in.n_columns, 3);
    ck_assert_str_eq(column(&in, "speed")->channel, "speed");
    ck_assert_double_eq_tol(column(&in, "speed")->rate, 10, 1e-6);
    ck_assert_double_eq(column(&in, "Press")->max, 8);
    ck_assert(noted(&in, "looks like the long layout"));
    bt_inspection_clear(&in);
}
END_TEST

START_TEST(a_missing_log_is_an_error_that_names_it)
{
    bt_inspection in;
    bt_error err = {0};
    ck_assert_int_eq(bt_inspect(log_path, NULL, &in, &err), BT_READ);
    ck_assert_str_eq(err.file, log_path);
    bt_inspection_clear(&in);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("inspect");
    TCase *c = tcase_create("inspect");
    tcase_add_checked_fixture(c, make_folder, remove_folder);
    tcase_add_loop_test(c, a_columns_words_and_unit_say_what_it_could_be, 0,
                        sizeof words / sizeof *words);
    tcase_add_test(c, speeds_that_contradict_each_other_are_named_with_the_factor);
    tcase_add_test(c, wheels_that_never_differ_are_named_and_stay_out_of_the_draft);
    tcase_add_test(c, a_map_that_contradicts_the_log_is_remarked);
    tcase_add_test(c, a_column_is_described_by_rate_blanks_range_and_bad_cells);
    tcase_add_test(c, notes_say_what_can_be_worked_out_and_what_is_missing);
    tcase_add_test(c, a_draft_is_read_back_and_what_is_unsure_stays_out_of_use);
    tcase_add_test(c, a_draft_never_takes_one_of_two_equal_columns);
    tcase_add_test(c, a_log_that_cannot_be_bound_yet_is_looked_at_all_the_same);
    tcase_add_test(c, a_faulty_map_is_an_error_of_the_map);
    tcase_add_test(c, signals_of_a_long_log_are_its_columns);
    tcase_add_test(c, a_missing_log_is_an_error_that_names_it);
    suite_add_tcase(s, c);
    return s;
}

BT_CHECK_MAIN(suite)
