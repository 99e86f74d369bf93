/* Zone rows put away small: they come back as saved rows would, and everything made of them is what it is of rows
 * kept whole. */
#include "check_support.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "saved/packed.h"
#include "saved/saved.h"
#include "story/shelf.h"
#include "tests/plant/plant.h"

/* ---- rows ---- */

static uint64_t state;

static uint64_t draw(void)
{
    state = state * 6364136223846793005u + 1442695040888963407u;
    return state >> 33;
}

/* Any magnitude from 1e-9 to 1e20, either sign, sometimes none, sometimes what no cell holds. */
static double any_number(void)
{
    static const double odd[] = {0, -0.0, 1e300, -1e300, 1e15, 999999999999999, 5e-324, INFINITY};
    const uint64_t kind = draw() % 16;
    const double sign = draw() % 2 ? 1 : -1;
    if (kind < 3) return NAN;
    if (kind == 3) return odd[draw() % (sizeof odd / sizeof *odd)];
    return sign * ((double)draw() / 2147483648.0) * pow(10, (double)(draw() % 30) - 9);
}

static bt_zone any_zone(size_t i)
{
    static const char *const words[] = {"", "by-wire", "fallback", "mixed", "undetermined"};
    bt_zone z;
    size_t n;
    const bt_column *column = bt_columns(BT_TABLE_ZONES, &n);
    bt_row_blank(BT_TABLE_ZONES, &z);
    for (size_t k = 0; k < n; k++) {
        const double x = any_number();
        if (column[k].kind == BT_CELL_NUMBER) memcpy((char *)&z + column[k].offset, &x, sizeof x);
    }
    snprintf(z.run, sizeof z.run, "%.*s", (int)(i % 120),
             "a run's name may be as long as this: "
             "0123456789 0123456789 0123456789 "
             "0123456789 0123456789 0123456789 ...");
    strcpy(z.mode, words[draw() % 5]);
    strcpy(z.cause, i % 3 ? "motor" : "");
    z.flags = (uint32_t)(draw() % (1u << BT_FLAG_COUNT));
    return z;
}

static void assert_same(const bt_zone *a, const bt_zone *b)
{
    size_t n;
    const bt_column *column = bt_columns(BT_TABLE_ZONES, &n);
    for (size_t k = 0; k < n; k++) {
        const char *p = (const char *)a + column[k].offset, *q = (const char *)b + column[k].offset;
        if (column[k].kind == BT_CELL_TEXT) {
            ck_assert_str_eq(p, q);
        } else if (column[k].kind == BT_CELL_NUMBER) {
            double x, y;
            memcpy(&x, p, sizeof x);
            memcpy(&y, q, sizeof y);
            ck_assert_msg((isnan(x) && isnan(y)) || (x <= y && x >= y),
                          "%s of zone %g: %.17g, %.17g", column[k].name, a->zone, x, y);
        }
    }
    ck_assert_uint_eq(a->flags, b->flags);
}

enum { ROWS = 200 }; /* more than three pages */
static bt_zone given[ROWS];
static size_t handed;

static void make_rows(void)
{
    state = 7;
    handed = 0;
    for (size_t i = 0; i < ROWS; i++) given[i] = any_zone(i);
}

static bt_status take_packed(void *user, size_t i, bt_zone *row, bt_error *err)
{
    (void)user, (void)err;
    bt_zone rounded = given[i];
    bt_zone_round(&rounded);
    ck_assert_uint_eq(i, handed++);
    assert_same(row, &rounded);
    bt_zone_round(row); /* once more changes nothing */
    assert_same(row, &rounded);
    return BT_OK;
}

START_TEST(packed_rows_come_back_as_saved_ones_would)
{
    bt_packed packed = {0};
    make_rows();
    for (size_t i = 0; i < ROWS; i++)
        ck_assert_int_eq(bt_packed_add(&packed, &given[i], NULL), BT_OK);
    ck_assert_int_eq(bt_packed_seal(&packed, NULL), BT_OK);
    ck_assert_int_eq(bt_packed_each(&packed, take_packed, NULL, NULL), BT_OK);
    ck_assert_uint_eq(handed, ROWS);
    bt_packed_clear(&packed);
}
END_TEST

START_TEST(packed_rows_may_be_sealed_and_joined_anywhere)
{
    bt_packed packed = {0}, second = {0};
    make_rows();
    for (size_t i = 0; i < ROWS; i++) {
        bt_packed *to = i < 90 ? &packed : &second;
        ck_assert_int_eq(bt_packed_add(to, &given[i], NULL), BT_OK);
        if (i % 17 == 0) ck_assert_int_eq(bt_packed_seal(to, NULL), BT_OK);
    }
    ck_assert_int_eq(bt_packed_seal(&packed, NULL), BT_OK);
    ck_assert_int_eq(bt_packed_seal(&second, NULL), BT_OK);
    ck_assert_int_eq(bt_packed_join(&packed, &second, NULL), BT_OK);
    ck_assert_uint_eq(packed.rows, ROWS);
    ck_assert_uint_eq(second.rows, 0);
    ck_assert_int_eq(bt_packed_each(&packed, take_packed, NULL, NULL), BT_OK);
    ck_assert_uint_eq(handed, ROWS);
    bt_packed_clear(&packed);
}
END_TEST

/* ---- shelves ---- */

static bt_status compare_next(void *user, const bt_zone *row, bt_error *err)
{
    (void)err;
    const bt_zones *expected = user;
    ck_assert_uint_lt(handed, expected->n);
    assert_same(row, &expected->row[handed++]);
    return BT_OK;
}

/* A shelf holds what a pool holds whose places have been assigned. */
static void assert_as_pool(bt_shelf *shelf, bt_zones *pool)
{
    handed = 0;
    ck_assert_int_eq(bt_places_assign(pool->row, pool->n, NULL), BT_OK);
    ck_assert_int_eq(bt_shelf_places(shelf, NULL), BT_OK);
    ck_assert_uint_eq(bt_shelf_count(shelf), pool->n);
    ck_assert_int_eq(bt_shelf_each(shelf, compare_next, pool, NULL), BT_OK);
    ck_assert_uint_eq(handed, pool->n);
}

static char path[] = "/tmp/check_shelf_XXXXXX", map_path[] = "/tmp/check_shelf_XXXXXX";
static bt_car *car;
static bt_map *map;
static bt_setup setup;

static void write_log(const char *name, int laps)
{
    char sheet[64];
    plant_config cfg;
    plant_log_options opt;
    plant_defaults(&cfg);
    plant_log_defaults(&opt, &cfg);
    cfg.laps = laps;
    cfg.rate = 50;
    plant_scenario_find(name)->prepare(&cfg, &opt);
    cfg.laps = laps;
    close(mkstemp(path));
    close(mkstemp(map_path));
    snprintf(sheet, sizeof sheet, "%s.car", path);
    ck_assert_int_eq(plant_write_log(&cfg, path, &opt), 0);
    ck_assert_int_eq(plant_write_map(&cfg, &opt, map_path), 0);
    ck_assert_int_eq(plant_write_car_sheet(&cfg, sheet), 0);
    ck_assert_int_eq(bt_car_new(&car, NULL), BT_OK);
    ck_assert_int_eq(bt_car_read(car, sheet, NULL), BT_OK);
    ck_assert_int_eq(bt_map_read(&map, map_path, NULL), BT_OK);
    remove(sheet);
    setup = (bt_setup){.car = car, .map = map};
}

static void drop_log(void)
{
    remove(path);
    remove(map_path);
    bt_car_free(car);
    bt_map_free(map);
    strcpy(path, "/tmp/check_shelf_XXXXXX");
    strcpy(map_path, "/tmp/check_shelf_XXXXXX");
}

static void assert_same_run(const bt_run *a, const bt_run *b)
{
    size_t n;
    const bt_column *column = bt_columns(BT_TABLE_RUNS, &n);
    for (size_t k = 0; k < n; k++) {
        double x, y;
        const bool drift = strstr(column[k].name, "drift") != NULL;
        if (column[k].kind != BT_CELL_NUMBER) continue;
        memcpy(&x, (const char *)a + column[k].offset, sizeof x);
        memcpy(&y, (const char *)b + column[k].offset, sizeof y);
        ck_assert_msg((isnan(x) && (isnan(y) || drift)) || (x <= y && x >= y), "%s: %.17g, %.17g",
                      column[k].name, x, y);
    }
    ck_assert_str_eq(a->status, b->status);
    ck_assert_uint_eq(a->flags, b->flags);
}

START_TEST(a_log_analysed_onto_a_shelf_gives_the_same)
{
    static const char *const scenarios[] = {"fallback-silent", "stops", "missed-extra"};
    bt_result kept, result;
    bt_shelf *shelf;
    bt_zones pool = {0};
    write_log(scenarios[_i], 7);
    ck_assert_int_eq(bt_analyse(path, &setup, &kept, NULL), BT_OK);
    ck_assert_int_eq(bt_shelf_analyse(&shelf, path, &setup, &result, NULL), BT_OK);
    ck_assert_ptr_null(result.zones);
    ck_assert_uint_eq(result.n_zones, 0);
    ck_assert(isnan(result.run.balance_drift));
    assert_same_run(&result.run, &kept.run);
    ck_assert_uint_eq(result.n_events, kept.n_events);
    for (size_t i = 0; i < kept.n_events; i++) {
        const bt_event *a = &result.events[i], *b = &kept.events[i];
        ck_assert_str_eq(a->place, b->place);
        ck_assert((isnan(a->lap) && isnan(b->lap)) || (a->lap <= b->lap && a->lap >= b->lap));
    }
    ck_assert_uint_gt(kept.n_zones, 5);
    ck_assert_int_eq(bt_zones_add(&pool, kept.zones, kept.n_zones, NULL), BT_OK);
    assert_as_pool(shelf, &pool);
    bt_shelf_free(shelf);
    bt_zones_free(&pool);
    bt_result_clear(&kept);
    bt_result_clear(&result);
    drop_log();
}
END_TEST

/* Three runs of one track, of which the second has no laps. */
START_TEST(places_are_those_of_all_runs_together)
{
    bt_result kept;
    bt_shelf *shelf, *more;
    bt_zones pool = {0};
    write_log("healthy", 5);
    ck_assert_int_eq(bt_analyse(path, &setup, &kept, NULL), BT_OK);
    ck_assert_int_eq(bt_shelf_new(&shelf, NULL), BT_OK);
    for (int run = 0; run < 3; run++) {
        char name[16];
        snprintf(name, sizeof name, "run%d", run);
        ck_assert_int_eq(bt_shelf_new(&more, NULL), BT_OK);
        for (size_t i = 0; i < kept.n_zones; i++) {
            bt_zone *z = &kept.zones[i];
            strcpy(z->run, run == 2 ? name : "other");
            z->place[0] = '\0';
            if (run == 1) z->lap = NAN;
            if (run == 1 && i % 7 == 3) z->entry += 0.4; /* not the same, and hardly different */
        }
        ck_assert_int_eq(bt_shelf_add(more, kept.zones, kept.n_zones, NULL), BT_OK);
        bt_shelf_name(more, name);
        ck_assert_int_eq(bt_shelf_join(shelf, more, NULL), BT_OK);
        ck_assert_uint_eq(bt_shelf_count(more), 0);
        bt_shelf_free(more);
        for (size_t i = 0; i < kept.n_zones; i++) strcpy(kept.zones[i].run, name);
        ck_assert_int_eq(bt_zones_add(&pool, kept.zones, kept.n_zones, NULL), BT_OK);
    }
    assert_as_pool(shelf, &pool);
    ck_assert_str_ne(pool.row[0].place, "");
    ck_assert(!isnan(pool.row[kept.n_zones].lap));
    bt_shelf_free(shelf);
    bt_zones_free(&pool);
    bt_result_clear(&kept);
    drop_log();
}
END_TEST

static bt_status keep_row(void *user, const bt_zone *row, bt_error *err)
{
    (void)err;
    bt_zone *rows = user;
    rows[handed++] = *row;
    return BT_OK;
}

START_TEST(a_mode_that_comes_later_is_the_rows)
{
    bt_shelf *shelf = NULL;
    const bt_zone_sink sink = bt_shelf_sink(&shelf);
    bt_zone rows[4];
    handed = 0;
    for (int i = 0; i < 4; i++) {
        bt_zone z;
        bt_row_blank(BT_TABLE_ZONES, &z);
        z.zone = i + 1;
        z.blend_delay = 0.05;
        strcpy(z.mode, "by-wire");
        ck_assert_int_eq(sink.add(sink.user, &z, NULL), BT_OK);
    }
    sink.amend(sink.user, 1, BT_MODE_MIXED);
    sink.amend(sink.user, 2, BT_MODE_FALLBACK);
    sink.amend(sink.user, 3, BT_MODE_MIXED);
    sink.amend(sink.user, 3, BT_MODE_UNDETERMINED);
    ck_assert_int_eq(bt_shelf_add(shelf, NULL, 0, NULL), BT_OK); /* closes the page */
    ck_assert_int_eq(bt_shelf_each(shelf, keep_row, rows, NULL), BT_OK);
    static const char *const modes[] = {"by-wire", "mixed", "fallback", "undetermined"};
    for (int i = 0; i < 4; i++) {
        const bool fit = i == 0 || i == 2;
        ck_assert_str_eq(rows[i].mode, modes[i]);
        ck_assert(fit ? rows[i].blend_delay > 0 : isnan(rows[i].blend_delay));
        ck_assert_uint_eq(rows[i].flags, fit ? 0 : BT_FLAG_DELAY_WEAK);
        ck_assert_str_eq(rows[i].place, "");
    }
    bt_shelf_free(shelf);
}
END_TEST

static bt_status stop_at_three(void *user, const bt_zone *row, bt_error *err)
{
    (void)user, (void)err;
    handed++;
    return row->zone < 3 ? BT_OK : BT_STOPPED;
}

START_TEST(who_takes_rows_may_stop)
{
    bt_shelf *shelf;
    handed = 0;
    ck_assert_int_eq(bt_shelf_new(&shelf, NULL), BT_OK);
    ck_assert_int_eq(bt_shelf_each(shelf, stop_at_three, NULL, NULL), BT_OK);
    ck_assert_int_eq(bt_shelf_places(shelf, NULL), BT_OK);
    for (int i = 0; i < 5; i++) {
        bt_zone z;
        bt_row_blank(BT_TABLE_ZONES, &z);
        z.zone = i + 1;
        ck_assert_int_eq(bt_shelf_add(shelf, &z, 1, NULL), BT_OK);
    }
    ck_assert_int_eq(bt_shelf_each(shelf, stop_at_three, NULL, NULL), BT_STOPPED);
    ck_assert_uint_eq(handed, 3);
    bt_shelf_free(shelf);
    bt_shelf_free(NULL);
}
END_TEST

START_TEST(a_log_that_fails_leaves_no_shelf)
{
    bt_result result;
    bt_shelf *shelf;
    bt_error err = {0};
    ck_assert_int_eq(bt_shelf_analyse(&shelf, "/nowhere/log.csv", NULL, &result, &err), BT_READ);
    ck_assert_ptr_null(shelf);
    ck_assert_str_eq(result.run.status, err.message);
    bt_result_clear(&result);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("shelf");
    TCase *t = tcase_create("packed");
    tcase_add_test(t, packed_rows_come_back_as_saved_ones_would);
    tcase_add_test(t, packed_rows_may_be_sealed_and_joined_anywhere);
    suite_add_tcase(s, t);
    t = tcase_create("shelf");
    tcase_set_timeout(t, 60);
    tcase_add_loop_test(t, a_log_analysed_onto_a_shelf_gives_the_same, 0, 3);
    tcase_add_test(t, places_are_those_of_all_runs_together);
    tcase_add_test(t, a_mode_that_comes_later_is_the_rows);
    tcase_add_test(t, who_takes_rows_may_stop);
    tcase_add_test(t, a_log_that_fails_leaves_no_shelf);
    suite_add_tcase(s, t);
    return s;
}
BT_CHECK_MAIN(suite)
