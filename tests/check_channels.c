/* Which column serves which channel, and how its numbers become SI (CONTRACT 4). */
#include "check_support.h"

#include "samples/car.h"
#include "samples/channels.h"
#include "samples/map.h"

#include <math.h>
#include <string.h>

typedef struct {
    bt_dialect dialect;
    bt_signals signals;
    bt_map *map;
    bt_channels ch;
    bt_error err;
} fixture;

/* Bind the columns of a log; map NULL = none. */
static bt_status bind(fixture *f, const char *log, const char *map, const bt_car *car)
{
    *f = (fixture){0};
    const size_t n = strlen(log);
    ck_assert_int_eq(bt_dialect_sniff(&f->dialect, log, n, true, NULL, &f->err), BT_OK);
    if (f->dialect.layout == BT_LAYOUT_LONG)
        ck_assert_int_eq(bt_signals_read(&f->signals, &f->dialect, log, n, true, &f->err), BT_OK);
    if (map) {
        const bt_status st = bt_map_memory(&f->map, "map.csv", map, strlen(map), &f->err);
        if (st != BT_OK) return st;
    }
    return bt_channels_bind(&f->ch, &f->dialect, &f->signals, f->map, car, NULL, &f->err);
}

static void done(fixture *f)
{
    bt_map_free(f->map);
    bt_signals_free(&f->signals);
    bt_dialect_free(&f->dialect);
}

static double si(const fixture *f, bt_channel c, double cell)
{
    return cell * f->ch.ch[c].factor + f->ch.ch[c].shift;
}

#define NEAR(a, b) ck_assert_double_eq_tol(a, b, 1e-12 * (1e-3 + fabs((double)(b))))

START_TEST(columns_serve_by_their_names_however_written)
{
    fixture f;
    ck_assert_int_eq(bind(&f,
                          "# Time (s),Speed [km/h],Pedal Front [psi],line-rear,BATTERY_VOLTAGE,"
                          "disc_fl_F,lap_distance_km,other\n"
                          "0,1,2,3,4,5,6,7\n1,1,2,3,4,5,6,7\n",
                          NULL, NULL),
                     BT_OK);
    ck_assert_int_eq(f.ch.time_column, 0);
    ck_assert_str_eq(f.ch.time_unit, "s");
    NEAR(si(&f, BT_CH_SPEED, 36), 10);
    ck_assert_double_eq_tol(si(&f, BT_CH_PEDAL_FRONT, 10), 68947.57293168362, 1e-6);
    ck_assert_int_eq(f.ch.ch[BT_CH_LINE_REAR].column, 3);
    NEAR(si(&f, BT_CH_LINE_REAR, 2), 2e5); /* no unit: the first of the list, bar */
    NEAR(si(&f, BT_CH_BATTERY_VOLTAGE, 4), 4);
    NEAR(si(&f, BT_CH_DISC_FL, 212), 373.15);
    NEAR(si(&f, BT_CH_LAP_DISTANCE, 1.5), 1500);
    ck_assert(isnan(f.ch.ch[BT_CH_SPEED].tolerance));
    ck_assert(!bt_channels_has(&f.ch, BT_CH_PEDAL_REAR));
    done(&f);
}
END_TEST

START_TEST(the_exact_name_goes_before_one_that_is_merely_alike)
{
    fixture f;
    ck_assert_int_eq(bind(&f, "time,Speed,speed,SPEED\n0,1,2,3\n1,1,2,3\n", NULL, NULL), BT_OK);
    ck_assert_int_eq(f.ch.ch[BT_CH_SPEED].column, 2);
    done(&f);
}
END_TEST

START_TEST(two_columns_that_match_equally_well_are_an_error_naming_both)
{
    fixture f;
    ck_assert_int_eq(bind(&f, "time,Speed,SPEED\n0,1,2\n1,1,2\n", NULL, NULL), BT_SYNTAX);
    ck_assert_str_eq(f.err.message, "speed: columns #2 'Speed' and #3 'SPEED' match equally well, "
                                    "name one in a map");
    ck_assert_uint_eq(f.err.line, 1);
    done(&f);
    ck_assert_int_eq(
        bind(&f, "time,Speed,SPEED\n0,1,2\n1,1,2\n", "channel,column\nspeed,#3\n", NULL), BT_OK);
    ck_assert_int_eq(f.ch.ch[BT_CH_SPEED].column, 2);
    done(&f);
}
END_TEST

START_TEST(the_map_names_columns_by_header_with_or_without_unit_or_by_number)
{
    static const char log[] = "T;v roll [km/h];P1 [kPa];P1 raw;x\n0;1;2;3;4\n1;1;2;3;4\n";
    fixture f;
    ck_assert_int_eq(bind(&f, log,
                          "channel,column,unit,scale,offset,tolerance\n"
                          "time,T,ms,,,\n"
                          "speed,V Roll,,2,3.6,0.36\n"
                          "Pedal Front,P1 [kPa],,,,\n"
                          "motor_torque,#5,Nm,-1,,2\n",
                          NULL),
                     BT_OK);
    ck_assert_str_eq(f.ch.time_unit, "ms");
    NEAR(si(&f, BT_CH_SPEED, 18), (18 * 2 + 3.6) / 3.6); /* scale, then offset, then unit */
    NEAR(f.ch.ch[BT_CH_SPEED].tolerance, 0.1);
    ck_assert_int_eq(f.ch.ch[BT_CH_PEDAL_FRONT].column, 2);
    NEAR(si(&f, BT_CH_PEDAL_FRONT, 5), 5000);
    ck_assert_int_eq(f.ch.ch[BT_CH_MOTOR_TORQUE].column, 4);
    NEAR(si(&f, BT_CH_MOTOR_TORQUE, 50), -50);
    NEAR(f.ch.ch[BT_CH_MOTOR_TORQUE].tolerance, 2);
    done(&f);
}
END_TEST

START_TEST(the_maps_unit_goes_before_the_headers)
{
    fixture f;
    ck_assert_int_eq(
        bind(&f, "time,speed [km/h]\n0,1\n1,1\n", "channel,column,unit\nspeed,speed,mph\n", NULL),
        BT_OK);
    NEAR(si(&f, BT_CH_SPEED, 1), 0.44704); /* SP 811 */
    done(&f);
}
END_TEST

START_TEST(a_dash_keeps_a_column_from_serving_by_its_name)
{
    fixture f;
    ck_assert_int_eq(bind(&f, "time,speed,wheel_fl\n0,1,0\n1,1,0\n",
                          "channel,column\nwheel_fl,-\n#wheel_fr,wheel_fl\n", NULL),
                     BT_OK);
    ck_assert(!bt_channels_has(&f.ch, BT_CH_WHEEL_FL));
    ck_assert(!bt_channels_has(&f.ch, BT_CH_WHEEL_FR));
    ck_assert(bt_channels_has(&f.ch, BT_CH_SPEED));
    done(&f);
}
END_TEST

START_TEST(wheels_that_turn_need_the_rolling_radius_of_their_axle)
{
    static const char log[] = "time,wheel_fl [rad/s],wheel_rr [rpm]\n0,1,1\n1,1,1\n";
    fixture f;
    bt_car *car;
    ck_assert_int_eq(bt_car_new(&car, NULL), BT_OK);
    ck_assert_int_eq(bt_car_set(car, "rolling_radius_front=0.3", NULL), BT_OK);
    ck_assert_int_eq(bind(&f, log, NULL, car), BT_OK);
    ck_assert(f.ch.ch[BT_CH_WHEEL_FL].angular);
    NEAR(si(&f, BT_CH_WHEEL_FL, 100), 30);
    ck_assert(!bt_channels_has(&f.ch, BT_CH_WHEEL_RR));
    ck_assert(f.ch.radius_missing[BT_REAR] && !f.ch.radius_missing[BT_FRONT]);
    done(&f);
    ck_assert_int_eq(bt_car_set(car, "rolling_radius_rear=0.3", NULL), BT_OK);
    ck_assert_int_eq(bind(&f, log, NULL, car), BT_OK);
    NEAR(si(&f, BT_CH_WHEEL_RR, 60), 2 * acos(-1) * 0.3);
    done(&f);
    bt_car_free(car);
}
END_TEST

START_TEST(states_and_positions_are_taken_as_logged)
{
    fixture f;
    ck_assert_int_eq(
        bind(&f,
             "time,bias_setting [%],bywire_state,latitude [deg],longitude,lap [clicks]\n"
             "0,54,0,51,0,1\n1,54,0,51,0,1\n",
             NULL, NULL),
        BT_OK);
    NEAR(si(&f, BT_CH_BIAS_SETTING, 54), 54);
    NEAR(si(&f, BT_CH_LATITUDE, 51), 51);
    NEAR(si(&f, BT_CH_LONGITUDE, -1.5), -1.5);
    NEAR(si(&f, BT_CH_LAP, 3), 3);
    ck_assert(bt_channel_is_state(BT_CH_LAP) && !bt_channel_is_state(BT_CH_SPEED));
    done(&f);
}
END_TEST

START_TEST(in_the_long_layout_signals_are_the_columns_and_may_come_late)
{
    fixture f;
    ck_assert_int_eq(bind(&f,
                          "0.0, speed, 1\n0.1, Press A [kPa], 2\n0.1, speed, 2\n0.2, speed, 3\n"
                          "0.3, speed, 3\n",
                          "channel,column,unit\npedal_front,Press A,\nlap,Lap No,\n", NULL),
                     BT_OK);
    ck_assert_int_eq(f.ch.layout, BT_LAYOUT_LONG);
    ck_assert_int_eq(f.ch.ch[BT_CH_SPEED].column, 0);
    ck_assert_int_eq(f.ch.ch[BT_CH_PEDAL_FRONT].column, 1);
    NEAR(si(&f, BT_CH_PEDAL_FRONT, 2), 2000);
    ck_assert_int_eq(f.ch.ch[BT_CH_LAP].column, 2);
    ck_assert_uint_eq(bt_signals_find(&f.signals, "Lap No", 6), 2);
    ck_assert_int_eq(f.ch.time_column, 0);
    done(&f);
}
END_TEST

START_TEST(in_the_long_layout_a_map_may_say_the_unit_of_time)
{
    fixture f;
    ck_assert_int_eq(bind(&f, "time,signal,value\n0,speed,1\n100,speed,2\n200,speed,3\n",
                          "channel,column,unit\ntime,time,ms\n", NULL),
                     BT_OK);
    ck_assert_int_eq(f.ch.time_column, 0);
    ck_assert_str_eq(f.ch.time_unit, "ms");
    ck_assert_uint_eq(f.signals.n, 1);
    done(&f);
}
END_TEST

static const struct {
    const char *map, *message;
    bt_status status;
    uint64_t line, column;
} refused[] = {
    {"channel,column\nspeedo,v", "expected a channel, found 'speedo'; near: speed", BT_SYNTAX, 2,
     1},
    {"channel,column\nspeed,v\n\nSpeed,p", "speed: expected one row, found another one on line 2",
     BT_SYNTAX, 4, 1},
    {"channel,column\nspeed,Brake Pres",
     "expected a column of the log, found 'Brake Pres'; near: "
     "'Brake Press'",
     BT_SYNTAX, 2, 2},
    {"channel,column\nspeed,#9", "expected #1 to #5, found '#9'", BT_SYNTAX, 2, 2},
    {"channel,column,unit\nspeed,v,furlong", NULL, BT_SYNTAX, 2, 3},
    {"channel,column,unit\nspeed,v,bar", NULL, BT_SYNTAX, 2, 3},
    {"channel,column,unit,scale\nspeed,v,,0", "scale: expected another number than 0", BT_RANGE, 2,
     4},
    {"channel,column,unit,scale\nspeed,v,,two", NULL, BT_SYNTAX, 2, 4},
    {"channel,column,tolerance\nspeed,v,-1", "tolerance: expected 0 or more, found -1", BT_RANGE, 2,
     3},
    {"channel,column,scael\nspeed,v,2",
     "expected channel, column, unit, scale, offset, tolerance or note as header, found 'scael'",
     BT_SYNTAX, 1, 3},
    {"channel,column\nspeed,", "expected a column's header, #n, or - for a channel not logged",
     BT_SYNTAX, 2, 2},
    {"channel,column,unit,scale\ntime,time,s,2", "time: expected a unit, no scale or offset",
     BT_SYNTAX, 2, 3},
};

START_TEST(a_faulty_map_is_refused_with_its_place)
{
    fixture f;
    ck_assert_int_eq(
        bind(&f, "time,v,p,Brake Press,q\n0,1,2,3,4\n1,1,2,3,4\n", refused[_i].map, NULL),
        refused[_i].status);
    ck_assert_str_eq(f.err.file, "map.csv");
    ck_assert_uint_eq(f.err.line, refused[_i].line);
    ck_assert_uint_eq(f.err.column, refused[_i].column);
    if (refused[_i].message)
        ck_assert_msg(strncmp(f.err.message, refused[_i].message, strlen(refused[_i].message)) == 0,
                      "%s", f.err.message);
    done(&f);
}
END_TEST

START_TEST(an_unknown_unit_on_a_channel_in_use_is_an_error_and_else_nothing)
{
    fixture f;
    ck_assert_int_eq(bind(&f, "time,speed [furlongs],q [furlongs]\n0,1,2\n1,1,2\n", NULL, NULL),
                     BT_SYNTAX);
    ck_assert_ptr_nonnull(strstr(f.err.message, "speed: expected a unit of speed (m/s"));
    ck_assert_ptr_nonnull(strstr(f.err.message, "found 'furlongs'"));
    ck_assert_uint_eq(f.err.line, 1);
    ck_assert_uint_eq(f.err.column, 2);
    done(&f);
    ck_assert_int_eq(bind(&f, "time,speed,q [furlongs]\n0,1,2\n1,1,2\n", NULL, NULL), BT_OK);
    done(&f);
}
END_TEST

START_TEST(a_log_without_time_and_rate_is_refused)
{
    fixture f;
    ck_assert_int_eq(bind(&f, "t,speed\n0,1\n1,1\n", NULL, NULL), BT_MISSING);
    ck_assert_str_eq(f.err.message,
                     "time: expected a column of that name, found none; name it in a "
                     "map or give the rate");
    done(&f);
}
END_TEST

START_TEST(every_channel_is_found_by_its_own_name)
{
    for (int c = 0; c < BT_CH_COUNT; c++)
        ck_assert_int_eq(bt_channel_find(bt_channel_name((bt_channel)c)), c);
    ck_assert_int_eq(bt_channel_find("time"), BT_CH_COUNT);
    ck_assert_int_eq(bt_channel_find("nothing"), BT_CH_COUNT);
    int pressures = 0;
    for (int c = 0; c < BT_CH_COUNT; c++) pressures += bt_channel_is_pressure((bt_channel)c);
    ck_assert_int_eq(pressures, 9);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("channels");
    TCase *c = tcase_create("bind");
    tcase_add_test(c, columns_serve_by_their_names_however_written);
    tcase_add_test(c, the_exact_name_goes_before_one_that_is_merely_alike);
    tcase_add_test(c, two_columns_that_match_equally_well_are_an_error_naming_both);
    tcase_add_test(c, the_map_names_columns_by_header_with_or_without_unit_or_by_number);
    tcase_add_test(c, the_maps_unit_goes_before_the_headers);
    tcase_add_test(c, a_dash_keeps_a_column_from_serving_by_its_name);
    tcase_add_test(c, wheels_that_turn_need_the_rolling_radius_of_their_axle);
    tcase_add_test(c, states_and_positions_are_taken_as_logged);
    tcase_add_test(c, in_the_long_layout_signals_are_the_columns_and_may_come_late);
    tcase_add_test(c, in_the_long_layout_a_map_may_say_the_unit_of_time);
    tcase_add_loop_test(c, a_faulty_map_is_refused_with_its_place, 0,
                        sizeof refused / sizeof *refused);
    tcase_add_test(c, an_unknown_unit_on_a_channel_in_use_is_an_error_and_else_nothing);
    tcase_add_test(c, a_log_without_time_and_rate_is_refused);
    tcase_add_test(c, every_channel_is_found_by_its_own_name);
    suite_add_tcase(s, c);
    return s;
}

BT_CHECK_MAIN(suite)
