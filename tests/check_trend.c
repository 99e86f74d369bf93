/* lib/drift/trend and breakpoint against Sen's example (CHECKS 10.2), scipy's answers
 * (reference/trend_cases.csv) and all orders of a few laps. */
#include "tests/check_support.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "drift/breakpoint.h"
#include "drift/trend.h"

enum { MOST = 512 };

static bt_trend trend_of(size_t laps, size_t places, const double *x, const double *value)
{
    bt_trend t;
    const bt_panel g = {laps, places, x, value};
    ck_assert_int_eq(bt_seasonal_trend(&g, 0.95, &t, NULL), BT_OK);
    return t;
}

static bt_break break_of(size_t laps, size_t places, const double *x, const double *value)
{
    bt_break b;
    const bt_panel g = {laps, places, x, value};
    ck_assert_int_eq(bt_find_break(&g, trend_of(laps, places, x, value).slope, &b, NULL), BT_OK);
    return b;
}

static bt_sen sen_of(size_t n, const double *x, const double *y, double confidence)
{
    bt_sen s;
    ck_assert_int_eq(bt_theil_sen(x, y, n, confidence, &s, NULL), BT_OK);
    return s;
}

static void same(double found, double want)
{
    ck_assert_msg(fabs(found - want) <= 1e-9 * fmax(1, fabs(want)), "expected %.17g, found %.17g",
                  want, found);
}

static const double laps_from_1[] = {1,  2,  3,  4,  5,  6,  7,  8,  9,  10,
                                     11, 12, 13, 14, 15, 16, 17, 18, 19, 20};

/* Not random, not periodic: enough to keep laps from tying. */
static double ripple(size_t k)
{
    return sin(2.4 * (double)k) + 0.3 * cos(7.1 * (double)(k * k % 97));
}

/* ---- published and scipy ---- */

static const double sen_x[] = {1, 2, 3, 4, 10, 12, 18}, sen_y[] = {9, 15, 19, 20, 45, 55, 78};

START_TEST(sens_example_has_his_slope_and_the_corrected_limits)
{
    const bt_sen s = sen_of(7, sen_x, sen_y, 0.93);
    ck_assert_double_eq(s.slope, 4);
    ck_assert_double_eq(s.intercept, 6);
    same(s.low, 26.0 / 7);
    same(s.high, 35.0 / 8);
    const bt_trend t = trend_of(7, 1, sen_x, sen_y);
    ck_assert_double_eq(t.s, 21);
    ck_assert_double_eq(t.tau, 1);
    same(t.var_apart, 44 + 1.0 / 3);
    same(t.var, 44 + 1.0 / 3);
    same(t.p_together, erfc(20 / sqrt(44 + 1.0 / 3) / sqrt(2)));
    ck_assert_double_eq(t.slope, 4);
}
END_TEST

/* Numbers of one row behind its name; an empty cell is NaN. */
static size_t numbers(FILE *f, const char *name, double *v)
{
    char line[16384];
    ck_assert_ptr_nonnull(fgets(line, sizeof line, f));
    const size_t skip = strlen(name);
    ck_assert_msg(strncmp(line, name, skip) == 0, "expected %s, found %s", name, line);
    size_t n = 0;
    for (char *at = line + skip; *at == ','; n++) {
        ck_assert_uint_lt(n, MOST);
        char *end;
        v[n] = strtod(++at, &end);
        if (end == at) v[n] = NAN;
        at = end;
    }
    return n;
}

static void check_sen(FILE *f, size_t n)
{
    double x[MOST], y[MOST], want[MOST];
    ck_assert_uint_eq(numbers(f, "x", x), n);
    ck_assert_uint_eq(numbers(f, "y", y), n);
    ck_assert_uint_eq(numbers(f, "sen-want", want), 5);
    const bt_sen s = sen_of(n, x, y, want[0]);
    ck_assert_uint_eq(s.n, n);
    same(s.slope, want[1]);
    same(s.intercept, want[2]);
    same(s.low, want[3]);
    same(s.high, want[4]);
}

/* The least p that so few laps can show, which scipy does not heed. */
static double heeding(double p, size_t laps)
{
    double least = 2;
    for (size_t i = 2; i <= laps; i++) least /= (double)i;
    return fmax(p, least);
}

static void check_panel(FILE *f, size_t laps, size_t places)
{
    double value[MOST], x[MOST], want[MOST], slope[MOST], tau[MOST], p[MOST], one[MOST];
    ck_assert_uint_le(laps * places, MOST);
    for (size_t i = 0; i < laps; i++) {
        x[i] = (double)i;
        ck_assert_uint_eq(numbers(f, "lap", value + i * places), places);
    }
    ck_assert_uint_eq(numbers(f, "panel-want", want), 4);
    ck_assert_uint_eq(numbers(f, "panel-slopes", slope), places);
    ck_assert_uint_eq(numbers(f, "panel-tau", tau), places);
    ck_assert_uint_eq(numbers(f, "panel-p", p), places);
    const bt_trend all = trend_of(laps, places, x, value);
    same(all.slope, want[0]);
    same(all.tau, want[1]);
    same(all.p_apart, want[2]);
    same(all.p_together, heeding(want[3], all.laps));
    ck_assert(!(all.low > all.slope) && !(all.high < all.slope) && all.p >= all.p_together);
    for (size_t k = 0; k < places; k++) {
        for (size_t i = 0; i < laps; i++) one[i] = value[i * places + k];
        const bt_trend t = trend_of(laps, 1, x, one);
        same(t.slope, slope[k]);
        same(t.tau, tau[k]);
        same(t.var, t.var_apart);
        same(t.p_together, heeding(p[k], t.laps));
    }
}

START_TEST(random_series_and_panels_agree_with_scipy)
{
    FILE *f = fopen("tests/reference/trend_cases.csv", "r");
    ck_assert_ptr_nonnull(f);
    char line[4096];
    int series = 0, panels = 0;
    while (fgets(line, sizeof line, f)) {
        size_t n, places;
        if (sscanf(line, "sen,%zu", &n) == 1) {
            check_sen(f, n);
            series++;
        } else if (sscanf(line, "panel,%zu,%zu", &n, &places) == 2) {
            check_panel(f, n, places);
            panels++;
        }
    }
    fclose(f);
    ck_assert_int_eq(series, 56);
    ck_assert_int_eq(panels, 48);
}
END_TEST

/* ---- what must hold whatever the numbers ---- */

/* Every order of the rows of `value`, one call each. */
static void every_order(double *value, size_t laps, size_t places, size_t done,
                        void (*visit)(const double *value, void *to), void *to)
{
    if (done == laps) {
        visit(value, to);
        return;
    }
    double row[MOST], *a = value + done * places;
    for (size_t i = done; i < laps; i++) {
        double *b = value + i * places;
        for (int back = 0; back < 2; back++) {
            memcpy(row, a, places * sizeof *row);
            memmove(a, b, places * sizeof *row);
            memcpy(b, row, places * sizeof *row);
            if (back == 0) every_order(value, laps, places, done + 1, visit, to);
        }
    }
}

typedef struct {
    double count, s, square;
} tally;

static void add_s(const double *value, void *to)
{
    tally *t = to;
    const double s = trend_of(5, 3, laps_from_1, value).s;
    t->count++;
    t->s += s;
    t->square += s * s;
}

START_TEST(the_variance_is_that_over_all_orders_of_the_laps_with_blanks_and_ties)
{
    double value[15];
    for (size_t i = 0; i < 15; i++) value[i] = rint(3 * ripple(i));
    value[4] = value[9] = NAN;
    const double want = trend_of(5, 3, laps_from_1, value).var;
    tally t = {0, 0, 0};
    every_order(value, 5, 3, 0, add_s, &t);
    ck_assert_double_eq(t.count, 120);
    same(t.s, 0);
    same(want, t.square / 120);
}
END_TEST

START_TEST(places_that_move_together_count_as_one_and_the_slope_shifts_with_the_data)
{
    double one[16], eight[128], tilted[128];
    for (size_t i = 0; i < 16; i++) {
        one[i] = ripple(i) + 0.05 * (double)i;
        for (size_t p = 0; p < 8; p++) {
            eight[i * 8 + p] = one[i] + (double)p;
            tilted[i * 8 + p] = -2 * eight[i * 8 + p] - 0.5 * laps_from_1[i];
        }
    }
    const bt_trend single = trend_of(16, 1, laps_from_1, one);
    const bt_trend all = trend_of(16, 8, laps_from_1, eight);
    const bt_trend other = trend_of(16, 8, laps_from_1, tilted);
    same(all.var, 64 * single.var);
    ck_assert_double_lt(all.p_apart, all.p_together);
    same(all.slope, single.slope);
    same(all.low, single.low);
    same(all.high, single.high);
    same(other.slope, -2 * all.slope - 0.5);
    same(other.low, -2 * all.high - 0.5);
    same(other.high, -2 * all.low - 0.5);
}
END_TEST

START_TEST(as_many_rises_as_falls_are_no_trend_at_all)
{
    static const double even[] = {2, 4, 1, 3};
    const bt_trend t = trend_of(4, 1, laps_from_1, even);
    ck_assert(t.s == 0 && t.var > 0 && t.p_apart == 1 && t.p_together == 1 && t.p == 1);
}
END_TEST

START_TEST(two_laps_that_fall_have_a_tau_of_minus_one)
{
    static const double falls[] = {5, 3};
    const bt_trend t = trend_of(2, 1, laps_from_1, falls);
    ck_assert(t.s == -1 && t.tau == -1 && t.var_apart == 1 && t.slope == -2);
}
END_TEST

START_TEST(little_confidence_is_a_narrow_interval_about_the_slope)
{
    const bt_sen s = sen_of(7, sen_x, sen_y, 0.05), wide = sen_of(7, sen_x, sen_y, 0.9);
    ck_assert(s.low > wide.low && s.low <= 4 && s.high >= 4 && s.high < wide.high);
}
END_TEST

/* ---- the laps, places pooled ---- */

/* Both places rise by 0.5 a lap; one is known in the first three laps alone, the other in the last three. */
static const double rising[] = {10.5, NAN, 11, NAN, 11.5, 23, NAN, 23.5, NAN, 24};

static bt_pooled pooled_of(size_t laps, size_t places, const double *x, const double *value,
                           double slope)
{
    const bt_panel g = {laps, places, x, value};
    bt_pooled q;
    ck_assert_int_eq(bt_pooled_new(&q, &g, slope, NULL), BT_OK);
    return q;
}

START_TEST(pooled_laps_have_what_all_places_share_about_the_middle_of_the_panel)
{
    bt_pooled q = pooled_of(5, 2, laps_from_1, rising, 0.5);
    ck_assert_uint_eq(q.n, 5);
    for (size_t i = 0; i < 5; i++) {
        same(q.y[i], 0.5 * (laps_from_1[i] - 3));
        ck_assert(q.x[i] == laps_from_1[i] && q.lap[i] == i);
    }
    bt_pooled_free(&q);
    q = pooled_of(5, 2, laps_from_1, rising, NAN);    /* each place about its own median */
    static const double own[] = {-0.5, 0, 0, 0, 0.5}; /* in the third lap (0.5 - 0.5) / 2 */
    for (size_t i = 0; i < 5; i++) same(q.y[i], own[i]);
    bt_pooled_free(&q);
}
END_TEST

START_TEST(what_is_off_the_line_is_left_in_residue)
{
    static const double value[] = {0, 0, 3}, y[] = {0, 0, 3}, off[] = {0.5, -1, 0.5};
    bt_pooled q = pooled_of(3, 1, laps_from_1, value, NAN);
    same(bt_pooled_line(&q, y).slope, 1.5);
    for (size_t i = 0; i < 3; i++) same(q.residue[i], off[i]);
    bt_pooled_free(&q);
}
END_TEST

/* y less its part along each of 1, x, x^2 made square to those before it. */
static void off_parabola(const double *x, double *y, size_t n)
{
    double base[3][20];
    for (size_t k = 0; k < 3; k++) {
        double *b = base[k];
        for (size_t i = 0; i < n; i++) b[i] = k == 0 ? 1 : k == 1 ? x[i] : x[i] * x[i];
        for (size_t pass = 0; pass < 2; pass++)
            for (size_t j = 0; j <= k; j++) {
                double *of = j < k ? b : y, along = 0, square = 0;
                for (size_t i = 0; i < n; i++) {
                    along += of[i] * base[j][i];
                    square += base[j][i] * base[j][i];
                }
                for (size_t i = 0; i < n; i++) of[i] -= along / square * base[j][i];
            }
    }
}

/* trend.h: (1 + r) / (1 - r) of the neighbours' correlation about a parabola, its bias taken off. */
static double memory_by_hand(const double *x, const double *value, size_t n)
{
    double y[20], next = 0, square = 0;
    memcpy(y, value, n * sizeof *y);
    off_parabola(x, y, n);
    for (size_t i = 0; i < n; i++) square += y[i] * y[i];
    for (size_t i = 1; i < n; i++) next += y[i] * y[i - 1];
    const double raw = next / square, r = fmin(0.6, raw + (3 + 5 * raw) / (double)n);
    return r > 0.5 / sqrt((double)n) ? (1 + r) / (1 - r) : 1;
}

static const struct {
    size_t laps;
    double swing, bend, unit, size; /* rad a lap, a lap squared, x of a lap, of all of it */
    double memory;                  /* 0 = by hand */
} wanders[] = {{20, 1.35, 0, 1, 1, 0},     {20, 1.3, 0.2, 1, 1, 0},   {20, 1.3, 0.2, 0.01, 1, 0},
               {20, 1.3, 0.2, 1, 1e-6, 0}, {20, 1.57, 0, 1, 1, 0},    {10, 1.55, 0.1, 1, 1, 0},
               {11, 1.5, 0, 1, 1, 0},      {15, 1.4, -0.3, 40, 1, 0}, {9, 1.5, 0, 1, 1, 1},
               {20, 0.5, 0, 1, 1, 4},      {20, 2.5, 0, 1, 1, 1},     {20, 0, 0, 1, 0, 1}};

START_TEST(memory_is_that_of_neighbours_about_a_parabola)
{
    const size_t n = wanders[_i].laps;
    double x[20], value[20];
    for (size_t i = 0; i < n; i++) {
        const double lap = laps_from_1[i];
        x[i] = wanders[_i].unit * (lap + (i > 4)); /* a lap is missing */
        value[i] = wanders[_i].size *
                   (sin(wanders[_i].swing * lap) + 0.1 * ripple(i) + wanders[_i].bend * lap * lap);
    }
    const double by_hand = memory_by_hand(x, value, n), want = wanders[_i].memory;
    if (want == 0) ck_assert(by_hand > 1 && by_hand < 4); /* neither bound is in the way */
    ck_assert_double_eq_tol(trend_of(n, 1, x, value).memory, want > 0 ? want : by_hand, 1e-7);
}
END_TEST

START_TEST(a_line_through_few_laps_is_found_but_never_called_sure)
{
    for (size_t laps = 2; laps <= 4; laps++) {
        const bt_trend t = trend_of(laps, 1, laps_from_1, laps_from_1);
        ck_assert_double_eq(t.slope, 1);
        /* s is 6 of a variance of 26 / 3; of three laps, two orders in six, of two both are as straight */
        const double want = laps == 4   ? erfc(5 / sqrt(26 / 3.0) / sqrt(2))
                            : laps == 3 ? 1.0 / 3
                                        : 1;
        same(t.p, want);
    }
}
END_TEST

START_TEST(laps_that_follow_one_another_widen_the_interval_and_raise_p)
{
    double slow[20];
    for (size_t i = 0; i < 20; i++) slow[i] = sin(0.5 * (double)i);
    const bt_trend wander = trend_of(20, 1, laps_from_1, slow);
    ck_assert_double_gt(wander.memory, 2);
    ck_assert_double_gt(wander.p, wander.p_together);
    for (size_t i = 0; i < 20; i++) slow[i] = i % 2 ? 1 + 0.01 * ripple(i) : -1;
    ck_assert_double_eq(trend_of(20, 1, laps_from_1, slow).memory, 1);
}
END_TEST

static int ascending(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Of a single series without ties Kendall's sum about a slope is the number of steeper
 * pairs less that of flatter ones, and its variance n (n - 1) (2n + 5) / 18, times what memory makes of it: the interval goes from rank to rank. */
START_TEST(the_interval_is_that_of_kendalls_ranks_wherever_the_slopes_lie)
{
    const size_t n = (size_t)_i;
    const double m = (double)n, sigma = sqrt(m * (m - 1) * (2 * m + 5) / 18);
    for (int turn = -30; turn <= 30; turn++)
        for (double size = 0.05; size < 30; size *= 20) {
            double value[20], slope[190];
            size_t pairs = 0;
            for (size_t i = 0; i < n; i++)
                value[i] =
                    size * (ripple(i) + sin(1.3 * laps_from_1[i])) + 0.1 * turn * laps_from_1[i];
            for (size_t j = 1; j < n; j++)
                for (size_t i = 0; i < j; i++)
                    slope[pairs++] = (value[j] - value[i]) / (laps_from_1[j] - laps_from_1[i]);
            qsort(slope, pairs, sizeof *slope, ascending);
            const bt_trend t = trend_of(n, 1, laps_from_1, value);
            const double reach = 1.959963984540054 * sigma * sqrt(t.memory);
            const size_t first = (size_t)fmax(0, ceil(((double)pairs - reach) / 2));
            if (first > 0) {
                same(t.low, slope[first - 1]);
                same(t.high, slope[pairs - first]);
            } else {
                ck_assert(isnan(t.low) && isnan(t.high));
            }
        }
}
END_TEST

START_TEST(nothing_one_value_and_equal_values_are_dealt_with)
{
    const double blank[] = {NAN, NAN, NAN, NAN, NAN, NAN}, once[] = {NAN, 3, NAN, NAN, NAN, 5};
    const double level[] = {2, 2, 2, 2, 2, 2, 2, 2};
    const bt_trend none[] = {trend_of(0, 0, NULL, NULL),        trend_of(0, 4, NULL, NULL),
                             trend_of(3, 0, laps_from_1, NULL), trend_of(3, 2, laps_from_1, blank),
                             trend_of(3, 2, laps_from_1, once), trend_of(1, 6, laps_from_1, level)};
    for (size_t i = 0; i < sizeof none / sizeof *none; i++) {
        /* the last but one has two values at its second place */
        const bool some = i == 4;
        ck_assert_uint_eq(none[i].n, some ? 2 : 0);
        ck_assert_int_eq(isnan(none[i].slope) != 0, !some);
        ck_assert_int_eq(isnan(none[i].p) != 0, !some);
        ck_assert(isnan(none[i].low) && isnan(none[i].high));
    }
    const bt_trend flat = trend_of(8, 1, laps_from_1, level);
    ck_assert(flat.slope == 0 && flat.p == 1 && flat.low == 0 && flat.high == 0 && flat.s == 0);
    ck_assert(flat.var == 0 && isnan(flat.tau));
    const bt_sen nothing = sen_of(0, NULL, NULL, 0.95),
                 upright = sen_of(3, level, laps_from_1, 0.95);
    ck_assert(nothing.n == 0 && isnan(nothing.slope) && isnan(nothing.low));
    ck_assert(upright.n == 3 && isnan(upright.slope) && isnan(upright.high));
    const bt_sen hole = sen_of(6, laps_from_1, once, 0.95);
    ck_assert(hole.n == 2 && hole.slope == 0.5 && hole.low == 0.5 && hole.high == 0.5);
}
END_TEST

START_TEST(laps_missing_at_some_places_do_not_make_a_trend_of_their_levels)
{
    /* The high place is seen late only, the low one early only: no drift at either. */
    double value[24];
    for (size_t i = 0; i < 12; i++) {
        value[2 * i] = i < 7 ? 50 + 0.1 * ripple(i) : NAN;
        value[2 * i + 1] = i < 5 ? NAN : 60 + 0.1 * ripple(3 * i);
    }
    const bt_trend t = trend_of(12, 2, laps_from_1, value);
    ck_assert(t.n == 14 && t.laps == 12 && t.places == 2);
    ck_assert_double_lt(fabs(t.slope), 0.05);
    ck_assert(t.low < 0 && t.high > 0);
    ck_assert_double_lt(fabs(break_of(12, 2, laps_from_1, value).size), 0.2);
}
END_TEST

/* ---- break point ---- */

START_TEST(a_step_is_placed_sized_and_told_from_a_line)
{
    double step[60], line[60];
    for (size_t i = 0; i < 20; i++)
        for (size_t p = 0; p < 3; p++) {
            const double noise = 0.02 * ripple(i * 3 + p) + 5 * (double)p;
            step[i * 3 + p] = noise + (i < 8 ? 0 : -1);
            line[i * 3 + p] = noise - 0.05 * (double)i;
        }
    const bt_break s = break_of(20, 3, laps_from_1, step);
    ck_assert_uint_eq(s.at, 8);
    ck_assert_double_eq_tol(s.size, -1, 0.03);
    ck_assert(s.rss_step < s.rss_line);
    ck_assert_double_eq(s.p_level, 1.0 / 2000); /* as none of 1999 other orders does */
    ck_assert_double_eq(s.p_line, 1.0 / 2000);
    const bt_break l = break_of(20, 3, laps_from_1, line);
    ck_assert(l.p_level < 0.01 && l.p_line > 0.05 && l.rss_line < l.rss_step);
}
END_TEST

enum { ORDERED = 7 };

static double mean_of(const double *y, size_t n)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++) sum += y[i];
    return sum / (double)n;
}

static double square_of(const double *y, size_t n)
{
    double sum = 0;
    for (size_t i = 0; i < n; i++) sum += (y[i] - mean_of(y, n)) * (y[i] - mean_of(y, n));
    return sum;
}

/* The largest sum about the mean, and by how much two levels parted there fit better than a line. */
static double strays(const double *y, double *over_line)
{
    double sum = 0, most = 0, xy = 0;
    size_t at = 0;
    for (size_t i = 0; i < ORDERED; i++) {
        sum += y[i] - mean_of(y, ORDERED);
        xy += ((double)i - 3) * y[i]; /* laps -3 to 3, 28 their squares' sum */
        if (i + 1 < ORDERED && fabs(sum) > most + 1e-12) {
            most = fabs(sum);
            at = i + 1;
        }
    }
    const double line = square_of(y, ORDERED) - xy * xy / 28;
    *over_line = line / (square_of(y, at) + square_of(y + at, ORDERED - at));
    return most;
}

typedef struct {
    double slope, excursion, over_line, count, as_far, as_well;
} orders;

static void add_order(const double *value, void *to)
{
    orders *o = to;
    double y[ORDERED], over_line;
    o->count++;
    o->as_far += strays(value, &over_line) >= o->excursion - 1e-9;
    for (size_t i = 0; i < ORDERED; i++) y[i] = value[i] + o->slope * ((double)i - 3);
    strays(y, &over_line);
    o->as_well += over_line >= o->over_line - 1e-9;
}

/* Of drawing 1999 orders out of all: five standard deviations. */
static void drawn(double found, double p)
{
    ck_assert(p > 0.02 && p < 0.7);
    ck_assert_double_eq_tol(found, p, 5 * sqrt(p * (1 - p) / 1999) + 1.0 / 2000);
}

static const double ordered[][ORDERED] = {
    {1, 2.5, 0.5, 3.25, 2.75, 3.5, 3}, {0, 1, 0.5, 3, 3.2, 5.1, 7}, {9, 7, 8.5, 3, 4.5, 4, 0}};

START_TEST(p_of_a_break_is_that_over_all_orders_of_the_laps)
{
    const double *value = ordered[_i];
    const bt_break b = break_of(ORDERED, 1, laps_from_1, value);
    orders o = {0};
    o.excursion = strays(value, &o.over_line);
    double y[ORDERED];
    memcpy(y, value, sizeof y);
    every_order(y, ORDERED, 1, 0, add_order, &o); /* the level: the laps themselves */
    ck_assert_double_eq(o.count, 5040);
    drawn(b.p_level, o.as_far / o.count);
    double xy = 0;
    for (size_t i = 0; i < ORDERED; i++) xy += ((double)i - 3) * value[i];
    o.slope = xy / 28;
    for (size_t i = 0; i < ORDERED; i++) y[i] = value[i] - o.slope * ((double)i - 3);
    o.count = o.as_well = 0;
    every_order(y, ORDERED, 1, 0, add_order, &o); /* the line: what is off it, put on it again */
    drawn(b.p_line, o.as_well / o.count);
}
END_TEST

START_TEST(a_break_is_the_same_in_any_unit)
{
    double small[ORDERED];
    for (size_t i = 0; i < ORDERED; i++) small[i] = 1e-12 * ordered[0][i];
    const bt_break b = break_of(ORDERED, 1, laps_from_1, ordered[0]),
                   s = break_of(ORDERED, 1, laps_from_1, small);
    ck_assert(s.p_level == b.p_level && s.p_line == b.p_line && s.at == b.at && b.p_line < 1);
}
END_TEST

/* 1, -1, 1, ... seven times are 48/7 about their mean 1/7; the one lap at 20 has nothing about its own. */
START_TEST(the_first_lap_or_the_last_may_be_a_level_of_its_own)
{
    static const double last[] = {1, -1, 1, -1, 1, -1, 1, 20},
                        first[] = {20, 1, -1, 1, -1, 1, -1, 1}, threes[] = {0, 3, 0, 30, 33, 30};
    const bt_break l = break_of(8, 1, laps_from_1, last), f = break_of(8, 1, laps_from_1, first);
    ck_assert(l.at == 7 && f.at == 1);
    same(l.size, 20 - 1.0 / 7);
    same(f.size, 1.0 / 7 - 20);
    same(l.rss_step, 48.0 / 7);
    same(f.rss_step, 48.0 / 7);
    same(break_of(6, 1, laps_from_1, threes).rss_step, 6 + 6);
}
END_TEST

/* Levels 1 and 7, each lap 1 off: 8 about the two levels, 80 about one (mean 4), 80 - 52^2 / 42 about the line
 * (Sxy 52, Sxx 42); the sum about the mean strays to -4 - 2 - 4 - 2. */
START_TEST(sums_of_squares_of_a_break_come_out_as_computed_by_hand)
{
    static const double value[] = {0, 2, 0, 2, 6, 8, 6, 8};
    const bt_break b = break_of(8, 1, laps_from_1, value);
    ck_assert_uint_eq(b.at, 4);
    ck_assert_double_eq_tol(b.size, 6, 1e-12);
    ck_assert_double_eq_tol(b.excursion, 12, 1e-12);
    ck_assert_double_eq_tol(b.rss_step, 8, 1e-12);
    ck_assert_double_eq_tol(b.rss_level, 80, 1e-12);
    ck_assert_double_eq_tol(b.rss_line, 80 - 52.0 * 52 / 42, 1e-12);
}
END_TEST

/* One lap of five that is off strays least (by 2, else 3 or 4) where it is in the middle, and there two levels
 * are least better than a line (20 to 50/3, else 35/2 to 25/2 or 10 to 0): whatever the order, it strays as far. */
START_TEST(what_every_order_shows_is_chance_for_certain)
{
    static const double value[] = {0, 0, 5, 0, 0};
    const bt_break b = break_of(5, 1, laps_from_1, value);
    ck_assert_double_eq_tol(b.excursion, 2, 1e-12);
    ck_assert_double_eq(b.p_level, 1);
    ck_assert_double_eq(b.p_line, 1);
}
END_TEST

START_TEST(breaks_of_nothing_few_equal_and_exactly_straight_laps_are_dealt_with)
{
    const double level[] = {2, 2, 2, 2, 2, 2}, blank[] = {NAN, NAN, NAN, NAN, NAN, NAN};
    const bt_break none = break_of(0, 0, NULL, NULL), gone = break_of(6, 1, laps_from_1, blank);
    ck_assert(none.at == 0 && isnan(none.p_level) && isnan(none.size) && none.laps == 0);
    ck_assert(gone.at == 0 && isnan(gone.p_line) && isnan(gone.size) && gone.laps == 0);
    const bt_break four = break_of(4, 1, laps_from_1, laps_from_1);
    ck_assert(four.at == 2 && four.size == 2 && isnan(four.p_level) && isnan(four.p_line));
    const bt_break flat = break_of(6, 1, laps_from_1, level);
    ck_assert(flat.at == 0 && flat.p_level == 1 && flat.p_line == 1 && flat.laps == 6);
    ck_assert_double_eq(break_of(8, 1, laps_from_1, laps_from_1).p_line, 1);
    const double clean[] = {0, 0, 0, NAN, 0, 1, 1, 1, 1};
    const bt_break exact = break_of(9, 1, laps_from_1, clean);
    ck_assert(exact.at == 5 && exact.size == 1 && exact.rss_step == 0 && exact.laps == 8);
    ck_assert_double_lt(exact.p_line, 0.1);
}
END_TEST

START_TEST(the_same_laps_give_the_same_p_every_time)
{
    double value[16];
    for (size_t i = 0; i < 16; i++) value[i] = ripple(i) + 0.08 * (double)i;
    const bt_break a = break_of(16, 1, laps_from_1, value), b = break_of(16, 1, laps_from_1, value);
    ck_assert(a.p_level == b.p_level && a.p_line == b.p_line);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("trend");
    TCase *t = tcase_create("trend");
    tcase_add_test(t, sens_example_has_his_slope_and_the_corrected_limits);
    tcase_add_test(t, random_series_and_panels_agree_with_scipy);
    tcase_add_test(t, the_variance_is_that_over_all_orders_of_the_laps_with_blanks_and_ties);
    tcase_add_test(t, places_that_move_together_count_as_one_and_the_slope_shifts_with_the_data);
    tcase_add_test(t, as_many_rises_as_falls_are_no_trend_at_all);
    tcase_add_test(t, two_laps_that_fall_have_a_tau_of_minus_one);
    tcase_add_test(t, little_confidence_is_a_narrow_interval_about_the_slope);
    tcase_add_test(t, pooled_laps_have_what_all_places_share_about_the_middle_of_the_panel);
    tcase_add_test(t, what_is_off_the_line_is_left_in_residue);
    tcase_add_loop_test(t, memory_is_that_of_neighbours_about_a_parabola, 0,
                        sizeof wanders / sizeof *wanders);
    tcase_add_test(t, a_line_through_few_laps_is_found_but_never_called_sure);
    tcase_add_test(t, laps_that_follow_one_another_widen_the_interval_and_raise_p);
    tcase_add_loop_test(t, the_interval_is_that_of_kendalls_ranks_wherever_the_slopes_lie, 3, 21);
    tcase_add_test(t, nothing_one_value_and_equal_values_are_dealt_with);
    tcase_add_test(t, laps_missing_at_some_places_do_not_make_a_trend_of_their_levels);
    tcase_add_test(t, a_step_is_placed_sized_and_told_from_a_line);
    tcase_add_loop_test(t, p_of_a_break_is_that_over_all_orders_of_the_laps, 0,
                        sizeof ordered / sizeof *ordered);
    tcase_add_test(t, a_break_is_the_same_in_any_unit);
    tcase_add_test(t, the_first_lap_or_the_last_may_be_a_level_of_its_own);
    tcase_add_test(t, sums_of_squares_of_a_break_come_out_as_computed_by_hand);
    tcase_add_test(t, what_every_order_shows_is_chance_for_certain);
    tcase_add_test(t, breaks_of_nothing_few_equal_and_exactly_straight_laps_are_dealt_with);
    tcase_add_test(t, the_same_laps_give_the_same_p_every_time);
    suite_add_tcase(s, t);
    return s;
}

BT_CHECK_MAIN(suite)
