/* Dialects: logs small enough to read with the eye, one trait each. */
#include "check_support.h"
#include "rows/dialect.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define COUNT(array) ((int)(sizeof(array) / sizeof *(array)))

static bt_status sniff(bt_dialect *d, const char *log, const bt_dialect_options *options,
                       bt_error *err)
{
    *err = (bt_error){0};
    return bt_dialect_sniff(d, log, strlen(log), true, options, err);
}

/* "name{unit}|..." of all columns. */
static const char *columns(const bt_dialect *d, char *out, size_t cap)
{
    size_t at = 0;
    out[0] = '\0';
    for (size_t i = 0; i < d->columns; i++)
        at += (size_t)snprintf(out + at, cap - at, "%s%s{%s}", i ? "|" : "", d->column[i].name,
                               d->column[i].unit);
    return out;
}

static const struct {
    const char *log;
    char delimiter, decimal;
    bt_encoding encoding;
    uint64_t header, units, data;
    const char *columns;
} logs[] = {
    /* delimiters and decimals */
    {"time,speed\n0,1.5\n1,2.5\n", ',', '.', BT_UTF8, 1, 0, 2, "time{}|speed{}"},
    {"time;speed\r\n0;1.5\r\n1;2.5\r\n", ';', '.', BT_UTF8, 1, 0, 2, "time{}|speed{}"},
    {"time;speed\n0,0;1,5\n0,1;2,5\n", ';', ',', BT_UTF8, 1, 0, 2, "time{}|speed{}"},
    {"time\tspeed\n0,0\t1,5\n0,1\t2,5\n", '\t', ',', BT_UTF8, 1, 0, 2, "time{}|speed{}"},
    {"time\tspeed\n0.0\t1.5\n0.1\t2.5\n", '\t', '.', BT_UTF8, 1, 0, 2, "time{}|speed{}"},
    {"time;a;b;c\n0;1,5;2,5;3,5\n1;1,5;2,5;3,5\n", ';', ',', BT_UTF8, 1, 0, 2,
     "time{}|a{}|b{}|c{}"},
    {"time;speed\n0;15\n1;25\n", ';', '.', BT_UTF8, 1, 0, 2, "time{}|speed{}"},
    {"speed\n1,5\n2,5\n", ';', ',', BT_UTF8, 1, 0, 2, "speed{}"},
    {"speed\n1.5\n2.5\n", ',', '.', BT_UTF8, 1, 0, 2, "speed{}"},
    {"sep=;\ntime;speed\n0;1\n", ';', '.', BT_UTF8, 2, 0, 3, "time{}|speed{}"},
    {"\"sep=\t\"\r\ntime\tspeed\r\n0\t1\r\n", '\t', '.', BT_UTF8, 2, 0, 3, "time{}|speed{}"},
    {"time,note\n0,\"a;b;c\"\n1,\"d;e;f\"\n", ',', '.', BT_UTF8, 1, 0, 2, "time{}|note{}"},
    /* encodings */
    {"\xef\xbb\xbftime,speed\n0,1\n", ',', '.', BT_UTF8, 1, 0, 2, "time{}|speed{}"},
    {"time,disc_fl [\xb0"
     "C]\n0,1\n",
     ',', '.', BT_LATIN1, 1, 0, 2, "time{}|disc_fl{\u00b0C}"},
    {"time,disc_fl [\u00b0C]\n0,1\n", ',', '.', BT_UTF8, 1, 0, 2, "time{}|disc_fl{\u00b0C}"},
    {"time,stra\xdf"
     "e\ns,\xb0"
     "C\n0,1\n",
     ',', '.', BT_LATIN1, 1, 2, 3,
     "time{s}|stra\u00df"
     "e{\u00b0C}"},
    /* free lines */
    {"Run 3\nDriver,Bob\nLap,4\nDate,2025-05-03\n\ntime,speed\n0,1\n1,2\n", ',', '.', BT_UTF8, 6, 0,
     7, "time{}|speed{}"},
    {"Car Tern; wet\nSample rate;100\ntime;speed\n0,1;2,5\n0,2;2,6\n", ';', ',', BT_UTF8, 3, 0, 4,
     "time{}|speed{}"},
    {"\n\n \ntime,speed\n\n0,1\n", ',', '.', BT_UTF8, 4, 0, 6, "time{}|speed{}"},
    {"\"free\nlines\"\ntime,speed\n0,1\n", ',', '.', BT_UTF8, 3, 0, 4, "time{}|speed{}"},
    {"Title\rtime,speed\r0,1\r1,2\r", ',', '.', BT_UTF8, 2, 0, 3, "time{}|speed{}"},
    /* headers */
    {"# time(s),x(m),wheel_fl(kmph)\n0,1,2\n", ',', '.', BT_UTF8, 1, 0, 2,
     "time{s}|x{m}|wheel_fl{kmph}"},
    {"#time , speed \n0,1\n", ',', '.', BT_UTF8, 1, 0, 2, "time{}|speed{}"},
    {"\"time\",\"Line, rear [bar]\",\"a \"\"b\"\"\"\n0,1,2\n", ',', '.', BT_UTF8, 1, 0, 2,
     "time{}|Line, rear{bar}|a \"b\"{}"},
    {"time,speed,\n0,1,\n1,2,\n", ',', '.', BT_UTF8, 1, 0, 2, "time{}|speed{}"},
    {"time,speed,\n0,1\n1,2\n", ',', '.', BT_UTF8, 1, 0, 2, "time{}|speed{}"},
    {"time,speed\n0,1,\n1,2,\n", ',', '.', BT_UTF8, 1, 0, 2, "time{}|speed{}"},
    {"time,,speed\n0,1,2\n1,2,3\n", ',', '.', BT_UTF8, 1, 0, 2, "time{}|{}|speed{}"},
    {"time,speed,speed,Speed\n0,1,2,3\n", ',', '.', BT_UTF8, 1, 0, 2,
     "time{}|speed{}|speed{}|Speed{}"},
    {"line_rear_bar,t_s,speed_kmh\n0,1,2\n", ',', '.', BT_UTF8, 1, 0, 2,
     "line_rear{bar}|t{s}|speed{km/h}"},
    /* units rows */
    {"time,speed,gear,lambda\ns,km/h,-,afr\n0,1,2,3\n", ',', '.', BT_UTF8, 1, 2, 3,
     "time{s}|speed{km/h}|gear{-}|lambda{afr}"},
    {"time,speed,gear\n[s],[km/h],\n0,1,2\n", ',', '.', BT_UTF8, 1, 2, 3,
     "time{s}|speed{km/h}|gear{}"},
    {"time;speed;share\n(s);(m/s);1\n0;1;2\n", ';', '.', BT_UTF8, 1, 2, 3,
     "time{s}|speed{m/s}|share{1}"},
    {"time,speed [kph],x\n\n,km/h,\n0,1,2\n", ',', '.', BT_UTF8, 1, 3, 4, "time{}|speed{km/h}|x{}"},
    /* data: blanks, words, times */
    {"time,a,b,c\n0,,,1\n1,2,,\n2,,NaN,\n", ',', '.', BT_UTF8, 1, 0, 2, "time{}|a{}|b{}|c{}"},
    {"Driver,Bob,x\ntime,state,gear\n0.0,IDLE,N\n0.1,IDLE,N\n", ',', '.', BT_UTF8, 2, 0, 3,
     "time{}|state{}|gear{}"},
    {"time,state,a,b\n0.0,IDLE,1,2\n0.1,RUN,1,2\n", ',', '.', BT_UTF8, 1, 0, 2,
     "time{}|state{}|a{}|b{}"},
    {"time,speed\n09:41:07.25,1\n09:41:07.50,2\n", ',', '.', BT_UTF8, 1, 0, 2, "time{}|speed{}"},
    {"time,speed\n2025-05-03T09:41:07Z,1\n", ',', '.', BT_UTF8, 1, 0, 2, "time{}|speed{}"},
    {"time;speed\n09:41:07,25;1,5\n09:41:07,50;2,5\n", ';', ',', BT_UTF8, 1, 0, 2,
     "time{}|speed{}"},
    {"time,speed\n0,1\n--- restart ---\n1,2\n2,3\n3,4\n4,5\n", ',', '.', BT_UTF8, 1, 0, 2,
     "time{}|speed{}"},
    {"time,speed\n0,1", ',', '.', BT_UTF8, 1, 0, 2, "time{}|speed{}"},
    /* none at all */
    {"0.0,1,2\n0.1,2,3\n", ',', '.', BT_UTF8, 0, 0, 1, "{}|{}|{}"},
    {"0,0;1,5;2\n0,1;2,5;3\n", ';', ',', BT_UTF8, 0, 0, 1, "{}|{}|{}"},
    {"# logged at Saltmarsh\n0.0,1,2\n0.1,2,3\n", ',', '.', BT_UTF8, 0, 0, 2, "{}|{}|{}"},
};

START_TEST(a_log_is_understood)
{
    bt_dialect d;
    bt_error err;
    char text[400];
    ck_assert_msg(sniff(&d, logs[_i].log, NULL, &err) == BT_OK, "%s: %s", logs[_i].log,
                  err.message);
    ck_assert_str_eq(columns(&d, text, sizeof text), logs[_i].columns);
    ck_assert_int_eq(d.delimiter, logs[_i].delimiter);
    ck_assert_int_eq(d.decimal, logs[_i].decimal);
    ck_assert_int_eq(d.encoding, logs[_i].encoding);
    ck_assert_uint_eq(d.header_line, logs[_i].header);
    ck_assert_uint_eq(d.units_line, logs[_i].units);
    ck_assert_uint_eq(d.data_line, logs[_i].data);
    ck_assert_int_eq(d.layout, BT_LAYOUT_WIDE);
    bt_dialect_free(&d);
}
END_TEST

START_TEST(the_data_start_where_their_first_line_starts)
{
    static const struct {
        const char *log, *data;
    } cases[] = {
        {"time,speed\n0,1\n", "0,1\n"},
        {"\xef\xbb\xbftime,speed\r\n0,1\r\n", "0,1\r\n"},
        {"sep=,\nfree\n\ntime,speed\ns,m/s\n\n 0,1\n", " 0,1\n"},
        {"a,b\n\"0\",1\n", "\"0\",1\n"},
        {"\xe4\xf6,b\n0,\xfc\n", "0,\xfc\n"},
        {"0,1\n1,2\n", "0,1\n1,2\n"},
    };
    for (int i = 0; i < COUNT(cases); i++) {
        bt_dialect d;
        bt_error err;
        ck_assert_int_eq(sniff(&d, cases[i].log, NULL, &err), BT_OK);
        ck_assert_str_eq(cases[i].log + d.data_offset, cases[i].data);
        bt_dialect_free(&d);
    }
}
END_TEST

START_TEST(the_header_keeps_its_full_text)
{
    bt_dialect d;
    bt_error err;
    ck_assert_int_eq(sniff(&d, "# time [s], Line rear [bar] \n0,1\n", NULL, &err), BT_OK);
    ck_assert_str_eq(d.column[0].text, "time [s]");
    ck_assert_str_eq(d.column[1].text, "Line rear [bar]");
    bt_dialect_free(&d);
}
END_TEST

static const struct {
    const char *log;
    bool at_all; /* long when nobody insists */
    size_t time, signal, value, unit;
} longs[] = {
    {"time,signal,value\n0,speed,1\n0,line,2\n1,speed,3\n", true, 0, 1, 2, BT_NO_COLUMN},
    {"Timestamp;Name;Value;Unit\n0,1;speed;1;kph\n0,2;line;2;bar\n", true, 0, 1, 2, 3},
    {"time,signal,value,unit,source\n0,speed,1,kph,can\n1,line,2,bar,can\n", true, 0, 1, 2, 3},
    {"value,channel,t [ms]\n1,speed,0\n2,line,0\n", true, 2, 1, 0, BT_NO_COLUMN},
    {"0.1, speed, 1\n0.1, line, 2\n0.2, speed, 3\n", true, 0, 1, 2, BT_NO_COLUMN},
    {"09:41:07.1,speed,1\n09:41:07.2,line,2\n", true, 0, 1, 2, BT_NO_COLUMN},
    {"t,mode,speed\n0,idle,1\n1,run,2\n", false, 0, 1, 2, BT_NO_COLUMN},
};

START_TEST(the_long_layout_is_recognised_or_believed)
{
    bt_dialect d;
    bt_error err;
    for (int told = 0; told < 2; told++) {
        const bt_dialect_options options = {.layout = told ? BT_LAYOUT_LONG : BT_LAYOUT_AUTO};
        ck_assert_int_eq(sniff(&d, longs[_i].log, &options, &err), BT_OK);
        const bool is_long = told || longs[_i].at_all;
        ck_assert_int_eq(d.layout, is_long ? BT_LAYOUT_LONG : BT_LAYOUT_WIDE);
        if (is_long) {
            ck_assert_uint_eq(d.time_column, longs[_i].time);
            ck_assert_uint_eq(d.signal_column, longs[_i].signal);
            ck_assert_uint_eq(d.value_column, longs[_i].value);
            ck_assert_uint_eq(d.unit_column, longs[_i].unit);
        }
        bt_dialect_free(&d);
    }
    const bt_dialect_options wide = {.layout = BT_LAYOUT_WIDE};
    ck_assert_int_eq(sniff(&d, longs[_i].log, &wide, &err), BT_OK);
    ck_assert_int_eq(d.layout, BT_LAYOUT_WIDE);
    bt_dialect_free(&d);
}
END_TEST

START_TEST(what_the_user_says_goes_first)
{
    bt_dialect d;
    bt_error err;
    const bt_dialect_options semicolon = {.delimiter = ';', .decimal = ','};
    ck_assert_int_eq(sniff(&d, "sep=,\na;b\n1;2\n", &semicolon, &err), BT_OK);
    ck_assert_int_eq(d.delimiter, ';');
    ck_assert_int_eq(d.decimal, ',');
    ck_assert_uint_eq(d.columns, 2);
    bt_dialect_free(&d);
    const bt_dialect_options comma = {.decimal = ','};
    ck_assert_int_eq(sniff(&d, "a,b\n\"1,5\",2\n", &comma, &err), BT_OK);
    ck_assert_int_eq(d.delimiter, ',');
    ck_assert_int_eq(d.decimal, ',');
    bt_dialect_free(&d);
}
END_TEST

static const struct {
    const char *log;
    size_t n; /* 0 = strlen */
    bt_layout layout;
    uint64_t line;
    const char *message;
} refusals[] = {
    {"", 0, BT_LAYOUT_AUTO, 0, "expected a log, found nothing"},
    {" \n\r\n\t\n", 0, BT_LAYOUT_AUTO, 0, "expected a log, found nothing"},
    {"\xef\xbb\xbf", 0, BT_LAYOUT_AUTO, 0, "expected a log, found nothing"},
    {"\xff\xfet\0i\0", 6, BT_LAYOUT_AUTO, 1,
     "expected UTF-8 or Latin-1, found UTF-16: save the log as CSV in UTF-8"},
    {"\xfe\xff\0t\0i", 6, BT_LAYOUT_AUTO, 1,
     "expected UTF-8 or Latin-1, found UTF-16: save the log as CSV in UTF-8"},
    {"t\0i\0m\0e\0,\0v\0\n\0", 14, BT_LAYOUT_AUTO, 1,
     "expected UTF-8 or Latin-1, found UTF-16: save the log as CSV in UTF-8"},
    {"\x7f\0\0\0\1\2\0\0\0\3\0\0\0\0\0\4\0", 17, BT_LAYOUT_AUTO, 1,
     "expected text, found binary data: save the log as CSV"},
    {"free\n\ntime,speed\nBob,Alice\n", 0, BT_LAYOUT_AUTO, 1,
     "expected a header and rows of numbers below it, with commas, semicolons or tabs between, "
     "found none in 3 rows, the first of which "
     "starts with 'free'"},
    {"time,speed\n", 0, BT_LAYOUT_AUTO, 1,
     "expected a header and rows of numbers below it, with commas, semicolons or tabs between, "
     "found none in 1 row, the first of which "
     "starts with 'time'"},
    {"Run 3 at Saltmarsh\n0,1,2\n1,2,3\n", 0, BT_LAYOUT_AUTO, 1,
     "expected a header with the names of the 3 columns below, found 1 field, the first 'Run 3 at "
     "Saltmarsh'"},
    {"time,speed\n0,1\n1,2\n", 0, BT_LAYOUT_LONG, 2,
     "expected the long layout, columns time, signal and value; found no column of signal names"},
};

START_TEST(what_is_no_log_is_refused_with_the_place)
{
    bt_dialect d;
    bt_error err = {0};
    const bt_dialect_options options = {.layout = refusals[_i].layout};
    const size_t n = refusals[_i].n ? refusals[_i].n : strlen(refusals[_i].log);
    ck_assert_int_eq(bt_dialect_sniff(&d, refusals[_i].log, n, true, &options, &err), BT_SYNTAX);
    ck_assert_str_eq(err.message, refusals[_i].message);
    ck_assert_uint_eq(err.line, refusals[_i].line);
    bt_dialect_free(&d);
}
END_TEST

START_TEST(an_open_quote_in_a_small_log_does_not_hang_or_hide)
{
    bt_dialect d;
    bt_error err;
    ck_assert_int_eq(sniff(&d, "time,speed\n0,\"1\n1,2\n", NULL, &err), BT_OK);
    ck_assert_uint_eq(d.columns, 2);
    bt_dialect_free(&d);
}
END_TEST

/* The head of a long log may end anywhere: in a row, in a character. */
START_TEST(where_the_head_is_cut_does_not_matter)
{
    static const char log[] = "free \u00e4\ntime [s],a [\u00b0C]\n0,1.25\n1,2.25\n2,\u00e4\n3,4\n";
    bt_dialect d;
    for (size_t n = 38; n < sizeof log; n++) {
        bt_error err = {0};
        ck_assert_int_eq(bt_dialect_sniff(&d, log, n, false, NULL, &err), BT_OK);
        ck_assert_int_eq(d.encoding, BT_UTF8);
        ck_assert_uint_eq(d.columns, 2);
        ck_assert_str_eq(d.column[1].unit, "\u00b0C");
        ck_assert_uint_eq(d.data_line, 3);
        bt_dialect_free(&d);
    }
}
END_TEST

START_TEST(a_wide_log_of_a_thousand_columns_is_no_trouble)
{
    char *log = malloc(200000);
    size_t at = 0;
    for (int row = 0; row < 8; row++)
        for (int i = 0; i < 1000; i++)
            at += (size_t)snprintf(log + at, 200000 - at, row ? "%d.5%c" : "channel_%d_bar%c", i,
                                   i < 999 ? ',' : '\n');
    bt_dialect d;
    bt_error err = {0};
    ck_assert_int_eq(bt_dialect_sniff(&d, log, at, false, NULL, &err), BT_OK);
    ck_assert_uint_eq(d.columns, 1000);
    ck_assert_str_eq(d.column[999].name, "channel_999");
    ck_assert_str_eq(d.column[999].unit, "bar");
    bt_dialect_free(&d);
    free(log);
}
END_TEST

/* Of lines that long the head would hold fewer than eight: a row's length is that of the longest line,
 * whether it ends in the head or not. */
START_TEST(a_head_of_long_lines_wants_more)
{
    static char head[8000];
    memset(head, '1', sizeof head);
    for (size_t i = 99; i < sizeof head; i += 100) head[i] = '\n';
    ck_assert(!bt_dialect_wants_more(head, sizeof head));
    for (size_t i = 99; i < sizeof head; i += 100) head[i] = '\r';
    ck_assert(!bt_dialect_wants_more(head, sizeof head));
    for (size_t i = 4000; i < 5000; i++)
        head[i] = '1'; /* begins behind 3999: 1100 bytes with its end */
    ck_assert(bt_dialect_wants_more(head, sizeof head));
    head[4999] = '\n';
    ck_assert(!bt_dialect_wants_more(head, sizeof head));
    for (size_t i = 6999; i < sizeof head; i++) head[i] = '1'; /* the last one, cut */
    ck_assert(bt_dialect_wants_more(head, sizeof head));
    char *largest = calloc(1, BT_DIALECT_HEAD_MAX);
    ck_assert_ptr_nonnull(largest);
    ck_assert(bt_dialect_wants_more(largest, BT_DIALECT_HEAD_MAX - 1));
    ck_assert(!bt_dialect_wants_more(largest, BT_DIALECT_HEAD_MAX));
    free(largest);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("dialect");
    TCase *t = tcase_create("dialect");
    tcase_add_loop_test(t, a_log_is_understood, 0, COUNT(logs));
    tcase_add_test(t, the_data_start_where_their_first_line_starts);
    tcase_add_test(t, the_header_keeps_its_full_text);
    tcase_add_loop_test(t, the_long_layout_is_recognised_or_believed, 0, COUNT(longs));
    tcase_add_test(t, what_the_user_says_goes_first);
    tcase_add_loop_test(t, what_is_no_log_is_refused_with_the_place, 0, COUNT(refusals));
    tcase_add_test(t, an_open_quote_in_a_small_log_does_not_hang_or_hide);
    tcase_add_test(t, where_the_head_is_cut_does_not_matter);
    tcase_add_test(t, a_head_of_long_lines_wants_more);
    tcase_add_test(t, a_wide_log_of_a_thousand_columns_is_no_trouble);
    suite_add_tcase(s, t);
    return s;
}

BT_CHECK_MAIN(suite)
