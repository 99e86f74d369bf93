/* Fuzz target: numbers from cells and cells from numbers, against the C library's.
 *
 * The bytes are a cell, in both decimal signs; the first eight of them are a double too, and the next
 * the decimals it is written with. */
#include "base/number.h"
#include "base/quick.h"

#include <math.h>

#include "support.h"

/* What strtod makes of the cell with a point, blanks off; NaN where that is not all of it. */
static double second_opinion(const char *s, size_t n, char decimal)
{
    char text[4096];
    while (n > 0 && (*s == ' ' || *s == '\t')) s++, n--;
    while (n > 0 && (s[n - 1] == ' ' || s[n - 1] == '\t')) n--;
    if (n == 0 || n >= sizeof text) return NAN;
    for (size_t i = 0; i < n; i++) {
        if (!memchr("0123456789+-eE", s[i], 14) && s[i] != decimal) return NAN;
        text[i] = s[i] == decimal ? '.' : s[i];
    }
    text[n] = '\0';
    char *end;
    const double x = strtod(text, &end);
    return *end == '\0' && isfinite(x) ? x : NAN;
}

static void check_cell(const char *s, size_t n, char decimal)
{
    double x;
    const bt_cell_result result = bt_number_parse(s, n, decimal, &x);
    must((result == BT_CELL_VALUE) == !isnan(x));
    must((result == BT_CELL_BLANK) == bt_number_blank(s, n));
    const double wanted = second_opinion(s, n, decimal);
    must(n >= 4096 || (result == BT_CELL_VALUE) == !isnan(wanted));
    if (result == BT_CELL_VALUE && n < 4096) must(memcmp(&x, &wanted, sizeof x) == 0);

    /* The quick way, in the form of the cell itself and of another. */
    if (n == 0) return;
    const bt_form forms[] = {bt_form_of(s, n, decimal), bt_form_of("12.34", 5, decimal)};
    for (size_t i = 0; i < 2; i++) {
        double quick;
        if (bt_number_quick(s + n, n, &forms[i], &quick))
            must(result == BT_CELL_VALUE && memcmp(&x, &quick, sizeof x) == 0);
    }
}

/* What is printed is the C library's text, but for the sign of nought, beyond 15 digits and near ties. */
static void check_print(double x, int decimals)
{
    char got[BT_NUMBER_MAX], wanted[BT_NUMBER_MAX + 16];
    const size_t n = bt_number_format(got, sizeof got, x, decimals);
    must(n == strlen(got) && n < BT_NUMBER_MAX);
    if (!isfinite(x)) must(n == 0);
    if (!isfinite(x) || fabs(x) > 1.797693134862315e308) return; /* 15 digits round that beyond */
    must(strspn(got, "-.0123456789") == n);
    double back;
    must(bt_number_parse(got, n, '.', &back) == BT_CELL_VALUE);
    const double half = 0.5000011 * pow(10, -decimals), ulp = 2.3e-16 * fabs(x);
    must(fabs(back - x) <= fmax(half, 5.01e-15 * fabs(x)) + ulp);
    if (fabs(x) >= pow(10, 14 - decimals)) return;
    const double rest = modf(fabs(x) * pow(10, decimals), &(double){0});
    if (fabs(rest - 0.5) < 2e-6) return;
    snprintf(wanted, sizeof wanted, "%.*f", decimals, x);
    const bool nought = strspn(wanted, "-.0") == strlen(wanted);
    must(strcmp(got, wanted + (nought && wanted[0] == '-')) == 0);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    char *exact = calloc(1, BT_QUICK_SLACK + n); /* so that a sanitizer sees the end of it */
    if (!exact) return 0;
    memset(exact, '7', BT_QUICK_SLACK);
    if (n > 0) memcpy(exact + BT_QUICK_SLACK, data, n);
    check_cell(exact + BT_QUICK_SLACK, n, '.');
    check_cell(exact + BT_QUICK_SLACK, n, ',');
    free(exact);
    double x;
    if (n <= sizeof x) return 0;
    memcpy(&x, data, sizeof x);
    check_print(x, data[sizeof x] % 16);
    return 0;
}
