/* Numbers against the C library's own strtod and printf in the C locale, which the test
 * program runs in: every figure here has a second, independent way to it. */
#include "check_support.h"
#include "base/number.h"
#include "base/quick.h"

#include <float.h>
#include <inttypes.h>
#include <locale.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

static bt_cell_result parse(const char *s, char decimal, double *x)
{
    return bt_number_parse(s, strlen(s), decimal, x);
}

/* Same double, bit by bit; says which text if not. */
static void same_as_strtod(const char *s)
{
    double x, wanted = strtod(s, NULL);
    const bt_cell_result result = parse(s, '.', &x);
    if (isinf(wanted)) {
        ck_assert_msg(result == BT_CELL_BAD && isnan(x), "'%s' should be refused", s);
        return;
    }
    ck_assert_msg(result == BT_CELL_VALUE, "'%s' was not read", s);
    ck_assert_msg(memcmp(&x, &wanted, sizeof x) == 0, "'%s' gave %a, wanted %a", s, x, wanted);
}

static const struct {
    const char *text;
    char decimal;
    double value;
} values[] = {
    {"0", '.', 0},       {"12", '.', 12},    {"-3.5", '.', -3.5},     {"+3.5", '.', 3.5},
    {"3,5", ',', 3.5},   {"-,5", ',', -0.5}, {".5", '.', 0.5},        {"5.", '.', 5},
    {" 7\t", '.', 7},    {"1e3", '.', 1000}, {"1.5E-3", '.', 1.5e-3}, {"2e+2", '.', 200},
    {"1,5e2", ',', 150}, {"0012", '.', 12},  {"-0", '.', -0.0},       {"0e999999999999", '.', 0},
    {"1e-999", '.', 0},
};

START_TEST(a_number_is_read_as_written)
{
    double x;
    ck_assert_int_eq(parse(values[_i].text, values[_i].decimal, &x), BT_CELL_VALUE);
    ck_assert(x == values[_i].value && signbit(x) == signbit(values[_i].value));
}
END_TEST

static const char *const blanks[] = {"",    " ",   "\t ", "NaN", "nan", "NAN",  "-",
                                     " - ", "N/A", "n/a", "NA",  "na",  " NaN "};

START_TEST(words_for_no_value_are_blank)
{
    double x = 1;
    ck_assert_int_eq(parse(blanks[_i], '.', &x), BT_CELL_BLANK);
    ck_assert(isnan(x));
    ck_assert(bt_number_blank(blanks[_i], strlen(blanks[_i])));
}
END_TEST

static const struct {
    const char *text;
    char decimal;
} bad[] = {
    {"12..4", '.'},
    {"1.2.3", '.'},
    {"1,5", '.'},
    {"1.5", ','},
    {"1.234,5", ','},
    {"0x10", '.'},
    {"inf", '.'},
    {"-inf", '.'},
    {"1e", '.'},
    {"1e+", '.'},
    {"--1", '.'},
    {"+", '.'},
    {".", '.'},
    {"-.", '.'},
    {"1 2", '.'},
    {"12a", '.'},
    {"e5", '.'},
    {"nano", '.'},
    {"1e400", '.'},
    {"n", '.'},
    {"+NaN", '.'},
    {"1e5.0", '.'},
    {"\xc2\xa0"
     "1",
     '.'},
};

START_TEST(anything_else_is_refused)
{
    double x = 1;
    ck_assert_int_eq(parse(bad[_i].text, bad[_i].decimal, &x), BT_CELL_BAD);
    ck_assert(isnan(x));
    ck_assert(!bt_number_blank(bad[_i].text, strlen(bad[_i].text)));
}
END_TEST

START_TEST(a_cell_needs_no_nul_and_may_be_nothing_at_all)
{
    double x;
    ck_assert_int_eq(bt_number_parse("12345", 2, '.', &x), BT_CELL_VALUE);
    ck_assert(x == 12);
    ck_assert_int_eq(bt_number_parse(NULL, 0, '.', &x), BT_CELL_BLANK);
    ck_assert(bt_number_blank(NULL, 0));
    ck_assert_int_eq(bt_number_parse("a\0b", 3, '.', &x), BT_CELL_BAD);
    ck_assert_int_eq(bt_number_parse("-\0\0\0\0\0", 6, '.', &x), BT_CELL_BAD);
}
END_TEST

/* Ties, their neighbours, the edges of the range, long runs of digits. */
static const char *const hard[] = {
    "9007199254740992",
    "9007199254740993",
    "9007199254740995",
    "9007199254740993.0000000000000000000000000000000000001",
    "9007199254740993.0",
    "4503599627370496.5",
    "4503599627370497.5",
    "4503599627370497.499",
    "2251799813685248.25",
    "2251799813685248.75",
    "1.0000000000000002220",
    "0.9999999999999999999",
    "0.1844674407370955161",
    "1844674407370955.1615",
    "4.9406564584124654e-324",
    "2.4703282292062327e-324",
    "2.4703282292062328e-324",
    "2.2250738585072011e-308",
    "2.2250738585072014e-308",
    "1.7976931348623157e308",
    "1.7976931348623158e308",
    "1.7976931348623159e308",
    "179769313486231580793e289",
    "0.1",
    "0.30000000000000004",
    "123456789012345678901234567890",
    "1e23",
    "8.5e22",
    "1e22",
    "1e-22",
    "1e-23",
    "9007199254740991e22",
    "9007199254740993e-22",
    "18446744073709551615",
    "18446744073709551616",
    "99999999999999999999",
    "0.000000000000000000000000000000000000000000000001234567890123456789",
    "6.631236846766476e-316",
    "3.237883913302901e-319",
    "1090544144181609348671888949248",
    "1090544144181609348835077142190",
};

START_TEST(hard_cases_are_rounded_as_strtod_rounds_them)
{
    same_as_strtod(hard[_i]);
}
END_TEST

/* Exactly between two doubles, with 0, 1 or 9 some hundred digits on. */
START_TEST(a_tie_is_broken_by_its_last_digit_however_far)
{
    char text[1400];
    int n = snprintf(text, sizeof text, "%.1074f", ldexp(3, -1074) / 2); /* 1.5 of the smallest */
    ck_assert_int_gt(n, 1000);
    same_as_strtod(text);
    n = snprintf(text, sizeof text, "9007199254740993.");
    memset(text + n, '0', 900);
    strcpy(text + n + 900, "1");
    same_as_strtod(text);
    text[n + 900] = '0';
    same_as_strtod(text);
    memset(text, '0', 1200); /* leading zeros are no digits */
    strcpy(text + 1200, "1.25e0");
    same_as_strtod(text);
}
END_TEST

static uint64_t random_state = 0x9e3779b97f4a7c15;

static uint64_t next_random(void) /* xorshift64, Marsaglia 2003 */
{
    random_state ^= random_state << 13;
    random_state ^= random_state >> 7;
    return random_state ^= random_state << 17;
}

/* Digits with a point anywhere and now and then an exponent. */
static void random_number(char *s)
{
    const size_t digits = 1 + next_random() % (next_random() % 16 == 0 ? 40 : 19);
    const size_t point = next_random() % (digits + 1);
    if (next_random() % 2) *s++ = '-';
    for (size_t i = 0; i < digits; i++) {
        if (i == point) *s++ = '.';
        *s++ = (char)('0' + next_random() % 10);
    }
    *s = '\0';
    if (next_random() % 4 == 0) sprintf(s, "e%d", (int)(next_random() % 660) - 340);
}

START_TEST(a_million_random_numbers_are_read_as_strtod_reads_them)
{
    char text[80];
    for (int i = 0; i < 1000000; i++) {
        random_number(text);
        same_as_strtod(text);
    }
}
END_TEST

START_TEST(random_doubles_written_with_17_digits_come_back)
{
    char text[40];
    for (int i = 0; i < 200000; i++) {
        const uint64_t bits = next_random();
        double x, y;
        memcpy(&x, &bits, sizeof x);
        if (!isfinite(x)) continue;
        snprintf(text, sizeof text, "%.17g", x);
        ck_assert_int_eq(parse(text, '.', &y), BT_CELL_VALUE);
        ck_assert_msg(memcmp(&x, &y, sizeof x) == 0, "%s", text);
    }
}
END_TEST

static const struct {
    double x;
    int decimals;
    const char *text;
} written[] = {
    {0, 0, "0"},
    {0, 3, "0.000"},
    {-0.0, 2, "0.00"},
    {-0.001, 2, "0.00"},
    {-0.005, 2, "-0.01"}, /* the double lies beyond the tie: -0.005000000000000000104 */
    {0.125, 2, "0.13"},   /* ties, exact in binary: away from 0 */
    {0.375, 2, "0.38"},
    {2.5, 0, "3"},
    {-3.5, 0, "-4"},
    {1.005, 2, "1.01"}, /* the double lies below: 1.00499999999999989 */
    {0.499998, 0, "0"},
    {0.4999995, 0, "1"}, /* half a millionth below the tie */
    {12.3456, 1, "12.3"},
    {99.95, 1, "100.0"}, /* 99.9500000000000028 */
    {-1234.5, 3, "-1234.500"},
    {1e14, 1, "100000000000000"},
    {123456789012345.0, 3, "123456789012345"},
    {12345678901.23456, 6, "12345678901.2346"},
    {9.999999999999999, 15, "10.0000000000000"},
    {0.1, 15, "0.100000000000000"},
    {1e15, 2, "1000000000000000"},
    {1234567890123456789.0, 0, "1234567890123460000"},
    {-1e21, 3, "-1000000000000000000000"},
    {999999999999999.9, 1, "1000000000000000"},
    {4e-320, 4, "0.0000"},
    {NAN, 3, ""},
    {INFINITY, 3, ""},
    {-INFINITY, 0, ""},
};

START_TEST(a_number_is_written_with_fixed_decimals)
{
    char text[BT_NUMBER_MAX];
    const size_t n = bt_number_format(text, sizeof text, written[_i].x, written[_i].decimals);
    ck_assert_str_eq(text, written[_i].text);
    ck_assert_uint_eq(n, strlen(text));
}
END_TEST

START_TEST(the_largest_number_fits_and_what_does_not_fit_is_nothing)
{
    char text[BT_NUMBER_MAX];
    ck_assert_uint_eq(bt_number_format(text, sizeof text, -DBL_MAX, 15), 310);
    ck_assert_int_eq(memcmp(text, "-179769313486232000", 19), 0);
    ck_assert_uint_eq(bt_number_format(text, 4, 123.0, 0), 3);
    ck_assert_uint_eq(bt_number_format(text, 3, 123.0, 0), 0);
    ck_assert_str_eq(text, "");
}
END_TEST

/* k / divisor rounded to `decimals`, worked out in whole numbers. */
static void write_in_whole_numbers(char *out, size_t cap, int64_t k, int64_t divisor, int decimals)
{
    int64_t power = 1;
    for (int i = 0; i < decimals; i++) power *= 10;
    const int64_t a = llabs(k) * power, q = a / divisor, r = a % divisor;
    const int64_t units = q + (2000000 * (r - divisor / 2) + 2 * divisor >= 0 ? 1 : 0);
    const char *sign = k < 0 && units > 0 ? "-" : "";
    if (decimals == 0)
        snprintf(out, cap, "%s%lld", sign, (long long)units);
    else
        snprintf(out, cap, "%s%lld.%0*lld", sign, (long long)(units / power), decimals,
                 (long long)(units % power));
}

/* Many ties and near-ties: multiples of 2^-10, of 0.0005, and of 1.7320508e-3. */
START_TEST(half_a_million_random_numbers_are_written_as_whole_numbers_round_them)
{
    static const struct {
        int64_t times, divisor, most;
    } of[] = {{1, 1024, 100000000}, {1, 2000, 100000000}, {17320508, 10000000000, 5000}};
    char text[BT_NUMBER_MAX], wanted[40];
    for (int i = 0; i < 500000; i++) {
        const int decimals = (int)(next_random() % 7), kind = i % 3;
        const int64_t most = of[kind].most;
        const int64_t k = (int64_t)(next_random() % (uint64_t)(2 * most + 1)) - most;
        const double x = (double)(k * of[kind].times) / (double)of[kind].divisor;
        bt_number_format(text, sizeof text, x, decimals);
        write_in_whole_numbers(wanted, sizeof wanted, k * of[kind].times, of[kind].divisor,
                               decimals);
        ck_assert_str_eq(text, wanted);
    }
}
END_TEST

/* A locale with a decimal comma, made on the spot; false where that cannot be done. */
static bool comma_locale(char *folder)
{
    char path[200], command[600];
    if (setlocale(LC_ALL, "de_DE.UTF-8") && localeconv()->decimal_point[0] == ',') return true;
    snprintf(path, sizeof path, "%s/source", folder);
    FILE *f = fopen(path, "w");
    if (!f) return false;
    fputs("LC_CTYPE\ncopy \"POSIX\"\nEND LC_CTYPE\n"
          "LC_NUMERIC\ndecimal_point \"<U002C>\"\nthousands_sep \"<U002E>\"\ngrouping 3;3\n"
          "END LC_NUMERIC\n",
          f);
    fclose(f);
    snprintf(command, sizeof command, "localedef -c -i %s -f UTF-8 %s/xx_XX.UTF-8 >%s/log 2>&1",
             path, folder, folder);
    if (system(command) < 0) return false;
    setenv("LOCPATH", folder, 1);
    return setlocale(LC_NUMERIC, "xx_XX.UTF-8") && localeconv()->decimal_point[0] == ',';
}

START_TEST(a_comma_locale_changes_nothing)
{
    char folder[] = "/tmp/bt_locale_XXXXXX", command[100], text[BT_NUMBER_MAX];
    ck_assert_ptr_nonnull(mkdtemp(folder));
    if (comma_locale(folder)) {
        double x;
        ck_assert_int_eq(parse("0.30000000000000004", '.', &x), BT_CELL_VALUE);
        ck_assert(x == 0.1 + 0.2);
        ck_assert_int_eq(parse("1.7976931348623157e308", '.', &x), BT_CELL_VALUE);
        ck_assert(x == DBL_MAX);
        ck_assert_int_eq(parse("0,5", '.', &x), BT_CELL_BAD);
        bt_number_format(text, sizeof text, 0.125, 2);
        ck_assert_str_eq(text, "0.13");
        bt_number_format(text, sizeof text, 1.5e20, 2);
        ck_assert_str_eq(text, "150000000000000000000");
        bt_number_format(text, sizeof text, 12345678901.23456, 6);
        ck_assert_str_eq(text, "12345678901.2346");
    } else {
        puts("no comma locale here: not checked under one");
    }
    snprintf(command, sizeof command, "rm -rf %s", folder);
    ck_assert_int_eq(system(command), 0);
}
END_TEST

/* Cell by cell, with every form expected, the quick way says what the other says, to the last bit, or
 * nothing; and what it is made for it does say. */
static void expect_the_same(const char *text, size_t n)
{
    char before[BT_QUICK_SLACK + 9], *cell = before + BT_QUICK_SLACK;
    memset(before, '7', sizeof before); /* what lies before a cell is not its business */
    memcpy(cell, text, n);
    double slow, quick;
    const bt_cell_result result = bt_number_parse(cell, n, '.', &slow);
    for (size_t form = 0; form <= 8; form++) {
        const bt_form f =
            form ? bt_form_of(&"........"[8 - form], form, '.') : bt_form_of("1", 1, '.');
        if (!bt_number_quick(cell + n, n, &f, &quick)) continue;
        ck_assert_msg(result == BT_CELL_VALUE && memcmp(&quick, &slow, sizeof quick) == 0,
                      "'%.*s' in form %zu", (int)n, cell, form);
    }
    const size_t digits = strspn(text + (*text == '-'), "0123456789.");
    if (result != BT_CELL_VALUE || n > 8 || digits + (*text == '-') < n) return;
    const bt_form own = bt_form_of(cell, n, '.');
    ck_assert_msg(bt_number_quick(cell + n, n, &own, &quick), "'%.*s'", (int)n, cell);
}

START_TEST(the_quick_way_to_a_number_is_the_same_to_the_last_bit)
{
    static const char letters[] = "0123456789.-+ e,\xb0\x2f\x3a";
    const size_t choices = sizeof letters - 1;
    char text[16] = "";
    for (size_t n = 1; n <= 3; n++) { /* all there are */
        size_t all = 1;
        for (size_t i = 0; i < n; i++) all *= choices;
        for (size_t k = 0; k < all; k++) {
            for (size_t i = 0, rest = k; i < n; i++, rest /= choices)
                text[i] = letters[rest % choices];
            expect_the_same(text, n);
        }
    }
    uint64_t x = 1;
    for (int k = 0; k < 2000000; k++) {
        x = x * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
        const size_t n = 1 + (size_t)(x >> 60) % 9;
        for (size_t i = 0; i < n; i++) text[i] = (char)('0' + (x >> (4 * i + 8)) % 10);
        text[n] = '\0';
        if (x >> 59 & 1) text[(x >> 50) % n] = '.';
        if (x >> 49 & 1) text[0] = '-';
        if ((x >> 40 & 31) == 0) text[(x >> 45) % n] = letters[(x >> 33) % choices];
        expect_the_same(text, n);
    }
    double out;
    const bt_form form = bt_form_of("1,5", 3, ',');
    ck_assert(!bt_number_quick(&"........"[8], 0, &form, &out));
    ck_assert(!bt_number_quick(&".....1.5"[8], 3, &form, &out));
    ck_assert(bt_number_quick(&"     1,5"[8], 3, &form, &out));
    ck_assert_double_eq(out, 1.5);
}
END_TEST

/* All there are: eight characters hold seven digits and a point, or eight digits, which need no power. */
START_TEST(every_number_of_a_form_is_the_nearest_double)
{
    const size_t places = (size_t)_i;
    const bt_form form = bt_form_of(".0000000", places + 1, '.');
    double power = 1;
    for (size_t i = 0; i < places; i++) power *= 10;
    for (int digits = 0; digits < 10000000; digits++)
        if (digits * form.high + digits * form.low != digits / power)
            ck_abort_msg("%d / %g", digits, power);
}
END_TEST

/* Columns of cells, some of them odd: what comes out, and where it stops. */
static void expect_column(int seed)
{
    enum { ROWS = 61, ROOM = 4096 };
    static const char letters[] = "0123456789.-+ e,\xb0";
    uint64_t x = 1 + (uint64_t)seed;
    char text[BT_QUICK_SLACK + ROOM] = "";
    uint32_t end[1 + 2 * ROWS] = {UINT32_MAX};
    uint32_t used = 0;
    const size_t places = (size_t)seed % 4;
    for (size_t r = 0; r < ROWS; r++) {
        char cell[16];
        x = x * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
        const int digits = (int)(x >> 40) % (seed % 3 ? 1000 : 10000000);
        int n = snprintf(cell, sizeof cell, "%.*f", (int)places, (double)(digits - 300) / 100);
        if ((x >> 30) % 64 == 0) cell[(x >> 20) % 4] = letters[(x >> 10) % (sizeof letters - 1)];
        if ((x >> 36) % 64 == 0) n = 0;
        memcpy(text + BT_QUICK_SLACK + used, cell, (size_t)n);
        end[1 + 2 * r] = used += (uint32_t)n;
        end[2 + 2 * r] = used += 1 + (uint32_t)(x >> 25) % 3; /* a separator, a cell, a separator */
        used++;
        end[1 + 2 * r] += (uint32_t)(seed % 2); /* as of CR LF */
        used += (uint32_t)(seed % 2), end[2 + 2 * r] += (uint32_t)(seed % 2);
    }
    const bt_cells cells = {text + BT_QUICK_SLACK, end + 1, 2, (uint32_t)(seed % 2)};
    size_t n, done = 0;
    const char *first = bt_cells_at(&cells, 0, &n);
    const bt_form form = bt_form_of(first, n, '.');
    double out[ROWS];
    done = bt_numbers_quick(&cells, ROWS, &form, 3, 0.5, out);
    for (size_t r = 0; r < ROWS; r++) {
        double alone = 0;
        const char *s = bt_cells_at(&cells, r, &n);
        const bool good = bt_number_quick(s + n, n, &form, &alone);
        if (r == done) ck_assert_msg(!good, "row %zu: '%.*s'", r, (int)n, s);
        if (r >= done) break;
        ck_assert_msg(good && out[r] == alone * 3 + 0.5, "row %zu: '%.*s'", r, (int)n, s);
    }
}

START_TEST(a_column_is_read_as_its_cells_are)
{
    for (int seed = 0; seed < 20000; seed++) expect_column(seed);
}
END_TEST

#define COUNT(array) ((int)(sizeof(array) / sizeof *(array)))

static Suite *suite(void)
{
    Suite *s = suite_create("number");
    TCase *t = tcase_create("read");
    tcase_set_timeout(t, 60);
    tcase_add_loop_test(t, a_number_is_read_as_written, 0, COUNT(values));
    tcase_add_loop_test(t, words_for_no_value_are_blank, 0, COUNT(blanks));
    tcase_add_loop_test(t, anything_else_is_refused, 0, COUNT(bad));
    tcase_add_test(t, a_cell_needs_no_nul_and_may_be_nothing_at_all);
    tcase_add_loop_test(t, hard_cases_are_rounded_as_strtod_rounds_them, 0, COUNT(hard));
    tcase_add_test(t, a_tie_is_broken_by_its_last_digit_however_far);
    tcase_add_test(t, a_million_random_numbers_are_read_as_strtod_reads_them);
    tcase_add_test(t, random_doubles_written_with_17_digits_come_back);
    tcase_add_test(t, the_quick_way_to_a_number_is_the_same_to_the_last_bit);
    tcase_add_loop_test(t, every_number_of_a_form_is_the_nearest_double, 0, 8);
    tcase_add_test(t, a_column_is_read_as_its_cells_are);
    suite_add_tcase(s, t);
    t = tcase_create("write");
    tcase_set_timeout(t, 60);
    tcase_add_loop_test(t, a_number_is_written_with_fixed_decimals, 0, COUNT(written));
    tcase_add_test(t, the_largest_number_fits_and_what_does_not_fit_is_nothing);
    tcase_add_test(t, half_a_million_random_numbers_are_written_as_whole_numbers_round_them);
    tcase_add_test(t, a_comma_locale_changes_nothing);
    suite_add_tcase(s, t);
    return s;
}

BT_CHECK_MAIN(suite)
