/* Threads and sizes of blocks change no answer: rings, logs read ahead, whole analyses. */
#include "check_support.h"
#include "rows/log.h"
#include "rows/ring.h"

#include <pthread.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>
#include <zlib.h>

#define COUNT(array) ((int)(sizeof(array) / sizeof *(array)))

/* ---- rings ---- */

enum { NUMBERS = 20000 };

static void *count_up(void *user)
{
    bt_ring *ring = user;
    size_t *slot;
    for (size_t i = 0; i < NUMBERS && (slot = bt_ring_free_slot(ring)); i++) {
        *slot = i;
        bt_ring_filled(ring);
    }
    bt_ring_close(ring);
    return NULL;
}

START_TEST(a_ring_keeps_the_order_whatever_its_size)
{
    bt_ring *ring;
    pthread_t thread;
    ck_assert_int_eq(bt_ring_new(&ring, (size_t)_i, sizeof(size_t), NULL), BT_OK);
    ck_assert_int_eq(pthread_create(&thread, NULL, count_up, ring), 0);
    size_t expected = 0;
    for (const size_t *slot; (slot = bt_ring_full_slot(ring)); expected++) {
        ck_assert_uint_eq(*slot, expected);
        bt_ring_emptied(ring);
    }
    ck_assert_uint_eq(expected, NUMBERS);
    pthread_join(thread, NULL);
    ck_assert_ptr_null(bt_ring_full_slot(ring));
    bt_ring_free(ring);
}
END_TEST

START_TEST(a_taker_that_stops_lets_the_filler_go)
{
    bt_ring *ring;
    pthread_t thread;
    ck_assert_int_eq(bt_ring_new(&ring, 2, sizeof(size_t), NULL), BT_OK);
    ck_assert_int_eq(pthread_create(&thread, NULL, count_up, ring), 0);
    ck_assert_ptr_nonnull(bt_ring_full_slot(ring));
    bt_ring_stop(ring);
    pthread_join(thread, NULL);
    ck_assert_ptr_null(bt_ring_free_slot(ring));
    bt_ring_free(ring);
}
END_TEST

/* ---- logs read ahead ---- */

static char folder[] = "/tmp/check_threads.XXXXXX";
static const size_t name_length = sizeof "XXXXXX" - 1;
static char path[64];
static char text[1500000];

static void write_log(bool packed, size_t n)
{
    size_t used = (size_t)snprintf(text, sizeof text, "time [s],speed [m/s]\n");
    for (int row = 0; used + 40 < sizeof text; row++)
        used += (size_t)snprintf(text + used, sizeof text - used, "%d.%02d,%d.5\n", row / 100,
                                 row % 100, row % 37);
    memset(folder + sizeof folder - 1 - name_length, 'X',
           name_length); /* a new one for each test */
    ck_assert_ptr_nonnull(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/log.csv", folder);
    gzFile f = gzopen(path, packed ? "wb" : "wbT");
    ck_assert_int_eq(gzwrite(f, text, (unsigned)n), (int)n);
    ck_assert_int_eq(gzclose(f), Z_OK);
}

static void remove_log(void)
{
    unlink(path);
    rmdir(folder);
}

static const size_t sizes[] = {0, 1000, 65536, 300001, 4000000};

START_TEST(a_log_read_ahead_is_the_same_bytes)
{
    const size_t n = 1400000;
    write_log(_i, n);
    for (int threads = 1; threads <= 2; threads++)
        for (int size = 0; size < COUNT(sizes); size++) {
            const bt_setup setup = {.threads = threads, .block_bytes = sizes[size]};
            bt_log log;
            size_t at = 0;
            ck_assert_int_eq(bt_log_open(&log, path, &setup, NULL), BT_OK);
            while (log.n > 0) {
                ck_assert(at + log.n <= n && memcmp(text + at, log.bytes, log.n) == 0);
                at += log.n;
                ck_assert_int_eq(bt_log_next(&log, NULL), BT_OK);
            }
            ck_assert_uint_eq(at, n);
            ck_assert_int_eq(bt_log_next(&log, NULL), BT_OK); /* over is over */
            ck_assert_uint_eq(log.n, 0);
            ck_assert_int_eq(log.reader != NULL, threads == 2);
            bt_log_close(&log);
        }
    remove_log();
}
END_TEST

START_TEST(a_log_may_be_left_before_its_end)
{
    write_log(true, 1400000);
    const bt_setup setup = {.threads = 2, .block_bytes = 10000};
    bt_log log;
    ck_assert_int_eq(bt_log_open(&log, path, &setup, NULL), BT_OK);
    bt_log_close(&log);
    ck_assert_int_eq(bt_log_open(&log, path, &setup, NULL), BT_OK);
    ck_assert_int_eq(bt_log_next(&log, NULL), BT_OK);
    bt_log_close(&log);
    remove_log();
}
END_TEST

/* Damage beyond the head: what comes before it is there, then the same error either way. */
START_TEST(a_fault_comes_behind_what_was_good_on_any_number_of_threads)
{
    write_log(true, 1400000);
    FILE *f = fopen(path, "r+b");
    ck_assert_int_eq(fseek(f, 0, SEEK_END), 0);
    const long end = ftell(f);
    ck_assert_int_eq(fseek(f, end * 3 / 4, SEEK_SET), 0);
    for (int i = 0; i < 64; i++) fputc(0xff, f);
    fclose(f);
    size_t read[2] = {0};
    bt_error err[2] = {{0}, {0}};
    for (int threads = 1; threads <= 2; threads++) {
        const bt_setup setup = {.threads = threads};
        bt_error *e = &err[threads - 1];
        bt_log log;
        bt_status status = bt_log_open(&log, path, &setup, e);
        ck_assert_int_eq(status, BT_OK);
        while (status == BT_OK && log.n > 0) {
            read[threads - 1] += log.n;
            status = bt_log_next(&log, e);
        }
        read[threads - 1] += log.n;
        ck_assert_int_eq(status, BT_READ);
        bt_log_close(&log);
    }
    ck_assert_uint_gt(read[0], BT_DIALECT_HEAD);
    ck_assert_uint_eq(read[0], read[1]);
    ck_assert_str_eq(err[0].message, err[1].message);
    ck_assert_str_eq(err[0].file, err[1].file);
    remove_log();
}
END_TEST

/* ---- analyses ---- */

typedef struct {
    char *bytes;
    size_t n, room;
} output;

static bt_status keep(void *user, const char *bytes, size_t n, bt_error *err)
{
    (void)err;
    output *o = user;
    if (o->n + n > o->room) {
        o->room = 2 * (o->n + n);
        o->bytes = realloc(o->bytes, o->room);
        if (!o->bytes) return BT_NOMEM;
    }
    memcpy(o->bytes + o->n, bytes, n);
    o->n += n;
    return BT_OK;
}

static bt_status keep_trace(void *user, const bt_trace *sample, bt_error *err)
{
    return bt_writer_row(user, sample, err);
}

/* Zones, run row and trace of a log as text, and what went wrong. */
static output analysed(const char *log, bt_setup setup, bt_error *err)
{
    output o = {0};
    bt_writer *trace, *zones, *run;
    bt_result result;
    ck_assert_int_eq(bt_writer_new(&trace, BT_TABLE_TRACE, NULL, keep, &o, NULL), BT_OK);
    setup.trace = keep_trace;
    setup.user = trace;
    const bt_status status = bt_analyse(log, &setup, &result, err);
    ck_assert_int_eq(bt_writer_end(trace, NULL), BT_OK);
    ck_assert_int_eq(status, err->status);
    ck_assert_int_eq(bt_writer_new(&zones, BT_TABLE_ZONES, NULL, keep, &o, NULL), BT_OK);
    for (size_t i = 0; i < result.n_zones; i++)
        ck_assert_int_eq(bt_writer_row(zones, &result.zones[i], NULL), BT_OK);
    ck_assert_int_eq(bt_writer_end(zones, NULL), BT_OK);
    ck_assert_int_eq(bt_writer_new(&run, BT_TABLE_RUNS, NULL, keep, &o, NULL), BT_OK);
    ck_assert_int_eq(bt_writer_row(run, &result.run, NULL), BT_OK);
    ck_assert_int_eq(bt_writer_end(run, NULL), BT_OK);
    bt_writer_free(trace);
    bt_writer_free(zones);
    bt_writer_free(run);
    bt_result_clear(&result);
    return o;
}

#define DEMO "testdata/demo/"

START_TEST(threads_and_blocks_change_no_byte_of_an_analysis)
{
    static const char *const logs[] = {DEMO "saltmarsh_stops.csv.gz", DEMO "saltmarsh_run4.csv.gz"};
    bt_car *car;
    bt_map *map;
    bt_error err = {0};
    ck_assert_int_eq(bt_car_new(&car, &err), BT_OK);
    ck_assert_int_eq(bt_car_read(car, DEMO "car.csv", &err), BT_OK);
    ck_assert_int_eq(bt_map_read(&map, DEMO "map.csv", &err), BT_OK);
    bt_setup setup = {.car = car, .map = map, .threads = 1};
    const output whole = analysed(logs[_i], setup, &err);
    ck_assert_uint_gt(whole.n, 100000);
    for (int size = 0; size < COUNT(sizes); size++) {
        setup.block_bytes = sizes[size];
        setup.threads = 2 - size % 3 % 2; /* 2 with the default size, 1 and 2 with others */
        const output other = analysed(logs[_i], setup, &err);
        ck_assert(other.n == whole.n && memcmp(other.bytes, whole.bytes, whole.n) == 0);
        free(other.bytes);
    }
    free(whole.bytes);
    bt_map_free(map);
    bt_car_free(car);
}
END_TEST

typedef struct {
    int left;
} refusal;

static bt_status refuse(void *user, const bt_trace *sample, bt_error *err)
{
    (void)sample;
    refusal *r = user;
    if (--r->left > 0) return BT_OK;
    snprintf(err->message, sizeof err->message, "enough");
    return err->status = BT_WRITE;
}

START_TEST(an_error_behind_the_samples_ends_the_analysis_on_any_number_of_threads)
{
    write_log(false, 1400000);
    for (int threads = 1; threads <= 2; threads++) {
        refusal r = {.left = 20000};
        const bt_setup setup = {.threads = threads, .trace = refuse, .user = &r};
        bt_result result;
        bt_error err = {0};
        ck_assert_int_eq(bt_analyse(path, &setup, &result, &err), BT_WRITE);
        ck_assert_str_eq(err.message, "enough");
        ck_assert_str_eq(err.file, path);
        ck_assert_int_eq(r.left, 0);
        bt_result_clear(&result);
    }
    remove_log();
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("threads");
    TCase *t = tcase_create("threads");
    tcase_set_timeout(t, 120);
    tcase_add_loop_test(t, a_ring_keeps_the_order_whatever_its_size, 1, 4);
    tcase_add_test(t, a_taker_that_stops_lets_the_filler_go);
    tcase_add_loop_test(t, a_log_read_ahead_is_the_same_bytes, 0, 2);
    tcase_add_test(t, a_log_may_be_left_before_its_end);
    tcase_add_test(t, a_fault_comes_behind_what_was_good_on_any_number_of_threads);
    tcase_add_loop_test(t, threads_and_blocks_change_no_byte_of_an_analysis, 0, 2);
    tcase_add_test(t, an_error_behind_the_samples_ends_the_analysis_on_any_number_of_threads);
    suite_add_tcase(s, t);
    return s;
}

BT_CHECK_MAIN(suite)
