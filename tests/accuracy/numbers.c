/* Cells to numbers against the C library's strtod, in the C locale that the program starts in: a hundred
 * million cells as loggers write them and as they are hard to round, each to the last bit.
 *
 * Usual cells have up to eight characters and go the quick way, too; long ones up to 19 digits, which
 * the exact division rounds; doubles are random bits with 17 digits, which have to come back; halves
 * lie exactly between two doubles, or one digit in the 60th place beside it. */
#include "base/number.h"
#include "base/quick.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { CELL = 120 };

static uint64_t state = 0x9e3779b97f4a7c15;

/* xorshift64* (Vigna 2016). */
static uint64_t next(void)
{
    state ^= state >> 12;
    state ^= state << 25;
    state ^= state >> 27;
    return state * UINT64_C(2685821657736338717);
}

static size_t below(size_t n)
{
    return (size_t)((next() >> 32) * n >> 32);
}

/* `digits` of them with a point among them or none, and perhaps a sign. */
static char *put_digits(char *to, size_t digits, bool sign)
{
    uint64_t x = next();
    const size_t point = below(digits + 4); /* beyond the last = none */
    if (sign) *to++ = '-';
    for (size_t i = 0; i < digits; i++) {
        if (i == point) *to++ = '.';
        if (i == 16) x = next();
        *to++ = (char)('0' + x % 10);
        x /= 10;
    }
    *to = '\0';
    return to;
}

static void make_usual(char *cell)
{
    put_digits(cell, 1 + below(6), next() >> 62 == 0);
}

static void make_long(char *cell)
{
    char *end = put_digits(cell, 8 + below(12), next() >> 62 == 0);
    if (next() >> 62 == 0) snprintf(end, 8, "e%d", (int)below(60) - 30);
}

static void make_double(char *cell)
{
    double x;
    do {
        const uint64_t bits = next();
        memcpy(&x, &bits, sizeof x);
    } while (!isfinite(x));
    snprintf(cell, CELL, "%.17g", x);
}

/* The middle between two neighbours is an odd number of 54 bits over a power of two: whole and fraction
 * apart are exact. */
static void make_half(char *cell)
{
    const uint64_t odd = next() >> 10 | UINT64_C(1) << 53 | 1;
    const int shift = (int)below(54);
    const uint64_t whole = odd >> shift;
    char fraction[80];
    snprintf(fraction, sizeof fraction, "%.60f", ldexp((double)(odd - (whole << shift)), -shift));
    snprintf(cell, CELL, "%" PRIu64 "%s", whole, fraction + 1);
    if (next() >> 63) cell[strlen(cell) - 1] = '1';
}

static const struct {
    const char *name;
    long cases;
    void (*make)(char *cell);
} kinds[] = {
    {"usual", 50000000, make_usual},
    {"long", 30000000, make_long},
    {"doubles", 18000000, make_double},
    {"halves", 2000000, make_half},
};

static bool right(const char *cell, const bt_form *form, long *quick)
{
    const size_t n = strlen(cell);
    const double wanted = strtod(cell, NULL);
    double x;
    if (n <= 8 && bt_number_quick(cell + n, n, form, &x)) {
        ++*quick;
        if (memcmp(&x, &wanted, sizeof x) != 0) return false;
    }
    const bt_cell_result result = bt_number_parse(cell, n, '.', &x);
    if (!isfinite(wanted)) return result == BT_CELL_BAD;
    return result == BT_CELL_VALUE && memcmp(&x, &wanted, sizeof x) == 0;
}

int main(void)
{
    long wrong = 0;
    for (size_t k = 0; k < sizeof kinds / sizeof *kinds; k++) {
        long quick = 0;
        for (long i = 0; i < kinds[k].cases; i++) {
            char text[BT_QUICK_SLACK + CELL] = "", *cell = text + BT_QUICK_SLACK;
            kinds[k].make(cell);
            const size_t n = strlen(cell);
            const bt_form form = bt_form_of(cell, n, '.');
            if (right(cell, &form, &quick)) continue;
            if (++wrong < 10) printf("wrong: '%s'\n", cell);
        }
        printf("%-8s %9ld cells, %9ld of them the quick way\n", kinds[k].name, kinds[k].cases,
               quick);
    }
    printf("%ld wrong\n", wrong);
    return wrong > 0;
}
