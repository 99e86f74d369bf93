/* What must not change an answer: how the log is stored, cut into blocks, ordered, dated or measured
 * in.  One simulated run, written in many ways, analysed through the public interface alone. */
#include "tests/check_support.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "braketally.h"
#include "tests/plant/plant.h"

static char folder[] = "/tmp/braketally-properties-XXXXXX";
static plant_config cfg;

/* Text that grows; tables of a short run are small. */
typedef struct {
    char *bytes;
    size_t n;
} text;

static bt_status append(void *user, const char *bytes, size_t n, bt_error *err)
{
    (void)err;
    text *t = user;
    t->bytes = realloc(t->bytes, t->n + n + 1);
    memcpy(t->bytes + t->n, bytes, n);
    t->n += n;
    t->bytes[t->n] = '\0';
    return BT_OK;
}

static const char *in_folder(char path[256], const char *name)
{
    snprintf(path, 256, "%s/%s", folder, name);
    return path;
}

static bt_status trace_row(void *user, const bt_trace *sample, bt_error *err)
{
    return bt_writer_row(user, sample, err);
}

/* Zones, run row and trace of a log, as printed, with the car and map that belong to it. */
typedef struct {
    text zones, runs, trace;
} tables;

static void write_rows(text *out, bt_table_kind kind, const void *rows, size_t n, size_t size)
{
    bt_error err = {0};
    bt_writer *w;
    const bt_style csv = {.format = BT_FORMAT_CSV};
    ck_assert_int_eq(bt_writer_new(&w, kind, &csv, append, out, &err), BT_OK);
    for (size_t i = 0; i < n; i++)
        ck_assert_int_eq(bt_writer_row(w, (const char *)rows + i * size, &err), BT_OK);
    ck_assert_int_eq(bt_writer_end(w, &err), BT_OK);
    bt_writer_free(w);
}

static tables analyse(const char *log, const char *map_path, size_t block_bytes)
{
    char path[256];
    bt_error err = {0};
    bt_car *car;
    bt_map *map = NULL;
    ck_assert_int_eq(bt_car_new(&car, &err), BT_OK);
    ck_assert_msg(bt_car_read(car, in_folder(path, "car.csv"), &err) == BT_OK, "%s", err.message);
    if (map_path) ck_assert_msg(bt_map_read(&map, map_path, &err) == BT_OK, "%s", err.message);
    tables t = {.zones = {0}};
    bt_writer *trace;
    const bt_style csv = {.format = BT_FORMAT_CSV};
    ck_assert_int_eq(bt_writer_new(&trace, BT_TABLE_TRACE, &csv, append, &t.trace, &err), BT_OK);
    const bt_setup setup = {
        .car = car, .map = map, .block_bytes = block_bytes, .trace = trace_row, .user = trace};
    bt_result result;
    ck_assert_msg(bt_analyse(log, &setup, &result, &err) == BT_OK, "%s:%llu: %s", err.file,
                  (unsigned long long)err.line, err.message);
    ck_assert_int_eq(bt_writer_end(trace, &err), BT_OK);
    bt_writer_free(trace);
    for (size_t i = 0; i < result.n_zones; i++) snprintf(result.zones[i].run, BT_NAME_MAX, "run");
    snprintf(result.run.run, BT_NAME_MAX, "run");
    write_rows(&t.zones, BT_TABLE_ZONES, result.zones, result.n_zones, sizeof *result.zones);
    write_rows(&t.runs, BT_TABLE_RUNS, &result.run, 1, sizeof result.run);
    ck_assert_uint_ge(result.n_zones, 8);
    bt_result_clear(&result);
    bt_map_free(map);
    bt_car_free(car);
    return t;
}

static void tables_clear(tables *t)
{
    free(t->zones.bytes);
    free(t->runs.bytes);
    free(t->trace.bytes);
}

static void same(const tables *a, const tables *b)
{
    ck_assert_str_eq(a->zones.bytes, b->zones.bytes);
    ck_assert_str_eq(a->runs.bytes, b->runs.bytes);
    ck_assert_msg(strcmp(a->trace.bytes, b->trace.bytes) == 0, "the traces differ");
}

static void write_log(const char *name, const plant_log_options *opt)
{
    char path[256];
    ck_assert_int_eq(plant_write_log(&cfg, in_folder(path, name), opt), 0);
}

static void set_up(void)
{
    char path[256];
    ck_assert_ptr_nonnull(mkdtemp(folder));
    plant_defaults(&cfg);
    cfg.laps = 1;
    cfg.rate = 50;
    ck_assert_int_eq(plant_write_car_sheet(&cfg, in_folder(path, "car.csv")), 0);
    plant_log_options opt;
    plant_log_defaults(&opt, &cfg);
    write_log("plain.csv", &opt);
    write_log("packed.csv.gz", &opt);
}

static void tear_down(void)
{
    static const char *const made[] = {"car.csv", "plain.csv", "packed.csv.gz", "other.csv",
                                       "map.csv"};
    char path[256];
    for (size_t i = 0; i < sizeof made / sizeof *made; i++) remove(in_folder(path, made[i]));
    rmdir(folder);
}

static tables plain(void)
{
    char path[256];
    return analyse(in_folder(path, "plain.csv"), NULL, 0);
}

START_TEST(gzip_and_the_size_of_blocks_change_no_byte)
{
    static const size_t blocks[] = {1, 7, 100, 4096, 1 << 20};
    char path[256];
    tables want = plain();
    tables packed = analyse(in_folder(path, "packed.csv.gz"), NULL, 0);
    same(&want, &packed);
    tables_clear(&packed);
    for (size_t i = 0; i < sizeof blocks / sizeof *blocks; i++) {
        tables cut = analyse(in_folder(path, "plain.csv"), NULL, blocks[i]);
        same(&want, &cut);
        tables_clear(&cut);
    }
    tables_clear(&want);
}
END_TEST

START_TEST(order_of_columns_delimiter_and_line_ends_change_no_byte)
{
    char path[256];
    plant_log_options opt;
    plant_log_defaults(&opt, &cfg);
    for (int i = 0; i < opt.columns / 2; i++) {
        const plant_column c = opt.column[i];
        opt.column[i] = opt.column[opt.columns - 1 - i];
        opt.column[opt.columns - 1 - i] = c;
    }
    opt.delimiter = ';';
    opt.decimal_comma = true;
    opt.units_row = true;
    opt.crlf = true;
    opt.preamble = "Saltmarsh\nHarrow Lane Engineering, Tern\n\n";
    write_log("other.csv", &opt);
    tables want = plain(), got = analyse(in_folder(path, "other.csv"), NULL, 0);
    same(&want, &got);
    tables_clear(&want);
    tables_clear(&got);
}
END_TEST

/* ---- tables that may differ in one column, or in the last decimal ---- */

/* The next cell of a line of CSV without quotes; NULL at the line's end. */
static const char *next_cell(const char **at, char cell[64])
{
    if (**at == '\n' || **at == '\0') return NULL;
    const size_t n = strcspn(*at, ",\n");
    snprintf(cell, 64, "%.*s", (int)n, *at);
    *at += n + ((*at)[n] == ',');
    return cell;
}

static double last_decimal(const char *cell)
{
    const char *point = strchr(cell, '.');
    return point ? pow(10, -(double)strlen(point + 1)) : 1;
}

/* Every cell equal, but for column `shifted` (by `shift`), and numbers by up to `units` in the last
 * decimal. */
static void nearly_same(bt_table_kind kind, const char *a, const char *b, const char *shifted,
                        double shift, double units)
{
    size_t columns, line = 0;
    const bt_column *column = bt_columns(kind, &columns);
    while (*a && *b) {
        char left[64], right[64];
        for (size_t c = 0; next_cell(&a, left); c++) {
            ck_assert_ptr_nonnull(next_cell(&b, right));
            if (strcmp(left, right) == 0 && strcmp(column[c].name, shifted) != 0) continue;
            char *end_a, *end_b;
            const double x = strtod(left, &end_a), y = strtod(right, &end_b);
            const double want = line > 0 && strcmp(column[c].name, shifted) == 0 ? shift : 0;
            if (line == 0 && strcmp(left, right) == 0) continue;
            ck_assert_msg(*left && *right && !*end_a && !*end_b &&
                              fabs(y - x - want) <= (units + 0.01) * last_decimal(left),
                          "line %zu, %s: %s and %s", line, column[c].name, left, right);
        }
        a += *a == '\n';
        b += *b == '\n';
        line++;
    }
    ck_assert_msg(*a == *b, "one table is longer");
}

START_TEST(a_time_offset_changes_the_times_alone)
{
    static const struct {
        plant_time_format format;
        const char *header;
        double offset, shift;
    } way[] = {
        {PLANT_SECONDS, "time [s]", 4321, 4321}, {PLANT_MILLISECONDS, "time [ms]", 7, 7},
        {PLANT_CLOCK, "time", 3600, 0},          {PLANT_MINUTES, "time", 120, 0},
        {PLANT_ISO8601, "time", 86400, 0},       {PLANT_EPOCH_NS, "time", 777, 0},
        {PLANT_EPOCH_S, "time [s]", 777, 0},
    };
    char path[256];
    tables want = plain();
    for (size_t i = 0; i < sizeof way / sizeof *way; i++) {
        plant_log_options opt;
        plant_log_defaults(&opt, &cfg);
        opt.time_format = way[i].format;
        opt.time_offset = way[i].offset;
        snprintf(plant_log_column(&opt, PLANT_TIME)->name, 64, "%s", way[i].header);
        write_log("other.csv", &opt);
        tables got = analyse(in_folder(path, "other.csv"), NULL, 0);
        nearly_same(BT_TABLE_ZONES, want.zones.bytes, got.zones.bytes, "start_s", way[i].shift, 0);
        nearly_same(BT_TABLE_TRACE, want.trace.bytes, got.trace.bytes, "time_s", way[i].shift, 0);
        ck_assert_str_eq(want.runs.bytes, got.runs.bytes);
        tables_clear(&got);
    }
    tables_clear(&want);
}
END_TEST

START_TEST(other_units_change_nothing_beyond_the_last_decimal)
{
    static const struct {
        plant_channel channel;
        const char *unit;
    } other[] = {
        {PLANT_SPEED, "mph"},       {PLANT_WHEEL_FL, "km/h"},    {PLANT_WHEEL_RR, "km/h"},
        {PLANT_PEDAL_FRONT, "psi"}, {PLANT_PEDAL_REAR, "kPa"},   {PLANT_LINE_REAR, "MPa"},
        {PLANT_LINE_FRONT, "psi"},  {PLANT_LINE_REQUEST, "kPa"}, {PLANT_ACCEL_LONG, "g"},
        {PLANT_DISC_RL, "°F"},
    };
    char path[256], map[256];
    plant_log_options opt;
    plant_log_defaults(&opt, &cfg);
    ck_assert_int_eq(plant_write_map(&cfg, &opt, in_folder(map, "map.csv")), 0);
    tables want = analyse(in_folder(path, "plain.csv"), map, 0);
    for (size_t i = 0; i < sizeof other / sizeof *other; i++) {
        plant_column *c = plant_log_column(&opt, other[i].channel);
        if (!c) continue;
        const char *name = plant_channel_name(other[i].channel);
        ck_assert_int_eq(plant_log_unit(&opt, other[i].channel, name, other[i].unit), 0);
        c->decimals = 12;
    }
    write_log("other.csv", &opt);
    ck_assert_int_eq(plant_write_map(&cfg, &opt, in_folder(map, "map.csv")), 0);
    tables got = analyse(in_folder(path, "other.csv"), map, 0);
    nearly_same(BT_TABLE_ZONES, want.zones.bytes, got.zones.bytes, "", 0, 1);
    nearly_same(BT_TABLE_RUNS, want.runs.bytes, got.runs.bytes, "", 0, 1);
    tables_clear(&want);
    tables_clear(&got);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("properties");
    TCase *t = tcase_create("same answer");
    tcase_add_unchecked_fixture(t, set_up, tear_down);
    tcase_set_timeout(t, 120);
    tcase_add_test(t, gzip_and_the_size_of_blocks_change_no_byte);
    tcase_add_test(t, order_of_columns_delimiter_and_line_ends_change_no_byte);
    tcase_add_test(t, a_time_offset_changes_the_times_alone);
    tcase_add_test(t, other_units_change_nothing_beyond_the_last_decimal);
    suite_add_tcase(s, t);
    return s;
}
BT_CHECK_MAIN(suite)
