/* Feeding rows of numbers: the same as the log that these rows would make (the log's own figures are
 * proven elsewhere), and what it refuses. */
#include "check_support.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "braketally.h"

enum { ROWS = 4000, COLUMNS = 6 };

static const char *const columns[COLUMNS] = {
    "time [s]", "speed [m/s]", "pedal_front [bar]", "pedal_rear (bar)", "Line rear bar", "lap"};

/* 100 rows a second as a log would print them: four decimals, so that the log's cells and these numbers
 * are the same doubles.  Two stretches, rows that repeat, holes, values left out. */
static void make_rows(double row[ROWS][COLUMNS])
{
    for (int i = 0; i < ROWS; i++) {
        const double within = 0.01 * (i % 1000), into = within < 4 || within >= 7 ? 0 : within - 4;
        const double pedal = 55 * fmin(1, 5 * into);
        double *r = row[i];
        r[0] = 12.5 + 0.01 * i + (i >= 2000 ? 20 : 0) - (i % 700 == 350 ? 0.01 : 0);
        r[1] = 40 - 8 * into - (within >= 7 ? 24 - 8 * (within - 7) : 0);
        r[2] = i % 90 == 17 ? NAN : pedal;
        r[3] = pedal * 0.98;
        r[4] = i % 2 ? NAN : pedal * 0.9;
        r[5] = 1 + i / 1000;
        for (int c = 0; c < COLUMNS; c++) r[c] = round(r[c] * 1e4) / 1e4;
    }
}

static void write_log(char path[], double row[ROWS][COLUMNS])
{
    const int fd = mkstemp(path);
    ck_assert_int_ge(fd, 0);
    FILE *f = fdopen(fd, "w");
    ck_assert_ptr_nonnull(f);
    for (int c = 0; c < COLUMNS; c++) fprintf(f, "%s%s", c ? "," : "", columns[c]);
    for (int i = 0; i < ROWS; i++)
        for (int c = 0; c < COLUMNS; c++) {
            fputs(c ? "," : "\n", f);
            if (!isnan(row[i][c])) fprintf(f, "%.4f", row[i][c]);
        }
    fputc('\n', f);
    ck_assert_int_eq(fclose(f), 0);
}

/* All numbers of all zone rows and of the run row, to the bit. */
static void assert_same(const bt_result *a, const bt_result *b)
{
    ck_assert_uint_eq(a->n_zones, b->n_zones);
    for (int table = 0; table < 2; table++) {
        size_t n;
        const bt_column *column = bt_columns(table ? BT_TABLE_RUNS : BT_TABLE_ZONES, &n);
        for (size_t i = 0; i < (table ? 1 : a->n_zones); i++)
            for (size_t c = 0; c < n; c++) {
                const char *x = table ? (const char *)&a->run : (const char *)&a->zones[i];
                const char *y = table ? (const char *)&b->run : (const char *)&b->zones[i];
                if (column[c].kind != BT_CELL_NUMBER || !strcmp(column[c].name, "run")) continue;
                double p, q;
                memcpy(&p, x + column[c].offset, sizeof p);
                memcpy(&q, y + column[c].offset, sizeof q);
                ck_assert_msg((isnan(p) && isnan(q)) || memcmp(&p, &q, sizeof p) == 0,
                              "%s: %.17g and %.17g", column[c].name, p, q);
            }
    }
    ck_assert_uint_eq(a->run.flags, b->run.flags);
    ck_assert_uint_eq(a->n_notes, b->n_notes);
    for (size_t i = 0; i < a->n_notes; i++) ck_assert_str_eq(a->notes[i], b->notes[i]);
}

static void feed_rows(double row[ROWS][COLUMNS], size_t at_once, const bt_setup *setup,
                      bt_result *result)
{
    bt_error err = {0};
    bt_feed *feed;
    ck_assert_int_eq(bt_feed_new(&feed, "bench", columns, COLUMNS, setup, &err), BT_OK);
    for (size_t i = 0; i < ROWS; i += at_once)
        ck_assert_int_eq(bt_feed_push(feed, row[i], i + at_once > ROWS ? ROWS - i : at_once, &err),
                         BT_OK);
    ck_assert_int_eq(bt_feed_end(feed, result, &err), BT_OK);
    bt_feed_free(feed);
}

START_TEST(rows_fed_give_what_their_log_gives_to_the_bit)
{
    static double row[ROWS][COLUMNS];
    char path[] = "/tmp/check_feed_XXXXXX";
    make_rows(row);
    write_log(path, row);
    bt_error err = {0};
    bt_car *car;
    ck_assert_int_eq(bt_car_new(&car, &err), BT_OK);
    ck_assert_int_eq(bt_car_set(car, "bypass_ratio=0.9", &err), BT_OK);
    const bt_setup setup = {.car = car};
    bt_result log, fed;
    ck_assert_int_eq(bt_analyse(path, &setup, &log, &err), BT_OK);
    unlink(path);
    ck_assert_uint_eq(log.n_zones, 4); /* one in each 10 s of the plan above */
    ck_assert_double_eq(log.run.dropped_rows, 6);
    ck_assert_double_eq(log.run.gaps, 1);
    const size_t at_once[] = {1, 7, ROWS};
    for (size_t i = 0; i < 3; i++) {
        feed_rows(row, at_once[i], &setup, &fed);
        ck_assert_str_eq(fed.run.run, "bench");
        ck_assert_str_eq(fed.zones[3].run, "bench");
        ck_assert_str_eq(fed.run.status, "ok");
        assert_same(&log, &fed);
        bt_result_clear(&fed);
    }
    bt_result_clear(&log);
    bt_car_free(car);
}
END_TEST

typedef struct {
    int n;
    int stop_at;
} tally;

static bt_status count_zone(void *user, const bt_zone *zone, bt_error *err)
{
    (void)err;
    tally *t = user;
    ck_assert_double_eq(zone->zone, ++t->n);
    ck_assert_double_eq_tol(zone->entry - zone->exit, 24, 0.5); /* 8 m/s2 for 3 s */
    return t->n == t->stop_at ? BT_STOPPED : BT_OK;
}

START_TEST(each_zone_is_told_when_it_is_over)
{
    static double row[ROWS][COLUMNS];
    make_rows(row);
    tally t = {0};
    const bt_setup setup = {.zone = count_zone, .user = &t};
    bt_error err = {0};
    bt_feed *feed;
    ck_assert_int_eq(bt_feed_new(&feed, "bench", columns, COLUMNS, &setup, &err), BT_OK);
    ck_assert_int_eq(bt_feed_push(feed, row[0], 3000, &err), BT_OK);
    ck_assert_int_ge(t.n, 2); /* the third may wait for what fills a hole */
    ck_assert_int_eq(bt_feed_push(feed, row[3000], 1000, &err), BT_OK);
    bt_result result;
    ck_assert_int_eq(bt_feed_end(feed, &result, &err), BT_OK);
    ck_assert_int_eq(t.n, 4);
    bt_result_clear(&result);
    bt_feed_free(feed);
}
END_TEST

START_TEST(a_caller_that_stops_gets_its_status_ever_after_and_what_was_found)
{
    static double row[ROWS][COLUMNS];
    make_rows(row);
    tally t = {.stop_at = 1};
    const bt_setup setup = {.zone = count_zone, .user = &t};
    bt_error err = {0};
    bt_feed *feed;
    ck_assert_int_eq(bt_feed_new(&feed, "bench", columns, COLUMNS, &setup, &err), BT_OK);
    ck_assert_int_eq(bt_feed_push(feed, row[0], ROWS, &err), BT_STOPPED);
    ck_assert_str_eq(err.message, "stopped by the caller");
    ck_assert_int_eq(bt_feed_push(feed, row[0], 1, NULL), BT_STOPPED);
    bt_result result;
    ck_assert_int_eq(bt_feed_end(feed, &result, NULL), BT_STOPPED);
    ck_assert_uint_eq(result.n_zones, 1);
    ck_assert_str_eq(result.run.status, "stopped by the caller");
    bt_result_clear(&result);
    bt_feed_free(feed);
}
END_TEST

static const struct {
    const char *column[3];
    size_t n;
    bt_status status;
    const char *message;
} refused[] = {
    {{""}, 0, BT_RANGE, "columns: expected at least one, found none"},
    {{"speed"},
     1,
     BT_MISSING,
     "time: expected a column of that name, found none; name it in a map or give the rate"},
    {{"time", "speed [bar]"},
     2,
     BT_SYNTAX,
     "speed: expected a unit of speed (m/s, km/h, mph, kn, ft/s), found 'bar' (pressure)"},
    {{"time", "lap", "lap"},
     3,
     BT_SYNTAX,
     "lap: columns #2 'lap' and #3 'lap' match equally well, name one in a map"},
};

START_TEST(columns_that_cannot_serve_are_refused)
{
    bt_error err = {0};
    bt_feed *feed;
    ck_assert_int_eq(bt_feed_new(&feed, "x", refused[_i].column, refused[_i].n, NULL, &err),
                     refused[_i].status);
    ck_assert_ptr_null(feed);
    ck_assert_str_eq(err.message, refused[_i].message);
    bt_feed_free(NULL);
}
END_TEST

START_TEST(rows_without_a_time_are_an_error_at_the_end_and_no_rows_are_none)
{
    static const char *const names[] = {"time", "speed"};
    const double row[] = {NAN, 20};
    for (size_t n = 0; n < 2; n++) {
        bt_error err = {0};
        bt_feed *feed;
        ck_assert_int_eq(bt_feed_new(&feed, "x", names, 2, NULL, &err), BT_OK);
        ck_assert_int_eq(bt_feed_push(feed, row, n, &err), BT_OK);
        bt_result result;
        ck_assert_int_eq(bt_feed_end(feed, &result, &err), n ? BT_SYNTAX : BT_OK);
        ck_assert_uint_eq(result.n_zones, 0);
        bt_result_clear(&result);
        bt_feed_free(feed);
    }
}
END_TEST

/* A row each 10 ms by rate; by time in ms; by an epoch in seconds, where doubles end at 0.2 us. */
START_TEST(time_comes_by_rate_in_other_units_or_as_an_epoch)
{
    static const char *const names[3][2] = {
        {"speed", "lap"}, {"time [ms]", "speed"}, {"time", "speed"}};
    static const double start[] = {0, 5000, 1.7e9}, step[] = {0, 10, 0.01};
    for (int k = 0; k < 3; k++) {
        const bt_setup setup = {.rate = k == 0 ? 100 : 0};
        bt_error err = {0};
        bt_feed *feed;
        ck_assert_int_eq(bt_feed_new(&feed, "x", names[k], 2, &setup, &err), BT_OK);
        for (int i = 0; i <= 1000; i++) {
            const double speed = 30 - (i < 200 ? 0 : i < 500 ? 0.05 * (i - 200) : 15);
            const double row[] = {k ? start[k] + step[k] * i : speed, k ? speed : 1};
            ck_assert_int_eq(bt_feed_push(feed, row, 1, &err), BT_OK);
        }
        bt_result result;
        ck_assert_int_eq(bt_feed_end(feed, &result, &err), BT_OK);
        ck_assert_double_eq_tol(result.run.duration, 10, 1e-6);
        ck_assert_uint_eq(result.n_zones, 1);
        ck_assert_double_eq_tol(result.zones[0].decel_peak, 5, 1e-3);
        /* A number is the log's own seconds, an epoch and a rate count from the first row. */
        ck_assert_double_eq_tol(result.zones[0].start, (k == 1 ? 5 : 0) + 2, 0.15);
        bt_result_clear(&result);
        bt_feed_free(feed);
    }
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("feed");
    TCase *t = tcase_create("feed");
    tcase_add_test(t, rows_fed_give_what_their_log_gives_to_the_bit);
    tcase_add_test(t, each_zone_is_told_when_it_is_over);
    tcase_add_test(t, a_caller_that_stops_gets_its_status_ever_after_and_what_was_found);
    tcase_add_loop_test(t, columns_that_cannot_serve_are_refused, 0,
                        sizeof refused / sizeof *refused);
    tcase_add_test(t, rows_without_a_time_are_an_error_at_the_end_and_no_rows_are_none);
    tcase_add_test(t, time_comes_by_rate_in_other_units_or_as_an_epoch);
    suite_add_tcase(s, t);
    return s;
}
BT_CHECK_MAIN(suite)
