/* Time stamps: see stamps.h.  All forms become int64 ns since the form's own zero (1970 for
 * dates and epochs, midnight for clocks), which reaches from 1677 to 2262. */
#include "rows/stamps.h"

#include <math.h>
#include <string.h>

#define SECOND INT64_C(1000000000)
#define HOUR   (3600 * SECOND)
#define DAY    (24 * HOUR)
/* No log's own seconds run for three years; an epoch does not start before March 1973. */
#define EPOCH (100000000 * SECOND)
/* Up to here one more digit fits. */
#define ROOM (INT64_MAX / 10 - 1)

enum { NS_DIGITS = 9 };

typedef struct {
    const char *at, *end;
} cursor;

static bool is_digit(char c)
{
    return (unsigned char)(c - '0') < 10;
}

static bool take(cursor *c, char wanted)
{
    if (c->at == c->end || *c->at != wanted) return false;
    c->at++;
    return true;
}

/* Digits at the cursor, `least` at least; false if they are fewer or too many for an int64. */
static bool take_digits(cursor *c, int least, int64_t *value)
{
    const char *const start = c->at;
    int64_t v = 0;
    for (; c->at < c->end && is_digit(*c->at); c->at++) {
        if (v > ROOM) return false;
        v = v * 10 + (*c->at - '0');
    }
    *value = v;
    return c->at - start >= least;
}

/* Digits of a fraction: `value` goes on as an integer with `places` more of them, the next
 * one rounds, the rest is passed over.  False if it grows too large. */
static bool take_fraction(cursor *c, int places, int64_t *value)
{
    int64_t v = *value;
    for (; places > 0; places--) {
        const int digit = c->at < c->end && is_digit(*c->at) ? *c->at++ - '0' : 0;
        if (v > ROOM) return false;
        v = v * 10 + digit;
    }
    if (c->at < c->end && *c->at >= '5' && *c->at <= '9' && v < INT64_MAX) v++;
    while (c->at < c->end && is_digit(*c->at)) c->at++;
    *value = v;
    return true;
}

/* Seconds with a fraction behind either sign, to ns. */
static bool take_seconds(cursor *c, int64_t *ns)
{
    if (!take_digits(c, 1, ns) || *ns >= 61) return false;
    if (!take(c, '.')) take(c, ',');
    return take_fraction(c, NS_DIGITS, ns);
}

/* hh:mm:ss.sss or mm:ss.sss, to ns; *hours tells which. */
static bool take_clock(cursor *c, int64_t *ns, bool *hours)
{
    int64_t a, b, seconds;
    if (!take_digits(c, 1, &a) || a > 1000000 || !take(c, ':')) return false;
    const cursor second = *c;
    *hours = take_digits(c, 1, &b) && take(c, ':');
    if (*hours) {
        if (b >= 60 || !take_seconds(c, &seconds)) return false;
        *ns = a * HOUR + b * 60 * SECOND + seconds;
        return true;
    }
    *c = second;
    if (!take_seconds(c, &seconds)) return false;
    *ns = a * 60 * SECOND + seconds;
    return true;
}

/* Days since 1970-01-01 in the Gregorian calendar (Hinnant, "chrono-compatible low-level
 * date algorithms": years start in March, so that the leap day is the last). */
static int64_t days_since_1970(int64_t year, int64_t month, int64_t day)
{
    year -= month <= 2;
    const int64_t era = year / 400, of_era = year % 400; /* years >= 1600 */
    const int64_t of_year = (153 * (month + (month > 2 ? -3 : 9)) + 2) / 5 + day - 1;
    return era * 146097 + of_era * 365 + of_era / 4 - of_era / 100 + of_year - 719468;
}

static int64_t days_in(int64_t year, int64_t month)
{
    static const int64_t days[] = {31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    const bool leap = (year % 4 == 0 && year % 100 != 0) || year % 400 == 0;
    return days[month - 1] + (month == 2 && leap);
}

/* "Z", "+02", "+02:00", "-0530" or nothing, to ns east of Greenwich. */
static bool take_zone(cursor *c, int64_t *ns)
{
    *ns = 0;
    while (take(c, ' ')) {}
    if (c->at == c->end || take(c, 'Z') || take(c, 'z')) return true;
    const bool west = *c->at == '-';
    if (!take(c, '+') && !take(c, '-')) return false;
    int64_t hours, minutes = 0;
    const char *const start = c->at;
    if (!take_digits(c, 2, &hours)) return false;
    if (c->at - start == 4) {
        minutes = hours % 100;
        hours /= 100;
    } else if (c->at - start != 2 || (take(c, ':') && !take_digits(c, 2, &minutes))) {
        return false;
    }
    if (hours > 15 || minutes >= 60) return false;
    *ns = (hours * 60 + minutes) * 60 * SECOND;
    if (west) *ns = -*ns;
    return true;
}

/* yyyy-mm-dd, then T or a blank and a clock time, then a zone. */
static bool take_date(cursor *c, int64_t *ns)
{
    int64_t year, month, day, clock, zone;
    bool hours;
    if (!take_digits(c, 4, &year) || year < 1678 || year > 2261 || !take(c, '-')) return false;
    if (!take_digits(c, 2, &month) || month < 1 || month > 12 || !take(c, '-')) return false;
    if (!take_digits(c, 2, &day) || day < 1 || day > days_in(year, month)) return false;
    if (!take(c, 'T') && !take(c, 't') && !take(c, ' ')) return false;
    if (!take_clock(c, &clock, &hours) || !hours || clock > DAY + SECOND) return false;
    if (!take_zone(c, &zone)) return false;
    *ns = days_since_1970(year, month, day) * DAY + clock - zone;
    return true;
}

/* Decimal places that bring a number without unit to ns: beyond 1e8 s it is an epoch, and
 * its size tells s, ms, us or ns apart (each a thousand times the one before). */
static int places_by_size(int64_t whole)
{
    if (whole < INT64_C(100000000000)) return NS_DIGITS;
    if (whole < INT64_C(100000000000000)) return 6;
    return whole < INT64_C(100000000000000000) ? 3 : 0;
}

/* The digits of start[0..end), a point among them, as an integer with `places` of them
 * behind the point, which may lie outside; for numbers with an exponent. */
static bool shifted(const char *start, const char *end, char decimal, long places, int64_t *value)
{
    const char *point = start;
    while (point < end && *point != decimal) point++;
    long wanted = (long)(point - start) + places;
    int64_t v = 0;
    const char *p = start;
    for (; wanted > 0; wanted--) {
        if (p == point) p++;
        if (v > ROOM) return false;
        v = v * 10 + (p < end ? *p++ - '0' : 0);
    }
    if (p == point) p++;
    *value = v + (wanted == 0 && p < end && *p >= '5');
    return true;
}

/* "e-12" behind the mantissa. */
static bool take_exponent(cursor *c, long *exponent)
{
    if (!take(c, 'e') && !take(c, 'E')) return false;
    const bool negative = take(c, '-');
    if (!negative) take(c, '+');
    int64_t e;
    if (!take_digits(c, 1, &e) || e > 1000) return false;
    *exponent = (long)(negative ? -e : e);
    return true;
}

/* A number as written, to ns. */
static bool take_number(bt_stamps *s, cursor *c, int64_t *ns)
{
    const bool negative = take(c, '-');
    if (!negative) take(c, '+');
    const char *const start = c->at;
    int64_t value;
    if (!take_digits(c, 0, &value)) return false;
    if (s->kind == BT_STAMP_NONE && !s->unit_known) s->places = places_by_size(value);
    const bool point = take(c, s->decimal);
    if (c->at - start <= point && (c->at == c->end || !is_digit(*c->at))) return false;
    bool fits = take_fraction(c, s->places, &value);
    const char *const end = c->at;
    long exponent;
    if (c->at < c->end) {
        if (!take_exponent(c, &exponent)) return false;
        fits = shifted(start, end, s->decimal, s->places + exponent, &value);
    }
    if (!fits || value > INT64_MAX / s->multiple) return false;
    *ns = (negative ? -value : value) * s->multiple;
    return true;
}

/* One cell of the form `kind`, to ns since that form's zero. */
static bool read_form(bt_stamps *s, bt_stamp_kind kind, cursor c, int64_t *ns, bool *hours)
{
    bool good;
    if (kind == BT_STAMP_CLOCK)
        good = take_clock(&c, ns, hours);
    else if (kind == BT_STAMP_DATE)
        good = take_date(&c, ns);
    else
        good = take_number(s, &c, ns);
    return good && c.at == c.end;
}

/* The first stamp: fix the form. */
static bool begin(bt_stamps *s, cursor c, int64_t *ns)
{
    bool hours = false;
    if (read_form(s, BT_STAMP_NONE, c, ns, &hours))
        s->kind = *ns > EPOCH ? BT_STAMP_EPOCH : BT_STAMP_SECONDS;
    else if (read_form(s, BT_STAMP_CLOCK, c, ns, &hours))
        s->kind = BT_STAMP_CLOCK;
    else if (read_form(s, BT_STAMP_DATE, c, ns, &hours))
        s->kind = BT_STAMP_DATE;
    else
        return false;
    s->hours = hours;
    if (s->kind == BT_STAMP_CLOCK) s->period = hours ? DAY : HOUR;
    s->first = s->last = *ns;
    return true;
}

/* A clock that starts anew; a stamp from just before that may come late. */
static void turn(bt_stamps *s, int64_t ns)
{
    if (ns >= s->period) s->period = 0; /* it counts on: elapsed time, no clock */
    if (s->period == 0) return;
    if (ns < s->last - s->period / 2)
        s->turns += s->period;
    else if (ns > s->last + s->period / 2 && s->turns > 0)
        s->turns -= s->period;
}

static bool difference(int64_t a, int64_t b, int64_t *out)
{
    if (b < 0 ? a > INT64_MAX + b : a < INT64_MIN + b) return false;
    *out = a - b;
    return true;
}

void bt_stamps_init(bt_stamps *stamps, const bt_unit *unit, char decimal)
{
    *stamps = (bt_stamps){.decimal = decimal, .places = NS_DIGITS, .multiple = 1};
    if (!unit) return;
    stamps->unit_known = true;
    if (unit->factor >= 1)
        stamps->multiple = (int64_t)unit->factor; /* 1, 60, 3600 */
    else
        for (double f = 1; f > 1.5 * unit->factor; f /= 10) stamps->places--;
}

/* Any cell, to ns since the form's zero. */
static bt_cell_result read_cell(bt_stamps *s, const char *cell, size_t len, int64_t *now)
{
    if (bt_number_blank(cell, len)) return BT_CELL_BLANK;
    cursor c = {cell, cell + len};
    while (take(&c, ' ') || take(&c, '\t')) {}
    while (c.end[-1] == ' ' || c.end[-1] == '\t') c.end--;
    bool hours = s->hours;
    if (s->kind == BT_STAMP_NONE) {
        if (!begin(s, c, now)) return BT_CELL_BAD;
    } else if (!read_form(s, s->kind, c, now, &hours) || hours != s->hours) {
        return BT_CELL_BAD;
    }
    return BT_CELL_VALUE;
}

/* take_number for the usual cell of every row: digits and a point, no sign, no blanks, no exponent, and
 * far from the end of what an int64 holds.  False = ask take_number. */
static bool take_plain(const bt_stamps *s, const char *cell, size_t len, int64_t *ns)
{
    static const int64_t power[NS_DIGITS + 1] = {1,      10,      100,      1000,      10000,
                                                 100000, 1000000, 10000000, 100000000, 1000000000};
    if (len > 18 || s->multiple != 1) return false;
    size_t point = len;
    int64_t value = 0;
    for (size_t i = 0; i < len; i++) {
        if (is_digit(cell[i]))
            value = value * 10 + (cell[i] - '0');
        else if (cell[i] == s->decimal && point == len)
            point = i;
        else
            return false;
    }
    const int behind = point < len ? (int)(len - point) - 1 : 0, more = s->places - behind;
    if (len <= (point < len) || more < 0 || value > ROOM / 10 / power[more]) return false;
    *ns = value * power[more];
    return true;
}

bt_cell_result bt_stamps_number(bt_stamps *s, double time, int64_t *ns)
{
    double scaled = time * (double)s->multiple;
    for (int i = 0; i < s->places; i++) scaled *= 10;
    if (isnan(scaled)) return BT_CELL_BLANK;
    if (!(fabs(scaled) < 9.2e18)) return BT_CELL_BAD;
    const int64_t now = llround(scaled);
    if (s->kind == BT_STAMP_NONE) {
        s->kind = now > EPOCH ? BT_STAMP_EPOCH : BT_STAMP_SECONDS;
        s->first = now;
    }
    return difference(now, s->first, ns) ? BT_CELL_VALUE : BT_CELL_BAD;
}

bt_cell_result bt_stamps_parse(bt_stamps *s, const char *cell, size_t len, int64_t *ns)
{
    int64_t now;
    const bool number = s->kind == BT_STAMP_SECONDS || s->kind == BT_STAMP_EPOCH;
    if (!(number && take_plain(s, cell, len, &now))) {
        const bt_cell_result result = read_cell(s, cell, len, &now);
        if (result != BT_CELL_VALUE) return result;
    }
    int64_t after;
    if (!difference(now, s->first, &after)) return BT_CELL_BAD;
    turn(s, now);
    s->last = now;
    *ns = after + s->turns;
    return BT_CELL_VALUE;
}

double bt_stamps_offset(const bt_stamps *s)
{
    return s->kind == BT_STAMP_SECONDS ? (double)s->first / 1e9 : 0;
}
