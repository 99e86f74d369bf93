/* Every allocation of the library fails in turn: the answer is BT_NOMEM or all the same the right one.
 * Once only that one fails, once all from there on.  That nothing leaks is seen under the sanitizers and
 * valgrind.
 *
 * malloc, calloc, realloc and strdup are wrapped by the linker (see the Makefile), so what libcsv and zlib
 * allocate for themselves is out of reach.  What a job makes, it frees, whatever it was told. */
#include "tests/check_support.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "braketally.h"
#include "tests/plant/plant.h"

/* ---- memory that fails ---- */

void *__real_malloc(size_t n);
void *__real_calloc(size_t count, size_t n);
void *__real_realloc(void *old, size_t n);
void *__wrap_malloc(size_t n);
void *__wrap_calloc(size_t count, size_t n);
void *__wrap_realloc(void *old, size_t n);
char *__wrap_strdup(const char *text);

static struct {
    bool on, all;       /* all: not just number `fail` but those behind it too */
    size_t fail, asked; /* from 1 */
} memory;

static bool refused(void)
{
    if (!memory.on) return false;
    memory.asked++;
    return memory.asked == memory.fail || (memory.all && memory.asked > memory.fail);
}

void *__wrap_malloc(size_t n)
{
    return refused() ? NULL : __real_malloc(n);
}

void *__wrap_calloc(size_t count, size_t n)
{
    return refused() ? NULL : __real_calloc(count, n);
}

void *__wrap_realloc(void *old, size_t n)
{
    return refused() ? NULL : __real_realloc(old, n);
}

char *__wrap_strdup(const char *text)
{
    const size_t n = strlen(text) + 1;
    char *copy = __wrap_malloc(n);
    return copy ? memcpy(copy, text, n) : NULL;
}

/* ---- what the jobs work on ---- */

static char folder[] = "/tmp/braketally-faults-XXXXXX";
static char log_path[64], packed_path[64], long_path[64], sheet_path[64], map_path[64],
    table_path[64], runs_path[64], curve_path[64];
static char curve_set[96];
static plant_config cfg;
static bt_car *car;
static bt_map *map;
static bt_zones zones;
static bt_result kept;
static bt_sketch *sketch;

static void name_file(char path[64], const char *name)
{
    snprintf(path, 64, "%s/%s", folder, name);
}

static bt_status to_file(void *user, const char *bytes, size_t n, bt_error *err)
{
    (void)err;
    return fwrite(bytes, 1, n, user) == n ? BT_OK : BT_WRITE;
}

static void save_table(const char *path, bt_table_kind table, const void *rows, size_t n,
                       size_t size)
{
    FILE *f = fopen(path, "w");
    bt_writer *w;
    ck_assert_ptr_nonnull(f);
    ck_assert_int_eq(bt_writer_new(&w, table, &(bt_style){0}, to_file, f, NULL), BT_OK);
    for (size_t i = 0; i < n; i++)
        ck_assert_int_eq(bt_writer_row(w, (const char *)rows + i * size, NULL), BT_OK);
    ck_assert_int_eq(bt_writer_end(w, NULL), BT_OK);
    bt_writer_free(w);
    fclose(f);
}

static bt_status to_sketch(void *user, const bt_trace *sample, bt_error *err)
{
    return bt_sketch_take(user, sample, err);
}

static void write_logs(void)
{
    plant_log_options opt;
    plant_log_defaults(&opt, &cfg);
    ck_assert_int_eq(plant_write_log(&cfg, log_path, &opt), 0);
    ck_assert_int_eq(plant_write_log(&cfg, packed_path, &opt), 0);
    ck_assert_int_eq(plant_write_map(&cfg, &opt, map_path), 0);
    opt.long_layout = true;
    ck_assert_int_eq(plant_write_log(&cfg, long_path, &opt), 0);
    ck_assert_int_eq(plant_write_car_sheet(&cfg, sheet_path), 0);
}

static void write_curve(void)
{
    FILE *f = fopen(curve_path, "w");
    ck_assert_ptr_nonnull(f);
    fputs("pedal_bar,axle_nm\n0,0\n50,900\n", f);
    fclose(f);
}

static void set_up(void)
{
    if (!mkdtemp(folder)) abort();
    name_file(log_path, "log.csv");
    name_file(packed_path, "log.csv.gz");
    name_file(long_path, "long.csv");
    name_file(sheet_path, "car.csv");
    name_file(map_path, "map.csv");
    name_file(table_path, "zones.csv");
    name_file(runs_path, "runs.csv");
    name_file(curve_path, "curve.csv");
    snprintf(curve_set, sizeof curve_set, "demand_curve=%s", curve_path);
    plant_defaults(&cfg);
    cfg.laps = 1;
    cfg.rate = 10;
    write_logs();
    write_curve();
    ck_assert_int_eq(bt_car_new(&car, NULL), BT_OK);
    ck_assert_int_eq(bt_car_read(car, sheet_path, NULL), BT_OK);
    ck_assert_int_eq(bt_map_read(&map, map_path, NULL), BT_OK);
    ck_assert_int_eq(bt_sketch_new(&sketch, car, NULL), BT_OK);
    const bt_setup setup = {.car = car, .threads = 1, .trace = to_sketch, .user = sketch};
    ck_assert_int_eq(bt_analyse(log_path, &setup, &kept, NULL), BT_OK);
    ck_assert_int_eq(bt_sketch_end(sketch, NULL), BT_OK);
    ck_assert_int_eq(bt_zones_add(&zones, kept.zones, kept.n_zones, NULL), BT_OK);
    ck_assert_uint_gt(zones.n, 5);
    save_table(table_path, BT_TABLE_ZONES, zones.row, zones.n, sizeof *zones.row);
    save_table(runs_path, BT_TABLE_RUNS, &kept.run, 1, sizeof kept.run);
}

static void tear_down(void)
{
    const char *const paths[] = {log_path, packed_path, long_path, sheet_path,
                                 map_path, table_path,  runs_path, curve_path};
    for (size_t i = 0; i < sizeof paths / sizeof *paths; i++) remove(paths[i]);
    rmdir(folder);
    bt_sketch_free(sketch);
    bt_result_clear(&kept);
    bt_zones_free(&zones);
    bt_map_free(map);
    bt_car_free(car);
}

/* ---- the jobs ---- */

static bt_status ignore(void *user, const char *bytes, size_t n, bt_error *err)
{
    (void)user, (void)bytes, (void)n, (void)err;
    return BT_OK;
}

static bt_status analyse(const char *path, bt_error *err)
{
    bt_result result;
    const bt_setup setup = {.car = car, .map = map, .threads = 1, .nominal = 100 / 3.6};
    const bt_status status = bt_analyse(path, &setup, &result, err);
    bt_result_clear(&result);
    return status;
}

static bt_status analyse_plain(bt_error *err)
{
    return analyse(log_path, err);
}

static bt_status analyse_packed(bt_error *err)
{
    return analyse(packed_path, err);
}

static bt_status analyse_long(bt_error *err)
{
    bt_result result;
    const bt_setup setup = {.threads = 1};
    const bt_status status = bt_analyse(long_path, &setup, &result, err);
    bt_result_clear(&result);
    return status;
}

static bt_status feed_one(bt_error *err)
{
    static const char *const columns[] = {"time [s]", "speed [m/s]", "pedal_front [bar]"};
    bt_feed *feed;
    bt_status status = bt_feed_new(&feed, "fed", columns, 3, NULL, err);
    if (status != BT_OK) return status;
    for (int i = 0; i < 900 && status == BT_OK; i++) {
        const bool brakes = i > 300 && i < 600;
        const double row[] = {i / 100.0,
                              i < 300   ? 40
                              : i < 600 ? 40 - (i - 300) * 0.08
                                        : 16,
                              brakes ? 50 : 0};
        status = bt_feed_push(feed, row, 1, err);
    }
    bt_result result;
    status = bt_feed_end(feed, &result, err);
    bt_result_clear(&result);
    bt_feed_free(feed);
    return status;
}

static bt_status nod(void *user, const bt_zone *zone, bt_error *err)
{
    (void)user, (void)zone, (void)err;
    return BT_OK;
}

/* The log's zones and those of a table on one shelf. */
static bt_status shelve(bt_error *err)
{
    bt_result result;
    bt_shelf *all, *shelf = NULL;
    const bt_setup setup = {.car = car, .map = map, .threads = 1};
    bt_status status = bt_shelf_new(&all, err);
    if (status != BT_OK) return status;
    status = bt_shelf_analyse(&shelf, log_path, &setup, &result, err);
    bt_result_clear(&result);
    if (status == BT_OK) status = bt_shelf_add(all, zones.row, zones.n, err);
    if (status == BT_OK) status = bt_shelf_join(all, shelf, err);
    if (status == BT_OK) status = bt_shelf_places(all, err);
    if (status == BT_OK) status = bt_shelf_each(all, nod, NULL, err);
    bt_shelf_free(shelf);
    bt_shelf_free(all);
    return status;
}

static bt_status read_car(bt_error *err)
{
    bt_car *other;
    bt_status status = bt_car_new(&other, err);
    if (status == BT_OK) status = bt_car_read(other, sheet_path, err);
    if (status == BT_OK) status = bt_car_set(other, curve_set, err);
    bt_car_free(other);
    return status;
}

static bt_status read_map(bt_error *err)
{
    bt_map *other;
    const bt_status status = bt_map_read(&other, map_path, err);
    if (status == BT_OK) bt_map_free(other);
    return status;
}

static bt_status inspect(bt_error *err)
{
    bt_inspection in;
    const bt_setup setup = {.car = car, .threads = 1};
    bt_status status = bt_inspect(log_path, &setup, &in, err);
    if (status == BT_OK) status = bt_inspect_draft(&in, ignore, NULL, err);
    bt_inspection_clear(&in);
    return status;
}

static bt_status read_zones(bt_error *err)
{
    bt_zones read = {0};
    const bt_status status = bt_zones_read(&read, table_path, err);
    bt_zones_free(&read);
    return status;
}

static bt_status part_zones(bt_error *err)
{
    char shared[BT_NAME_MAX];
    bt_zones twice = {0};
    bt_status status = bt_zones_add(&twice, zones.row, zones.n, err);
    if (status == BT_OK) status = bt_zones_add(&twice, zones.row, zones.n, err);
    if (status == BT_OK) status = bt_zones_part(&twice, shared, err);
    bt_zones_free(&twice);
    return status;
}

static bt_status grow_sheet(bt_error *err)
{
    bt_daysheet *sheet;
    bt_run second = kept.run;
    strcpy(second.run, "second");
    bt_status status = bt_daysheet_read(&sheet, runs_path, NULL, err);
    if (status != BT_OK) return status;
    status = bt_daysheet_put(sheet, &second, err);
    if (status == BT_OK) status = bt_daysheet_write(sheet, ignore, NULL, err);
    bt_daysheet_free(sheet);
    return status;
}

static bt_status find_drift(bt_error *err)
{
    bt_drift *rows;
    size_t n;
    const bt_drift_options options = {.of = "balance_pct,blend_rms_nm"};
    const bt_status status = bt_drift_find(zones.row, zones.n, &options, &rows, &n, err);
    if (status != BT_OK) return status;
    free(rows);
    return status;
}

static bt_status compare(bt_error *err)
{
    bt_compare *rows;
    size_t n;
    const bt_status status = bt_compare_find(&zones, &zones, NULL, &rows, &n, err);
    if (status != BT_OK) return status;
    free(rows);
    return status;
}

static bt_status plan_bypass(bt_error *err)
{
    bt_plan plan;
    const bt_status status = bt_bypass_plan(zones.row, zones.n, car, NULL, &plan, err);
    bt_plan_clear(&plan);
    return status;
}

static bt_status fit(bt_error *err)
{
    bt_fitted fitted;
    const bt_status status = bt_fit_zones(zones.row, zones.n, car, &fitted, err);
    bt_fitted_clear(&fitted);
    return status;
}

static bt_status write_table(bt_format format, bt_error *err)
{
    bt_writer *w;
    const bt_style style = {.format = format};
    bt_status status = bt_writer_new(&w, BT_TABLE_ZONES, &style, ignore, NULL, err);
    if (status != BT_OK) return status;
    for (size_t i = 0; i < zones.n && status == BT_OK; i++)
        status = bt_writer_row(w, &zones.row[i], err);
    if (status == BT_OK) status = bt_writer_end(w, err);
    bt_writer_free(w);
    return status;
}

static bt_status write_csv(bt_error *err)
{
    return write_table(BT_FORMAT_CSV, err);
}

static bt_status write_json(bt_error *err)
{
    return write_table(BT_FORMAT_JSON, err);
}

static bt_status write_text(bt_error *err)
{
    return write_table(BT_FORMAT_TEXT, err);
}

static bt_status describe(bt_error *err)
{
    return bt_columns_csvw(BT_TABLE_ZONES, "zones.csv", ignore, NULL, err);
}

static bt_status sketch_log(bt_error *err)
{
    bt_sketch *other;
    bt_status status = bt_sketch_new(&other, car, err);
    if (status != BT_OK) return status;
    for (int i = 0; i < 5000 && status == BT_OK; i++) {
        bt_trace sample;
        bt_row_blank(BT_TABLE_TRACE, &sample);
        sample.t = i / 100.0;
        sample.speed = 30;
        sample.zone = i % 500 < 200 ? 1 + i / 500 : sample.blend; /* blank between zones */
        status = bt_sketch_take(other, &sample, err);
    }
    if (status == BT_OK) status = bt_sketch_end(other, err);
    bt_sketch_free(other);
    return status;
}

static bt_status write_page(bt_error *err)
{
    const bt_bypass_options bypass = {0};
    const bt_report_options options = {.car = car, .car_name = "car", .bypass = &bypass};
    bt_report *report;
    bt_status status = bt_report_new(&report, &options, err);
    if (status != BT_OK) return status;
    status = bt_report_add(report, &kept, sketch, err);
    if (status == BT_OK) status = bt_report_write(report, ignore, NULL, err);
    bt_report_free(report);
    return status;
}

static bt_status draw_zones(bt_error *err)
{
    return bt_svg_zones(zones.row, zones.n, ignore, NULL, err);
}

static const struct {
    const char *name;
    bt_status (*run)(bt_error *err);
    size_t least; /* so many allocations at least, or the job is not what it was */
} jobs[] = {
    {"analysis of a plain log", analyse_plain, 20},
    {"analysis of a packed log", analyse_packed, 20},
    {"analysis of a long log", analyse_long, 20},
    {"feed", feed_one, 10},
    {"car sheet", read_car, 3},
    {"channel map", read_map, 3},
    {"zones on a shelf", shelve, 20},
    {"inspection and draft", inspect, 10},
    {"saved zones table", read_zones, 2},
    {"runs of one name", part_zones, 3},
    {"day sheet", grow_sheet, 5},
    {"drift", find_drift, 3},
    {"comparison", compare, 3},
    {"bypass plan", plan_bypass, 2},
    {"fit", fit, 1},
    {"table as csv", write_csv, 1},
    {"table as json", write_json, 1},
    {"table as text", write_text, 2},
    {"table description", describe, 0},
    {"sketch", sketch_log, 2},
    {"page", write_page, 5},
    {"picture of zones", draw_zones, 0},
};

/* Run a job with allocation `fail` refused; true if it came to that. */
static bool run_with(int job, size_t fail, bool all)
{
    bt_error err = {0};
    memory.fail = fail;
    memory.all = all;
    memory.asked = 0;
    memory.on = true;
    const bt_status status = jobs[job].run(&err);
    memory.on = false;
    const char *name = jobs[job].name;
    ck_assert_msg(status == BT_NOMEM || status == BT_OK, "%s, allocation %zu: status %d, %s", name,
                  fail, (int)status, err.message);
    ck_assert_msg(err.status == status, "%s, allocation %zu: error says %d, status is %d", name,
                  fail, (int)err.status, (int)status);
    if (status == BT_NOMEM)
        ck_assert_msg(strstr(err.message, "memory"), "%s: '%s'", name, err.message);
    if (memory.asked >= fail) return true;
    ck_assert_msg(status == BT_OK, "%s without a fault: %s", name, err.message);
    return false;
}

START_TEST(every_allocation_may_fail)
{
    for (int all = 0; all < 2; all++) {
        size_t fail = 1;
        while (run_with(_i, fail, all)) fail++;
        ck_assert_msg(fail > jobs[_i].least, "%s: only %zu allocations", jobs[_i].name, fail - 1);
    }
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("faults");
    TCase *t = tcase_create("memory");
    tcase_add_unchecked_fixture(t, set_up, tear_down);
    tcase_set_timeout(t, 120);
    tcase_add_loop_test(t, every_allocation_may_fail, 0, (int)(sizeof jobs / sizeof *jobs));
    suite_add_tcase(s, t);
    return s;
}
BT_CHECK_MAIN(suite)
