/* Numbers: see number.h.  Reading is the hot path of the whole program (rows x
 * used columns), so the usual cell takes one multiplication or division that is
 * exact by construction (Clinger 1990, "How to read floating point numbers
 * accurately"); everything else goes to strtod, as digits and an exponent
 * without a point, so that the locale has nothing to say. */
#include "base/number.h"

#include "base/print.h"

#include <assert.h>
#include <float.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Powers of ten that a double holds exactly. */
static const double pow10_exact[] = {1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                     1e8,  1e9,  1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
                                     1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};
enum {
    POW10_MAX = 22,
    U64_DIGITS = 19,         /* that many always fit in 64 bits */
    DIGITS_MAX = 780,        /* no double needs more than 768 to be told from its neighbours */
    EXPONENT_MAX = 100000000 /* beyond any cell's length, so that leading zeros cannot undo it */
};

static bool is_blank(char c)
{
    return c == ' ' || c == '\t';
}

static bool is_digit(char c)
{
    return (unsigned char)(c - '0') < 10;
}

static void trim(const char **s, const char **end)
{
    while (*s < *end && is_blank(**s)) ++*s;
    while (*s < *end && is_blank((*end)[-1])) --*end;
}

static bool is_word(const char *s, size_t n, const char *word)
{
    for (size_t i = 0; i < n; i++) {
        const char c = s[i] >= 'A' && s[i] <= 'Z' ? (char)(s[i] - 'A' + 'a') : s[i];
        if (c != word[i] || c == '\0') return false; /* a cell may hold a NUL, a word ends there */
    }
    return word[n] == '\0';
}

static bool blank_word(const char *s, size_t n)
{
    return n == 0 || is_word(s, n, "nan") || is_word(s, n, "-") || is_word(s, n, "n/a") ||
           is_word(s, n, "na");
}

bool bt_number_blank(const char *s, size_t n)
{
    if (n == 0) return true;
    const char *end = s + n;
    trim(&s, &end);
    return blank_word(s, (size_t)(end - s));
}

/* Digits of the mantissa s[0..end), a point among them, times 10^exponent. */
static double parse_slowly(const char *s, const char *end, long exponent)
{
    char text[DIGITS_MAX + 32];
    size_t kept = 0;
    bool fraction = false, more = false;
    for (; s < end; s++) {
        if (!is_digit(*s)) {
            fraction = true;
        } else if (kept == 0 && *s == '0') {
            exponent -= fraction;
        } else if (kept < DIGITS_MAX) {
            text[kept++] = *s;
            exponent -= fraction;
        } else {
            more = more || *s != '0';
            exponent += !fraction;
        }
    }
    if (kept == 0) return 0;
    if (more) { /* a tie that is none: say so in one more digit */
        text[kept++] = '1';
        exponent--;
    }
    snprintf(text + kept, sizeof text - kept, "e%ld", exponent);
    return strtod(text, NULL);
}

#ifdef __SIZEOF_INT128__
/* digits / 10^places for digits > 0, places 1..19: 17 digits, as programs write doubles that
 * shall come back.  The quotient has 63 bits at least, and what the division leaves
 * over is one more bit behind them, so that the rounding to 53 is the only one. */
static double divide_by_power(uint64_t digits, long places)
{
    const uint64_t divisor = (uint64_t)pow10_exact[places];
    const int shift = __builtin_clzll(digits);
    const unsigned __int128 dividend = (unsigned __int128)(digits << shift) << 64;
    unsigned __int128 quotient = dividend / divisor;
    bool rest = quotient * divisor != dividend;
    int scale = -64 - shift;
    const uint64_t high = (uint64_t)(quotient >> 64);
    if (high > 0) {
        const int excess = 64 - __builtin_clzll(high);
        rest = rest || (quotient & (((unsigned __int128)1 << excess) - 1)) != 0;
        quotient >>= excess;
        scale += excess;
    }
    return ldexp((double)((uint64_t)quotient | rest), scale);
}
#endif

/* "e-12" at *s, if there: moves *s behind it.  False if the e is alone. */
static bool parse_exponent(const char **s, const char *end, long *exponent)
{
    const char *p = *s;
    if (p == end || (*p != 'e' && *p != 'E')) return true;
    p++;
    const bool negative = p < end && *p == '-';
    if (p < end && (*p == '-' || *p == '+')) p++;
    if (p == end || !is_digit(*p)) return false;
    long e = 0;
    for (; p < end && is_digit(*p); p++)
        if (e < EXPONENT_MAX) e = e * 10 + (*p - '0');
    *exponent = negative ? -e : e;
    *s = p;
    return true;
}

bt_cell_result bt_number_parse(const char *s, size_t n, char decimal, double *out)
{
    *out = NAN;
    if (n == 0) return BT_CELL_BLANK;
    const char *end = s + n;
    trim(&s, &end);
    const char *p = s;
    const bool negative = p < end && *p == '-';
    if (p < end && (*p == '-' || *p == '+')) p++;

    const char *const mantissa = p;
    uint64_t digits = 0;
    for (; p < end && is_digit(*p); p++) digits = digits * 10 + (uint64_t)(*p - '0');
    size_t count = (size_t)(p - mantissa);
    long exponent = 0;
    if (p < end && *p == decimal) {
        const char *const fraction = ++p;
        for (; p < end && is_digit(*p); p++) digits = digits * 10 + (uint64_t)(*p - '0');
        exponent = -(long)(p - fraction);
        count += (size_t)(p - fraction);
    }
    if (count == 0) return blank_word(s, (size_t)(end - s)) ? BT_CELL_BLANK : BT_CELL_BAD;
    const char *const mantissa_end = p;
    long written = 0;
    if (!parse_exponent(&p, end, &written) || p != end) return BT_CELL_BAD;
    exponent += written;

    double x;
    if (FLT_EVAL_METHOD == 0 && count <= U64_DIGITS && digits <= (uint64_t)1 << DBL_MANT_DIG &&
        exponent >= -POW10_MAX && exponent <= POW10_MAX)
        x = exponent < 0 ? (double)digits / pow10_exact[-exponent]
                         : (double)digits * pow10_exact[exponent];
#ifdef __SIZEOF_INT128__
    else if (FLT_EVAL_METHOD == 0 && count <= U64_DIGITS && exponent < 0 && exponent >= -U64_DIGITS)
        x = divide_by_power(digits, -exponent);
#endif
    else
        x = parse_slowly(mantissa, mantissa_end, written);
    if (!(x <= DBL_MAX)) return BT_CELL_BAD;
    *out = negative ? -x : x;
    return BT_CELL_VALUE;
}

/* units * 10^-decimals as text. */
static size_t write_scaled(char *out, bool negative, uint64_t units, int decimals)
{
    char reversed[32];
    size_t n = 0, length = 0;
    do {
        if (decimals > 0 && n == (size_t)decimals) reversed[n++] = '.';
        reversed[n++] = (char)('0' + units % 10);
        units /= 10;
    } while (units > 0 || (decimals > 0 && n <= (size_t)decimals + 1));
    if (negative) out[length++] = '-';
    while (n > 0) out[length++] = reversed[--n];
    return length;
}

/* Beyond 15 digits before the point: 15 of them, then zeros. */
static size_t write_large(char *out, double x)
{
    char text[40];
    bt_print(text, sizeof text, "%.14e", fabs(x));
    const char *e = strchr(text, 'e');
    const size_t integer_digits = (size_t)strtol(e + 1, NULL, 10) + 1;
    size_t length = 0, digits = 0;
    if (x < 0) out[length++] = '-';
    for (const char *p = text; p < e; p++)
        if (is_digit(*p)) {
            out[length++] = *p;
            digits++;
        }
    for (; digits < integer_digits; digits++) out[length++] = '0';
    return length;
}

/* As printf does it, and at most 15 significant digits. */
static size_t write_printf(char *out, double x, int decimals)
{
    size_t length, significant;
    do {
        length = (size_t)bt_print(out, BT_NUMBER_MAX, "%.*f", decimals, x);
        significant = 0;
        for (const char *p = out; *p; p++)
            if (is_digit(*p) && (significant > 0 || *p != '0')) significant++;
    } while (significant > DBL_DIG && decimals-- > 0);
    return length;
}

/* What is computed from cells of few decimals ends in a 5 often enough, and whether a sum comes out just
 * above or below it is up to the compiler. */
#define HALF (0.5 - 1e-6)

static size_t write_number(char *out, double x, int decimals)
{
    if (fabs(x) >= 1e15) return write_large(out, x);
    /* fma rounds the rest but once, however the product was rounded. */
    const double scale = pow10_exact[decimals], floored = floor(fabs(x) * scale);
    const double rest = fma(fabs(x), scale, -floored), whole = floored + (rest >= HALF);
    if (whole < 1e15) return write_scaled(out, x < 0 && whole > 0, (uint64_t)whole, decimals);
    return write_printf(out, x, decimals);
}

size_t bt_number_format(char *out, size_t cap, double x, int decimals)
{
    assert(decimals >= 0 && decimals <= DBL_DIG);
    char text[BT_NUMBER_MAX];
    size_t length = isfinite(x) ? write_number(text, x, decimals) : 0;
    if (cap == 0) return 0;
    if (length >= cap) length = 0;
    memcpy(out, text, length);
    out[length] = '\0';
    return length;
}
