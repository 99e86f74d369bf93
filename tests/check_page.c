/* The page: sketches of samples, parts that lack data, hostile names, the same bytes twice (lib/out/sketch.c,
 * lib/out/page*.c). */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "out/page.h"
#include "tests/check_support.h"

/* ---- sketches ---- */

static bt_trace sample(double t, double zone, double demand, double delivered)
{
    bt_trace x;
    bt_row_blank(BT_TABLE_TRACE, &x);
    x.t = t;
    x.zone = zone;
    x.speed = 50;
    x.demand = demand;
    x.rear_friction = 0.6 * delivered;
    x.motor = 0.4 * delivered;
    x.blend = delivered - demand;
    return x;
}

/* A zone of 2 s whose delivered torque is (1 + error) times the demand. */
static void take_zone(bt_sketch *s, int zone, double error)
{
    bt_error err = {0};
    for (int i = 0; i < 200; i++) {
        const bt_trace x = sample(zone * 10 + 0.01 * i, zone, 1000, 1000 * (1 + error));
        ck_assert_int_eq(bt_sketch_take(s, &x, &err), BT_OK);
    }
    const bt_trace between = sample(zone * 10 + 5, NAN, NAN, NAN);
    ck_assert_int_eq(bt_sketch_take(s, &between, &err), BT_OK);
}

static bt_sketch *new_sketch(void)
{
    bt_sketch *s;
    bt_error err = {0};
    ck_assert_int_eq(bt_sketch_new(&s, NULL, &err), BT_OK);
    return s;
}

START_TEST(a_zone_comes_back_with_its_torques_and_its_error)
{
    bt_sketch *s = new_sketch();
    take_zone(s, 1, -0.25);
    const bt_sketch_zone *z = bt_sketch_find(s, 1);
    ck_assert_ptr_nonnull(z);
    ck_assert_double_eq_tol(z->blend, 250, 1e-9);
    const bt_series *friction = &z->series[BT_SKETCH_FRICTION];
    ck_assert_uint_gt(friction->n, 100);
    for (size_t i = 0; i < friction->n; i++) ck_assert_double_eq_tol(friction->v[i], 450, 1e-9);
    ck_assert_double_eq_tol(z->series[BT_SKETCH_DELIVERED].v[0], 750, 1e-9);
    ck_assert_double_eq_tol(z->series[BT_SKETCH_ERROR].v[0], -250, 1e-9);
    ck_assert_ptr_null(bt_sketch_find(s, 2));
    bt_sketch_free(s);
}
END_TEST

/* Of 2000 zones the worst must be there, and one near the median; so must one that left its mode. */
START_TEST(of_many_zones_the_worst_the_odd_and_one_near_the_median_are_kept)
{
    bt_sketch *s = new_sketch();
    bt_error err = {0};
    unsigned x = 7;
    for (int zone = 1; zone <= 2000; zone++) {
        x = x * 1664525u + 1013904223u;
        const double error =
            zone == 777 ? 0.9 : (double)(x >> 8) / (1 << 24) * 0.2; /* median 0.1 */
        if (zone == 1500) { /* an inconspicuous error, but on the bypass */
            bt_trace odd = sample(zone * 10, zone, 1000, 1000);
            snprintf(odd.mode, sizeof odd.mode, "fallback");
            ck_assert_int_eq(bt_sketch_take(s, &odd, &err), BT_OK);
        }
        take_zone(s, zone, error);
    }
    ck_assert_ptr_nonnull(bt_sketch_find(s, 777));
    ck_assert_ptr_nonnull(bt_sketch_find(s, 1500));
    size_t n = 0;
    double nearest = INFINITY;
    for (int zone = 1; zone <= 2000; zone++) {
        const bt_sketch_zone *z = bt_sketch_find(s, zone);
        if (!z) continue;
        n++;
        nearest = fmin(nearest, fabs(z->blend - 100));
    }
    ck_assert_uint_le(n, 160); /* however many there were */
    ck_assert_double_lt(nearest,
                        5); /* N*m; half the spacing of 80 kept ones over 0 to 200, doubled */
    bt_sketch_free(s);
}
END_TEST

START_TEST(the_course_of_a_run_has_no_more_points_than_its_columns)
{
    bt_sketch *s = new_sketch();
    bt_error err = {0};
    for (int i = 0; i < 720000; i++) { /* two hours at 100 Hz */
        bt_trace x = sample(0.01 * i, NAN, NAN, NAN);
        x.speed = i == 333333 ? 90 : 30 + 20 * sin(0.001 * i);
        ck_assert_int_eq(bt_sketch_take(s, &x, &err), BT_OK);
    }
    bt_series speed;
    ck_assert_int_eq(bt_sketch_course(s, BT_SKETCH_SPEED, &speed, &err), BT_OK);
    ck_assert_uint_le(speed.n, 3 * 4096); /* buckets of the course, whatever its length */
    bt_range range = BT_RANGE_NONE;
    bt_range_cover(&range, speed.v, speed.n);
    ck_assert_double_eq(range.high, 90);
    bt_series_free(&speed);
    bt_sketch_free(s);
}
END_TEST

/* ---- pages ---- */

typedef struct {
    char *text;
    size_t n, cap;
} page_text;

static bt_status collect(void *user, const char *bytes, size_t n, bt_error *err)
{
    page_text *p = user;
    (void)err;
    if (p->n + n + 1 > p->cap) {
        p->cap = 2 * (p->n + n + 1);
        p->text = realloc(p->text, p->cap);
        ck_assert_ptr_nonnull(p->text);
    }
    memcpy(p->text + p->n, bytes, n);
    p->n += n;
    p->text[p->n] = '\0';
    return BT_OK;
}

static page_text page_of(const bt_report_options *options, const bt_result *results,
                         const bt_sketch *const *sketches, size_t n)
{
    page_text p = {0};
    bt_report *r;
    bt_error err = {0};
    ck_assert_int_eq(bt_report_new(&r, options, &err), BT_OK);
    for (size_t i = 0; i < n; i++)
        ck_assert_int_eq(bt_report_add(r, &results[i], sketches ? sketches[i] : NULL, &err), BT_OK);
    ck_assert_int_eq(bt_report_write(r, collect, &p, &err), BT_OK);
    bt_report_free(r);
    ck_assert_ptr_nonnull(strstr(p.text, "</html>"));
    return p;
}

static bt_result blank_result(const char *name)
{
    bt_result result = {0};
    bt_row_blank(BT_TABLE_RUNS, &result.run);
    snprintf(result.run.run, sizeof result.run.run, "%s", name);
    snprintf(result.run.status, sizeof result.run.status, "ok");
    return result;
}

static size_t count(const char *text, const char *what)
{
    size_t n = 0;
    for (const char *p = text; (p = strstr(p, what)); p += strlen(what)) n++;
    return n;
}

/* Nothing on a page comes from elsewhere or does anything. */
static void assert_self_contained(const char *page)
{
    static const char *const banned[] = {"<script", "http:", "https:",  "url(http", "@import",
                                         "<link",   "<img",  "<iframe", " onload",  "javascript:"};
    for (size_t i = 0; i < sizeof banned / sizeof *banned; i++)
        ck_assert_msg(strstr(page, banned[i]) == NULL, "the page holds '%s'", banned[i]);
}

START_TEST(a_page_of_nothing_is_a_page)
{
    page_text p = page_of(NULL, NULL, NULL, 0);
    assert_self_contained(p.text);
    ck_assert_ptr_nonnull(strstr(p.text, BT_VERSION));
    free(p.text);
}
END_TEST

START_TEST(a_run_without_zones_or_samples_says_what_is_left_out)
{
    const bt_result result = blank_result("empty");
    page_text p = page_of(NULL, &result, NULL, 1);
    ck_assert_ptr_nonnull(strstr(p.text, "No braking zone was found."));
    ck_assert_ptr_nonnull(strstr(p.text, "Speed: left out, no samples of it."));
    ck_assert_ptr_null(strstr(p.text, "NaN"));
    ck_assert_ptr_null(strstr(p.text, ">nan"));
    free(p.text);
}
END_TEST

#define HOSTILE "<script>alert('x')</script>&\"<b>"

/* A day with zones at two places, an event, notes and a failed log, all named to do harm. */
static void hostile_day(bt_result result[2], bt_zone *zones, size_t n, bt_event *event, char **note)
{
    result[0] = blank_result(HOSTILE);
    result[1] = blank_result("second");
    snprintf(result[1].run.status, sizeof result[1].run.status, "expected a number, found '%s'",
             HOSTILE);
    for (size_t i = 0; i < n; i++) {
        bt_zone *z = &zones[i];
        bt_row_blank(BT_TABLE_ZONES, z);
        snprintf(z->run, sizeof z->run, "%s", HOSTILE);
        snprintf(z->mode, sizeof z->mode, i == 3 ? "fallback" : "by-wire");
        z->zone = (double)(i + 1);
        z->lap = (double)(i / 2 + 1);
        z->start = 10.0 * (double)(i + 1);
        z->start_dist = i % 2 ? 2000 : 500;
        z->duration = 2;
        z->distance = 80;
        z->entry = 50;
        z->exit = i % 2 ? 30 : 20;
        z->balance = 0.6 + 0.001 * (double)(i / 2);
        z->balance_sys = 0.01;
        z->balance_rnd = 0.02;
        z->blend_frac = 0.05 + 0.01 * (double)i;
        z->blend_rms = 50 + 10 * (double)i;
        z->blend_delay = 0.02;
        z->blend_gain = 1.01;
        z->energy_front = 3e5;
        z->energy_rear = 1e5;
        z->energy_motor = 2e5;
    }
    bt_row_blank(BT_TABLE_EVENTS, event);
    snprintf(event->kind, sizeof event->kind, "silent-fallback");
    snprintf(event->reason, sizeof event->reason, "%s", HOSTILE);
    event->zone = 4;
    event->start = 41;
    event->severity = BT_STOP;
    result[0].run.worst_zone = (double)n;
    result[0].zones = zones;
    result[0].n_zones = n;
    result[0].events = event;
    result[0].n_events = 1;
    result[0].notes = note;
    result[0].n_notes = 1;
}

static page_text hostile_page(void)
{
    bt_result result[2];
    bt_zone zones[16];
    bt_event event;
    char note[] = "column '" HOSTILE "' is odd", *notes[] = {note};
    hostile_day(result, zones, 16, &event, notes);
    bt_sketch *sketch = new_sketch();
    for (int zone = 1; zone <= 16; zone++) take_zone(sketch, zone, 0.05);
    const bt_sketch *const sketches[] = {sketch, NULL};
    const bt_report_options options = {.title = HOSTILE, .car_name = HOSTILE};
    page_text p = page_of(&options, result, sketches, 2);
    bt_sketch_free(sketch);
    return p;
}

START_TEST(names_from_logs_stay_text_everywhere)
{
    page_text p = hostile_page();
    assert_self_contained(p.text);
    ck_assert_ptr_null(strstr(p.text, "<b>"));
    /* Title twice, contents, heading, both tables, doubts, note, reason, status, car sheet... */
    ck_assert_uint_ge(count(p.text, "&lt;script&gt;alert(&#39;x&#39;)&lt;/script&gt;&amp;&quot;"),
                      9);
    free(p.text);
}
END_TEST

START_TEST(a_silent_fallback_is_in_the_first_sentence_and_the_car_stays_in)
{
    page_text p = hostile_page();
    const char *verdict = strstr(p.text, "id=\"verdict\"");
    ck_assert_ptr_nonnull(verdict);
    const char *end = strstr(verdict, "</section>");
    const char *gave_up = strstr(verdict, "The by-wire gave up once");
    const char *unnoticed = strstr(verdict, "unnoticed by the car's own flag");
    const char *look = strstr(verdict, "1 event calls for a qualified person to look at the car");
    const char *failed = strstr(verdict, "1 log could not be analysed to the end");
    const char *caution = strstr(verdict, "no proof that a car is safe to run");
    ck_assert(gave_up && unnoticed && look && failed && caution);
    ck_assert(gave_up < unnoticed && unnoticed < look && look < failed && failed < caution);
    ck_assert(caution < end);
    free(p.text);
}
END_TEST

START_TEST(the_headline_uncertainty_joins_its_systematic_and_random_parts)
{
    /* 16 zones: 1 % systematic, 2 % / sqrt(16) random: sqrt(1 + 0.25) = 1.118 %. */
    page_text p = hostile_page();
    ck_assert_ptr_nonnull(strstr(p.text, "± 1.1<"));
    free(p.text);
}
END_TEST

START_TEST(every_picture_has_a_name_and_a_finding_and_every_header_a_scope)
{
    page_text p = hostile_page();
    const size_t pictures = count(p.text, "<svg ");
    ck_assert_uint_ge(pictures, 6);
    ck_assert_uint_eq(count(p.text, "role=\"img\""), pictures);
    ck_assert_uint_eq(count(p.text, "<desc "), pictures);
    ck_assert_uint_eq(count(p.text, "<desc "), count(p.text, "</desc>"));
    ck_assert_uint_eq(count(p.text, "<th "), count(p.text, "scope="));
    ck_assert_uint_eq(count(p.text, "<th>"), 0);
    free(p.text);
}
END_TEST

START_TEST(the_zone_with_the_event_and_the_worst_one_are_drawn)
{
    page_text p = hostile_page();
    ck_assert_ptr_nonnull(strstr(p.text, "lap 8: largest blend error")); /* zone 16 */
    ck_assert_ptr_nonnull(strstr(p.text, "lap 4: median blend error")); /* zone 8, of 50..200 N*m */
    ck_assert_ptr_nonnull(strstr(p.text, "lap 2: silent-fallback"));    /* zone 4 */
    free(p.text);
}
END_TEST

/* Zones at 500 and 2000 m of each lap, 10 s apart, at 50 m/s: a lap takes 20 s, so it is 1000 m by the
 * speed, which the log's own 2000 m cannot be on: no lap is drawn.  At 100 and 600 m it can. */
START_TEST(places_are_shown_on_a_lap_that_distance_and_speed_agree_on)
{
    bt_result result = blank_result("run");
    bt_zone zones[8];
    for (int far = 0; far < 2; far++) {
        bt_sketch *s = new_sketch();
        bt_error err = {0};
        for (int i = 0; i < 9000; i++) {
            const bt_trace x = sample(0.01 * i, NAN, NAN, NAN);
            ck_assert_int_eq(bt_sketch_take(s, &x, &err), BT_OK);
        }
        for (size_t i = 0; i < 8; i++) {
            bt_zone *z = &zones[i];
            bt_row_blank(BT_TABLE_ZONES, z);
            z->zone = (double)(i + 1);
            z->lap = (double)(i / 2 + 1);
            z->start = 10.0 * (double)i + 2;
            z->duration = 2;
            z->distance = 100;
            z->start_dist = (i % 2 ? 600 : 100) + (far && i % 2 ? 1400 : 0);
            z->decel_mean = i % 2 ? 9 : 5;
            z->entry = 50;
            z->exit = 30;
        }
        result.zones = zones;
        result.n_zones = 8;
        const bt_sketch *const sketches[] = {s};
        page_text p = page_of(NULL, &result, sketches, 1);
        const char *found =
            strstr(p.text, "2 places on a lap of 1000 m; hardest braking P02 from 180 to 108 km/h "
                           "at 600 m");
        if (far)
            ck_assert_ptr_null(strstr(p.text, "places on a lap"));
        else
            ck_assert_ptr_nonnull(found);
        free(p.text);
        bt_sketch_free(s);
    }
}
END_TEST

START_TEST(the_same_day_gives_the_same_bytes)
{
    page_text a = hostile_page(), b = hostile_page();
    ck_assert_uint_eq(a.n, b.n);
    ck_assert_int_eq(memcmp(a.text, b.text, a.n), 0);
    free(a.text);
    free(b.text);
}
END_TEST

static bt_status refuse(void *user, const char *bytes, size_t n, bt_error *err)
{
    (void)user, (void)bytes, (void)n;
    return bt_fail(err, BT_WRITE, "disk full");
}

START_TEST(a_disk_that_is_full_is_said)
{
    bt_report *r;
    bt_error err = {0};
    const bt_result result = blank_result("a");
    ck_assert_int_eq(bt_report_new(&r, NULL, &err), BT_OK);
    ck_assert_int_eq(bt_report_add(r, &result, NULL, &err), BT_OK);
    ck_assert_int_eq(bt_report_write(r, refuse, NULL, &err), BT_WRITE);
    ck_assert_str_eq(err.message, "disk full");
    bt_report_free(r);
}
END_TEST

/* ---- pictures alone ---- */

static void assert_picture(page_text *p)
{
    ck_assert_int_eq(strncmp(p->text, "<svg xmlns=", 11), 0);
    ck_assert_ptr_nonnull(strstr(p->text, "prefers-color-scheme:dark"));
    ck_assert_ptr_nonnull(strstr(p->text, "</svg>"));
    ck_assert_ptr_null(strstr(p->text, "<script"));
    ck_assert_ptr_null(strstr(p->text, "nan"));
}

START_TEST(a_picture_alone_carries_its_colours_and_escapes_its_names)
{
    bt_result result[2];
    bt_zone zones[16];
    bt_event event;
    char *notes[] = {"x"};
    bt_error err = {0};
    hostile_day(result, zones, 16, &event, notes);
    page_text p = {0};
    ck_assert_int_eq(bt_svg_zones(zones, 16, collect, &p, &err), BT_OK);
    assert_picture(&p);
    ck_assert_ptr_nonnull(strstr(p.text, "&lt;script&gt;"));
    ck_assert_uint_eq(count(p.text, "class=\"mark line alert\""),
                      4); /* zone 4, once in each frame */
    p.n = 0;
    bt_sketch *s = new_sketch();
    take_zone(s, 1, -0.1);
    ck_assert_int_eq(bt_svg_trace(s, HOSTILE, collect, &p, &err), BT_OK);
    assert_picture(&p);
    ck_assert_ptr_nonnull(strstr(p.text, "class=\"line demand\""));
    bt_sketch_free(s);
    bt_drift drift[2];
    for (size_t i = 0; i < 2; i++) {
        bt_row_blank(BT_TABLE_DRIFT, &drift[i]);
        snprintf(drift[i].figure, sizeof drift[i].figure, "balance_pct");
        snprintf(drift[i].place, sizeof drift[i].place, i ? "P01" : "all");
        snprintf(drift[i].run, sizeof drift[i].run, "%s", HOSTILE);
        drift[i].slope = 0.1;
        drift[i].low = -0.1;
        drift[i].high = 0.3;
    }
    p.n = 0;
    ck_assert_int_eq(bt_svg_drift(drift, 2, collect, &p, &err), BT_OK);
    assert_picture(&p);
    p.n = 0;
    ck_assert_int_eq(bt_svg_zones(NULL, 0, collect, &p, &err), BT_OK); /* none are a picture, too */
    ck_assert_int_eq(bt_svg_drift(NULL, 0, collect, &p, &err), BT_OK);
    free(p.text);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("page");
    TCase *c = tcase_create("page");
    tcase_set_timeout(c, 60);
    tcase_add_test(c, a_zone_comes_back_with_its_torques_and_its_error);
    tcase_add_test(c, of_many_zones_the_worst_the_odd_and_one_near_the_median_are_kept);
    tcase_add_test(c, the_course_of_a_run_has_no_more_points_than_its_columns);
    tcase_add_test(c, a_page_of_nothing_is_a_page);
    tcase_add_test(c, a_run_without_zones_or_samples_says_what_is_left_out);
    tcase_add_test(c, names_from_logs_stay_text_everywhere);
    tcase_add_test(c, a_silent_fallback_is_in_the_first_sentence_and_the_car_stays_in);
    tcase_add_test(c, the_headline_uncertainty_joins_its_systematic_and_random_parts);
    tcase_add_test(c, every_picture_has_a_name_and_a_finding_and_every_header_a_scope);
    tcase_add_test(c, the_zone_with_the_event_and_the_worst_one_are_drawn);
    tcase_add_test(c, places_are_shown_on_a_lap_that_distance_and_speed_agree_on);
    tcase_add_test(c, the_same_day_gives_the_same_bytes);
    tcase_add_test(c, a_picture_alone_carries_its_colours_and_escapes_its_names);
    tcase_add_test(c, a_disk_that_is_full_is_said);
    suite_add_tcase(s, c);
    return s;
}
BT_CHECK_MAIN(suite)
