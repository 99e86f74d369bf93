/* Tables as bytes: events rows written down by hand in the three formats, the cells
 * that need care, the limits of text, running out of memory and room. */
#include "check_support.h"

#include "out/write.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

typedef struct {
    char p[1 << 16];
    size_t n, room; /* room: bytes until the disk is full */
} sink;

static bt_status take(void *user, const char *bytes, size_t n, bt_error *err)
{
    sink *s = user;
    if (n > s->room - s->n) return bt_fail(err, BT_WRITE, "disk full");
    memcpy(s->p + s->n, bytes, n);
    s->n += n;
    s->p[s->n] = '\0';
    return BT_OK;
}

static sink out;

static void setup(void)
{
    out = (sink){.room = sizeof out.p - 1};
}

static bt_event event(const char *run, const char *kind, const char *reason)
{
    bt_event e = {.zone = NAN, .lap = NAN, .start = NAN, .duration = NAN, .value = NAN};
    snprintf(e.run, sizeof e.run, "%s", run);
    snprintf(e.kind, sizeof e.kind, "%s", kind);
    snprintf(e.reason, sizeof e.reason, "%s", reason);
    return e;
}

static void write_events(const bt_event *events, size_t n, bt_style style)
{
    bt_error err = {0};
    bt_writer *w;
    ck_assert_int_eq(bt_writer_new(&w, BT_TABLE_EVENTS, &style, take, &out, &err), BT_OK);
    for (size_t i = 0; i < n; i++) ck_assert_int_eq(bt_writer_row(w, &events[i], &err), BT_OK);
    ck_assert_int_eq(bt_writer_end(w, &err), BT_OK);
    bt_writer_free(w);
}

#define HEADER "run,event,zone,lap,place,start_s,duration_s,severity,value,unit,reason\n"

static bt_event fallback(void)
{
    bt_event e = event("run4", "fallback", "line follows the pedal, 1240 N.m missed");
    e.zone = 31;
    e.lap = 6;
    e.start = 612.3456;
    e.duration = 4.5;
    e.severity = BT_STOP;
    e.value = -1240.25;
    snprintf(e.place, sizeof e.place, "P05");
    snprintf(e.unit, sizeof e.unit, "N.m");
    return e;
}

START_TEST(csv_has_a_header_and_quotes_only_what_needs_it)
{
    const bt_event e = fallback();
    write_events(&e, 1, (bt_style){0});
    ck_assert_str_eq(out.p, HEADER "run4,fallback,31,6,P05,612.346,4.500,stop,-1240.250,N.m,"
                                   "\"line follows the pedal, 1240 N.m missed\"\n");
}
END_TEST

START_TEST(csv_without_rows_is_its_header)
{
    write_events(NULL, 0, (bt_style){0});
    ck_assert_str_eq(out.p, HEADER);
}
END_TEST

START_TEST(a_decimal_comma_brings_the_semicolon_along)
{
    const bt_event e = fallback();
    write_events(&e, 1, (bt_style){.decimal_comma = true, .bom = true});
    ck_assert_str_eq(out.p,
                     "\xef\xbb\xbfrun;event;zone;lap;place;start_s;duration_s;severity;value;unit;"
                     "reason\n"
                     "run4;fallback;31;6;P05;612,346;4,500;stop;-1240,250;N.m;"
                     "line follows the pedal, 1240 N.m missed\n");
}
END_TEST

/* What stands in `reason`, and how csv and json write it. */
static const struct {
    const char *text, *csv, *json;
} cells[] = {
    {"", "", "\"\""},
    {"plain", "plain", "\"plain\""},
    {"=1+1", "'=1+1", "\"=1+1\""},
    {"+1", "'+1", "\"+1\""},
    {"-1", "'-1", "\"-1\""},
    {"@a", "'@a", "\"@a\""},
    {"\ta", "'\ta", "\"\\u0009a\""},
    {"\ra", "\"'\ra\"", "\"\\u000da\""},
    {"a=b", "a=b", "\"a=b\""},
    {"a\"b", "\"a\"\"b\"", "\"a\\\"b\""},
    {"\"", "\"\"\"\"", "\"\\\"\""},
    {"a\nb", "\"a\nb\"", "\"a\\u000ab\""},
    {"=a,b", "\"'=a,b\"", "\"=a,b\""},
    {" a", "\" a\"", "\" a\""},
    {"a ", "\"a \"", "\"a \""},
    {"a\\b", "a\\b", "\"a\\\\b\""},
    {"\x01", "\x01", "\"\\u0001\""},
    {"\xc3\xa9t\xc3\xa9", "\xc3\xa9t\xc3\xa9", "\"\xc3\xa9t\xc3\xa9\""},
    {"\xe9t", "\xef\xbf\xbdt", "\"\xef\xbf\xbdt\""},                /* Latin-1 */
    {"a\xc3", "a\xef\xbf\xbd", "\"a\xef\xbf\xbd\""},                /* cut short */
    {"\xed\xa0\x80", "\xef\xbf\xbd\xef\xbf\xbd\xef\xbf\xbd", NULL}, /* a surrogate */
};

START_TEST(text_cells_are_quoted_guarded_and_valid_utf8)
{
    const bt_event e = event("r", "k", cells[_i].text);
    char expected[512];
    write_events(&e, 1, (bt_style){0});
    snprintf(expected, sizeof expected, HEADER "r,k,,,,,,note,,,%s\n", cells[_i].csv);
    ck_assert_str_eq(out.p, expected);
    if (!cells[_i].json) return;
    setup();
    write_events(&e, 1, (bt_style){.format = BT_FORMAT_JSON});
    snprintf(expected, sizeof expected,
             "{\"run\":\"r\",\"event\":\"k\",\"zone\":null,\"lap\":null,\"place\":\"\","
             "\"start_s\":null,\"duration_s\":null,\"severity\":\"note\",\"value\":null,"
             "\"unit\":\"\",\"reason\":%s}\n",
             cells[_i].json);
    ck_assert_str_eq(out.p, expected);
}
END_TEST

START_TEST(json_is_one_object_a_row_and_nothing_without_rows)
{
    const bt_event e[] = {fallback(), fallback()};
    write_events(e, 0, (bt_style){.format = BT_FORMAT_JSON});
    ck_assert_uint_eq(out.n, 0);
    write_events(e, 2, (bt_style){.format = BT_FORMAT_JSON});
    const char *one =
        "{\"run\":\"run4\",\"event\":\"fallback\",\"zone\":31,\"lap\":6,\"place\":\"P05\","
        "\"start_s\":612.346,\"duration_s\":4.500,\"severity\":\"stop\",\"value\":-1240.250,"
        "\"unit\":\"N.m\",\"reason\":\"line follows the pedal, 1240 N.m missed\"}\n";
    char expected[1024];
    snprintf(expected, sizeof expected, "%s%s", one, one);
    ck_assert_str_eq(out.p, expected);
}
END_TEST

START_TEST(a_semicolon_is_quoted_only_where_it_is_the_delimiter)
{
    const bt_event e = event("r", "k", "a;b");
    write_events(&e, 1, (bt_style){0});
    ck_assert_ptr_nonnull(strstr(out.p, ",a;b\n"));
    setup();
    write_events(&e, 1, (bt_style){.delimiter = ';'});
    ck_assert_ptr_nonnull(strstr(out.p, ";\"a;b\"\n"));
    setup();
    write_events(&e, 1, (bt_style){.delimiter = '\t'});
    ck_assert_ptr_nonnull(strstr(out.p, "\ta;b\n"));
}
END_TEST

static const struct {
    bt_style style;
    const char *message;
} refused[] = {
    {{.delimiter = ',', .decimal_comma = true},
     "delimiter: expected semicolon or tab with a decimal comma, found comma"},
    {{.delimiter = 'x'}, "delimiter: expected comma, semicolon or tab, found 0x78"},
};

START_TEST(a_delimiter_that_cannot_be_read_back_is_refused)
{
    bt_error err = {0};
    bt_writer *w;
    ck_assert_int_eq(bt_writer_new(&w, BT_TABLE_EVENTS, &refused[_i].style, take, &out, &err),
                     BT_RANGE);
    ck_assert_ptr_null(w);
    ck_assert_str_eq(err.message, refused[_i].message);
}
END_TEST

START_TEST(a_table_without_columns_is_refused)
{
    bt_error err = {0};
    bt_writer *w;
    ck_assert_int_eq(bt_writer_new(&w, BT_TABLE_COUNT, NULL, take, &out, &err), BT_MISSING);
    ck_assert_ptr_null(w);
}
END_TEST

START_TEST(zones_are_printed_in_the_units_of_the_trade)
{
    bt_zone z;
    double *number = &z.zone;
    memset(&z, 0, sizeof z);
    for (size_t i = 0; i < (sizeof z - offsetof(bt_zone, zone)) / sizeof(double); i++)
        number[i] = NAN;
    strcpy(z.run, "run3");
    z.zone = 1;
    z.entry = 50;  /* m/s = 180 km/h */
    z.exit = -0.0; /* never printed as -0 */
    z.pedal_peak = 62.5e5;
    z.balance = 0.6125;
    z.energy_rear = 123456;
    z.disc_rear = 273.15 + 412.34;
    z.flags = BT_FLAG_CUT_START | BT_FLAG_DRAG;
    z.latitude = 52.1234567;
    bt_error err = {0};
    bt_writer *w;
    ck_assert_int_eq(bt_writer_new(&w, BT_TABLE_ZONES, NULL, take, &out, &err), BT_OK);
    ck_assert_int_eq(bt_writer_row(w, &z, &err), BT_OK);
    bt_writer_free(w);
    const char *row = strchr(out.p, '\n') + 1;
    ck_assert(strncmp(row, "run3,1,,,", 9) == 0);
    ck_assert_ptr_nonnull(strstr(row, ",180.00,0.00,"));
    ck_assert_ptr_nonnull(strstr(row, ",62.50,"));
    ck_assert_ptr_nonnull(strstr(row, ",61.25,"));
    ck_assert_ptr_nonnull(strstr(row, ",123.46,"));
    ck_assert_ptr_nonnull(strstr(row, ",412.3,"));
    ck_assert_ptr_nonnull(strstr(row, ",cut-start drag,"));
    ck_assert_ptr_nonnull(strstr(row, ",52.1234567,"));
}
END_TEST

/* ---- text ---- */

/* Terminal columns of a line of the characters used here: one each. */
static size_t columns_of(const char *s, size_t n)
{
    size_t width = 0;
    for (size_t i = 0; i < n; i++) width += ((unsigned char)s[i] & 0xc0) != 0x80;
    return width;
}

static size_t widest_line(const char *s)
{
    size_t widest = 0;
    for (size_t n; *s; s += n + (s[n] == '\n')) {
        n = strcspn(s, "\n");
        if (columns_of(s, n) > widest) widest = columns_of(s, n);
    }
    return widest;
}

START_TEST(text_is_aligned_with_headings_and_units_and_ends_with_the_caution)
{
    bt_event e[] = {fallback(), event("run4", "drag", "left over")};
    e[1].start = 7;
    write_events(e, 2, (bt_style){.format = BT_FORMAT_TEXT, .width = 120});
    ck_assert_str_eq(
        out.p, "event     zone  lap  place   start  duration  severity      value  unit  reason\n"
               "                                 s         s\n"
               "fallback    31    6  P05    612.35      4.50  stop      -1240.250  N·m   "
               "line follows the pedal, 1240 N.m missed\n"
               "drag                          7.00            note                       "
               "left over\n" BT_CAUTION_SHORT "\n");
}
END_TEST

START_TEST(text_names_the_run_where_there_are_several)
{
    const bt_event e[] = {event("a", "drag", "x"), event("b", "drag", "y")};
    write_events(e, 2, (bt_style){.format = BT_FORMAT_TEXT});
    ck_assert_str_eq(out.p, "run  event  severity  reason\n"
                            "a    drag   note      x\n"
                            "b    drag   note      y\n" BT_CAUTION_SHORT "\n");
}
END_TEST

START_TEST(text_stays_within_its_width)
{
    const bt_event e[] = {fallback(), event("r\xc3\xa9union", "wheel-lock", "left over")};
    write_events(e, 2, (bt_style){.format = BT_FORMAT_TEXT, .width = _i});
    ck_assert_ptr_nonnull(strstr(out.p, "An aid"));
    ck_assert_uint_le(widest_line(out.p), (size_t)_i);
    ck_assert_ptr_nonnull(strstr(out.p, "wheel-lock")); /* what matters most stays */
}
END_TEST

START_TEST(a_long_last_text_goes_on_below_itself)
{
    bt_event e = event("r", "drag", "");
    snprintf(e.reason, sizeof e.reason, "%s",
             "the line kept 4 bar after the pedal was let go, and "
             "nobody had asked for it");
    write_events(&e, 1, (bt_style){.format = BT_FORMAT_TEXT, .width = 60});
    char *caution = strstr(out.p, "An aid");
    ck_assert_ptr_nonnull(caution);
    *caution = '\0';
    ck_assert_uint_le(widest_line(out.p), 60);
    ck_assert_ptr_null(strstr(out.p, "\xe2\x80\xa6"));
    /* Every word is there, in its order. */
    char *at = out.p;
    char words[sizeof e.reason];
    snprintf(words, sizeof words, "%s", e.reason);
    for (char *save, *word = strtok_r(words, " ", &save); word; word = strtok_r(NULL, " ", &save)) {
        at = strstr(at, word);
        ck_assert_ptr_nonnull(at);
        at += strlen(word);
    }
}
END_TEST

/* Rows of one table as text. */
static void write_rows(bt_table_kind table, const void *rows, size_t n, size_t size, int width,
                       const char *sentence)
{
    bt_error err = {0};
    bt_writer *w;
    const bt_style style = {.format = BT_FORMAT_TEXT, .width = width};
    ck_assert_int_eq(bt_writer_new(&w, table, &style, take, &out, &err), BT_OK);
    if (sentence) ck_assert_int_eq(bt_writer_say(w, sentence, &err), BT_OK);
    for (size_t i = 0; i < n; i++)
        ck_assert_int_eq(bt_writer_row(w, (const char *)rows + i * size, &err), BT_OK);
    ck_assert_int_eq(bt_writer_end(w, &err), BT_OK);
    bt_writer_free(w);
}

START_TEST(what_is_said_comes_first_in_lines_of_its_width)
{
    const bt_event e = event("r", "drag", "x");
    write_rows(BT_TABLE_EVENTS, &e, 1, sizeof e, 24, "one two three four five six seven \x1b[0m");
    ck_assert_str_eq(out.p, "one two three four five\n"
                            "  six seven \xef\xbf\xbd[0m\n"
                            "\n"
                            "event  severity  reason\n"
                            "drag   note      x\n"
                            "An aid to analysis, no\n"
                            "proof of safety:\n"
                            "qualified people decide\n"
                            "whether the car runs.\n");
}
END_TEST

START_TEST(what_is_said_of_nothing_stands_alone)
{
    write_rows(BT_TABLE_EVENTS, NULL, 0, 0, 100, "no event");
    ck_assert_str_eq(out.p, "no event\n" BT_CAUTION_SHORT "\n");
}
END_TEST

START_TEST(only_text_says_sentences)
{
    bt_error err = {0};
    bt_writer *w;
    ck_assert_int_eq(bt_writer_new(&w, BT_TABLE_COLUMNS, NULL, take, &out, &err), BT_OK);
    ck_assert_int_eq(bt_writer_say(w, "not for programs", &err), BT_OK);
    ck_assert_int_eq(bt_writer_end(w, &err), BT_OK);
    bt_writer_free(w);
    ck_assert_str_eq(out.p, "name,unit,meaning\n");
}
END_TEST

START_TEST(a_sentence_with_too_little_room_stands_below_its_row)
{
    bt_event e = fallback();
    write_events(&e, 1, (bt_style){.format = BT_FORMAT_TEXT, .width = 44});
    ck_assert_str_eq(out.p, "event     zone  lap  place   start  severity\n"
                            "                                 s\n"
                            "fallback    31    6  P05    612.35  stop\n"
                            "    line follows the pedal, 1240 N.m missed\n"
                            "An aid to analysis, no proof of safety:\n"
                            "qualified people decide whether the car\n"
                            "runs.\n");
}
END_TEST

START_TEST(the_run_is_read_first_and_a_chance_is_never_nothing)
{
    bt_drift d;
    bt_row_blank(BT_TABLE_DRIFT, &d);
    bt_drift rows[] = {d, d, d};
    const double p[] = {0, 4.9e-5, 0.00012};
    for (size_t i = 0; i < 3; i++) {
        snprintf(rows[i].figure, sizeof rows[i].figure, "balance_pct");
        snprintf(rows[i].run, sizeof rows[i].run, "run%zu", i);
        snprintf(rows[i].unit, sizeof rows[i].unit, "%%/{lap}");
        rows[i].p = p[i];
    }
    write_rows(BT_TABLE_DRIFT, rows, 3, sizeof *rows, 100, NULL);
    ck_assert_str_eq(out.p, "run   figure       unit          p\n"
                            "run0  balance_pct  pp/lap  <0.0001\n"
                            "run1  balance_pct  pp/lap  <0.0001\n"
                            "run2  balance_pct  pp/lap   0.0001\n" BT_CAUTION_SHORT "\n");
}
END_TEST

START_TEST(strokes_compare_the_rows_of_a_table)
{
    bt_zone z;
    bt_row_blank(BT_TABLE_ZONES, &z);
    bt_zone rows[] = {z, z, z, z};
    const double part[] = {0.20, 0.10, 0.011, NAN}; /* of 20 %: 10, 5, 0.55 strokes */
    for (size_t i = 0; i < 4; i++) {
        rows[i].zone = (double)i + 1;
        rows[i].blend_frac = part[i];
    }
    write_rows(BT_TABLE_ZONES, rows, 4, sizeof *rows, 60, NULL);
    ck_assert_str_eq(out.p, "zone  blend\n"
                            "          %\n"
                            "   1   20.0 ||||||||||\n"
                            "   2   10.0 |||||\n"
                            "   3    1.1 |\n"
                            "   4\n"
                            "An aid to analysis, no proof of safety: qualified people\n"
                            "decide whether the car runs.\n");
}
END_TEST

START_TEST(a_name_too_long_keeps_both_its_ends)
{
    bt_event e[] = {event("saltmarsh_morning_run_07", "drag", "x"), event("b", "drag", "y")};
    write_events(e, 2, (bt_style){.format = BT_FORMAT_TEXT, .width = 45});
    ck_assert_ptr_nonnull(strstr(out.p, "\nsaltmar…_run_07  drag   note      x\n"));
}
END_TEST

START_TEST(a_word_longer_than_the_room_is_broken_and_not_cut)
{
    bt_event e = event("r", "drag", "");
    memset(e.reason, 'x', 150);
    e.reason[150] = '\0';
    write_events(&e, 1, (bt_style){.format = BT_FORMAT_TEXT, .width = 60});
    size_t letters = 0;
    for (const char *p = out.p; *p; p++) letters += *p == 'x';
    ck_assert_uint_eq(letters, 150);
}
END_TEST

START_TEST(what_a_terminal_would_obey_is_not_printed)
{
    bt_event e = event("r", "drag",
                       "\x1b[31mred\xc2\x9b"
                       "2J");
    snprintf(e.unit, sizeof e.unit, "\x1b.\t");
    e.value = 1;
    write_events(&e, 1, (bt_style){.format = BT_FORMAT_TEXT});
    ck_assert_ptr_nonnull(strstr(out.p, "\xef\xbf\xbd[31mred\xef\xbf\xbd"
                                        "2J\n"));
    ck_assert_ptr_null(strchr(out.p, 0x1b));
    ck_assert_ptr_null(strchr(out.p, '\t'));
}
END_TEST

START_TEST(wide_characters_count_two_and_combining_ones_none)
{
    const bt_event e[] = {event("\xe4\xb8\xad\xe6\x96\x87", "a", "1"), /* two ideographs */
                          event("e\xcc\x81", "b", "2")};               /* e, acute accent */
    write_events(e, 2, (bt_style){.format = BT_FORMAT_TEXT});
    ck_assert_ptr_nonnull(strstr(out.p, "\n\xe4\xb8\xad\xe6\x96\x87  a "));
    ck_assert_ptr_nonnull(strstr(out.p, "\ne\xcc\x81     b "));
}
END_TEST

START_TEST(a_long_text_table_is_written_on_the_way)
{
    bt_error err = {0};
    bt_writer *w;
    const bt_style style = {.format = BT_FORMAT_TEXT, .width = 110};
    const bt_event e = fallback();
    ck_assert_int_eq(bt_writer_new(&w, BT_TABLE_EVENTS, &style, take, &out, &err), BT_OK);
    for (int i = 0; i < BT_TEXT_HELD - 1; i++) ck_assert_int_eq(bt_writer_row(w, &e, &err), BT_OK);
    ck_assert_uint_eq(out.n, 0);
    ck_assert_int_eq(bt_writer_row(w, &e, &err), BT_OK);
    const size_t held = out.n;
    ck_assert_uint_gt(held, 0);
    ck_assert_int_eq(bt_writer_row(w, &e, &err), BT_OK);
    ck_assert_uint_gt(out.n, held);
    ck_assert_int_eq(bt_writer_end(w, &err), BT_OK);
    bt_writer_free(w);
    size_t lines = 0;
    for (const char *s = out.p; (s = strchr(s, '\n')); s++) lines++;
    ck_assert_uint_eq(lines, 2 + BT_TEXT_HELD + 1 + 1); /* headings, rows, caution */
}
END_TEST

START_TEST(a_full_disk_is_told)
{
    bt_error err = {0};
    bt_writer *w;
    const bt_style style = {.format = (bt_format)_i};
    const bt_event e = fallback();
    out.room = 3;
    ck_assert_int_eq(bt_writer_new(&w, BT_TABLE_EVENTS, &style, take, &out, &err), BT_OK);
    bt_status status = bt_writer_row(w, &e, &err);
    if (status == BT_OK) status = bt_writer_end(w, &err);
    bt_writer_free(w);
    ck_assert_int_eq(status, BT_WRITE);
    ck_assert_str_eq(err.message, "disk full");
}
END_TEST

START_TEST(csvw_names_unit_datatype_and_meaning)
{
    bt_error err = {0};
    ck_assert_int_eq(bt_columns_csvw(BT_TABLE_EVENTS, "events.csv", take, &out, &err), BT_OK);
    ck_assert_ptr_nonnull(strstr(out.p, "\"@context\": \"http://www.w3.org/ns/csvw\""));
    ck_assert_ptr_nonnull(strstr(out.p, "\"url\": \"events.csv\""));
    ck_assert_ptr_nonnull(strstr(
        out.p, "{\"name\": \"duration_s\", \"titles\": \"duration_s\", \"datatype\": \"decimal\",\n"
               "       \"http://qudt.org/schema/qudt/ucumCode\": \"s\",\n"));
    ck_assert_ptr_nonnull(strstr(out.p, "{\"name\": \"zone\", \"titles\": \"zone\", "
                                        "\"datatype\": \"integer\""));
    ck_assert_int_eq(bt_columns_csvw(BT_TABLE_COUNT, "x", take, &out, &err), BT_MISSING);
}
END_TEST

START_TEST(the_columns_table_reads_pointers)
{
    size_t n;
    const bt_column *events = bt_columns(BT_TABLE_EVENTS, &n);
    bt_error err = {0};
    bt_writer *w;
    ck_assert_int_eq(bt_writer_new(&w, BT_TABLE_COLUMNS, NULL, take, &out, &err), BT_OK);
    ck_assert_int_eq(bt_writer_row(w, &events[9], &err), BT_OK);
    bt_writer_free(w);
    ck_assert_str_eq(out.p, "name,unit,meaning\nunit,,unit of value\n");
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("write");
    TCase *t = tcase_create("csv and json");
    tcase_add_checked_fixture(t, setup, NULL);
    tcase_add_test(t, csv_has_a_header_and_quotes_only_what_needs_it);
    tcase_add_test(t, csv_without_rows_is_its_header);
    tcase_add_test(t, a_decimal_comma_brings_the_semicolon_along);
    tcase_add_loop_test(t, text_cells_are_quoted_guarded_and_valid_utf8, 0,
                        sizeof cells / sizeof cells[0]);
    tcase_add_test(t, json_is_one_object_a_row_and_nothing_without_rows);
    tcase_add_test(t, a_semicolon_is_quoted_only_where_it_is_the_delimiter);
    tcase_add_loop_test(t, a_delimiter_that_cannot_be_read_back_is_refused, 0,
                        sizeof refused / sizeof refused[0]);
    tcase_add_test(t, a_table_without_columns_is_refused);
    tcase_add_test(t, zones_are_printed_in_the_units_of_the_trade);
    tcase_add_loop_test(t, a_full_disk_is_told, 0, 3);
    tcase_add_test(t, csvw_names_unit_datatype_and_meaning);
    tcase_add_test(t, the_columns_table_reads_pointers);
    suite_add_tcase(s, t);
    t = tcase_create("text");
    tcase_add_checked_fixture(t, setup, NULL);
    tcase_add_test(t, text_is_aligned_with_headings_and_units_and_ends_with_the_caution);
    tcase_add_test(t, text_names_the_run_where_there_are_several);
    tcase_add_loop_test(t, text_stays_within_its_width, 20, 130);
    tcase_add_test(t, a_long_last_text_goes_on_below_itself);
    tcase_add_test(t, what_is_said_comes_first_in_lines_of_its_width);
    tcase_add_test(t, what_is_said_of_nothing_stands_alone);
    tcase_add_test(t, only_text_says_sentences);
    tcase_add_test(t, a_sentence_with_too_little_room_stands_below_its_row);
    tcase_add_test(t, the_run_is_read_first_and_a_chance_is_never_nothing);
    tcase_add_test(t, strokes_compare_the_rows_of_a_table);
    tcase_add_test(t, a_name_too_long_keeps_both_its_ends);
    tcase_add_test(t, a_word_longer_than_the_room_is_broken_and_not_cut);
    tcase_add_test(t, what_a_terminal_would_obey_is_not_printed);
    tcase_add_test(t, wide_characters_count_two_and_combining_ones_none);
    tcase_add_test(t, a_long_text_table_is_written_on_the_way);
    suite_add_tcase(s, t);
    return s;
}

BT_CHECK_MAIN(suite)
