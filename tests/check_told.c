/* Events told as they are settled: all of the result's, each once, and a fallback early enough to act. */
#include "check_support.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "braketally.h"

enum { MOST = 50 };
typedef struct {
    bt_event event[MOST];
    size_t n;
    double zones, zones_then[MOST]; /* finished so far, and when the event was told */
    size_t stop_after;              /* events; 0 = never */
} told;

static bt_status count_zone(void *user, const bt_zone *zone, bt_error *err)
{
    told *t = user;
    (void)err;
    t->zones = zone->zone;
    return BT_OK;
}

static bt_status keep(void *user, const bt_event *event, bt_error *err)
{
    told *t = user;
    (void)err;
    ck_assert_uint_lt(t->n, MOST);
    t->zones_then[t->n] = t->zones;
    t->event[t->n++] = *event;
    return t->stop_after && t->n >= t->stop_after ? BT_STOPPED : BT_OK;
}

static bool same(const bt_event *a, const bt_event *b)
{
    return strcmp(a->kind, b->kind) == 0 && strcmp(a->reason, b->reason) == 0 &&
           a->severity == b->severity && memcmp(&a->start, &b->start, sizeof a->start) == 0 &&
           memcmp(&a->duration, &b->duration, sizeof a->duration) == 0;
}

/* Every event of the result was told, and nothing else but what lasted. */
static size_t assert_all_told(const told *t, const bt_result *result)
{
    size_t lasting = 0;
    for (size_t i = 0; i < t->n; i++) lasting += isnan(t->event[i].duration) ? 1 : 0;
    ck_assert_uint_eq(t->n - lasting, result->n_events);
    for (size_t i = 0; i < result->n_events; i++) {
        size_t times = 0;
        for (size_t k = 0; k < t->n; k++) times += same(&t->event[k], &result->events[i]) ? 1 : 0;
        ck_assert_msg(times == 1, "%s told %zu times", result->events[i].kind, times);
    }
    return lasting;
}

static bt_status analyse(const char *log, int threads, told *t, bt_result *result, bt_error *err)
{
    bt_car *car;
    bt_map *map;
    ck_assert_int_eq(bt_car_new(&car, err), BT_OK);
    ck_assert_int_eq(bt_car_read(car, "testdata/demo/car.csv", err), BT_OK);
    ck_assert_int_eq(bt_map_read(&map, "testdata/demo/map.csv", err), BT_OK);
    const bt_setup setup = {
        .car = car, .map = map, .threads = threads, .zone = count_zone, .event = keep, .user = t};
    const bt_status status = bt_analyse(log, &setup, result, err);
    bt_map_free(map);
    bt_car_free(car);
    return status;
}

/* Truth: in run 5 the by-wire gives up in zone 39 and nobody is told (testdata/demo/truth). */
START_TEST(a_fallback_is_told_while_it_lasts_and_again_as_it_ended)
{
    told t = {.n = 0};
    bt_result result;
    bt_error err = {0};
    ck_assert_int_eq(analyse("testdata/demo/saltmarsh_run5.csv.gz", _i ? 1 : 0, &t, &result, &err),
                     BT_OK);
    ck_assert_uint_eq(assert_all_told(&t, &result), 1);
    const bt_event *first = &t.event[0];
    ck_assert(isnan(first->duration));
    ck_assert_str_eq(first->kind, "silent-fallback");
    ck_assert_double_eq(first->zone, 39);
    ck_assert_double_eq(first->start, result.events[0].start);
    ck_assert_double_eq(t.zones_then[0], 40); /* the second zone that bears it out */
    bt_result_clear(&result);
}
END_TEST

START_TEST(a_callback_may_stop_the_analysis)
{
    told t = {.stop_after = 1};
    bt_result result;
    bt_error err = {0};
    ck_assert_int_eq(analyse("testdata/demo/saltmarsh_run5.csv.gz", _i ? 1 : 0, &t, &result, &err),
                     BT_STOPPED);
    ck_assert_uint_eq(t.n, 1);
    ck_assert_uint_eq(result.n_zones, 40);
    ck_assert_str_eq(result.run.status, "stopped by the caller");
    bt_result_clear(&result);
}
END_TEST

/* Rows of one's own: every 10 s a braking from 40 m/s to 16 m/s; from 100 s on the rear line follows the
 * pedal by the bypass and the motor is gone.  A hole in the motor's torque is an event of 2 s. */
START_TEST(events_of_ones_own_samples_come_while_they_are_fed)
{
    static const char *const columns[] = {"time",
                                          "speed [m/s]",
                                          "pedal_front [bar]",
                                          "pedal_rear [bar]",
                                          "line_rear [bar]",
                                          "motor_torque [Nm]"};
    static const char *const sheet[] = {
        "demand_gain=44 Nm/bar",  "bypass_ratio=0.95", "piston_area_rear=13.5 cm2",
        "pad_friction_rear=0.43", "motor_ratio=8",     "effective_radius_rear=136 mm"};
    const double gain = 4 * 0.43 * 13.5e-4 * 0.136 * 1e5; /* N*m per bar of the rear line */
    bt_error err = {0};
    bt_car *car;
    ck_assert_int_eq(bt_car_new(&car, &err), BT_OK);
    for (size_t i = 0; i < sizeof sheet / sizeof *sheet; i++)
        ck_assert_int_eq(bt_car_set(car, sheet[i], &err), BT_OK);
    told t = {.n = 0};
    const bt_setup setup = {.car = car, .zone = count_zone, .event = keep, .user = &t};
    bt_feed *feed;
    ck_assert_int_eq(bt_feed_new(&feed, "live", columns, 6, &setup, &err), BT_OK);
    double told_at = NAN;
    for (int i = 0; i < 20000; i++) {
        const double now = 0.01 * i, w = fmod(now, 10);
        const double p = w >= 4 && w < 7 ? 40 * fmin(1, 8 * (w - 4)) : 0;
        const double v = w < 4 ? 40 : w < 7 ? 40 - 8 * (w - 4) : 16 + 8 * (w - 7);
        const bool given_up = now >= 100;
        const double motor = given_up ? 0 : fmin(50, 44 * p / 16);
        const double line = given_up ? 0.95 * p : (44 * p - 8 * motor) / gain;
        const bool hole = i >= 2000 && i < 2200;
        const double row[] = {now, v, p, p, line, hole ? NAN : -motor};
        ck_assert_int_eq(bt_feed_push(feed, row, 1, &err), BT_OK);
        if (t.n == 2 && isnan(told_at)) told_at = now;
    }
    ck_assert_uint_eq(t.n, 2);
    ck_assert_str_eq(t.event[0].kind, "sensor-gap");
    ck_assert_str_eq(t.event[1].kind, "fallback");
    ck_assert(isnan(t.event[1].duration));
    ck_assert(told_at > 117 && told_at < 118); /* the braking from 114 s is the second one */
    bt_result result;
    ck_assert_int_eq(bt_feed_end(feed, &result, &err), BT_OK);
    ck_assert_uint_eq(assert_all_told(&t, &result), 1);
    bt_result_clear(&result);
    bt_feed_free(feed);
    bt_car_free(car);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("events told");
    TCase *t = tcase_create("told");
    tcase_add_loop_test(t, a_fallback_is_told_while_it_lasts_and_again_as_it_ended, 0, 2);
    tcase_add_loop_test(t, a_callback_may_stop_the_analysis, 0, 2);
    tcase_add_test(t, events_of_ones_own_samples_come_while_they_are_fed);
    suite_add_tcase(s, t);
    return s;
}
BT_CHECK_MAIN(suite)
