/* Channels that stand still while a sister moves.  What must not be told comes beside what must. */
#include "check_support.h"

#include <math.h>
#include <string.h>

#include "verdict/standing.h"

#define BAR  1e5
#define ROOM 2000

static bt_standing *standing;
static bt_events events;
static bt_standing_place place;
static double t[ROOM], x[BT_SIGNALS][ROOM];
static double clock_;
static unsigned noise;

static void begin(bt_axle bywire)
{
    bt_error err = {0};
    bt_standing_free(standing);
    bt_events_clear(&events);
    ck_assert_int_eq(bt_standing_new(&standing, bywire, &err), BT_OK);
    place = (bt_standing_place){.pedal = BT_CH_PEDAL_FRONT, .zone = NAN};
    clock_ = 50;
}

static void setup(void)
{
    begin(BT_REAR);
}

static void teardown(void)
{
    bt_standing_free(standing);
    standing = NULL;
    bt_events_clear(&events);
}

/* What a channel reads, SI, at part 0..1 of a braking (0 = at rest). */
typedef struct {
    int channel;
    double rest, peak, ripple;
} reading;

/* `seconds` at 100 Hz: half a sine of pressure, or rest. */
static void drive(double seconds, bool brakes, const reading *r, size_t n)
{
    bt_error err = {0};
    bt_block b = {.t = t};
    while ((double)b.n * 0.01 < seconds) {
        const double part = brakes ? sin(3.14159265 * (double)b.n * 0.01 / seconds) : 0;
        t[b.n] = clock_ + 0.01 * (double)b.n;
        for (size_t k = 0; k < n; k++) {
            noise = noise * 1103515245u + 12345u;
            x[r[k].channel][b.n] = r[k].rest + part * (r[k].peak - r[k].rest) +
                                   r[k].ripple * ((double)(noise >> 16 & 255) / 127.5 - 1);
        }
        b.n++;
    }
    for (size_t k = 0; k < n; k++) b.ch[r[k].channel] = x[r[k].channel];
    clock_ += seconds;
    ck_assert_int_eq(bt_standing_take(standing, &b, &place, &events, &err), BT_OK);
}

/* Rest of 8 s and a braking of 3 s, so many times. */
static void laps(int times, const reading *r, size_t n)
{
    for (int i = 0; i < times; i++) {
        drive(8, false, r, n);
        drive(3, true, r, n);
    }
}
#define LAPS(times, r) laps(times, r, sizeof(r) / sizeof *(r))

static void finish(void)
{
    bt_error err = {0};
    ck_assert_int_eq(bt_standing_end(standing, &events, &err), BT_OK);
}

static const bt_event *only(void)
{
    ck_assert_uint_eq(events.n, 1);
    ck_assert_str_eq(events.event[0].kind, "sensor-stuck");
    return &events.event[0];
}

static const reading alive[] = {{BT_CH_PEDAL_FRONT, 0, 60 * BAR, 0},
                                {BT_CH_PEDAL_REAR, 0, 40 * BAR, 0},
                                {BT_SIG_DECEL, 0, 10, 0}};
static const reading dead[] = {{BT_CH_PEDAL_FRONT, 0.35 * BAR, 0.35 * BAR, 0},
                               {BT_CH_PEDAL_REAR, 0, 40 * BAR, 0},
                               {BT_SIG_DECEL, 0, 10, 0}};

START_TEST(channels_that_rest_at_their_very_zero_and_move_together_are_alive)
{
    LAPS(5, alive);
    finish();
    ck_assert_uint_eq(events.n, 0);
    bt_channel pedal;
    ck_assert_uint_eq(bt_standing_unseen(standing, &pedal), 0);
}
END_TEST

START_TEST(a_dead_pedal_is_told_with_what_it_hid)
{
    LAPS(2, alive);
    const double from = clock_;
    LAPS(4, dead);
    const double to = clock_;
    LAPS(1, alive);
    finish();
    const bt_event *e = only();
    ck_assert_int_eq(e->severity, BT_STOP);
    ck_assert_double_eq_tol(e->start, from, 0.1);
    ck_assert_double_eq_tol(e->start + e->duration, to, 0.1);
    ck_assert_double_eq_tol(e->value, 0.35, 1e-9);
    /* The 40 bar of half a sine are 38 behind 0.3 s of smoothing. */
    ck_assert_str_eq(e->reason,
                     "pedal_front stands at 0.35 bar while pedal_rear rises by 38 bar, in 4 "
                     "brakings; none opened a zone; sensor dead or no pressure there");
    bt_channel pedal;
    ck_assert_uint_eq(bt_standing_unseen(standing, &pedal), 4);
    ck_assert_int_eq(pedal, BT_CH_PEDAL_FRONT);
}
END_TEST

START_TEST(a_sensor_that_never_lived_is_dead_from_the_first_sample_to_the_end)
{
    LAPS(1, dead);
    ck_assert_uint_eq(events.n, 0); /* not over */
    ck_assert(bt_standing_dead(standing, BT_CH_PEDAL_FRONT));
    finish();
    const bt_event *e = only();
    ck_assert_double_eq(e->start, 50);
    ck_assert_double_eq_tol(e->duration, 11, 0.1);
    ck_assert_ptr_nonnull(strstr(e->reason, "in 1 braking; none opened a zone"));
    ck_assert_ptr_nonnull(strstr(e->reason, "; so to the end"));
}
END_TEST

START_TEST(a_circuit_without_pressure_is_told_though_its_sensor_has_noise)
{
    static const reading leaks[] = {{BT_CH_PEDAL_FRONT, 0.35 * BAR, 0.35 * BAR, 0.4 * BAR},
                                    {BT_CH_PEDAL_REAR, 0, 40 * BAR, 0.4 * BAR},
                                    {BT_SIG_DECEL, 0, 10, 0}};
    LAPS(1, alive);
    const double from = clock_;
    LAPS(3, leaks);
    finish();
    const bt_event *e = only();
    ck_assert_double_eq_tol(e->start, from, 2.5); /* e^(-2.5/0.3) of 60 bar are left by then */
    ck_assert_ptr_nonnull(strstr(e->reason, "pedal_front stays near 0."));
    ck_assert_ptr_nonnull(strstr(e->reason, "in 3 brakings"));
}
END_TEST

START_TEST(a_sister_that_jumps_by_itself_slows_no_car)
{
    static const reading jumps[] = {{BT_CH_PEDAL_FRONT, 0, 0, 0},
                                    {BT_CH_PEDAL_REAR, 0, 40 * BAR, 0},
                                    {BT_SIG_DECEL, 0, 0.5, 0}};
    LAPS(4, jumps);
    finish();
    ck_assert_uint_eq(events.n, 0);
}
END_TEST

START_TEST(one_sister_that_jumps_has_those_at_rest_against_it)
{
    static const reading jumps[] = {
        {BT_CH_PEDAL_FRONT, 0, 0, 0},
        {BT_CH_PEDAL_REAR, 0, 40 * BAR, 0},
        {BT_CH_LINE_FL, 0, 0, 0},
        {BT_CH_LINE_FR, 0, 0, 0},
        {BT_SIG_DECEL, 0, 10, 0}}; /* the air at the end of a straight */
    LAPS(4, jumps);
    finish();
    ck_assert_uint_eq(events.n, 0);
}
END_TEST

START_TEST(a_sister_back_from_where_no_sensor_reads_has_not_risen)
{
    static const reading broken[] = {{BT_CH_PEDAL_FRONT, 0, 0, 0},
                                     {BT_CH_PEDAL_REAR, -300 * BAR, -300 * BAR, 0},
                                     {BT_SIG_DECEL, 0, 10, 0}};
    static const reading whole[] = {
        {BT_CH_PEDAL_FRONT, 0, 0, 0}, {BT_CH_PEDAL_REAR, 0, 0, 0}, {BT_SIG_DECEL, 0, 10, 0}};
    LAPS(1, whole);
    LAPS(2, broken);
    LAPS(2, whole);
    finish();
    ck_assert_uint_eq(events.n, 0);
}
END_TEST

/* Broken wire, or no value. */
static const double absent[] = {-300 * BAR, NAN};
START_TEST(brakings_of_a_pedal_that_says_nothing_are_counted)
{
    const reading broken[] = {{BT_CH_PEDAL_FRONT, absent[_i], absent[_i], 0},
                              {BT_CH_PEDAL_REAR, 0, 40 * BAR, 0},
                              {BT_SIG_DECEL, 0, 10, 0}};
    bt_channel pedal;
    LAPS(1, alive);
    LAPS(3, broken);
    LAPS(1, alive);
    ck_assert_uint_eq(bt_standing_unseen(standing, &pedal), 3);
    LAPS(2, broken);
    finish();
    ck_assert_uint_eq(bt_standing_unseen(standing, &pedal), 5);
    ck_assert_uint_eq(events.n, 0); /* told as sensor-range or sensor-gap */
}
END_TEST

START_TEST(a_pedal_without_sisters_is_held_against_three_hard_brakings)
{
    static const reading single[] = {{BT_CH_PEDAL_FRONT, 0.35 * BAR, 0.35 * BAR, 0},
                                     {BT_SIG_DECEL, 0, 10, 0}};
    static const reading gentle[] = {{BT_CH_PEDAL_FRONT, 0.35 * BAR, 0.35 * BAR, 0},
                                     {BT_SIG_DECEL, 0, 4.9, 0}};
    LAPS(6, gentle); /* a motor brings that */
    LAPS(2, single); /* the air, perhaps, at the end of two straights */
    ck_assert(!bt_standing_dead(standing, BT_CH_PEDAL_FRONT));
    LAPS(1, single);
    finish();
    ck_assert_str_eq(only()->reason,
                     "pedal_front stands at 0.35 bar while the car slows by up to 10.0 m/s², in 3 "
                     "brakings; none opened a zone; sensor dead or no pressure there; so to the "
                     "end");
}
END_TEST

START_TEST(a_live_sister_at_rest_knows_better_than_the_speed)
{
    static const reading air[] = {
        {BT_CH_PEDAL_FRONT, 0, 0, 0}, {BT_CH_PEDAL_REAR, 0, 0, 0}, {BT_SIG_DECEL, 0, 10, 0}};
    LAPS(5, air);
    finish();
    ck_assert_uint_eq(events.n, 0);
}
END_TEST

START_TEST(a_by_wire_line_may_rest_until_its_request_rises)
{
    static const reading rests[] = {{BT_CH_PEDAL_FRONT, 0, 60 * BAR, 0},
                                    {BT_CH_LINE_REAR, 0, 0, 0},
                                    {BT_CH_LINE_REQUEST, 0, 4 * BAR, 0},
                                    {BT_SIG_DECEL, 0, 10, 0}};
    static const reading asked[] = {{BT_CH_PEDAL_FRONT, 0, 60 * BAR, 0},
                                    {BT_CH_LINE_REAR, 0, 0, 0},
                                    {BT_CH_LINE_REQUEST, 0, 20 * BAR, 0},
                                    {BT_SIG_DECEL, 0, 10, 0}};
    LAPS(3, rests);
    finish();
    ck_assert_uint_eq(events.n, 0);
    place.zone = 7;
    LAPS(2, asked);
    finish();
    const bt_event *e = only();
    ck_assert_double_nan(e->zone); /* it began before the zone */
    ck_assert_str_eq(e->reason,
                     "line_rear stands at 0.00 bar while line_request rises by 19 bar, in 2 "
                     "brakings; sensor or line dead; so to the end");
}
END_TEST

START_TEST(a_by_wire_line_alone_is_held_against_what_is_asked_of_it)
{
    static double demand[ROOM], motor[ROOM];
    const bt_torques torques = {.demand = demand, .motor = motor, .motor_bywire = true};
    static const reading line[] = {{BT_CH_LINE_REAR, 0.2 * BAR, 0.2 * BAR, 0},
                                   {BT_SIG_DECEL, 0, 10, 0}};
    place.torques = &torques;
    place.zone = 1;
    place.line_gain = 100 / BAR; /* N*m/Pa */
    for (int covered = 1; covered >= 0; covered--) {
        for (int k = 0; k < 5; k++) {
            for (int i = 0; i < ROOM; i++) demand[i] = 0, motor[i] = 0;
            drive(8, false, line, 2);
            for (int i = 0; i < ROOM; i++)
                demand[i] = 3000, motor[i] = covered ? 2100 : 500; /* 9 bar, 25 bar are left */
            drive(3, true, line, 2);
        }
        ck_assert_int_eq(bt_standing_dead(standing, BT_CH_LINE_REAR), !covered);
    }
    finish();
    ck_assert_str_eq(
        only()->reason,
        "line_rear stands at 0.20 bar while demand less motor asks up to 25 bar of it, in 5 "
        "brakings; sensor or line dead; so to the end");
}
END_TEST

START_TEST(of_a_front_by_wire_axle_the_front_line_may_rest)
{
    begin(BT_FRONT);
    static const reading rests[] = {{BT_CH_PEDAL_FRONT, 0, 60 * BAR, 0},
                                    {BT_CH_LINE_FRONT, 0, 0, 0},
                                    {BT_CH_LINE_REAR, 0, 40 * BAR, 0},
                                    {BT_SIG_DECEL, 0, 10, 0}};
    LAPS(4, rests);
    finish();
    ck_assert_uint_eq(events.n, 0);
}
END_TEST

START_TEST(zeros_taken_off_in_zones_do_not_move_a_channel)
{
    static double zero[BT_CH_COUNT];
    zero[BT_CH_PEDAL_REAR] = 0.3 * BAR / 3; /* not exact in binary */
    static const reading free_run[] = {{BT_CH_PEDAL_REAR, 0.7 * BAR, 0.7 * BAR, 0},
                                       {BT_CH_PEDAL_FRONT, 0, 60 * BAR, 0},
                                       {BT_SIG_DECEL, 0, 10, 0}};
    reading zone[3];
    memcpy(zone, free_run, sizeof zone);
    zone[0].rest = zone[0].peak = 0.7 * BAR - zero[BT_CH_PEDAL_REAR];
    for (int i = 0; i < 2; i++) {
        place = (bt_standing_place){.pedal = BT_CH_PEDAL_FRONT, .zone = NAN};
        drive(8, false, free_run, 3);
        place = (bt_standing_place){.pedal = BT_CH_PEDAL_FRONT, .zero = zero, .zone = i + 1};
        drive(3, true, zone, 3);
    }
    finish();
    const bt_event *e = only();
    ck_assert_double_eq(e->start, 50);
    ck_assert_double_eq_tol(e->value, 0.7, 1e-9);
    ck_assert_ptr_null(strstr(e->reason, "zone")); /* it opens none */
}
END_TEST

START_TEST(what_a_zone_saw_is_told_once)
{
    LAPS(1, alive);
    static const reading falls[] = {{BT_CH_PEDAL_FRONT, 0, 60 * BAR, 0},
                                    {BT_CH_PEDAL_REAR, 20 * BAR, 20 * BAR, 0},
                                    {BT_SIG_DECEL, 0, 0, 0}};
    drive(1, false, falls, 3);
    ck_assert(!bt_standing_confirm(standing, BT_CH_PEDAL_REAR, clock_)); /* only 1 s */
    drive(2, false, falls, 3);
    ck_assert(bt_standing_confirm(standing, BT_CH_PEDAL_REAR, clock_));
    ck_assert(!bt_standing_confirm(standing, BT_CH_WHEEL_FL, clock_)); /* not watched here */
    finish();
    ck_assert_str_eq(only()->reason,
                     "pedal_rear stands at 20.00 bar while others move; sensor dead or no "
                     "pressure there; so to the end");
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("standing");
    TCase *c = tcase_create("standing");
    tcase_add_checked_fixture(c, setup, teardown);
    tcase_add_test(c, channels_that_rest_at_their_very_zero_and_move_together_are_alive);
    tcase_add_test(c, a_dead_pedal_is_told_with_what_it_hid);
    tcase_add_test(c, a_sensor_that_never_lived_is_dead_from_the_first_sample_to_the_end);
    tcase_add_test(c, a_circuit_without_pressure_is_told_though_its_sensor_has_noise);
    tcase_add_test(c, a_sister_that_jumps_by_itself_slows_no_car);
    tcase_add_test(c, one_sister_that_jumps_has_those_at_rest_against_it);
    tcase_add_test(c, a_sister_back_from_where_no_sensor_reads_has_not_risen);
    tcase_add_loop_test(c, brakings_of_a_pedal_that_says_nothing_are_counted, 0, 2);
    tcase_add_test(c, a_pedal_without_sisters_is_held_against_three_hard_brakings);
    tcase_add_test(c, a_live_sister_at_rest_knows_better_than_the_speed);
    tcase_add_test(c, a_by_wire_line_may_rest_until_its_request_rises);
    tcase_add_test(c, a_by_wire_line_alone_is_held_against_what_is_asked_of_it);
    tcase_add_test(c, of_a_front_by_wire_axle_the_front_line_may_rest);
    tcase_add_test(c, zeros_taken_off_in_zones_do_not_move_a_channel);
    tcase_add_test(c, what_a_zone_saw_is_told_once);
    suite_add_tcase(s, c);
    return s;
}

BT_CHECK_MAIN(suite)
