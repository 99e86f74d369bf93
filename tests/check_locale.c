/* A host program that has set a comma locale: reading and writing stay what they are.
 *
 * The locale is made on the spot by localedef, into a folder of its own; where there is no localedef or no
 * source of locales, the test says so and is left out. */
#define _XOPEN_SOURCE 700
#include "tests/check_support.h"

#include <locale.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "braketally.h"
#include "tests/plant/plant.h"

static char folder[] = "/tmp/braketally-locale-XXXXXX";
static char log_path[64], sheet_path[64], map_path[64];

static void shell(const char *form, const char *argument)
{
    char command[256];
    snprintf(command, sizeof command, form, argument);
    if (system(command) != 0) printf("not done: %s\n", command);
}

static void set_up(void)
{
    if (!mkdtemp(folder)) abort();
    snprintf(log_path, sizeof log_path, "%s/log.csv", folder);
    snprintf(sheet_path, sizeof sheet_path, "%s/car.csv", folder);
    snprintf(map_path, sizeof map_path, "%s/map.csv", folder);
    plant_config cfg;
    plant_defaults(&cfg);
    cfg.laps = 2;
    cfg.rate = 50;
    plant_add_fault(&cfg, PLANT_FAULT_FALLBACK)->start = 80;
    plant_log_options opt;
    plant_log_defaults(&opt, &cfg);
    if (plant_write_log(&cfg, log_path, &opt) || plant_write_map(&cfg, &opt, map_path) ||
        plant_write_car_sheet(&cfg, sheet_path))
        abort();
}

static void tear_down(void)
{
    shell("rm -rf '%s'", folder);
}

/* ---- everything that is written, one behind the other ---- */

typedef struct {
    char *bytes;
    size_t n, cap;
} text;

static bt_status add(void *user, const char *bytes, size_t n, bt_error *err)
{
    (void)err;
    text *t = user;
    if (t->n + n + 1 > t->cap) {
        t->cap = 2 * (t->n + n + 1);
        t->bytes = realloc(t->bytes, t->cap);
        if (!t->bytes) abort();
    }
    memcpy(t->bytes + t->n, bytes, n);
    t->n += n;
    t->bytes[t->n] = '\0';
    return BT_OK;
}

static void write_table(text *t, bt_table_kind kind, bt_format format, const bt_result *r)
{
    bt_writer *w;
    const bt_style style = {.format = format};
    ck_assert_int_eq(bt_writer_new(&w, kind, &style, add, t, NULL), BT_OK);
    for (size_t i = 0; kind == BT_TABLE_ZONES && i < r->n_zones; i++)
        ck_assert_int_eq(bt_writer_row(w, &r->zones[i], NULL), BT_OK);
    for (size_t i = 0; kind == BT_TABLE_EVENTS && i < r->n_events; i++)
        ck_assert_int_eq(bt_writer_row(w, &r->events[i], NULL), BT_OK);
    if (kind == BT_TABLE_RUNS) ck_assert_int_eq(bt_writer_row(w, &r->run, NULL), BT_OK);
    ck_assert_int_eq(bt_writer_end(w, NULL), BT_OK);
    bt_writer_free(w);
}

static bt_status take_sample(void *user, const bt_trace *sample, bt_error *err)
{
    return bt_sketch_take(user, sample, err);
}

static void write_page(text *t, const bt_car *car, const bt_result *r, bt_sketch *sketch)
{
    bt_report *page;
    const bt_report_options options = {.car = car, .car_name = "car"};
    ck_assert_int_eq(bt_report_new(&page, &options, NULL), BT_OK);
    ck_assert_int_eq(bt_report_add(page, r, sketch, NULL), BT_OK);
    ck_assert_int_eq(bt_report_write(page, add, t, NULL), BT_OK);
    bt_report_free(page);
}

static void write_lines(text *t, char *const *lines, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        add(t, lines[i], strlen(lines[i]), NULL);
        add(t, "\n", 1, NULL);
    }
}

/* Words and tables made of zone rows. */
static void write_story(text *t, const bt_car *car, bt_result *r)
{
    bt_drift *drift;
    size_t n;
    bt_plan plan;
    bt_fitted fitted;
    bt_writer *w;
    char line[256], *lines = line;
    ck_assert_int_eq(bt_drift_find(r->zones, r->n_zones, NULL, &drift, &n, NULL), BT_OK);
    for (size_t i = 0; i < n; i++) add(t, drift[i].finding, strlen(drift[i].finding), NULL);
    free(drift);
    ck_assert_int_eq(bt_bypass_plan(r->zones, r->n_zones, car, NULL, &plan, NULL), BT_OK);
    add(t, plan.summary, strlen(plan.summary), NULL);
    write_lines(t, plan.notes, plan.n_notes);
    bt_plan_clear(&plan);
    ck_assert_int_eq(bt_fit_zones(r->zones, r->n_zones, car, &fitted, NULL), BT_OK);
    ck_assert_uint_gt(fitted.n_rows, 0);
    ck_assert_int_eq(bt_writer_new(&w, BT_TABLE_FIT, NULL, add, t, NULL), BT_OK);
    for (size_t i = 0; i < fitted.n_rows; i++)
        ck_assert_int_eq(bt_writer_row(w, &fitted.rows[i], NULL), BT_OK);
    bt_writer_free(w);
    write_lines(t, fitted.notes, fitted.n_notes);
    bt_fitted_clear(&fitted);
    bt_headline(r->events, r->n_events, r->zones, r->n_zones, line, sizeof line);
    write_lines(t, &lines, 1);
}

/* Sheet, map and log read; tables, page, drafts and what is said written. */
static text write_all(void)
{
    text t = {0};
    bt_car *car;
    bt_map *map;
    bt_sketch *sketch;
    bt_result r;
    bt_inspection in;
    ck_assert_int_eq(bt_car_new(&car, NULL), BT_OK);
    ck_assert_int_eq(bt_car_read(car, sheet_path, NULL), BT_OK);
    ck_assert_int_eq(bt_car_set(car, "mass=1240.5 kg", NULL), BT_OK);
    ck_assert_int_eq(bt_map_read(&map, map_path, NULL), BT_OK);
    ck_assert_int_eq(bt_sketch_new(&sketch, car, NULL), BT_OK);
    const bt_setup setup = {
        .car = car, .map = map, .threads = 1, .trace = take_sample, .user = sketch};
    ck_assert_int_eq(bt_analyse(log_path, &setup, &r, NULL), BT_OK);
    ck_assert_int_eq(bt_sketch_end(sketch, NULL), BT_OK);
    ck_assert_uint_gt(r.n_zones, 3);
    ck_assert_uint_gt(r.n_events, 0);
    for (int format = 0; format <= BT_FORMAT_TEXT; format++) {
        write_table(&t, BT_TABLE_ZONES, (bt_format)format, &r);
        write_table(&t, BT_TABLE_EVENTS, (bt_format)format, &r);
        write_table(&t, BT_TABLE_RUNS, (bt_format)format, &r);
    }
    write_page(&t, car, &r, sketch);
    write_story(&t, car, &r);
    write_lines(&t, r.notes, r.n_notes);
    ck_assert_int_eq(bt_car_draft(add, &t, NULL), BT_OK);
    ck_assert_int_eq(bt_inspect(log_path, &setup, &in, NULL), BT_OK);
    ck_assert_int_eq(bt_inspect_draft(&in, add, &t, NULL), BT_OK);
    bt_inspection_clear(&in);
    bt_result_clear(&r);
    bt_sketch_free(sketch);
    bt_map_free(map);
    bt_car_free(car);
    return t;
}

/* Up to the line in which two texts begin to differ. */
static size_t common(const char *a, const char *b)
{
    size_t line = 0;
    for (size_t i = 0; a[i] && a[i] == b[i]; i++)
        if (a[i] == '\n') line = i + 1;
    return line;
}

START_TEST(a_comma_locale_changes_nothing)
{
    text before = write_all();
    shell("localedef -i de_DE -f UTF-8 '%s/de_DE.UTF-8' > /dev/null 2>&1", folder);
    setenv("LOCPATH", folder, 1);
    if (!setlocale(LC_ALL, "de_DE.UTF-8")) {
        printf("left out: no localedef, or nothing to make a comma locale from\n");
    } else {
        char number[8];
        snprintf(number, sizeof number, "%.1f", 0.5);
        ck_assert_str_eq(number, "0,5"); /* it is one */
        text after = write_all();
        setlocale(LC_ALL, "C");
        const size_t same = common(after.bytes, before.bytes);
        ck_assert_msg(strcmp(after.bytes, before.bytes) == 0, "'%.80s', without it '%.80s'",
                      after.bytes + same, before.bytes + same);
        free(after.bytes);
    }
    free(before.bytes);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("locale");
    TCase *t = tcase_create("comma");
    tcase_add_unchecked_fixture(t, set_up, tear_down);
    tcase_set_timeout(t, 120);
    tcase_add_test(t, a_comma_locale_changes_nothing);
    suite_add_tcase(s, t);
    return s;
}
BT_CHECK_MAIN(suite)
