/* What the top of braketally.h promises of all calls alike: errors may be unwanted, options left out, and
 * what failed leaves nothing to free. */
#include "check_support.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "braketally.h"

static const char no_such[] = "no/such/file.csv";

static bt_status swallow(void *user, const char *bytes, size_t n, bt_error *err)
{
    (void)bytes, (void)err;
    *(size_t *)user += n;
    return BT_OK;
}

START_TEST(an_error_may_be_unwanted)
{
    bt_car *car;
    bt_map *map = (bt_map *)no_such;
    bt_feed *feed = (bt_feed *)no_such;
    bt_writer *writer = (bt_writer *)no_such;
    bt_result result;
    bt_inspection inspection;
    bt_zones zones = {0};
    bt_drift *rows;
    size_t n;
    const bt_style bad = {.delimiter = 'x'};
    static const char *const columns[] = {"speed"};
    ck_assert_int_eq(bt_car_new(&car, NULL), BT_OK);
    ck_assert_int_eq(bt_car_read(car, no_such, NULL), BT_READ);
    ck_assert_int_eq(bt_car_set(car, "mess=1", NULL), BT_SYNTAX);
    ck_assert_int_eq(bt_map_read(&map, no_such, NULL), BT_READ);
    ck_assert_int_eq(bt_analyse(no_such, NULL, &result, NULL), BT_READ);
    ck_assert_int_eq(bt_inspect(no_such, NULL, &inspection, NULL), BT_READ);
    ck_assert_int_eq(bt_zones_read(&zones, no_such, NULL), BT_READ);
    ck_assert_int_eq(bt_feed_new(&feed, "x", columns, 1, NULL, NULL), BT_MISSING);
    ck_assert_int_eq(bt_writer_new(&writer, BT_TABLE_ZONES, &bad, swallow, &n, NULL), BT_RANGE);
    ck_assert_int_eq(bt_figures_check("nothing", NULL), BT_RANGE);
    ck_assert_int_eq(bt_drift_find(NULL, 0, &(bt_drift_options){.of = "nothing"}, &rows, &n, NULL),
                     BT_RANGE);
    ck_assert(!bt_zones_saved(no_such));
    ck_assert_ptr_null(map);
    ck_assert_ptr_null(feed);
    ck_assert_ptr_null(writer);
    ck_assert_ptr_null(rows);
    bt_result_clear(&result);
    bt_inspection_clear(&inspection);
    bt_zones_free(&zones);
    bt_car_free(car);
}
END_TEST

START_TEST(options_left_out_are_defaults)
{
    size_t bytes = 0, n;
    bt_writer *writer;
    ck_assert_int_eq(bt_writer_new(&writer, BT_TABLE_RUNS, NULL, swallow, &bytes, NULL), BT_OK);
    ck_assert_int_eq(bt_writer_end(writer, NULL), BT_OK);
    bt_writer_free(writer);
    ck_assert_uint_gt(bytes, 100); /* the header */
    bt_report *report;
    ck_assert_int_eq(bt_report_new(&report, NULL, NULL), BT_OK);
    ck_assert_int_eq(bt_report_write(report, swallow, &bytes, NULL), BT_OK);
    bt_report_free(report);
    bt_drift *rows;
    ck_assert_int_eq(bt_drift_find(NULL, 0, NULL, &rows, &n, NULL), BT_OK);
    free(rows);
    bt_compare *differences;
    bt_zones none = {0};
    (void)!bt_compare_find(&none, &none, NULL, &differences, &n, NULL);
    free(differences);
    bt_plan plan;
    bt_car *car;
    ck_assert_int_eq(bt_car_new(&car, NULL), BT_OK);
    ck_assert_int_eq(bt_bypass_plan(NULL, 0, car, NULL, &plan, NULL), BT_RANGE);
    bt_plan_clear(&plan);
    bt_sketch *sketch;
    ck_assert_int_eq(bt_sketch_new(&sketch, NULL, NULL), BT_OK);
    bt_sketch_free(sketch);
    bt_car_free(car);
}
END_TEST

START_TEST(what_was_never_made_can_be_freed)
{
    bt_car_free(NULL);
    bt_map_free(NULL);
    bt_feed_free(NULL);
    bt_writer_free(NULL);
    bt_sketch_free(NULL);
    bt_report_free(NULL);
    bt_result_clear(&(bt_result){.n_zones = 0});
    bt_inspection_clear(&(bt_inspection){.n_columns = 0});
    bt_plan_clear(&(bt_plan){.n_rows = 0});
    bt_fitted_clear(&(bt_fitted){.n_rows = 0});
    bt_zones_free(&(bt_zones){.n = 0});
}
END_TEST

START_TEST(a_map_may_come_from_memory)
{
    static const char text[] = "channel,column\nspeed,v\n";
    static const char bad[] = "channel,column,scale\nspeed,v,0\n";
    bt_map *map;
    bt_error err = {0};
    ck_assert_int_eq(bt_map_memory(&map, "inline", text, sizeof text - 1, &err), BT_OK);
    bt_map_free(map);
    ck_assert_int_eq(bt_map_memory(&map, "inline", bad, sizeof bad - 1, &err), BT_RANGE);
    ck_assert_ptr_null(map);
    ck_assert_str_eq(err.file, "inline");
    ck_assert_uint_eq(err.line, 2);
    ck_assert_uint_eq(err.column, 3);
}
END_TEST

START_TEST(the_linked_version_is_the_compiled_one)
{
    char text[32];
    snprintf(text, sizeof text, "%d.%d.%d", BT_VERSION_MAJOR, BT_VERSION_MINOR, BT_VERSION_PATCH);
    ck_assert_str_eq(bt_version(), text);
    ck_assert_str_eq(bt_version(), BT_VERSION);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("public header");
    TCase *t = tcase_create("promises");
    tcase_add_test(t, an_error_may_be_unwanted);
    tcase_add_test(t, options_left_out_are_defaults);
    tcase_add_test(t, what_was_never_made_can_be_freed);
    tcase_add_test(t, a_map_may_come_from_memory);
    tcase_add_test(t, the_linked_version_is_the_compiled_one);
    suite_add_tcase(s, t);
    return s;
}
BT_CHECK_MAIN(suite)
