/* Rows to samples: holes, time faults, the two layouts (METHODS 2.1 to 2.3). */
#include "check_support.h"

#include "samples/samples.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* A stage that keeps everything, NaN between stretches. */
enum { KEPT_MAX = 200000 };
typedef struct {
    bt_stage stage;
    size_t n, ends;
    double *t, *x[BT_CH_COUNT];
} keeper;

static bt_status keep(bt_stage *self, const bt_block *in, bt_error *err)
{
    keeper *k = (keeper *)self;
    (void)err;
    ck_assert(in->n >= 1 && in->n <= BT_BLOCK_MAX);
    ck_assert(k->n + in->n <= KEPT_MAX);
    for (size_t i = 0; i < in->n; i++, k->n++) {
        k->t[k->n] = in->t[i];
        for (int c = 0; c < BT_CH_COUNT; c++)
            if (in->ch[c]) k->x[c][k->n] = in->ch[c][i];
    }
    return BT_OK;
}

static bt_status keep_end(bt_stage *self, bt_error *err)
{
    (void)err;
    ((keeper *)self)->ends++;
    return BT_OK;
}

typedef struct {
    keeper out;
    bt_dialect dialect;
    bt_signals signals;
    bt_channels channels;
    bt_sample_counts counts;
    double offset;
    bt_error err;
} fixture;

/* Run a log, `chunk` bytes at a time (0 = at once). */
static bt_status run(fixture *f, const char *log, double rate, size_t chunk)
{
    const size_t n = strlen(log);
    *f = (fixture){.out = {.stage = {keep, keep_end, NULL}}};
    f->out.t = calloc(KEPT_MAX, sizeof(double));
    for (int c = 0; c < BT_CH_COUNT; c++) f->out.x[c] = calloc(KEPT_MAX, sizeof(double));
    bt_samples *s = NULL;
    bt_table *table = NULL;
    const bt_setup setup = {.rate = rate};
    bt_status st = bt_dialect_sniff(&f->dialect, log, n, true, NULL, &f->err);
    if (st == BT_OK && f->dialect.layout == BT_LAYOUT_LONG)
        st = bt_signals_read(&f->signals, &f->dialect, log, n, true, &f->err);
    if (st == BT_OK)
        st = bt_channels_bind(&f->channels, &f->dialect, &f->signals, NULL, NULL, &setup, &f->err);
    if (st == BT_OK) st = bt_samples_new(&s, &f->channels, &f->out.stage, &f->err);
    if (st == BT_OK) st = bt_samples_table(s, &table, &f->err);
    for (size_t at = 0; st == BT_OK && at < n;) {
        const size_t step = chunk == 0 || chunk > n - at ? n - at : chunk;
        st = bt_table_push(table, log + at, step, &f->err);
        at += step;
    }
    if (st == BT_OK) st = bt_table_end(table, &f->err);
    if (st == BT_OK) st = bt_samples_end(s, &f->err);
    if (s) {
        f->counts = *bt_samples_counts(s);
        f->offset = bt_samples_offset(s);
    }
    bt_table_free(table);
    bt_samples_free(s);
    return st;
}

static void done(fixture *f)
{
    free(f->out.t);
    for (int c = 0; c < BT_CH_COUNT; c++) free(f->out.x[c]);
    bt_signals_free(&f->signals);
    bt_dialect_free(&f->dialect);
}

#define NEAR(a, b) ck_assert_double_eq_tol(a, b, 1e-12 * (1 + fabs((double)(b))))

START_TEST(full_rows_come_through_as_they_are_in_si)
{
    fixture f;
    ck_assert_int_eq(run(&f,
                         "time [s],speed [km/h],pedal_front [bar],lap\n"
                         "10.0,36,0,1\n10.1,72,5,1\n10.3,18,-0.5,2\n",
                         0, 0),
                     BT_OK);
    ck_assert_uint_eq(f.out.n, 3);
    ck_assert_uint_eq(f.out.ends, 1);
    NEAR(f.out.t[0], 0);
    NEAR(f.out.t[2], 0.3);
    NEAR(f.out.x[BT_CH_SPEED][1], 20);
    NEAR(f.out.x[BT_CH_PEDAL_FRONT][2], -0.5e5);
    NEAR(f.out.x[BT_CH_LAP][2], 2);
    NEAR(f.offset, 10);
    ck_assert_uint_eq(f.counts.rows, 3);
    ck_assert_uint_eq(f.counts.dropped, 0);
    NEAR(f.counts.last, 0.3);
    done(&f);
}
END_TEST

START_TEST(holes_are_filled_by_straight_lines_in_time_and_states_hold)
{
    fixture f;
    ck_assert_int_eq(run(&f,
                         "time,speed,lap\n"
                         "0,,\n0.1,10,3\n0.2,,\n0.5,20,\n0.6,,4\n0.7,NaN,-\n",
                         0, 0),
                     BT_OK);
    ck_assert_uint_eq(f.out.n, 6);
    const double *v = f.out.x[BT_CH_SPEED], *lap = f.out.x[BT_CH_LAP];
    ck_assert(isnan(v[0])); /* before the first value */
    NEAR(v[1], 10);
    NEAR(v[2], 12.5); /* a quarter of the way in time, half of it in rows */
    NEAR(v[3], 20);
    ck_assert(isnan(v[4]) && isnan(v[5])); /* after the last one */
    ck_assert(isnan(lap[0]));
    NEAR(lap[3], 3);
    NEAR(lap[5], 4);
    ck_assert_uint_eq(f.counts.bad_cells, 0);
    done(&f);
}
END_TEST

START_TEST(a_hole_of_a_second_is_filled_and_a_longer_one_is_not)
{
    fixture f;
    ck_assert_int_eq(run(&f,
                         "time,speed,pedal_front\n"
                         "0,1,0\n0.1,1,0\n0.2,1,0\n0.7,,0\n1.2,2,0\n"
                         "1.3,2,0\n1.8,,0\n2.301,4,0\n2.4,4,0\n",
                         0, 0),
                     BT_OK);
    NEAR(f.out.x[BT_CH_SPEED][3], 1.5);        /* 0.2 to 1.2 is exactly 1 s */
    ck_assert(isnan(f.out.x[BT_CH_SPEED][6])); /* 1.3 to 2.301 is more */
    NEAR(f.out.x[BT_CH_SPEED][7], 4);
    done(&f);
}
END_TEST

START_TEST(a_slow_channel_is_filled_over_five_of_its_own_intervals)
{
    /* Values each 0.8 s: holes up to 4 s are filled, the one of 4.1 s is not. */
    char log[4096];
    size_t at = (size_t)snprintf(log, sizeof log, "time,speed,ambient\n");
    for (int i = 0; i <= 150; i++) {
        const bool early = i <= 32 && i % 8 == 0, later = i == 72 || i == 113;
        at += (size_t)snprintf(log + at, sizeof log - at, "%d.%d,1,%s\n", i / 10, i % 10,
                               early || later ? (i == 113  ? "61"
                                                 : i == 72 ? "60"
                                                           : "20")
                                              : "");
    }
    fixture f;
    ck_assert_int_eq(run(&f, log, 0, 0), BT_OK);
    const double *a = f.out.x[BT_CH_AMBIENT];
    NEAR(a[4], 293.15);
    NEAR(a[52], 293.15 + 20); /* half way from 3.2 s to 7.2 s */
    ck_assert(isnan(a[90]));
    NEAR(a[113], 273.15 + 61);
    done(&f);
}
END_TEST

START_TEST(repeated_and_slightly_backward_rows_are_dropped_and_counted)
{
    fixture f;
    ck_assert_int_eq(run(&f, "time,speed\n0,1\n0.1,2\n0.1,3\n0.05,4\n0.2,5\nnan,6\n0.3,7\n", 0, 0),
                     BT_OK);
    ck_assert_uint_eq(f.out.n, 4);
    ck_assert_uint_eq(f.out.ends, 1);
    ck_assert_uint_eq(f.counts.rows, 7);
    ck_assert_uint_eq(f.counts.dropped, 3);
    NEAR(f.out.x[BT_CH_SPEED][1], 2); /* the first of the two stays */
    NEAR(f.out.x[BT_CH_SPEED][3], 7);
    done(&f);
}
END_TEST

START_TEST(two_rows_of_one_time_with_different_channels_are_one_sample)
{
    fixture f;
    ck_assert_int_eq(run(&f, "time,speed,pedal_front\n0,1,0\n0.1,2,\n0.1,,7\n0.2,3,8\n", 0, 0),
                     BT_OK);
    ck_assert_uint_eq(f.out.n, 3);
    ck_assert_uint_eq(f.counts.dropped, 0);
    NEAR(f.out.x[BT_CH_SPEED][1], 2);
    NEAR(f.out.x[BT_CH_PEDAL_FRONT][1], 7e5);
    done(&f);
}
END_TEST

START_TEST(a_jump_back_and_a_long_hole_start_a_new_stretch)
{
    fixture f;
    ck_assert_int_eq(run(&f,
                         "time,speed,lap\n100,1,1\n100.1,,1\n105.2,3,\n105.3,4,\n"
                         "103,5,2\n103.1,6,\n108.1,7,\n",
                         0, 0),
                     BT_OK);
    ck_assert_uint_eq(f.out.n, 7);
    ck_assert_uint_eq(f.out.ends, 3); /* 5.0 s at the end is no hole */
    ck_assert_uint_eq(f.counts.gaps, 2);
    ck_assert(isnan(f.out.x[BT_CH_SPEED][1])); /* nothing is drawn across */
    NEAR(f.out.t[3], 5.3);
    NEAR(f.out.t[4], 3); /* the log's own time */
    NEAR(f.out.x[BT_CH_LAP][3], 1);
    done(&f);
}
END_TEST

START_TEST(bad_cells_are_counted_and_the_first_is_named)
{
    fixture f;
    ck_assert_int_eq(run(&f,
                         "time,speed,a,b,note\n0,1,0,0,x\n0.1,12..4,0,0,y\n0.2,oops,0,0,z\n"
                         "0.3,4,0,0,x\n",
                         0, 0),
                     BT_OK);
    ck_assert_uint_eq(f.counts.bad_cells, 2); /* the unused column costs nothing */
    ck_assert_uint_eq(f.counts.bad_line, 3);
    ck_assert_uint_eq(f.counts.bad_column, 2);
    ck_assert_str_eq(f.counts.bad_text, "12..4");
    NEAR(f.out.x[BT_CH_SPEED][2], 3);
    done(&f);
}
END_TEST

START_TEST(a_log_without_time_takes_the_rate)
{
    fixture f;
    ck_assert_int_eq(run(&f, "speed,lap\n1,1\n2,1\n3,1\n", 60, 0), BT_OK);
    ck_assert_uint_eq(f.out.n, 3);
    ck_assert_double_eq_tol(f.out.t[2], 2 / 60.0, 1e-9);
    done(&f);
}
END_TEST

START_TEST(no_readable_time_at_all_is_an_error_with_its_place)
{
    fixture f;
    ck_assert_int_eq(run(&f, "time,speed\nx1,1\nx2,2\nx3,3\n", 0, 0), BT_SYNTAX);
    ck_assert_str_eq(f.err.message, "time: expected seconds, a clock time or a date, found 'x1'");
    ck_assert_uint_eq(f.err.line, 2);
    ck_assert_uint_eq(f.err.column, 1);
    done(&f);
}
END_TEST

START_TEST(long_and_wide_layouts_give_the_same_samples)
{
    fixture wide, tall;
    ck_assert_int_eq(
        run(&wide, "time,speed,pedal_front,lap\n1,10,,\n1.1,,2,1\n1.2,30,,\n1.3,,4,2\n1.4,,,\n", 0,
            0),
        BT_OK);
    ck_assert_int_eq(
        run(&tall,
            "time,signal,value\n1,speed,10\n1.1,pedal_front,2\n1.1,lap,1\n1.2,speed,30\n"
            "1.3,pedal_front,4\n1.3,lap,2\n1.4,else,5\n1.4,else,6\n",
            0, 0),
        BT_OK);
    ck_assert_int_eq(tall.channels.layout, BT_LAYOUT_LONG);
    ck_assert_uint_eq(wide.out.n, 5);
    ck_assert_uint_eq(tall.out.n, 5);
    const int channels[] = {BT_CH_SPEED, BT_CH_PEDAL_FRONT, BT_CH_LAP};
    for (size_t i = 0; i < 5; i++) {
        NEAR(tall.out.t[i], wide.out.t[i]);
        for (int c = 0; c < 3; c++) {
            const double a = wide.out.x[channels[c]][i], b = tall.out.x[channels[c]][i];
            ck_assert(a == b || (isnan(a) && isnan(b)));
        }
    }
    NEAR(tall.out.x[BT_CH_SPEED][1], 20);
    ck_assert(isnan(tall.out.x[BT_CH_PEDAL_FRONT][0]));
    done(&wide);
    done(&tall);
}
END_TEST

START_TEST(a_second_value_of_a_signal_at_one_time_is_dropped)
{
    fixture f;
    ck_assert_int_eq(
        run(&f, "time,signal,value\n0,speed,1\n0,speed,9\n0.1,speed,2\n0.2,speed,3\n", 0, 0),
        BT_OK);
    ck_assert_uint_eq(f.out.n, 3);
    ck_assert_uint_eq(f.counts.dropped, 1);
    NEAR(f.out.x[BT_CH_SPEED][0], 1);
    done(&f);
}
END_TEST

/* A multi-rate log long enough to fill many blocks, with holes short and long. */
static char *multi_rate(size_t rows)
{
    const size_t cap = rows * 64 + 64;
    char *log = malloc(cap);
    ck_assert_ptr_nonnull(log);
    size_t at = (size_t)snprintf(log, cap, "time,speed,pedal_front,disc_fl,lap\n");
    for (size_t i = 0; i < rows; i++) {
        char v[24] = "", p[24] = "", d[24] = "", lap[24] = "";
        if (i % 3 == 0 && !(i > 3000 && i < 4500)) snprintf(v, sizeof v, "%zu", i);
        if (i % 3 == 1) snprintf(p, sizeof p, "%.1f", (double)(i % 100) * 0.5);
        if (i % 700 == 2) snprintf(d, sizeof d, "%zu", i / 10);
        if (i % 2000 == 0) snprintf(lap, sizeof lap, "%zu", i / 2000);
        at += (size_t)snprintf(log + at, cap - at, "%.3f,%s,%s,%s,%s\n", (double)i * 0.002, v, p, d,
                               lap);
    }
    return log;
}

START_TEST(a_multi_rate_log_is_filled_right_through_all_blocks)
{
    const size_t rows = 12000;
    char *log = multi_rate(rows);
    fixture f;
    ck_assert_int_eq(run(&f, log, 0, 0), BT_OK);
    ck_assert_uint_eq(f.out.n, rows);
    for (size_t i = 0; i < rows; i++) {
        /* speed is its row's number: a straight line, so every filled value is that too */
        const double v = f.out.x[BT_CH_SPEED][i];
        if (i > 3000 && i < 4500)
            ck_assert(isnan(v)); /* 3 s without a value */
        else if (i <= (rows - 1) / 3 * 3)
            NEAR(v, (double)i);
        const double d = f.out.x[BT_CH_DISC_FL][i];
        /* 1.4 s apart: the first hole comes before anything is known of the channel */
        if (i >= 702 && i <= 11902)
            ck_assert_double_eq_tol(d, 273.15 + ((double)i - 2) / 10, 0.1);
        else if (i != 2)
            ck_assert(isnan(d));
        NEAR(f.out.x[BT_CH_LAP][i], (double)(i / 2000));
    }
    done(&f);
    free(log);
}
END_TEST

START_TEST(where_the_bytes_were_cut_changes_nothing)
{
    static const size_t chunks[] = {1, 7, 100, 4096};
    char *log = multi_rate(9000);
    fixture whole, split;
    ck_assert_int_eq(run(&whole, log, 0, 0), BT_OK);
    ck_assert_int_eq(run(&split, log, 0, chunks[_i]), BT_OK);
    ck_assert_uint_eq(split.out.n, whole.out.n);
    const size_t bytes = whole.out.n * sizeof(double);
    ck_assert_mem_eq(split.out.t, whole.out.t, bytes);
    for (int c = 0; c < BT_CH_COUNT; c++) ck_assert_mem_eq(split.out.x[c], whole.out.x[c], bytes);
    done(&whole);
    done(&split);
    free(log);
}
END_TEST

START_TEST(a_hole_of_too_many_rows_stays_and_memory_stays_bounded)
{
    /* 0.9 s at 100 kHz: short enough in time, too many rows to hold. */
    const size_t rows = 90001, cap = rows * 24 + 64;
    char *log = malloc(cap);
    ck_assert_ptr_nonnull(log);
    size_t at = (size_t)snprintf(log, cap, "time,speed,lap\n");
    for (size_t i = 0; i < rows; i++)
        at += (size_t)snprintf(log + at, cap - at, "%.5f,%s,1\n", (double)i * 1e-5,
                               i == 0 || i == 1 ? "1"
                               : i == rows - 1  ? "2"
                                                : "");
    fixture f;
    ck_assert_int_eq(run(&f, log, 0, 0), BT_OK);
    ck_assert_uint_eq(f.out.n, rows);
    for (size_t i = 2; i < rows - 1; i++) ck_assert(isnan(f.out.x[BT_CH_SPEED][i]));
    NEAR(f.out.x[BT_CH_SPEED][rows - 1], 2);
    done(&f);
    free(log);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("samples");
    TCase *c = tcase_create("samples");
    tcase_set_timeout(c, 60);
    tcase_add_test(c, full_rows_come_through_as_they_are_in_si);
    tcase_add_test(c, holes_are_filled_by_straight_lines_in_time_and_states_hold);
    tcase_add_test(c, a_hole_of_a_second_is_filled_and_a_longer_one_is_not);
    tcase_add_test(c, a_slow_channel_is_filled_over_five_of_its_own_intervals);
    tcase_add_test(c, repeated_and_slightly_backward_rows_are_dropped_and_counted);
    tcase_add_test(c, two_rows_of_one_time_with_different_channels_are_one_sample);
    tcase_add_test(c, a_jump_back_and_a_long_hole_start_a_new_stretch);
    tcase_add_test(c, bad_cells_are_counted_and_the_first_is_named);
    tcase_add_test(c, a_log_without_time_takes_the_rate);
    tcase_add_test(c, no_readable_time_at_all_is_an_error_with_its_place);
    tcase_add_test(c, long_and_wide_layouts_give_the_same_samples);
    tcase_add_test(c, a_second_value_of_a_signal_at_one_time_is_dropped);
    tcase_add_test(c, a_multi_rate_log_is_filled_right_through_all_blocks);
    tcase_add_loop_test(c, where_the_bytes_were_cut_changes_nothing, 0, 4);
    tcase_add_test(c, a_hole_of_too_many_rows_stays_and_memory_stays_bounded);
    suite_add_tcase(s, c);
    return s;
}

BT_CHECK_MAIN(suite)
