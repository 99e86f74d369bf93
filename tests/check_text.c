/* Arena, UTF-8 and names. */
#include "check_support.h"
#include "base/print.h"
#include "base/text.h"

#include <stdio.h>
#include <string.h>

START_TEST(texts_stay_apart_and_live_together)
{
    bt_arena arena = {0};
    char *texts[3000];
    for (int i = 0; i < 3000; i++) {
        char text[16];
        const int n = snprintf(text, sizeof text, "column %d", i);
        texts[i] = bt_arena_text(&arena, text, (size_t)n, BT_UTF8);
        ck_assert_ptr_nonnull(texts[i]);
    }
    char *large = bt_arena_new(&arena, 100000);
    ck_assert_ptr_nonnull(large);
    for (int i = 0; i < 100000; i++) ck_assert_int_eq(large[i], 0);
    memset(large, 'x', 100000);
    ck_assert_str_eq(texts[0], "column 0");
    ck_assert_str_eq(texts[2999], "column 2999");
    bt_arena_free(&arena);
    bt_arena_free(&arena); /* an empty one */
    ck_assert_ptr_null(bt_arena_new(&arena, SIZE_MAX));
}
END_TEST

START_TEST(latin1_becomes_utf8_and_so_do_bytes_that_are_none)
{
    bt_arena arena = {0};
    ck_assert_str_eq(bt_arena_text(&arena,
                                   "\xb0"
                                   "C",
                                   2, BT_LATIN1),
                     "\u00b0C");
    ck_assert_str_eq(bt_arena_text(&arena,
                                   "\xb0"
                                   "C",
                                   2, BT_UTF8),
                     "\u00b0C");
    ck_assert_str_eq(bt_arena_text(&arena, "\u00b0C", 3, BT_UTF8), "\u00b0C");
    ck_assert_str_eq(bt_arena_text(&arena, "\u00b0", 2, BT_LATIN1), "\u00c2\u00b0");
    ck_assert_str_eq(bt_arena_text(&arena, "a\0b", 3, BT_UTF8), "a b");
    ck_assert_str_eq(bt_arena_text(&arena, "", 0, BT_UTF8), "");
    bt_arena_free(&arena);
}
END_TEST

/* Well-formed or not: Unicode 15, table 3-7. */
static const struct {
    const char *bytes;
    size_t valid, valid_cut;
} utf8[] = {
    {"abc", 3, 3},
    {"\u00e4\u20ac\U0001f600", 9, 9},
    {"a\xc3", 1, 2},
    {"a\xe2\x82", 1, 3},
    {"a\xf0\x9f\x98", 1, 4},
    {"a\x80", 1, 1},
    {"\xc0\x80", 0, 0},         /* overlong */
    {"\xe0\x80\x80", 0, 0},     /* overlong */
    {"\xe0\x80", 0, 0},         /* will be overlong */
    {"\xed\xa0\x80", 0, 0},     /* surrogate */
    {"\xf4\x90\x80\x80", 0, 0}, /* beyond U+10FFFF */
    {"\xf5", 0, 0},
    {"\xc3(", 0, 0},
    {"a\xe2\x82z", 1, 1},
};

START_TEST(utf8_is_told_from_other_bytes)
{
    const size_t n = strlen(utf8[_i].bytes);
    ck_assert_uint_eq(bt_utf8_valid(utf8[_i].bytes, n, false), utf8[_i].valid);
    ck_assert_uint_eq(bt_utf8_valid(utf8[_i].bytes, n, true), utf8[_i].valid_cut);
}
END_TEST

START_TEST(names_are_alike_whatever_their_case_and_joints)
{
    ck_assert(bt_name_alike("Line rear", "line_rear"));
    ck_assert(bt_name_alike("LINE-REAR", "line rear"));
    ck_assert(!bt_name_alike("line rear", "linerear"));
    ck_assert(!bt_name_alike("line", "line "));
    ck_assert(bt_name_alike("", ""));
    ck_assert(bt_name_alike_n("ab-x", 3, "AB_y", 3));
}
END_TEST

START_TEST(words_that_do_not_fit_end_between_characters)
{
    static const char text[] = "a\xc3\xa9\xe2\x80\xa6\xf0\x9f\x8f\x81z"; /* 1 2 3 4 1 bytes */
    static const size_t whole[] = {0, 1, 1, 3, 3, 3, 6, 6, 6, 6, 10, 11};
    char out[16];
    for (size_t cap = 1; cap <= sizeof whole / sizeof *whole; cap++) {
        ck_assert_int_eq(bt_print(out, cap, "%s", text), 11);
        ck_assert_uint_eq(strlen(out), whole[cap - 1]);
        ck_assert_int_eq(memcmp(out, text, strlen(out)), 0);
    }
    ck_assert_int_eq(bt_print(NULL, 0, "%.1f", 0.5), 3);
    bt_print(out, 4, "\x80\x80\x80\x80"); /* what was no UTF-8 before stays */
    ck_assert_str_eq(out, "\x80\x80\x80");
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("text");
    TCase *t = tcase_create("text");
    tcase_add_test(t, texts_stay_apart_and_live_together);
    tcase_add_test(t, latin1_becomes_utf8_and_so_do_bytes_that_are_none);
    tcase_add_loop_test(t, utf8_is_told_from_other_bytes, 0, (int)(sizeof utf8 / sizeof *utf8));
    tcase_add_test(t, names_are_alike_whatever_their_case_and_joints);
    tcase_add_test(t, words_that_do_not_fit_end_between_characters);
    suite_add_tcase(s, t);
    return s;
}

BT_CHECK_MAIN(suite)
