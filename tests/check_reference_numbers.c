/* Published tables of numbers, whole, against the parts of the library that must give them back: units, CSV
 * cases, smoothing weights, regressions, slopes and cumulative sums.  (The parts' own tests hold further
 * published values; README.md in tests/reference lists them.) */
#include "tests/reference/support.h"

#include "signals/smooth.h"
#include "base/stats.h"
#include "rows/table.h"
#include "drift/trend.h"
#include "base/units.h"
#include "verdict/sums.h"

/* ---- units ---- */

/* Labels of the table that our list spells otherwise. */
static const char *our_spelling(const char *label)
{
    static const char *const spelled[][2] = {{"degC", "\u00b0C"}, {"degF", "\u00b0F"}};
    for (size_t i = 0; i < sizeof spelled / sizeof *spelled; i++)
        if (strcmp(label, spelled[i][0]) == 0) return spelled[i][1];
    return label;
}

/* The dimension that a row of the table means; BT_DIM_NONE = no channel or quantity has it. */
static bt_dimension dimension_of(const char *quantity)
{
    static const struct {
        const char *name;
        bt_dimension dimension;
    } names[] = {{"angular speed", BT_DIM_ANGULAR_SPEED},
                 {"acceleration", BT_DIM_ACCEL},
                 {"jerk", BT_DIM_NONE}};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++)
        if (strcmp(quantity, names[i].name) == 0) return names[i].dimension;
    for (int d = 0; d < BT_DIM_COUNT; d++)
        if (strcmp(quantity, bt_dimension_name((bt_dimension)d)) == 0) return (bt_dimension)d;
    return BT_DIM_NONE;
}

START_TEST(units_have_the_published_factors) /* CHECKS 11.3 */
{
    ref_row row;
    FILE *f = ref_table("unit_factors");
    double worst = 0, found = 0;
    while (ref_next(f, &row)) {
        const bt_dimension d = dimension_of(row.field[0]);
        const char *label = our_spelling(row.field[1]);
        const double factor = ref_number(&row, 4), offset = ref_number(&row, 5);
        const bt_unit *by_label = d ? bt_unit_find(label, strlen(label), d) : NULL;
        const bt_unit *by_code = d ? bt_unit_find(row.field[2], strlen(row.field[2]), d) : NULL;
        if (!by_label || !by_code) {
            /* No channel and no quantity of the sheet is a jerk. */
            ck_assert_str_eq(row.field[0], "jerk");
            continue;
        }
        found++;
        ref_worst(&worst, 0, by_label->factor / factor - 1);
        ref_worst(&worst, 0, by_code->factor / factor - 1);
        ref_worst(&worst, 0, (by_label->offset - offset) / fmax(1, offset));
    }
    fclose(f);
    REF_HELD("units found by label and by UCUM code", "NIST SP 811 App. B.8; UCUM", "second", 49,
             found, 0);
    REF_HELD("- largest relative difference of factor or offset", "NIST SP 811 App. B.8; UCUM",
             "second", 0, worst, 1e-14);
}
END_TEST

/* ---- CSV ---- */

/* The cases of npm's csv-spectrum 2.0.0 (BSD-2-Clause), by RFC 4180; rows as "cell|cell;". */
static const struct {
    const char *name, *bytes, *rows;
    size_t columns;
} csv_cases[] = {
    {"comma_in_quotes", "first,last,address,city,zip\nJohn,Doe,120 any st.,\"Anytown, WW\",08123",
     "John|Doe|120 any st.|Anytown, WW|08123;", 5},
    {"empty", "a,b,c\n1,\"\",\"\"\n2,3,4", "1||;2|3|4;", 3},
    {"empty_crlf", "a,b,c\r\n1,\"\",\"\"\r\n2,3,4", "1||;2|3|4;", 3},
    {"escaped_quotes", "a,b\n1,\"ha \"\"ha\"\" ha\"\n3,4\n", "1|ha \"ha\" ha;3|4;", 2},
    {"json", "key,val\n1,\"{\"\"type\"\": \"\"Point\"\", \"\"coordinates\"\": [102.0, 0.5]}\"\n",
     "1|{\"type\": \"Point\", \"coordinates\": [102.0, 0.5]};", 2},
    /* Against the RFC, a quote inside a field without quotes stands for itself. */
    {"location_coordinates",
     "Contact Phone Number,Location Coordinates,Cities,Counties\n"
     "2095257564,37\xEF\xBF\xBD"
     "36'37.8\"N 121\xEF\xBF\xBD"
     "2'17.9\"W,Modesto,Stanislaus",
     "2095257564|37\xEF\xBF\xBD"
     "36'37.8\"N 121\xEF\xBF\xBD"
     "2'17.9\"W|Modesto|Stanislaus;",
     4},
    {"newlines", "a,b,c\n1,2,3\n\"Once upon \na time\",5,6\n7,8,9\n",
     "1|2|3;Once upon \na time|5|6;7|8|9;", 3},
    {"newlines_crlf", "a,b,c\r\n1,2,3\r\n\"Once upon \r\na time\",5,6\r\n7,8,9\r\n",
     "1|2|3;Once upon \r\na time|5|6;7|8|9;", 3},
    {"quotes_and_newlines", "a,b\n1,\"ha \n\"\"ha\"\" \nha\"\n3,4\n", "1|ha \n\"ha\" \nha;3|4;", 2},
    {"simple", "a,b,c\n1,2,3\n", "1|2|3;", 3},
    {"simple_crlf", "a,b,c\r\n1,2,3\r\n", "1|2|3;", 3},
    {"utf8", "a,b,c\n1,2,3\n4,5,\xCA\xA4", "1|2|3;4|5|\xCA\xA4;", 3},
};

typedef struct {
    char text[400];
    size_t used, columns;
} csv_rows;

static bt_status csv_take(void *user, const bt_row *row, bt_error *err)
{
    csv_rows *r = user;
    (void)err;
    ck_assert_uint_eq(row->fields, r->columns);
    for (size_t i = 0; i < r->columns; i++)
        r->used += (size_t)snprintf(r->text + r->used, sizeof r->text - r->used, "%.*s%s",
                                    (int)row->cell[i].len, row->cell[i].text,
                                    i + 1 < r->columns ? "|" : ";");
    return BT_OK;
}

/* Where the package is at hand (BRAKETALLY_CSV_SPECTRUM names its folder): the bytes are its own. */
static void same_as_package(const char *name, const char *bytes)
{
    const char *dir = getenv("BRAKETALLY_CSV_SPECTRUM");
    char path[400], read[200];
    if (!dir) return;
    snprintf(path, sizeof path, "%s/csvs/%s.csv", dir, name);
    FILE *f = fopen(path, "rb");
    ck_assert_msg(f != NULL, "no %s", path);
    const size_t n = fread(read, 1, sizeof read, f);
    fclose(f);
    ck_assert_uint_eq(n, strlen(bytes));
    ck_assert_mem_eq(read, bytes, n);
}

START_TEST(csv_spectrum_is_read_as_rfc_4180_says) /* CHECKS 11.1 */
{
    const char *bytes = csv_cases[_i].bytes;
    const size_t n = strlen(bytes), head = (size_t)(strchr(bytes, '\n') - bytes) + 1;
    const size_t wanted[] = {0, 1, 2, 3, 4};
    csv_rows rows = {.columns = csv_cases[_i].columns};
    const bt_dialect d = {.delimiter = ',',
                          .decimal = '.',
                          .columns = rows.columns,
                          .data_offset = head,
                          .data_line = 2};
    bt_table *t;
    ck_assert_int_eq(bt_table_new(&t, &d, wanted, rows.columns, csv_take, &rows, NULL), BT_OK);
    ck_assert_int_eq(bt_table_push(t, bytes, n, NULL), BT_OK);
    ck_assert_int_eq(bt_table_end(t, NULL), BT_OK);
    bt_table_free(t);
    ck_assert_str_eq(rows.text, csv_cases[_i].rows);
    same_as_package(csv_cases[_i].name, bytes);
    /* The bytes above are those of the package as far as their numbers go. */
    ref_row row;
    FILE *f = ref_table("csv_spectrum_cases");
    double published = NAN, records = 0, read = 0;
    while (ref_next(f, &row))
        if (strcmp(row.field[0], csv_cases[_i].name) == 0) {
            published = ref_number(&row, 1);
            records = ref_number(&row, 3);
        }
    fclose(f);
    for (const char *c = csv_cases[_i].rows; *c; c++) read += *c == ';';
    char figure[80];
    snprintf(figure, sizeof figure, "csv-spectrum, %s: bytes", csv_cases[_i].name);
    REF_HELD(figure, "RFC 4180; npm csv-spectrum 2.0.0", "text", published, (double)n, 0);
    REF_HELD("- records, each cell as it should be", "RFC 4180; npm csv-spectrum 2.0.0", "text",
             records, read, 0);
}
END_TEST

/* ---- smoothing ---- */

/* Every row of degree 2, 5 to 25 points: the answer to a pulse of 1 at one sample is that sample's weight. */
START_TEST(smoothing_has_the_savitzky_golay_weights) /* CHECKS 10.3 */
{
    static const char source[] =
        "Savitzky and Golay 1964 as corrected by Steinier et al. 1972; Gorry 1990";
    const double h = 0.01;
    ref_row row;
    FILE *f = ref_table("savgol_coefficients");
    double value_worst = 0, slope_worst = 0, n = 0;
    while (ref_next(f, &row)) {
        const int derivative = (int)ref_number(&row, 2), points = (int)ref_number(&row, 0);
        const char *degree = row.field[1];
        /* The slope of a quadratic in the middle is that of a line. */
        if (strchr(degree, '2') == NULL || derivative > 1) continue;
        const int at = points / 2 + (int)ref_number(&row, 3),
                  pulse = points / 2 + (int)ref_number(&row, 4);
        double t[25], x[25] = {0}, value, slope;
        for (int i = 0; i < points; i++) t[i] = 7 + h * i;
        x[pulse] = 1;
        bt_smooth_at(t, x, 0, (size_t)points - 1, (size_t)at, &value, &slope);
        const double weight = ref_number(&row, 5) / ref_number(&row, 6);
        if (derivative == 0)
            ref_worst(&value_worst, weight, value);
        else
            ref_worst(&slope_worst, weight, slope * h);
        n++;
    }
    fclose(f);
    ck_assert_double_gt(n, 300);
    REF_HELD("weights of degree 2, 5 to 25 points, value, largest difference", source, "second", 0,
             value_worst, 1e-12);
    REF_HELD("- slope", source, "second", 0, slope_worst, 1e-12);
}
END_TEST

/* ---- regressions and slopes ---- */

enum { PAIRS = 64 };

/* The two columns of a table. */
static size_t pairs(const char *table, double x[PAIRS], double y[PAIRS])
{
    ref_row row;
    FILE *f = ref_table(table);
    size_t n = 0;
    while (n < PAIRS && ref_next(f, &row)) {
        x[n] = ref_number(&row, 0);
        y[n++] = ref_number(&row, 1);
    }
    fclose(f);
    return n;
}

START_TEST(lines_have_the_certified_parameters) /* CHECKS 10.1 */
{
    static const char nist[] = "NIST StRD linear regression";
    double x[PAIRS], y[PAIRS];
    const bt_line norris = bt_fit_line(x, y, pairs("norris", x, y));
    REF_HELD("Norris: intercept", nist, "second", -0.262323073774029, norris.intercept, 3e-13);
    REF_HELD("- slope", nist, "second", 1.00211681802045, norris.slope, 1e-12);
    REF_HELD("- its standard error", nist, "second", 0.429796848199937e-3, norris.u_slope, 1e-15);
    REF_HELD("- residual standard deviation", nist, "second", 0.884796396144373, norris.sd, 1e-12);
    bt_sen sen;
    ck_assert_int_eq(bt_theil_sen(x, y, norris.n, 0.95, &sen, NULL), BT_OK);
    REF_HELD("- Theil-Sen slope", "GNU R 4.2.2", "second", 1.00219683655536, sen.slope, 1e-13);
}
END_TEST

START_TEST(real_stops_have_the_published_lines) /* CHECKS 9 */
{
    static const char source[] = "Ezekiel 1930, cars (GNU R 4.2.2)";
    double x[PAIRS], y[PAIRS];
    const size_t n = pairs("cars", x, y);
    const bt_line f = bt_fit_line(x, y, n);
    REF_HELD("cars: stopping distances", source, "second", 50, (double)n, 0);
    REF_HELD("- intercept, ft", source, "second", -17.579094890511, f.intercept, 1e-11);
    REF_HELD("- slope, ft/mph", source, "second", 3.932408759124, f.slope, 1e-11);
    REF_HELD("- standard error of the slope", source, "second", 0.415512776657, f.u_slope, 1e-11);
    REF_HELD("- residual standard deviation, ft", source, "second", 15.3795867488, f.sd, 1e-9);
    bt_sen sen;
    ck_assert_int_eq(bt_theil_sen(x, y, n, 0.95, &sen, NULL), BT_OK);
    REF_HELD("- Theil-Sen slope, ft/mph", source, "second", 3.66666666666667, sen.slope, 1e-13);
    const bt_moments m = bt_mean_sd(y, n);
    REF_HELD("- mean distance, ft", source, "second", 42.98, m.mean, 1e-12);
    REF_HELD("- its standard deviation, ft", source, "second", 25.7693774920, m.sd, 1e-9);
    REF_HELD("- 95 % quantile, ft", source, "second", 88.85, bt_quantile(y, n, 0.95), 1e-12);
}
END_TEST

/* ---- cumulative sums ---- */

static const struct {
    const char *table, *source, *sure;
    double target, slack, limit, first;

} sums[] = {
    {"cusum_montgomery", "Montgomery, Statistical Quality Control, Table 9.2", "second", 10, 0.5, 5,
     29},
    {"cusum_nist_handbook", "NIST/SEMATECH e-Handbook 6.3.2.3", "memory", 325, 0.3175, 4.1959, 14},
};

START_TEST(cusums_are_the_published_ones) /* CHECKS 10.5 */
{
    ref_row row;
    FILE *f = ref_table(sums[_i].table);
    bt_sum high = {0}, low = {0};
    double worst = 0, first = 0;
    while (ref_next(f, &row)) {
        const double at = ref_number(&row, 0), above = ref_number(&row, 1) - sums[_i].target;
        bt_sum_add(&high, at, above - sums[_i].slack);
        bt_sum_add(&low, at, -above - sums[_i].slack);
        ref_worst(&worst, ref_number(&row, 2), high.sum);
        ref_worst(&worst, ref_number(&row, 4), low.sum);
        ref_worst(&worst, ref_number(&row, 3), high.sum > 0 ? at - high.since + 1 : 0);
        if (first == 0 && high.sum > sums[_i].limit) first = at;
    }
    fclose(f);
    ck_assert_double_gt(high.sum, sums[_i].limit);
    REF_HELD("sums and their lengths, largest difference", sums[_i].source, sums[_i].sure, 0, worst,
             1e-4);
    REF_HELD("- first value above the limit", sums[_i].source, sums[_i].sure, sums[_i].first, first,
             0);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("reference: numbers");
    TCase *t = tcase_create("numbers");
    tcase_add_test(t, units_have_the_published_factors);
    tcase_add_loop_test(t, csv_spectrum_is_read_as_rfc_4180_says, 0,
                        sizeof csv_cases / sizeof *csv_cases);
    tcase_add_test(t, smoothing_has_the_savitzky_golay_weights);
    tcase_add_test(t, lines_have_the_certified_parameters);
    tcase_add_test(t, real_stops_have_the_published_lines);
    tcase_add_loop_test(t, cusums_are_the_published_ones, 0, sizeof sums / sizeof *sums);
    suite_add_tcase(s, t);
    return s;
}
BT_CHECK_MAIN(suite)
