/* Places on hand-made rows: a lap of four corners whose answers are plain. */
#include "tests/check_support.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "braketally.h"

enum { CORNERS = 4, MOST = 256 };
static const double end[CORNERS] = {400, 1100, 1500, 2700}, lap_length = 3000;
static const double entry[CORNERS] = {60, 45, 50, 58}, out[CORNERS] = {20, 30, 15, 25};
enum { BY_WAY, BY_GROUND, BY_ORDER, WAYS };

typedef struct {
    bt_zone row[MOST];
    int corner[MOST]; /* -1 = extra */
    size_t n;
} drive;

static void add(drive *d, int way, const char *run, int lap, int corner, double at, double v,
                double u)
{
    bt_zone *z = &d->row[d->n];
    const double angle = 2 * 3.141592653589793 * at / lap_length;
    bt_row_blank(BT_TABLE_ZONES, z);
    snprintf(z->run, sizeof z->run, "%s", run);
    z->entry = v;
    z->exit = u;
    z->distance = 100;
    z->start = 90 * lap + at / 40;
    z->start_dist = at - 100 + (way == BY_WAY ? 0 : lap * lap_length);
    if (way == BY_WAY) z->lap = lap;
    if (way == BY_GROUND) {
        z->latitude = 52 + 0.0043 * sin(angle); /* a circle of 3 km */
        z->longitude = 1 + 0.0070 * cos(angle);
    }
    d->corner[d->n++] = corner;
}

/* `laps` laps; corner 2 (from 0) missed in lap 3, an extra brake in lap 2. */
static void add_run(drive *d, int way, const char *run, int laps)
{
    for (int lap = 1; lap <= laps; lap++)
        for (int c = 0; c < CORNERS; c++) {
            const double off = 3 * ((7 * lap + 3 * c) % 5 - 2); /* scatter of +-6 m */
            if (lap == 2 && c == 3) add(d, way, run, lap, -1, 2100, 52, 44);
            if (lap == 3 && c == 2) continue;
            add(d, way, run, lap, c, end[c] + off, entry[c], out[c]);
        }
}

START_TEST(a_missed_and_an_extra_brake_shift_nothing)
{
    static drive d;
    d.n = 0;
    add_run(&d, _i, "run", 6);
    bt_error err = {0};
    ck_assert_int_eq(bt_places_assign(d.row, d.n, &err), BT_OK);
    /* By way P01 is the first behind the line.  Without laps the lap begins behind the longest way
     * without a brake, 1200 m from corner 1500 to 2700: corner 3 is P01. */
    for (size_t i = 0; i < d.n; i++) {
        char label[16] = "";
        const int rank = _i == BY_WAY ? d.corner[i] : (d.corner[i] + 1) % CORNERS;
        if (d.corner[i] >= 0) snprintf(label, sizeof label, "P%02d", rank + 1);
        ck_assert_str_eq(d.row[i].place, label);
    }
}
END_TEST

START_TEST(laps_are_counted_where_none_is_logged)
{
    static drive d;
    d.n = 0;
    add_run(&d, _i, "run", 5);
    if (_i == BY_WAY)
        for (size_t i = 0; i < d.n; i++) d.row[i].lap = NAN;
    bt_error err = {0};
    ck_assert_int_eq(bt_places_assign(d.row, d.n, &err), BT_OK);
    for (size_t i = 1; i < d.n; i++) {
        const bool first = strcmp(d.row[i].place, "P01") == 0;
        ck_assert_double_eq(d.row[i].lap - d.row[i - 1].lap, first ? 1 : 0);
    }
}
END_TEST

static const char *label_of(const drive *d, const char *run, int corner)
{
    for (size_t i = 0; i < d->n; i++)
        if (strcmp(d->row[i].run, run) == 0 && d->corner[i] == corner) return d->row[i].place;
    return "";
}

START_TEST(runs_that_share_a_track_share_their_labels_in_any_order)
{
    static drive one, other;
    one.n = other.n = 0;
    add_run(&one, _i, "a", 4);
    add_run(&one, _i, "b", 7);
    add_run(&other, _i, "b", 7);
    add_run(&other, _i, "a", 4);
    bt_error err = {0};
    ck_assert_int_eq(bt_places_assign(one.row, one.n, &err), BT_OK);
    ck_assert_int_eq(bt_places_assign(other.row, other.n, &err), BT_OK);
    for (int c = 0; c < CORNERS; c++) {
        ck_assert_str_ne(label_of(&one, "a", c), "");
        ck_assert_str_eq(label_of(&one, "a", c), label_of(&one, "b", c));
        ck_assert_str_eq(label_of(&one, "a", c), label_of(&other, "a", c));
        ck_assert_str_eq(label_of(&one, "a", c), label_of(&other, "b", c));
    }
}
END_TEST

static void add_stops(drive *d)
{
    static const double speed[] = {14.2, 27.5, 13.9, 28.0, 13.8, 40.0};
    for (size_t i = 0; i < 6; i++)
        add(d, BY_ORDER, "stops", 0, (int)i, 200 * (double)(i + 1), speed[i], 0.1);
}

START_TEST(stops_are_grouped_by_their_speed_and_counted)
{
    static drive d;
    d.n = 0;
    add_stops(&d);
    bt_error err = {0};
    ck_assert_int_eq(bt_places_assign(d.row, d.n, &err), BT_OK);
    static const char *const label[] = {"P01", "P02", "P01", "P02", "P01", ""};
    static const double lap[] = {1, 1, 2, 2, 3, 1};
    for (size_t i = 0; i < 6; i++) {
        ck_assert_str_eq(d.row[i].place, label[i]);
        ck_assert_double_eq(d.row[i].lap, lap[i]);
    }
}
END_TEST

START_TEST(another_track_gets_another_letter)
{
    static drive d;
    d.n = 0;
    add_stops(&d);
    add_run(&d, BY_WAY, "laps", 5);
    bt_error err = {0};
    ck_assert_int_eq(bt_places_assign(d.row, d.n, &err), BT_OK);
    ck_assert_str_eq(d.row[0].place, "Q01");
    ck_assert_str_eq(label_of(&d, "laps", 0), "P01");
}
END_TEST

/* A way through cones, driven once: some of its brakes are alike, as some of any nine are. */
START_TEST(brakes_that_come_round_by_chance_are_no_laps)
{
    static drive d;
    static const double at[] = {92, 154, 201, 261, 304, 395, 470, 528, 590};
    static const double v[] = {22, 14, 20, 16, 19, 23, 23, 18.5, 19.5};
    static const double u[] = {13, 12, 12, 12, 14, 20, 17, 12, 3};
    d.n = 0;
    for (size_t i = 0; i < sizeof at / sizeof *at; i++)
        add(&d, BY_ORDER, "run", 0, -1, at[i] + 100, v[i], u[i]);
    bt_error err = {0};
    ck_assert_int_eq(bt_places_assign(d.row, d.n, &err), BT_OK);
    for (size_t i = 0; i < d.n; i++) {
        ck_assert_str_eq(d.row[i].place, "");
        ck_assert_double_nan(d.row[i].lap);
    }
}
END_TEST

START_TEST(nothing_and_rows_without_figures_have_no_places)
{
    bt_error err = {0};
    bt_zone z[2];
    ck_assert_int_eq(bt_places_assign(NULL, 0, &err), BT_OK);
    for (int i = 0; i < 2; i++) bt_row_blank(BT_TABLE_ZONES, &z[i]);
    ck_assert_int_eq(bt_places_assign(z, 2, &err), BT_OK);
    ck_assert_str_eq(z[0].place, "");
    ck_assert(isnan(z[1].lap));
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("places");
    TCase *t = tcase_create("places");
    tcase_add_loop_test(t, a_missed_and_an_extra_brake_shift_nothing, 0, WAYS);
    tcase_add_loop_test(t, laps_are_counted_where_none_is_logged, 0, WAYS);
    tcase_add_loop_test(t, runs_that_share_a_track_share_their_labels_in_any_order, 0, WAYS);
    tcase_add_test(t, stops_are_grouped_by_their_speed_and_counted);
    tcase_add_test(t, another_track_gets_another_letter);
    tcase_add_test(t, brakes_that_come_round_by_chance_are_no_laps);
    tcase_add_test(t, nothing_and_rows_without_figures_have_no_places);
    suite_add_tcase(s, t);
    return s;
}

BT_CHECK_MAIN(suite)
