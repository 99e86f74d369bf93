/* The day sheet: the row over all logs, digests, and a sheet that is added to.  What its file looks like is
 * in tests/cli/update.cases. */
#include "tests/check_support.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "braketally.h"

static double *number(bt_run *run, const bt_column *column)
{
    return (double *)((char *)run + column->offset);
}

/* The other figures are sums. */
static const char *const largest[] = {"decel_peak_mps2", "disc_front_c", "disc_rear_c"};
static const char *const by_zones[] = {
    "balance_pct",        "blend_rms_nm",      "blend_pct",        "blend_delay_s",
    "motor_share_pct",    "effort_ratio",      "blend_gain",       "blend_rest_nm",
    "blend_by_delay_pct", "blend_by_gain_pct", "blend_by_rest_pct"};
static const char *const blank[] = {"balance_drift_pctplap",
                                    "drift_low",
                                    "drift_high",
                                    "drift_p",
                                    "worst_zone",
                                    "first_fallback_s",
                                    "blend_delay_low_s",
                                    "blend_delay_high_s",
                                    "blend_gain_low",
                                    "blend_gain_high",
                                    "blend_rest_low_nm",
                                    "blend_rest_high_nm"};

static bool is_in(const char *name, const char *const *list, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (strcmp(name, list[i]) == 0) return true;
    return false;
}
#define IS_IN(name, list) is_in(name, list, sizeof(list) / sizeof *(list))

START_TEST(the_day_row_takes_each_figure_together_in_its_way)
{
    bt_run run[4], day;
    size_t n;
    const bt_column *column = bt_columns(BT_TABLE_RUNS, &n);
    for (int i = 0; i < 4; i++) {
        bt_row_blank(BT_TABLE_RUNS, &run[i]);
        strcpy(run[i].status, i == 2 ? "cannot read" : "ok");
        for (size_t k = 0; k < n; k++)
            if (column[k].kind == BT_CELL_NUMBER) *number(&run[i], &column[k]) = i == 0 ? 300 : 500;
        run[i].zones = i == 0 ? 30 : 10;
    }
    strcpy(run[3].digest, BT_DAY);
    run[0].flags = BT_FLAG_GAPS;
    run[1].flags = BT_FLAG_TRUNCATED;
    run[2].flags = BT_FLAG_DRAG;
    bt_day_row(run, 4, &day);
    ck_assert_str_eq(day.run, "day");
    ck_assert_str_eq(day.status, "without 1 of 3 logs, which failed");
    ck_assert_uint_eq(day.flags, BT_FLAG_GAPS | BT_FLAG_TRUNCATED);
    for (size_t k = 0; k < n; k++) {
        if (column[k].kind != BT_CELL_NUMBER) continue;
        const double got = *number(&day, &column[k]);
        if (IS_IN(column[k].name, blank))
            ck_assert_msg(isnan(got), "%s", column[k].name);
        else if (IS_IN(column[k].name, largest))
            ck_assert_msg(fabs(got - 500) < 0.06, "%s %g", column[k].name,
                          got);                   /* of 226.85 degC */
        else if (IS_IN(column[k].name, by_zones)) /* (30 * 300 + 10 * 500) / 40 */
            ck_assert_msg(fabs(got - 350) < 1e-9, "%s %g", column[k].name, got);
        else if (strcmp(column[k].name, "zones") == 0)
            ck_assert(got >= 40 && got <= 40);
        else
            ck_assert_msg(fabs(got - 800) < 1e-9, "%s %g", column[k].name, got);
    }
}
END_TEST

START_TEST(a_day_without_logs_is_blank_and_a_figure_that_some_lack_is_that_of_the_others)
{
    bt_run run[2], day;
    bt_day_row(NULL, 0, &day);
    ck_assert(isnan(day.duration) && isnan(day.balance) && isnan(day.disc_front));
    ck_assert_str_eq(day.status, "ok");
    for (int i = 0; i < 2; i++) {
        bt_row_blank(BT_TABLE_RUNS, &run[i]);
        strcpy(run[i].status, "ok");
        run[i].zones = 10;
    }
    run[1].balance = 0.6;
    bt_day_row(run, 2, &day);
    ck_assert_double_eq_tol(day.balance, 0.6, 1e-12);
    ck_assert(isnan(day.recovered));
}
END_TEST

START_TEST(a_digest_of_a_setup_changes_with_all_that_makes_a_row)
{
    char first[BT_LABEL_MAX], other[BT_LABEL_MAX];
    bt_car *car, *twin;
    bt_error err = {0};
    ck_assert_int_eq(bt_car_new(&car, &err), BT_OK);
    ck_assert_int_eq(bt_car_new(&twin, &err), BT_OK);
    bt_setup setup = {.car = car};
    bt_digest_setup(&setup, first);
    ck_assert_uint_eq(strlen(first), 9);
    ck_assert_uint_eq(strspn(first, "c0123456789abcdef"), 9);
    setup.car = twin;
    bt_digest_setup(&setup, other);
    ck_assert_str_eq(first, other);
    ck_assert_int_eq(bt_car_set(twin, "mass=800", &err), BT_OK);
    bt_digest_setup(&setup, other);
    ck_assert_str_ne(first, other);
    setup = (bt_setup){.car = car, .rate = 100};
    bt_digest_setup(&setup, other);
    ck_assert_str_ne(first, other);
    setup = (bt_setup){.car = car, .threads = 3, .block_bytes = 100, .nominal = 20};
    bt_digest_setup(&setup, other); /* nothing that changes a row */
    ck_assert_str_eq(first, other);
    bt_car_free(car);
    bt_car_free(twin);
}
END_TEST

START_TEST(a_log_that_cannot_be_read_has_no_digest)
{
    char digest[BT_LABEL_MAX];
    bt_error err = {0};
    ck_assert_int_eq(bt_digest_log("/no/such/log.csv", digest, &err), BT_READ);
    ck_assert_str_eq(err.message, "No such file or directory");
    ck_assert_str_eq(err.file, "/no/such/log.csv");
    ck_assert_str_eq(digest, "");
    err = (bt_error){0};
    ck_assert_int_eq(bt_digest_log("/", digest, &err), BT_READ);
}
END_TEST

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

START_TEST(rows_put_and_written_come_back)
{
    char path[] = "/tmp/check_daysheet_XXXXXX";
    const int fd = mkstemp(path);
    ck_assert_int_ge(fd, 0);
    bt_daysheet *sheet;
    bt_error err = {0};
    static page first, second;
    const bt_style style = {.decimal_comma = true, .bom = true};
    ck_assert_int_eq(bt_daysheet_read(&sheet, path, &style, &err), BT_OK); /* empty */
    bt_run row;
    for (int i = 0; i < 3; i++) {
        bt_row_blank(BT_TABLE_RUNS, &row);
        snprintf(row.run, sizeof row.run, "=run;%d \"wet\"", i % 2);
        strcpy(row.status, "ok");
        row.balance = 0.61234567 + i;
        ck_assert_int_eq(bt_daysheet_put(sheet, &row, &err), BT_OK);
    }
    ck_assert_int_eq(bt_daysheet_write(sheet, keep, &first, &err), BT_OK);
    bt_daysheet_free(sheet);
    ck_assert_int_eq(write(fd, first.text, first.n), (ssize_t)first.n);
    close(fd);
    ck_assert_int_eq(bt_daysheet_read(&sheet, path, NULL, &err), BT_OK);
    unlink(path);
    size_t n;
    const bt_run *rows = bt_daysheet_rows(sheet, &n);
    ck_assert_uint_eq(n, 2); /* the third took the place of the first */
    ck_assert_str_eq(rows[0].run, "=run;0 \"wet\"");
    ck_assert_double_eq_tol(rows[0].balance, 2.6123, 1e-12);
    ck_assert_double_eq_tol(rows[1].balance, 1.6123, 1e-12);
    ck_assert_int_eq(bt_daysheet_write(sheet, keep, &second, &err), BT_OK);
    ck_assert_str_eq(first.text, second.text);
    bt_daysheet_free(sheet);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("daysheet");
    TCase *t = tcase_create("daysheet");
    tcase_add_test(t, the_day_row_takes_each_figure_together_in_its_way);
    tcase_add_test(t,
                   a_day_without_logs_is_blank_and_a_figure_that_some_lack_is_that_of_the_others);
    tcase_add_test(t, a_digest_of_a_setup_changes_with_all_that_makes_a_row);
    tcase_add_test(t, a_log_that_cannot_be_read_has_no_digest);
    tcase_add_test(t, rows_put_and_written_come_back);
    suite_add_tcase(s, t);
    return s;
}

BT_CHECK_MAIN(suite)
