/* Tables: rows of cells from bytes cut anywhere. */
#include "check_support.h"
#include "rows/table.h"

#include <stdio.h>
#include <string.h>

#define COUNT(array) ((int)(sizeof(array) / sizeof *(array)))

/* Rows as "line:fields:cell|cell;" one behind the other. */
typedef struct {
    char text[4000];
    size_t used;
    size_t wanted;
    int stop_after; /* rows; 0 = never */
} rows;

static bt_status take(void *user, const bt_row *row, bt_error *err)
{
    rows *r = user;
    if (r->stop_after && --r->stop_after == 0) {
        snprintf(err->message, sizeof err->message, "enough");
        err->status = BT_RANGE;
        err->line = row->line;
        return BT_RANGE;
    }
    r->used += (size_t)snprintf(r->text + r->used, sizeof r->text - r->used,
                                "%d:%zu:", (int)row->line, row->fields);
    for (size_t i = 0; i < r->wanted; i++)
        r->used += (size_t)snprintf(r->text + r->used, sizeof r->text - r->used, "%.*s%s",
                                    (int)row->cell[i].len, row->cell[i].text,
                                    i + 1 < r->wanted ? "|" : "");
    r->used += (size_t)snprintf(r->text + r->used, sizeof r->text - r->used, ";");
    return BT_OK;
}

/* bytes[0..n) in pieces of `chunk` through a table; the status of the first failure. */
static bt_status read_rows(rows *r, const bt_dialect *d, const size_t *wanted, size_t n_wanted,
                           const char *bytes, size_t n, size_t chunk, bool *truncated,
                           bt_error *err)
{
    bt_table *t;
    r->used = 0;
    r->text[0] = '\0';
    r->wanted = n_wanted;
    bt_status status = bt_table_new(&t, d, wanted, n_wanted, take, r, err);
    for (size_t at = 0; status == BT_OK && at < n; at += chunk)
        status = bt_table_push(t, bytes + at, n - at < chunk ? n - at : chunk, err);
    if (status == BT_OK) status = bt_table_end(t, err);
    *truncated = bt_table_truncated(t);
    bt_table_free(t);
    return status;
}

/* A header of three columns in line 1, then: */
static const struct {
    char delimiter;
    const char *data, *rows;
    bool truncated;
} logs[] = {
    {',', "", "", false},
    {',', "1,2,3\n4,5,6\n", "2:3:1|2|3;3:3:4|5|6;", false},
    {',', "1,2,3\r\n4,5,6\r\n", "2:3:1|2|3;3:3:4|5|6;", false},
    {',', "1,2,3\r4,5,6\r", "2:3:1|2|3;3:3:4|5|6;", false},
    {',', "1,2,3\n4,5,6", "2:3:1|2|3;3:3:4|5|6;", false}, /* no last line end: sound */
    {';', "1;2,5;3\n", "2:3:1|2,5|3;", false},
    {'\t', "1\t2\t3\n\t\t\n", "2:3:1|2|3;3:3:||;", false},
    {',', ",,\n", "2:3:||;", false},
    /* blank lines count, but are no rows */
    {',', "\n\n1,2,3\n\r\n \n4,5,6\n\n", "4:3:1|2|3;7:3:4|5|6;", false},
    {',', "\r\r\n1,2,3\n", "4:3:1|2|3;", false},
    /* blanks around unquoted cells go, those in quotes stay */
    {',', " 1 ,\t2,\" 3 \"\n", "2:3:1|2| 3 ;", false},
    /* RFC 4180 */
    {',', "\"a,b\",\"c\"\"d\",\"\"\n1,2,3\n", "2:3:a,b|c\"d|;3:3:1|2|3;", false},
    {',', "\"a\nb\r\nc\",2,3\n4,5,\"\n\"\n7,8,9\n", "2:3:a\nb\r\nc|2|3;5:3:4|5|\n;7:3:7|8|9;",
     false},
    {',', "1,\"2\",3\n", "2:3:1|2|3;", false},
    {',', "1,2\"in\",3\n", "2:3:1|2\"in\"|3;", false}, /* 2" pipe */
    {',', "\"\",\"\",\"\"", "2:3:||;", false},
    /* too few and too many fields */
    {',', "1,2\n4,5,6\n7\n8,9,10\n", "2:2:1|2|;3:3:4|5|6;4:1:7||;5:3:8|9|10;", false},
    {',', "1,2,3,4,5\n", "2:5:1|2|3;", false},
    /* the end in the middle of a row */
    {',', "1,2,3\n4,5", "2:3:1|2|3;", true},
    {',', "1,2,3\n4", "2:3:1|2|3;", true},
    {',', "1,2,3\n4,", "2:3:1|2|3;", true},
    {',', "1,2,3\n4,5\n", "2:3:1|2|3;3:2:4|5|;", true},
    {',', "1,2\n4,5\n", "2:2:1|2|;3:2:4|5|;", false}, /* this logger's rows are short */
    {',', "1,2,3\n4,5,\"6", "2:3:1|2|3;", true},
    {',', "1,2,3\n\"4\n,5,6\n", "2:3:1|2|3;", true},
    {',', "1,2,3\n4,5,\"6\"", "2:3:1|2|3;3:3:4|5|6;", false},
    {',', "1,2,3\n4,5,", "2:3:1|2|3;3:3:4|5|;", false},
};

static bt_dialect three_columns(char delimiter, size_t offset, uint64_t line)
{
    return (bt_dialect){.delimiter = delimiter,
                        .decimal = '.',
                        .columns = 3,
                        .data_offset = offset,
                        .data_line = line};
}

START_TEST(rows_are_the_same_however_the_bytes_are_cut)
{
    static const size_t wanted[] = {0, 1, 2};
    char log[400];
    const int n = snprintf(log, sizeof log, "a,b,c\n%s", logs[_i].data);
    const bt_dialect d = three_columns(logs[_i].delimiter, 6, 2);
    for (size_t chunk = 1; chunk <= (size_t)n; chunk++) {
        rows r = {0};
        bt_error err = {0};
        bool truncated;
        ck_assert_int_eq(read_rows(&r, &d, wanted, 3, log, (size_t)n, chunk, &truncated, &err),
                         BT_OK);
        ck_assert_str_eq(r.text, logs[_i].rows);
        ck_assert_int_eq(truncated, logs[_i].truncated);
    }
}
END_TEST

/* Random text in which quotes, blanks and line ends of every kind meet.  Byte by byte all of it
 * goes through libcsv; in larger pieces whole plain lines are cut where they lie, but for those in
 * the last 64 bytes of a piece. */
START_TEST(plain_lines_are_cut_as_libcsv_cuts_them)
{
    static const char letters[] = "11,,,  \t\n\n\n\r\"x;";
    static const size_t wanted[] = {2, 0, 1};
    unsigned x = 1;
    for (int round = 0; round < 900; round++) {
        char log[400];
        for (size_t i = 0; i < sizeof log; i++) {
            x = x * 1103515245u + 12345u;
            /* fewer quotes in some rounds, none in others */
            const size_t choices = sizeof letters - 1 - (round % 3 ? 3 : 0);
            log[i] = letters[(x >> 16) % choices];
        }
        const bt_dialect d = three_columns(",;\t"[round % 5 % 3], 0, 1);
        rows by_byte = {0};
        bt_error err = {0};
        bool cut_by_byte, cut;
        ck_assert_int_eq(read_rows(&by_byte, &d, wanted, 3, log, sizeof log, 1, &cut_by_byte, &err),
                         BT_OK);
        for (size_t chunk = 2; chunk <= sizeof log; chunk += 1 + chunk / 3) {
            rows r = {0};
            ck_assert_int_eq(read_rows(&r, &d, wanted, 3, log, sizeof log, chunk, &cut, &err),
                             BT_OK);
            ck_assert_str_eq(r.text, by_byte.text);
            ck_assert_int_eq(cut, cut_by_byte);
        }
    }
}
END_TEST

START_TEST(only_the_wanted_columns_come_in_the_wanted_order)
{
    static const char log[] = "1,22,333,4444\n5,66\n";
    static const size_t orders[][3] = {{2, 0, 3}, {3, 3, 3}, {1, 0, 1}, {9, 1, 0}};
    static const char *const texts[] = {"1:4:333|1|4444;2:2:|5|;", "1:4:4444|4444|4444;2:2:||;",
                                        "1:4:22|1|22;2:2:66|5|66;", "1:4:|22|1;2:2:|66|5;"};
    const bt_dialect d = three_columns(',', 0, 1);
    for (int i = 0; i < COUNT(texts); i++) {
        rows r = {0};
        bt_error err = {0};
        bool truncated;
        ck_assert_int_eq(read_rows(&r, &d, orders[i], 3, log, sizeof log - 1, 5, &truncated, &err),
                         BT_OK);
        ck_assert_str_eq(r.text, texts[i]);
    }
    rows r = {0};
    bt_error err = {0};
    bool truncated;
    ck_assert_int_eq(read_rows(&r, &d, NULL, 0, log, sizeof log - 1, 5, &truncated, &err), BT_OK);
    ck_assert_str_eq(r.text, "1:4:;2:2:;");
}
END_TEST

START_TEST(a_stop_is_for_good_and_its_error_comes_again)
{
    static const size_t wanted[] = {0};
    const bt_dialect d = three_columns(',', 0, 1);
    rows r = {.wanted = 1, .stop_after = 2};
    bt_table *t;
    bt_error err = {0};
    ck_assert_int_eq(bt_table_new(&t, &d, wanted, 1, take, &r, &err), BT_OK);
    ck_assert_int_eq(bt_table_push(t, "1,2,3\n4,5,6\n7,8,9\n", 18, &err), BT_RANGE);
    ck_assert_str_eq(r.text, "1:3:1;");
    ck_assert_str_eq(err.message, "enough");
    ck_assert_uint_eq(err.line, 2);
    err = (bt_error){0};
    ck_assert_int_eq(bt_table_push(t, "1,2,3\n", 6, &err), BT_RANGE);
    ck_assert_str_eq(err.message, "enough");
    err = (bt_error){0};
    ck_assert_int_eq(bt_table_end(t, &err), BT_RANGE);
    ck_assert_str_eq(r.text, "1:3:1;");
    bt_table_free(t);
    bt_table_free(NULL);
}
END_TEST

/* Without a ceiling an open quote would take the rest of the log into memory. */
START_TEST(an_open_quote_ends_at_a_ceiling_with_its_line)
{
    static const size_t wanted[] = {0};
    static char filler[4096];
    const bt_dialect d = three_columns(',', 0, 1);
    rows r = {.wanted = 1};
    bt_table *t;
    bt_error err = {0};
    memset(filler, 'x', sizeof filler);
    ck_assert_int_eq(bt_table_new(&t, &d, wanted, 1, take, &r, &err), BT_OK);
    ck_assert_int_eq(bt_table_push(t, "1,2,3\n4,\"5", 10, &err), BT_OK);
    bt_status status = BT_OK;
    size_t pushed = 0;
    for (; status == BT_OK && pushed < 2 * BT_CELL_BYTES_MAX; pushed += sizeof filler)
        status = bt_table_push(t, filler, sizeof filler, &err);
    ck_assert_int_eq(status, BT_SYNTAX);
    ck_assert_uint_le(pushed, BT_CELL_BYTES_MAX + sizeof filler);
    ck_assert_str_eq(err.message,
                     "expected a cell of at most 1048576 bytes, found more: a quote left open?");
    ck_assert_uint_eq(err.line, 2);
    ck_assert_str_eq(r.text, "1:3:1;");
    bt_table_free(t);
}
END_TEST

static bt_status take_lengths(void *user, const bt_row *row, bt_error *err)
{
    (void)err;
    size_t *lengths = user;
    for (size_t i = 0; i < 2; i++) lengths[i] = row->cell[i].len;
    ck_assert_int_eq(row->cell[0].text[0], 'y');
    ck_assert_int_eq(row->cell[1].text[0], 'x');
    return BT_OK;
}

START_TEST(long_cells_come_whole)
{
    static const size_t wanted[] = {1, 0};
    static char log[300000];
    memset(log, 'x', 100000);
    memset(log + 100001, 'y', 199998);
    log[100000] = ',';
    log[299999] = '\n';
    const bt_dialect d = three_columns(',', 0, 1);
    bt_table *t;
    bt_error err = {0};
    size_t lengths[2] = {0};
    ck_assert_int_eq(bt_table_new(&t, &d, wanted, 2, take_lengths, lengths, &err), BT_OK);
    for (size_t at = 0; at < sizeof log; at += 7000)
        ck_assert_int_eq(
            bt_table_push(t, log + at, sizeof log - at < 7000 ? sizeof log - at : 7000, &err),
            BT_OK);
    ck_assert_int_eq(bt_table_end(t, &err), BT_OK);
    ck_assert_uint_eq(lengths[0], 199998);
    ck_assert_uint_eq(lengths[1], 100000);
    bt_table_free(t);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("table");
    TCase *t = tcase_create("table");
    tcase_set_timeout(t, 60);
    tcase_add_loop_test(t, rows_are_the_same_however_the_bytes_are_cut, 0, COUNT(logs));
    tcase_add_test(t, plain_lines_are_cut_as_libcsv_cuts_them);
    tcase_add_test(t, only_the_wanted_columns_come_in_the_wanted_order);
    tcase_add_test(t, a_stop_is_for_good_and_its_error_comes_again);
    tcase_add_test(t, an_open_quote_ends_at_a_ceiling_with_its_line);
    tcase_add_test(t, long_cells_come_whole);
    suite_add_tcase(s, t);
    return s;
}

BT_CHECK_MAIN(suite)
