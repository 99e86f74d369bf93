/* Sheets: small CSV files as people save them from spreadsheets. */
#include "check_support.h"
#include "rows/sheet.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#define COUNT(array) ((int)(sizeof(array) / sizeof *(array)))

/* All rows as "line:cell|cell;", the header first. */
static const char *as_text(const bt_sheet *s, char *out, size_t cap)
{
    size_t at = (size_t)snprintf(out, cap, "%d:", (int)s->header_line);
    for (size_t i = 0; i < s->columns; i++)
        at += (size_t)snprintf(out + at, cap - at, "%s%s", i ? "|" : "", bt_sheet_name(s, i));
    for (size_t row = 0; row < s->rows; row++) {
        at += (size_t)snprintf(out + at, cap - at, ";%d:", (int)bt_sheet_line(s, row));
        for (size_t i = 0; i < s->columns; i++)
            at += (size_t)snprintf(out + at, cap - at, "%s%s", i ? "|" : "",
                                   bt_sheet_cell(s, row, i));
    }
    return out;
}

static const struct {
    const char *file;
    char delimiter, decimal;
    const char *rows;
} sheets[] = {
    {"quantity,value,unit\nmass,1250,kg\n", ',', '.', "1:quantity|value|unit;2:mass|1250|kg"},
    {"quantity;value;unit\r\nmass;1250,5;kg\r\n", ';', ',',
     "1:quantity|value|unit;2:mass|1250,5|kg"},
    {"quantity;value;unit\r\nmass;1250.5;kg\r\n", ';', '.',
     "1:quantity|value|unit;2:mass|1250.5|kg"},
    {"a\tb\n1\t2", '\t', '.', "1:a|b;2:1|2"},
    {"a;b\n1,5;2\n1.5;3\n", ';', '.', "1:a|b;2:1,5|2;3:1.5|3"}, /* doubtful: the point */
    {"\xef\xbb\xbf"
     "a,b\n1,2\n",
     ',', '.', "1:a|b;2:1|2"},
    {"# car sheet; 3, 4\n\n # of the Tern\na;b\n1;2\n", ';', '.', "4:a|b;5:1|2"},
    {"a,b\n# 1,2\n", ',', '.', "1:a|b"}, /* below the header it is a cell */
    {"a,b,\n1,2,\n3\n\n4,5\n", ',', '.', "1:a|b;2:1|2;3:3|;5:4|5"},
    {"a,b\n", ',', '.', "1:a|b"},
    {"a,b\n\"x, y\",\"two\nlines\"\n3,\"q\"\"q\"\n", ',', '.', "1:a|b;2:x, y|two\nlines;4:3|q\"q"},
    {"\"a;x\",b\n1,2\n", ',', '.', "1:a;x|b;2:1|2"},
    {"name\nx\n", ',', '.', "1:name;2:x"},
    {"a, b \n 1 , 2\n", ',', '.', "1:a|b;2:1|2"},
    {"a,b\n\xc2\xb0"
     "C,\xc2\xb2\n",
     ',', '.', "1:a|b;2:\u00b0C|\u00b2"},
    {"a,b\rx,y\r", ',', '.', "1:a|b;2:x|y"},
};

START_TEST(a_sheet_is_read_as_a_whole)
{
    bt_sheet s;
    bt_error err = {0};
    char text[400];
    ck_assert_int_eq(bt_sheet_memory(&s, "car.csv", sheets[_i].file, strlen(sheets[_i].file), &err),
                     BT_OK);
    ck_assert_str_eq(as_text(&s, text, sizeof text), sheets[_i].rows);
    ck_assert_int_eq(s.delimiter, sheets[_i].delimiter);
    ck_assert_int_eq(s.decimal, sheets[_i].decimal);
    ck_assert_str_eq(s.file, "car.csv");
    bt_sheet_free(&s);
}
END_TEST

static const struct {
    const char *file;
    size_t n; /* 0 = strlen */
    uint64_t line;
    const char *message;
} refusals[] = {
    {"", 0, 0, "expected a table with a header, found nothing"},
    {"\n# only words\n\n", 0, 0, "expected a table with a header, found nothing"},
    {",,\n1,2,3\n", 0, 0, "expected a table with a header, found nothing"},
    {"\xff\xfe"
     "a\0",
     4, 1, "expected UTF-8, found UTF-16: save as CSV in UTF-8"},
    {"a,b\n1,\xb0"
     "C\n",
     0, 2, "expected UTF-8, found the byte 0xb0: save as CSV in UTF-8"},
    {"a,b\n1,2\n\0,3\n", 12, 3, "expected UTF-8, found the byte 0x00: save as CSV in UTF-8"},
    {"a,b\n1,2\n1,2,3\n", 0, 3,
     "expected at most 2 cells as in the header, found 3: quote a cell that holds the delimiter"},
    {"a,b\n1,2\n\n3,\"4\n5,6\n", 0, 4, "expected a closing quote, found the end of the file"},
};

START_TEST(what_is_no_sheet_is_refused_with_the_place)
{
    bt_sheet s;
    bt_error err = {0};
    const size_t n = refusals[_i].n ? refusals[_i].n : strlen(refusals[_i].file);
    ck_assert_int_eq(bt_sheet_memory(&s, "car.csv", refusals[_i].file, n, &err), BT_SYNTAX);
    ck_assert_str_eq(err.message, refusals[_i].message);
    ck_assert_str_eq(err.file, "car.csv");
    ck_assert_uint_eq(err.line, refusals[_i].line);
    bt_sheet_free(&s);
}
END_TEST

START_TEST(columns_are_found_whatever_their_case_and_joints)
{
    static const char file[] = "Start s,start-m,PLACE,place\n1,2,3,4\n";
    bt_sheet s;
    bt_error err = {0};
    size_t column;
    ck_assert_int_eq(bt_sheet_memory(&s, "zones.csv", file, sizeof file - 1, &err), BT_OK);
    ck_assert_uint_eq(bt_sheet_find(&s, "start_s"), 0);
    ck_assert_uint_eq(bt_sheet_find(&s, "start_m"), 1);
    ck_assert_uint_eq(bt_sheet_find(&s, "place"), 2); /* the first */
    ck_assert_uint_eq(bt_sheet_find(&s, "run"), BT_NO_COLUMN);
    ck_assert_int_eq(bt_sheet_need(&s, "start_m", &column, &err), BT_OK);
    ck_assert_uint_eq(column, 1);
    ck_assert_int_eq(bt_sheet_need(&s, "run", &column, &err), BT_SYNTAX);
    ck_assert_str_eq(err.message, "expected a column 'run', found Start s, start-m, PLACE, place");
    ck_assert_str_eq(err.file, "zones.csv");
    ck_assert_uint_eq(err.line, 1);
    ck_assert_str_eq(bt_sheet_cell(&s, 0, BT_NO_COLUMN), "");
    bt_sheet_free(&s);
}
END_TEST

START_TEST(numbers_are_read_in_the_sheets_own_decimal_sign)
{
    static const char file[] = "q;v\na;1,5\nb;\nc;-\nd;12..4\n";
    bt_sheet s;
    bt_error err = {0};
    double x;
    ck_assert_int_eq(bt_sheet_memory(&s, "car.csv", file, sizeof file - 1, &err), BT_OK);
    ck_assert_int_eq(bt_sheet_number(&s, 0, 1, &x, &err), BT_OK);
    ck_assert(x == 1.5);
    ck_assert_int_eq(bt_sheet_number(&s, 1, 1, &x, &err), BT_OK);
    ck_assert(isnan(x));
    ck_assert_int_eq(bt_sheet_number(&s, 2, 1, &x, &err), BT_OK);
    ck_assert(isnan(x));
    ck_assert_int_eq(bt_sheet_number(&s, 3, 1, &x, &err), BT_SYNTAX);
    ck_assert_str_eq(err.message, "expected a number, found '12..4'");
    ck_assert_str_eq(err.file, "car.csv");
    ck_assert_uint_eq(err.line, 5);
    ck_assert_uint_eq(err.column, 2);
    bt_sheet_free(&s);
}
END_TEST

START_TEST(a_file_is_read_and_a_missing_one_is_named)
{
    char folder[] = "/tmp/bt_sheet_XXXXXX", path[100], text[100];
    bt_sheet s;
    bt_error err = {0};
    ck_assert_ptr_nonnull(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/car.csv", folder);
    ck_assert_int_eq(bt_sheet_read(&s, path, &err), BT_READ);
    ck_assert_str_eq(err.file, path);
    ck_assert_str_eq(err.message, "cannot open: No such file or directory");
    bt_sheet_free(&s);
    err = (bt_error){0};
    FILE *f = fopen(path, "w");
    ck_assert_ptr_nonnull(f);
    fputs("a,b\n1,2\n", f);
    fclose(f);
    ck_assert_int_eq(bt_sheet_read(&s, path, &err), BT_OK);
    ck_assert_str_eq(as_text(&s, text, sizeof text), "1:a|b;2:1|2");
    ck_assert_str_eq(s.file, path);
    bt_sheet_free(&s);
    unlink(path);
    rmdir(folder);
}
END_TEST

START_TEST(ten_thousand_rows_are_no_trouble)
{
    static char file[200000];
    size_t at = (size_t)sprintf(file, "n,square\n");
    for (int i = 0; i < 10000; i++) at += (size_t)sprintf(file + at, "%d,%d\n", i, i * i);
    bt_sheet s;
    bt_error err = {0};
    double x;
    ck_assert_int_eq(bt_sheet_memory(&s, "", file, at, &err), BT_OK);
    ck_assert_uint_eq(s.rows, 10000);
    for (size_t i = 0; i < s.rows; i++) {
        ck_assert_int_eq(bt_sheet_number(&s, i, 1, &x, &err), BT_OK);
        ck_assert(x == (double)(i * i));
        ck_assert_uint_eq(bt_sheet_line(&s, i), i + 2);
    }
    bt_sheet_free(&s);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("sheet");
    TCase *t = tcase_create("sheet");
    tcase_add_loop_test(t, a_sheet_is_read_as_a_whole, 0, COUNT(sheets));
    tcase_add_loop_test(t, what_is_no_sheet_is_refused_with_the_place, 0, COUNT(refusals));
    tcase_add_test(t, columns_are_found_whatever_their_case_and_joints);
    tcase_add_test(t, numbers_are_read_in_the_sheets_own_decimal_sign);
    tcase_add_test(t, a_file_is_read_and_a_missing_one_is_named);
    tcase_add_test(t, ten_thousand_rows_are_no_trouble);
    suite_add_tcase(s, t);
    return s;
}

BT_CHECK_MAIN(suite)
