/* Sources: plain and gzip, whole, cut and damaged, from memory, files and pipes, in reads of
 * any size. */
#include "check_support.h"
#include "rows/source.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>
#include <zlib.h>

enum { ROOM = 1 << 16 };

static char text[5000]; /* what the sources hold */
static unsigned char packed[ROOM];

static void setup(void)
{
    unsigned x = 1;
    for (size_t i = 0; i < sizeof text; i++) {
        x = x * 1103515245u + 12345u; /* poorly compressible, so that cuts fall everywhere */
        text[i] = i % 40 == 39 ? '\n' : (char)(' ' + (x >> 16) % 64);
    }
}

/* bytes as a gzip member to `out`; its length. */
static size_t gzip(const char *bytes, size_t n, unsigned char *out)
{
    z_stream z = {0};
    ck_assert_int_eq(deflateInit2(&z, 6, Z_DEFLATED, MAX_WBITS + 16, 8, Z_DEFAULT_STRATEGY), Z_OK);
    z.next_in = (Bytef *)(uintptr_t)bytes;
    z.avail_in = (uInt)n;
    z.next_out = out;
    z.avail_out = ROOM;
    ck_assert_int_eq(deflate(&z, Z_FINISH), Z_STREAM_END);
    const size_t length = ROOM - z.avail_out;
    deflateEnd(&z);
    return length;
}

/* All that a source gives in reads of `cap`; the status of the last one. */
static bt_status drain(bt_source *s, size_t cap, char *out, size_t *length, bt_error *err)
{
    *length = 0;
    for (;;) {
        size_t n;
        const bt_status status = bt_source_read(s, out + *length, cap, &n, err);
        ck_assert_uint_le(n, cap);
        if (status != BT_OK || n == 0) return status;
        *length += n;
    }
}

static bt_status from_memory(const void *bytes, size_t n, size_t chunk, size_t cap, char *out,
                             size_t *length, bool *truncated, bt_error *err)
{
    bt_source *s;
    ck_assert_int_eq(bt_source_memory(&s, bytes, n, chunk, err), BT_OK);
    const bt_status status = drain(s, cap, out, length, err);
    *truncated = bt_source_truncated(s);
    if (status == BT_OK) {
        uint64_t done, total;
        bt_source_progress(s, &done, &total);
        ck_assert_uint_eq(done, n);
        ck_assert_uint_eq(total, n);
    }
    bt_source_free(s);
    return status;
}

static const size_t chunks[] = {0, 1, 2, 3, 7, 64, 1000};

static void expect(const void *bytes, size_t n, const char *wanted, size_t wanted_length,
                   bool wanted_truncated)
{
    static char out[ROOM];
    for (size_t c = 0; c < sizeof chunks / sizeof *chunks; c++)
        for (size_t cap = 1; cap <= 10001; cap = cap * 3 + 1) {
            bt_error err = {0};
            size_t length;
            bool truncated;
            ck_assert_int_eq(from_memory(bytes, n, chunks[c], cap, out, &length, &truncated, &err),
                             BT_OK);
            ck_assert_uint_eq(length, wanted_length);
            ck_assert_int_eq(memcmp(out, wanted, length), 0);
            ck_assert_int_eq(truncated, wanted_truncated);
        }
}

START_TEST(plain_bytes_come_as_they_are)
{
    expect(text, sizeof text, text, sizeof text, false);
    expect("x", 1, "x", 1, false);
    expect("", 0, "", 0, false);
    expect(NULL, 0, "", 0, false);
    expect("\x1f", 1, "\x1f", 1, false); /* too short for gzip */
}
END_TEST

START_TEST(gzip_is_inflated_whatever_the_size_of_reads)
{
    const size_t n = gzip(text, sizeof text, packed);
    expect(packed, n, text, sizeof text, false);
}
END_TEST

START_TEST(members_follow_one_another_and_zero_bytes_may_pad_the_end)
{
    size_t n = gzip(text, 1000, packed);
    n += gzip(text, 0, packed + n);
    n += gzip(text + 1000, sizeof text - 1000, packed + n);
    expect(packed, n, text, sizeof text, false);
    memset(packed + n, 0, 700);
    expect(packed, n + 700, text, sizeof text, false);
}
END_TEST

START_TEST(a_member_cut_anywhere_gives_what_it_has_and_says_so)
{
    static char out[ROOM];
    const size_t n = gzip(text, sizeof text, packed);
    size_t before = 0;
    for (size_t cut = 2; cut < n; cut++) {
        bt_error err = {0};
        size_t length;
        bool truncated;
        ck_assert_int_eq(from_memory(packed, cut, 0, 777, out, &length, &truncated, &err), BT_OK);
        ck_assert(truncated);
        ck_assert_uint_ge(length, before);
        ck_assert_int_eq(memcmp(out, text, length), 0);
        before = length;
    }
    ck_assert_uint_eq(before, sizeof text); /* only the check sum was missing */
    /* a second member that is no more than a byte */
    bt_error err = {0};
    size_t length;
    bool truncated;
    packed[n] = 0x1f;
    ck_assert_int_eq(from_memory(packed, n + 1, 0, 777, out, &length, &truncated, &err), BT_OK);
    ck_assert(truncated);
    ck_assert_uint_eq(length, sizeof text);
}
END_TEST

START_TEST(a_damaged_member_is_an_error_behind_the_good_bytes)
{
    static char out[ROOM];
    const size_t n = gzip(text, sizeof text, packed);
    packed[n - 8] ^= 1; /* the check sum: all bytes are good */
    bt_error err = {0};
    size_t length;
    bool truncated;
    ck_assert_int_eq(from_memory(packed, n, 0, 777, out, &length, &truncated, &err), BT_READ);
    ck_assert_uint_eq(length, sizeof text);
    ck_assert_int_eq(memcmp(out, text, length), 0);
    ck_assert(!truncated);
    char wanted[100];
    snprintf(wanted, sizeof wanted, "damaged gzip near byte %zu: incorrect data check", n - 4);
    ck_assert_str_eq(err.message, wanted);
}
END_TEST

START_TEST(the_same_error_comes_again)
{
    char out[16];
    size_t n;
    bt_source *s;
    bt_error err = {0};
    ck_assert_int_eq(bt_source_memory(&s, "\x1f\x8b\x07\0", 4, 0, &err), BT_OK);
    for (int i = 0; i < 3; i++) {
        err = (bt_error){0};
        ck_assert_int_eq(bt_source_read(s, out, sizeof out, &n, &err), BT_READ);
        ck_assert_uint_eq(n, 0);
        ck_assert_str_eq(err.message, "damaged gzip near byte 4: unknown compression method");
    }
    bt_source_free(s);
}
END_TEST

START_TEST(junk_behind_the_last_member_is_an_error_behind_the_good_bytes)
{
    static char out[ROOM];
    const size_t n = gzip(text, sizeof text, packed);
    packed[n] = 0;
    memcpy(packed + n + 1, "junk", 4);
    bt_error err = {0};
    size_t length;
    bool truncated;
    ck_assert_int_eq(from_memory(packed, n + 5, 0, 777, out, &length, &truncated, &err), BT_READ);
    ck_assert_uint_eq(length, sizeof text);
    char wanted[100];
    snprintf(wanted, sizeof wanted, "expected the end of the gzip file behind byte %zu, found more",
             n + 1);
    ck_assert_str_eq(err.message, wanted);
}
END_TEST

static char folder[] = "/tmp/bt_source_XXXXXX";

static void file_with(char *path, size_t cap, const void *bytes, size_t n)
{
    strcpy(folder + strlen(folder) - 6, "XXXXXX");
    ck_assert_ptr_nonnull(mkdtemp(folder));
    snprintf(path, cap, "%s/log", folder);
    FILE *f = fopen(path, "wb");
    ck_assert_ptr_nonnull(f);
    ck_assert_uint_eq(fwrite(bytes, 1, n, f), n);
    ck_assert_int_eq(fclose(f), 0);
}

START_TEST(a_file_is_read_plain_or_gzip_and_tells_its_size)
{
    char path[100];
    static char out[ROOM];
    const size_t n = gzip(text, sizeof text, packed);
    for (int plain = 0; plain < 2; plain++) {
        bt_error err = {0};
        bt_source *s;
        size_t length;
        uint64_t done, total;
        if (plain)
            file_with(path, sizeof path, text, sizeof text);
        else
            file_with(path, sizeof path, packed, n);
        ck_assert_int_eq(bt_source_open(&s, path, &err), BT_OK);
        ck_assert_int_eq(drain(s, 999, out, &length, &err), BT_OK);
        ck_assert_uint_eq(length, sizeof text);
        ck_assert_int_eq(memcmp(out, text, length), 0);
        bt_source_progress(s, &done, &total);
        ck_assert_uint_eq(done, plain ? sizeof text : n);
        ck_assert_uint_eq(total, done);
        bt_source_free(s);
        unlink(path);
        rmdir(folder);
    }
}
END_TEST

START_TEST(standard_input_may_be_a_pipe_and_its_size_is_not_known)
{
    int ends[2];
    static char out[ROOM];
    bt_error err = {0};
    bt_source *s;
    size_t length;
    uint64_t done, total;
    const size_t n = gzip(text, sizeof text, packed);
    ck_assert_int_eq(pipe(ends), 0);
    ck_assert_int_eq(write(ends[1], packed, n), (int)n); /* fits into the pipe */
    close(ends[1]);
    const int saved = dup(STDIN_FILENO);
    dup2(ends[0], STDIN_FILENO);
    ck_assert_int_eq(bt_source_open(&s, "-", &err), BT_OK);
    ck_assert_int_eq(drain(s, 999, out, &length, &err), BT_OK);
    bt_source_progress(s, &done, &total);
    bt_source_free(s);
    dup2(saved, STDIN_FILENO);
    close(saved);
    close(ends[0]);
    ck_assert_uint_eq(length, sizeof text);
    ck_assert_int_eq(memcmp(out, text, length), 0);
    ck_assert_uint_eq(done, n);
    ck_assert_uint_eq(total, 0);
}
END_TEST

START_TEST(what_cannot_be_read_is_named)
{
    bt_error err = {0};
    bt_source *s = (bt_source *)&err;
    ck_assert_int_eq(bt_source_open(&s, "/nowhere/log.csv", &err), BT_READ);
    ck_assert_ptr_null(s);
    ck_assert_str_eq(err.file, "/nowhere/log.csv");
    ck_assert_str_eq(err.message, "cannot open: No such file or directory");
    err = (bt_error){0};
    ck_assert_int_eq(bt_source_open(&s, "/", &err), BT_READ);
    ck_assert_str_eq(err.file, "/");
    ck_assert_str_eq(err.message, "cannot read: Is a directory");
    bt_source_free(NULL);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("source");
    TCase *t = tcase_create("source");
    tcase_set_timeout(t, 60);
    tcase_add_checked_fixture(t, setup, NULL);
    tcase_add_test(t, plain_bytes_come_as_they_are);
    tcase_add_test(t, gzip_is_inflated_whatever_the_size_of_reads);
    tcase_add_test(t, members_follow_one_another_and_zero_bytes_may_pad_the_end);
    tcase_add_test(t, a_member_cut_anywhere_gives_what_it_has_and_says_so);
    tcase_add_test(t, a_damaged_member_is_an_error_behind_the_good_bytes);
    tcase_add_test(t, the_same_error_comes_again);
    tcase_add_test(t, junk_behind_the_last_member_is_an_error_behind_the_good_bytes);
    tcase_add_test(t, a_file_is_read_plain_or_gzip_and_tells_its_size);
    tcase_add_test(t, standard_input_may_be_a_pipe_and_its_size_is_not_known);
    tcase_add_test(t, what_cannot_be_read_is_named);
    suite_add_tcase(s, t);
    return s;
}

BT_CHECK_MAIN(suite)
