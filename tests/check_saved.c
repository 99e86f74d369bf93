/* Zones read back from saved tables. */
#include "tests/check_support.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>
#include <zlib.h>

#include "saved/saved.h"

static bt_zone some_zone(double zone)
{
    bt_zone z;
    bt_row_blank(BT_TABLE_ZONES, &z);
    strcpy(z.run, "=run;3, wet");
    strcpy(z.mode, "by-wire");
    z.flags = BT_FLAG_CUT_END | BT_FLAG_GAPS;
    z.zone = zone;
    z.lap = 4;
    z.entry = 55.123456789;
    z.balance = 0.61234567;
    z.disc_front = 612.3456;
    z.motor = -12.345;
    z.latitude = 52.123456789;
    return z;
}

typedef struct {
    char text[65536];
    size_t n;
} page;

static bt_status keep(void *user, const char *bytes, size_t n, bt_error *err)
{
    (void)err;
    page *p = user;
    ck_assert_uint_lt(p->n + n, sizeof p->text);
    memcpy(p->text + p->n, bytes, n);
    p->text[p->n += n] = '\0';
    return BT_OK;
}

static void print(page *p, const bt_style *style, const bt_zone *rows, size_t n)
{
    bt_writer *w;
    bt_error err = {0};
    ck_assert_int_eq(bt_writer_new(&w, BT_TABLE_ZONES, style, keep, p, &err), BT_OK);
    for (size_t i = 0; i < n; i++) ck_assert_int_eq(bt_writer_row(w, &rows[i], &err), BT_OK);
    ck_assert_int_eq(bt_writer_end(w, &err), BT_OK);
    bt_writer_free(w);
}

/* A file of these bytes; the name lives until the next call. */
static const char *file_of(const char *bytes, size_t n, bool packed)
{
    static char path[64];
    strcpy(path, "/tmp/check_saved_XXXXXX");
    const int fd = mkstemp(path);
    ck_assert_int_ge(fd, 0);
    close(fd);
    gzFile f = gzopen(path, packed ? "wb" : "wbT");
    ck_assert_int_eq(gzwrite(f, bytes, (unsigned)n), (int)n);
    gzclose(f);
    return path;
}

static bt_status read_text(bt_zones *zones, const char *text, bt_error *err)
{
    const char *path = file_of(text, strlen(text), false);
    const bt_status status = bt_zones_read(zones, path, err);
    unlink(path);
    return status;
}

static const bt_style styles[] = {
    {0}, {.decimal_comma = true}, {.delimiter = '\t'}, {.delimiter = ';', .bom = true}};

START_TEST(what_was_written_comes_back_and_is_written_the_same)
{
    const bt_zone rows[] = {some_zone(1), some_zone(2)};
    static page first, second;
    first.n = second.n = 0;
    print(&first, &styles[_i], rows, 2);
    bt_zones zones = {0};
    bt_error err = {0};
    const char *path = file_of(first.text, first.n, _i % 2);
    ck_assert(bt_zones_saved(path));
    ck_assert_int_eq(bt_zones_read(&zones, path, &err), BT_OK);
    unlink(path);
    ck_assert_uint_eq(zones.n, 2);
    ck_assert_str_eq(zones.row[1].run, "=run;3, wet");
    ck_assert_uint_eq(zones.row[1].flags, BT_FLAG_CUT_END | BT_FLAG_GAPS);
    ck_assert_double_eq_tol(zones.row[1].entry * 3.6, 198.44,
                            1e-9); /* 55.123... m/s to 0.01 km/h */
    ck_assert(isnan(zones.row[1].exit));
    print(&second, &styles[_i], zones.row, 2);
    ck_assert_str_eq(second.text, first.text);
    bt_zones_free(&zones);
}
END_TEST

START_TEST(rows_just_computed_are_rounded_as_the_saved_ones_are)
{
    const bt_zone row = some_zone(1);
    static page text;
    text.n = 0;
    print(&text, &styles[0], &row, 1);
    bt_zones fresh = {0}, saved = {0};
    bt_error err = {0};
    ck_assert_int_eq(bt_zones_add(&fresh, &row, 1, &err), BT_OK);
    ck_assert_int_eq(read_text(&saved, text.text, &err), BT_OK);
    size_t n;
    const bt_column *column = bt_columns(BT_TABLE_ZONES, &n);
    for (size_t i = 0; i < n; i++)
        if (column[i].kind == BT_CELL_NUMBER)
            ck_assert_mem_eq((char *)fresh.row + column[i].offset,
                             (char *)saved.row + column[i].offset, sizeof(double));
    bt_zones_free(&fresh);
    bt_zones_free(&saved);
}
END_TEST

START_TEST(tables_one_behind_the_other_may_have_their_columns_in_any_order)
{
    bt_zones zones = {0};
    bt_error err = {0};
    const char *text = "run,zone,entry_kmh,balance_pct\na,1,180.00,61.50\n"
                       "zone,weather,run,entry_kmh\n7,rain,b,90.00\n\n"
                       "run,zone,entry_kmh\n'+c,2,\n";
    ck_assert_int_eq(read_text(&zones, text, &err), BT_OK);
    ck_assert_uint_eq(zones.n, 3);
    ck_assert_double_eq_tol(zones.row[0].balance, 0.615, 1e-15);
    ck_assert_str_eq(zones.row[1].run, "b");
    ck_assert_double_eq(zones.row[1].zone, 7);
    ck_assert(isnan(zones.row[1].balance));
    ck_assert_str_eq(zones.row[2].run, "+c");
    ck_assert(isnan(zones.row[2].entry));
    bt_zones_free(&zones);
}
END_TEST

static const struct {
    const char *text, *message;
    unsigned line, column;
} faults[] = {
    {"run,zone,entry_kmh\na,1,fast\n", "entry_kmh: expected a number, found 'fast'", 2, 3},
    {"run,zone,entry_kmh\na,1,2,3\n", "expected 3 cells as in the header, found 4", 2, 0},
    {"time,speed\n1,2\n", "expected a zones table, its header with run, zone and entry_kmh", 1, 0},
    {"run,zone,entry_kmh,zone\n", "expected each column once, found 'zone' twice", 1, 4},
};

START_TEST(a_fault_is_named_with_its_place)
{
    bt_zones zones = {0};
    bt_error err = {0};
    ck_assert_int_eq(read_text(&zones, faults[_i].text, &err), BT_SYNTAX);
    ck_assert_str_eq(err.message, faults[_i].message);
    ck_assert_uint_eq(err.line, faults[_i].line);
    ck_assert_uint_eq(err.column, faults[_i].column);
    bt_zones_free(&zones);
}
END_TEST

START_TEST(a_log_is_no_saved_table)
{
    const char *log = "time,speed,run\n0.0,50,1\n";
    const char *path = file_of(log, strlen(log), false);
    ck_assert(!bt_zones_saved(path));
    unlink(path);
    ck_assert(!bt_zones_saved("/no/such/file"));
    ck_assert(bt_zones_saved("-"));
}
END_TEST

START_TEST(a_figure_that_is_no_number_column_is_refused_with_the_nearest_offered)
{
    bt_error err = {0};
    ck_assert_int_eq(bt_figures_check("balance_pct,motor_share_pct", &err), BT_OK);
    ck_assert_int_eq(bt_figures_check("balance_pct,motor_share_pc", &err), BT_RANGE);
    ck_assert_str_eq(err.message, "expected a number column of the zones table, found "
                                  "'motor_share_pc'; did you mean 'motor_share_pct'?");
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("saved");
    TCase *t = tcase_create("saved");
    tcase_add_loop_test(t, what_was_written_comes_back_and_is_written_the_same, 0, 4);
    tcase_add_test(t, rows_just_computed_are_rounded_as_the_saved_ones_are);
    tcase_add_test(t, tables_one_behind_the_other_may_have_their_columns_in_any_order);
    tcase_add_loop_test(t, a_fault_is_named_with_its_place, 0, sizeof faults / sizeof *faults);
    tcase_add_test(t, a_log_is_no_saved_table);
    tcase_add_test(t, a_figure_that_is_no_number_column_is_refused_with_the_nearest_offered);
    suite_add_tcase(s, t);
    return s;
}

BT_CHECK_MAIN(suite)
