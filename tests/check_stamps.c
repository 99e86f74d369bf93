/* Time stamps: every expectation is integer arithmetic done by hand or by date(1). */
#include "check_support.h"
#include "rows/stamps.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#define COUNT(array) ((int)(sizeof(array) / sizeof *(array)))
#define S            INT64_C(1000000000)
#define DAY          (86400 * S)

static bt_cell_result parse(bt_stamps *st, const char *cell, int64_t *ns)
{
    return bt_stamps_parse(st, cell, strlen(cell), ns);
}

static const bt_unit *unit(const char *text)
{
    return text ? bt_unit_find(text, strlen(text), BT_DIM_TIME) : NULL;
}

/* Two cells and the ns between them. */
static const struct {
    const char *unit;
    char decimal;
    const char *first, *second;
    int64_t ns;
    bt_stamp_kind kind;
    double offset;
} pairs[] = {
    {NULL, '.', "0", "1", S, BT_STAMP_SECONDS, 0},
    {NULL, '.', "0.01", "0.02", S / 100, BT_STAMP_SECONDS, 0.01},
    {"s", '.', "199.863", "199.866", 3000000, BT_STAMP_SECONDS, 199.863},
    {"s", ',', "199,863", "199,866", 3000000, BT_STAMP_SECONDS, 199.863},
    {NULL, '.', " 12.5 ", "12.5", 0, BT_STAMP_SECONDS, 12.5},
    {NULL, '.', "-1.5", "0.5", 2 * S, BT_STAMP_SECONDS, -1.5},
    {NULL, '.', "5", "3", -2 * S, BT_STAMP_SECONDS, 5},
    {NULL, '.', ".5", "1.", S / 2, BT_STAMP_SECONDS, 0.5},
    {NULL, '.', "0", "0.0000000014", 1, BT_STAMP_SECONDS, 0},
    {NULL, '.', "0", "0.0000000015", 2, BT_STAMP_SECONDS, 0},
    {NULL, '.', "0", "1.5e-3", 1500000, BT_STAMP_SECONDS, 0},
    {NULL, '.', "1.466528E+03", "1466.530", 2000000, BT_STAMP_SECONDS, 1466.528},
    {NULL, '.', "0", "12E2", 1200 * S, BT_STAMP_SECONDS, 0},
    {NULL, '.', "0", "5e-10", 1, BT_STAMP_SECONDS, 0},
    {NULL, '.', "0", "5e-30", 0, BT_STAMP_SECONDS, 0},
    {"ms", '.', "1000", "1010.5", 10500000, BT_STAMP_SECONDS, 1},
    {"us", '.', "1000", "1010.5", 10500, BT_STAMP_SECONDS, 0.001},
    {"ns", '.', "1000", "1010", 10, BT_STAMP_SECONDS, 1e-6},
    {"min", '.', "1.5", "2", 30 * S, BT_STAMP_SECONDS, 90},
    {"h", '.', "0", "0.001", 3600000000, BT_STAMP_SECONDS, 0},
    /* epochs: by size, and by unit */
    {NULL, '.', "1692117187.463807582", "1692117187.503807545", 39999963, BT_STAMP_EPOCH, 0},
    {"s", '.', "1692117187.463807582", "1692117187.503807545", 39999963, BT_STAMP_EPOCH, 0},
    {NULL, '.', "1692117187463", "1692117187503", 40000000, BT_STAMP_EPOCH, 0},
    {NULL, '.', "1692117187463.25", "1692117187503", 39750000, BT_STAMP_EPOCH, 0},
    {NULL, '.', "1692117187463807", "1692117187503808", 40001000, BT_STAMP_EPOCH, 0},
    {NULL, '.', "1692117187463807582", "1692117187463807583", 1, BT_STAMP_EPOCH, 0},
    {"ms", '.', "1692117187463", "1692117187503", 40000000, BT_STAMP_EPOCH, 0},
    {"ms", '.', "100000001000", "100000002000", S, BT_STAMP_EPOCH, 0},
    {NULL, '.', "99999999", "100000001", 2 * S, BT_STAMP_SECONDS, 99999999},
    /* clocks */
    {NULL, '.', "09:41:07.250", "09:41:08", 750000000, BT_STAMP_CLOCK, 0},
    {NULL, '.', "9:41:07,5", "9:42:07.5", 60 * S, BT_STAMP_CLOCK, 0},
    {NULL, '.', "00:59.9", "01:00.1", S / 5, BT_STAMP_CLOCK, 0},
    {NULL, '.', "75:59.9", "76:00.1", S / 5, BT_STAMP_CLOCK, 0},
    {NULL, '.', "23:59:59.99", "00:00:00.01", S / 50, BT_STAMP_CLOCK, 0},
    {NULL, '.', "59:59.99", "00:00.01", S / 50, BT_STAMP_CLOCK, 0},
    {NULL, '.', "12:00:00", "11:59:59", -S, BT_STAMP_CLOCK, 0},
    {NULL, '.', "30:00:00", "02:00:00", -28 * 3600 * S, BT_STAMP_CLOCK, 0}, /* elapsed time */
    {NULL, '.', "90:00", "10:00", -80 * 60 * S, BT_STAMP_CLOCK, 0},
    {NULL, '.', "00:00:60", "00:01:00", 0, BT_STAMP_CLOCK, 0}, /* leap second */
    /* dates */
    {NULL, '.', "2025-05-03T09:41:07.25Z", "2025-05-03T09:41:08Z", 750000000, BT_STAMP_DATE, 0},
    {NULL, '.', "2025-05-03 09:41:07", "2025-05-04 09:41:07", DAY, BT_STAMP_DATE, 0},
    {NULL, '.', "2024-02-28 23:59:59,5", "2024-03-01 00:00:00", DAY + S / 2, BT_STAMP_DATE, 0},
    {NULL, '.', "2023-02-28 00:00:00", "2023-03-01 00:00:00", DAY, BT_STAMP_DATE, 0},
    {NULL, '.', "2000-02-28 00:00:00", "2000-03-01 00:00:00", 2 * DAY, BT_STAMP_DATE, 0},
    {NULL, '.', "2100-02-28 00:00:00", "2100-03-01 00:00:00", DAY, BT_STAMP_DATE, 0},
    {NULL, '.', "1970-01-01 00:00:00", "2025-05-03 09:41:07", 1746265267 * S, BT_STAMP_DATE, 0},
    {NULL, '.', "2025-05-03T09:00:00+02:00", "2025-05-03T07:00:00Z", 0, BT_STAMP_DATE, 0},
    {NULL, '.', "2025-05-03T09:00:00-0530", "2025-05-03T09:00:00 +00", -19800 * S, BT_STAMP_DATE,
     0},
};

START_TEST(two_stamps_are_as_far_apart_as_they_say)
{
    bt_stamps st;
    int64_t ns = -1;
    bt_stamps_init(&st, unit(pairs[_i].unit), pairs[_i].decimal);
    ck_assert_int_eq(parse(&st, pairs[_i].first, &ns), BT_CELL_VALUE);
    ck_assert_int_eq(ns, 0);
    ck_assert_int_eq(parse(&st, pairs[_i].second, &ns), BT_CELL_VALUE);
    ck_assert_msg(ns == pairs[_i].ns, "%s .. %s: %" PRId64 " ns", pairs[_i].first, pairs[_i].second,
                  ns);
    ck_assert_int_eq(st.kind, pairs[_i].kind);
    ck_assert(bt_stamps_offset(&st) == pairs[_i].offset);
}
END_TEST

static const char *const bad[] = {
    "x",
    "12..4",
    "1,5",
    "1:2:3:4",
    "12:60:00",
    "00:00:61",
    "12:",
    ":12",
    "1e",
    "1e5000",
    "0x10",
    "inf",
    "1 2",
    "2025-05-03",
    "2025-13-03 00:00:00",
    "2023-02-29 00:00:00",
    "2025-05-03T09:41",
    "03/05/2025 09:41:07",
    "2025-05-03T09:41:07+2",
    "2025-05-03T09:41:07X",
    "2025-05-03T25:41:07",
    "1500-01-01 00:00:00",
    "99999999999999999999999",
    "+",
    ".",
    "-.",
    "12:30.5.5",
    "9:41:07 PM",
};

START_TEST(what_is_no_time_is_refused_and_fixes_nothing)
{
    bt_stamps st;
    int64_t ns = 77;
    bt_stamps_init(&st, NULL, '.');
    ck_assert_msg(parse(&st, bad[_i], &ns) == BT_CELL_BAD, "'%s' was taken", bad[_i]);
    ck_assert_int_eq(ns, 77);
    ck_assert_int_eq(st.kind, BT_STAMP_NONE);
    ck_assert_int_eq(parse(&st, "10:00:00", &ns), BT_CELL_VALUE);
    ck_assert_int_eq(st.kind, BT_STAMP_CLOCK);
}
END_TEST

START_TEST(blank_cells_are_blank_wherever_they_stand)
{
    bt_stamps st;
    int64_t ns = 77;
    bt_stamps_init(&st, NULL, '.');
    ck_assert_int_eq(parse(&st, "", &ns), BT_CELL_BLANK);
    ck_assert_int_eq(parse(&st, " NaN ", &ns), BT_CELL_BLANK);
    ck_assert_int_eq(bt_stamps_parse(&st, NULL, 0, &ns), BT_CELL_BLANK);
    ck_assert_int_eq(ns, 77);
    ck_assert_int_eq(parse(&st, "3", &ns), BT_CELL_VALUE);
    ck_assert_int_eq(parse(&st, "-", &ns), BT_CELL_BLANK);
    ck_assert_int_eq(ns, 0);
}
END_TEST

START_TEST(the_form_of_the_first_stamp_holds)
{
    static const char *const forms[] = {"12.5", "10:00:00", "10:00", "2025-05-03 10:00:00"};
    for (int first = 0; first < COUNT(forms); first++)
        for (int other = 0; other < COUNT(forms); other++) {
            bt_stamps st;
            int64_t ns;
            bt_stamps_init(&st, NULL, '.');
            ck_assert_int_eq(parse(&st, forms[first], &ns), BT_CELL_VALUE);
            ck_assert_int_eq(parse(&st, forms[other], &ns),
                             first == other ? BT_CELL_VALUE : BT_CELL_BAD);
            ck_assert_int_eq(parse(&st, forms[first], &ns), BT_CELL_VALUE);
            ck_assert_int_eq(ns, 0);
        }
}
END_TEST

START_TEST(a_clock_goes_past_midnight_as_often_as_it_likes)
{
    bt_stamps st;
    int64_t ns;
    char cell[40];
    bt_stamps_init(&st, NULL, '.');
    for (int64_t hour = 20; hour < 20 + 3 * 24; hour++) {
        snprintf(cell, sizeof cell, "%02d:30:00.5", (int)(hour % 24));
        ck_assert_int_eq(parse(&st, cell, &ns), BT_CELL_VALUE);
        ck_assert_int_eq(ns, (hour - 20) * 3600 * S);
    }
}
END_TEST

START_TEST(a_stamp_from_before_midnight_may_come_late)
{
    bt_stamps st;
    int64_t ns;
    bt_stamps_init(&st, NULL, '.');
    ck_assert_int_eq(parse(&st, "23:59:59.00", &ns), BT_CELL_VALUE);
    ck_assert_int_eq(parse(&st, "00:00:00.01", &ns), BT_CELL_VALUE);
    ck_assert_int_eq(ns, 1010000000);
    ck_assert_int_eq(parse(&st, "23:59:59.99", &ns), BT_CELL_VALUE);
    ck_assert_int_eq(ns, 990000000);
    ck_assert_int_eq(parse(&st, "00:00:00.02", &ns), BT_CELL_VALUE);
    ck_assert_int_eq(ns, 1020000000);
}
END_TEST

/* Property: what is added to all stamps does not show in the times after the first. */
START_TEST(a_constant_added_to_all_stamps_changes_nothing)
{
    static const int64_t offsets_ms[] = {0, 1, 86399999, 46408580, 99000000000, 1692117187463};
    for (int k = 0; k < COUNT(offsets_ms); k++) {
        bt_stamps st;
        unsigned x = 7;
        int64_t ms = 0;
        bt_stamps_init(&st, NULL, '.');
        for (int i = 0; i < 500; i++) {
            char cell[40];
            int64_t ns;
            const int64_t stamp = ms + offsets_ms[k];
            snprintf(cell, sizeof cell, "%" PRId64 ".%03d", stamp / 1000, (int)(stamp % 1000));
            ck_assert_int_eq(parse(&st, cell, &ns), BT_CELL_VALUE);
            ck_assert_int_eq(ns, ms * 1000000);
            x = x * 1103515245u + 12345u;
            ms += 1 + (x >> 16) % 50;
        }
    }
}
END_TEST

START_TEST(beyond_292_years_is_refused)
{
    bt_stamps st;
    int64_t ns = 77;
    bt_stamps_init(&st, unit("s"), '.');
    ck_assert_int_eq(parse(&st, "1692117187463", &ns), BT_CELL_BAD); /* ms that claim to be s */
    ck_assert_int_eq(parse(&st, "9000000000", &ns), BT_CELL_VALUE);
    ck_assert_int_eq(parse(&st, "-9000000000", &ns), BT_CELL_BAD);
    ck_assert_int_eq(ns, 0);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("stamps");
    TCase *t = tcase_create("stamps");
    tcase_add_loop_test(t, two_stamps_are_as_far_apart_as_they_say, 0, COUNT(pairs));
    tcase_add_loop_test(t, what_is_no_time_is_refused_and_fixes_nothing, 0, COUNT(bad));
    tcase_add_test(t, blank_cells_are_blank_wherever_they_stand);
    tcase_add_test(t, the_form_of_the_first_stamp_holds);
    tcase_add_test(t, a_clock_goes_past_midnight_as_often_as_it_likes);
    tcase_add_test(t, a_stamp_from_before_midnight_may_come_late);
    tcase_add_test(t, a_constant_added_to_all_stamps_changes_nothing);
    tcase_add_test(t, beyond_292_years_is_refused);
    suite_add_tcase(s, t);
    return s;
}

BT_CHECK_MAIN(suite)
