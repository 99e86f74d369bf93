/* The system under the library: reads that are interrupted, come short or fail, files that do not open or
 * become other while they are read, threads that do not start.
 *
 * read, open and pthread_create are wrapped by the linker (see the Makefile).  Only reads of the file under
 * test are touched, and only by the thread that reads it. */
#include "tests/check_support.h"

#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>
#include <zlib.h>

#include "braketally.h"

/* ---- the wrapped calls ---- */

ssize_t __real_read(int fd, void *buf, size_t n);
int __real_open(const char *path, int flags, ...);
int __real_pthread_create(pthread_t *thread, const pthread_attr_t *attr, void *(*run)(void *),
                          void *user);
ssize_t __wrap_read(int fd, void *buf, size_t n);
int __wrap_open(const char *path, int flags, ...);
int __wrap_pthread_create(pthread_t *thread, const pthread_attr_t *attr, void *(*run)(void *),
                          void *user);

static struct {
    bool interrupt;     /* every other call, by a signal */
    size_t most;        /* bytes that a read gives; 0 = as many as asked for */
    size_t broken_from; /* reads from this one on fail; 0 = none */
    size_t reads, calls;
    size_t changes_at; /* before this read the log becomes other, by change(); 0 = never */
    void (*change)(void);
    bool opens_interrupted; /* the next open */
    size_t thread_fails;    /* this one, from 1; 0 = none */
    size_t threads;
} fault;

ssize_t __wrap_read(int fd, void *buf, size_t n)
{
    if (fault.interrupt && fault.calls++ % 2 == 0) {
        errno = EINTR;
        return -1;
    }
    if (++fault.reads == fault.changes_at) fault.change();
    if (fault.reads >= fault.broken_from && fault.broken_from) {
        errno = EIO;
        return -1;
    }
    return __real_read(fd, buf, fault.most && n > fault.most ? fault.most : n);
}

int __wrap_open(const char *path, int flags, ...)
{
    const bool interrupted = fault.opens_interrupted;
    fault.opens_interrupted = false;
    if (!interrupted) return __real_open(path, flags);
    errno = EINTR;
    return -1;
}

int __wrap_pthread_create(pthread_t *thread, const pthread_attr_t *attr, void *(*run)(void *),
                          void *user)
{
    return ++fault.threads == fault.thread_fails ? EAGAIN
                                                 : __real_pthread_create(thread, attr, run, user);
}

/* ---- a log with a braking every 20 s: 100 to 50 km/h in 4 s ---- */

enum { ROWS = 24000, EVERY = 2000, ZONES = ROWS / EVERY };
static char folder[] = "/tmp/braketally-system-XXXXXX";
static char plain[64], packed[64], sheet[64], changing[64];
static size_t plain_bytes;

static void write_both(const char *line, FILE *f, gzFile z)
{
    fputs(line, f);
    ck_assert_int_gt(gzputs(z, line), 0);
}

static void set_up(void)
{
    if (!mkdtemp(folder)) abort();
    snprintf(plain, sizeof plain, "%s/log.csv", folder);
    snprintf(packed, sizeof packed, "%s/log.csv.gz", folder);
    snprintf(sheet, sizeof sheet, "%s/car.csv", folder);
    snprintf(changing, sizeof changing, "%s/changing.csv", folder);
    FILE *f = fopen(plain, "w");
    gzFile z = gzopen(packed, "wb1");
    ck_assert(f && z);
    write_both("time [s],speed [km/h],pedal_front [bar]\n", f, z);
    for (int i = 0; i < ROWS; i++) {
        char line[64];
        const int at = i % EVERY; /* brakes in [500, 900), accelerates in [1000, 1400) */
        const int slowed = at < 500    ? 0
                           : at < 900  ? at - 500
                           : at < 1000 ? 400
                           : at < 1400 ? 1400 - at
                                       : 0;
        snprintf(line, sizeof line, "%d.%02d,%.3f,%d\n", i / 100, i % 100, 100 - 0.125 * slowed,
                 at >= 500 && at < 900 ? 30 : 0);
        write_both(line, f, z);
    }
    plain_bytes = (size_t)ftell(f);
    ck_assert_uint_gt(plain_bytes, 256 * 1024); /* more than the head: it takes its threads */
    fclose(f);
    gzclose(z);
    f = fopen(sheet, "w");
    ck_assert_ptr_nonnull(f);
    fputs("quantity,value,unit\nmass,1240,kg\n", f);
    fclose(f);
}

static void tear_down(void)
{
    remove(plain);
    remove(packed);
    remove(sheet);
    remove(changing);
    rmdir(folder);
}

static void start_afresh(void)
{
    memset(&fault, 0, sizeof fault);
}

static bt_status analyse(const char *path, int threads, bt_result *r, bt_error *err)
{
    const bt_setup setup = {.threads = threads};
    *err = (bt_error){0};
    return bt_analyse(path, &setup, r, err);
}

static void check_whole(const bt_result *r)
{
    ck_assert_str_eq(r->run.status, "ok");
    ck_assert_double_eq(r->run.rows, ROWS);
    ck_assert_uint_eq(r->n_zones, ZONES);
    for (size_t i = 0; i < r->n_zones; i++) {
        ck_assert_double_eq_tol(r->zones[i].start, 5 + 20.0 * (double)i, 0.02);
        ck_assert_double_eq_tol(r->zones[i].duration, 4, 0.03);
    }
}

START_TEST(interrupted_and_short_reads_lose_nothing)
{
    const size_t most[] = {0, 1, 7, 4096};
    const char *const paths[] = {plain, packed};
    for (size_t i = 0; i < sizeof most / sizeof *most; i++)
        for (int p = 0; p < 2; p++) {
            start_afresh();
            fault.most = most[i];
            fault.interrupt = fault.opens_interrupted = true;
            bt_result r;
            bt_error err;
            ck_assert_int_eq(analyse(paths[p], _i, &r, &err), BT_OK);
            check_whole(&r);
            bt_result_clear(&r);
            ck_assert_uint_gt(fault.calls, 2 * (fault.reads - 1));
            ck_assert(!fault.opens_interrupted);
        }
}
END_TEST

/* Rows up to the fault count, the status says that it broke off. */
START_TEST(a_disk_that_breaks_keeps_what_was_read)
{
    for (size_t from = 1; from <= plain_bytes / 65536; from++) {
        start_afresh();
        fault.most = 65536;
        fault.broken_from = from;
        bt_result r;
        bt_error err;
        ck_assert_int_eq(analyse(plain, _i, &r, &err), BT_READ);
        ck_assert_str_eq(err.message, "cannot read: Input/output error");
        ck_assert_str_eq(err.file, plain);
        ck_assert_str_eq(r.run.status, err.message);
        /* 24000 rows in plain_bytes, evenly but for the digits of the time. */
        if (from > 1) {
            const double part = (double)((from - 1) * 65536) / (double)plain_bytes;
            ck_assert_double_eq_tol(r.run.rows, ROWS * part, 0.06 * ROWS);
        }
        bt_result_clear(&r);
    }
}
END_TEST

/* ---- a log that is not the same when its end is read ---- */

enum { PIECE = 4096 };
static char *plain_text; /* the plain log's bytes */

static void write_changing(const char *mode, size_t from, size_t to)
{
    FILE *f = fopen(changing, mode);
    if (!f || fwrite(plain_text + from, 1, to - from, f) != to - from || fclose(f)) abort();
}

static void load_plain(void)
{
    FILE *f = fopen(plain, "r");
    plain_text = malloc(plain_bytes);
    if (!f || !plain_text || fread(plain_text, 1, plain_bytes, f) != plain_bytes) abort();
    fclose(f);
}

static void grow(void)
{
    write_changing("a", plain_bytes / 2, plain_bytes);
}

static void shrink(void)
{
    if (truncate(changing, 1000) != 0) abort();
}

/* Whether while it is read or when its end would have been. */
START_TEST(a_log_that_grows_is_read_to_its_new_end)
{
    load_plain();
    const size_t at[] = {2, 30, (plain_bytes / 2 + PIECE - 1) / PIECE + 1};
    for (size_t i = 0; i < sizeof at / sizeof *at; i++) {
        bt_result r;
        bt_error err;
        write_changing("w", 0, plain_bytes / 2);
        start_afresh();
        fault.most = PIECE;
        fault.changes_at = at[i];
        fault.change = grow;
        ck_assert_int_eq(analyse(changing, _i, &r, &err), BT_OK);
        check_whole(&r);
        ck_assert_uint_eq(r.run.flags & BT_FLAG_TRUNCATED, 0);
        bt_result_clear(&r);
    }
    free(plain_text);
}
END_TEST

/* What was read before counts; what is left of the row it broke off in is flagged. */
START_TEST(a_log_that_shrinks_is_what_was_read_of_it)
{
    load_plain();
    const size_t at[] = {2, 30, plain_bytes / PIECE};
    for (size_t i = 0; i < sizeof at / sizeof *at; i++) {
        const size_t got = (at[i] - 1) * PIECE;
        size_t lines = 0, commas = 0;
        for (size_t k = 0; k < got; k++) {
            lines += plain_text[k] == '\n';
            commas = plain_text[k] == '\n' ? 0 : commas + (plain_text[k] == ',');
        }
        const bool cut = commas < 2 && plain_text[got - 1] != '\n';
        bt_result r;
        bt_error err;
        write_changing("w", 0, plain_bytes);
        start_afresh();
        fault.most = PIECE;
        fault.changes_at = at[i];
        fault.change = shrink;
        ck_assert_int_eq(analyse(changing, _i, &r, &err), BT_OK);
        ck_assert_str_eq(r.run.status, "ok");
        ck_assert_double_eq(r.run.rows,
                            (double)(lines - 1 + (plain_text[got - 1] != '\n' && !cut)));
        ck_assert_int_eq((r.run.flags & BT_FLAG_TRUNCATED) != 0, cut);
        bt_result_clear(&r);
    }
    free(plain_text);
}
END_TEST

START_TEST(a_sheet_on_a_broken_disk_is_refused)
{
    bt_car *car;
    bt_map *map;
    bt_zones zones = {0};
    ck_assert_int_eq(bt_car_new(&car, NULL), BT_OK);
    start_afresh();
    fault.broken_from = 1;
    bt_error err = {0};
    ck_assert_int_eq(bt_car_read(car, sheet, &err), BT_READ);
    ck_assert_str_eq(err.message, "cannot read: Input/output error");
    ck_assert_str_eq(err.file, sheet);
    bt_car_free(car);
    err = (bt_error){0};
    ck_assert_int_eq(bt_map_read(&map, sheet, &err), BT_READ);
    ck_assert_str_eq(err.message, "cannot read: Input/output error");
    err = (bt_error){0};
    ck_assert_int_eq(bt_zones_read(&zones, sheet, &err), BT_READ);
    ck_assert_str_eq(err.message, "cannot read: Input/output error");
}
END_TEST

START_TEST(a_thread_that_does_not_start_is_an_error_and_no_crash)
{
    bt_result r;
    bt_error err;
    start_afresh();
    ck_assert_int_eq(analyse(plain, 2, &r, &err), BT_OK);
    bt_result_clear(&r);
    const size_t threads = fault.threads;
    ck_assert_uint_gt(threads, 0);
    for (size_t i = 1; i <= threads; i++) {
        start_afresh();
        fault.thread_fails = i;
        ck_assert_int_eq(analyse(plain, 2, &r, &err), BT_NOMEM);
        ck_assert_msg(strncmp(err.message, "no thread", 9) == 0, "thread %zu: %s", i, err.message);
        bt_result_clear(&r);
    }
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("system");
    TCase *t = tcase_create("reads and threads");
    tcase_add_unchecked_fixture(t, set_up, tear_down);
    tcase_set_timeout(t, 120);
    tcase_add_loop_test(t, interrupted_and_short_reads_lose_nothing, 1, 3);
    tcase_add_loop_test(t, a_disk_that_breaks_keeps_what_was_read, 1, 3);
    tcase_add_loop_test(t, a_log_that_grows_is_read_to_its_new_end, 1, 3);
    tcase_add_loop_test(t, a_log_that_shrinks_is_what_was_read_of_it, 1, 3);
    tcase_add_test(t, a_sheet_on_a_broken_disk_is_refused);
    tcase_add_test(t, a_thread_that_does_not_start_is_an_error_and_no_crash);
    suite_add_tcase(s, t);
    return s;
}
BT_CHECK_MAIN(suite)
