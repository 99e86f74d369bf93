/* Trend of one figure over laps and places.  See trend.h; METHODS 11. */
#include "drift/trend.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"
#include "base/stats.h"

static double sign(double x)
{
    return (double)((x > 0) - (x < 0)); /* 0 for NaN as well */
}

static int ascending(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static void sort(double *v, size_t n)
{
    if (n > 1) qsort(v, n, sizeof *v, ascending);
}

static double sorted_median(const double *v, size_t n)
{
    return n == 0 ? NAN : n % 2 ? v[n / 2] : v[n / 2 - 1] + (v[n / 2] - v[n / 2 - 1]) / 2;
}

/* n * sizeof(double) bytes, at least one, zeroed; NULL if that is too much. */
static double *new_array(size_t n)
{
    return calloc(n ? n : 1, sizeof(double));
}

/* Of too many points a number that no memory holds. */
static size_t pairs_of(size_t n)
{
    return n > UINT16_MAX ? SIZE_MAX / 4 : n * (n - 1) / 2;
}

/* ---- Theil and Sen ---- */

/* Sum of f over the groups of equal values in sorted v; f(1) must be 0. */
static double over_ties(const double *v, size_t n, double (*f)(double))
{
    double sum = 0;
    for (size_t from = 0, to; from < n; from = to) {
        for (to = from + 1; to < n && !(v[to] > v[from]); to++) {}
        sum += f((double)(to - from));
    }
    return sum;
}

static double tie_variance(double k)
{
    return k * (k - 1) * (2 * k + 5);
}

static double tie_pairs(double k)
{
    return k * (k - 1);
}

/* All slopes between points of different x, unsorted; returns how many. */
static size_t pair_slopes(const double *x, const double *y, size_t n, double *slope)
{
    size_t count = 0;
    for (size_t j = 1; j < n; j++)
        for (size_t i = 0; i < j; i++) {
            if (x[j] > x[i]) slope[count++] = (y[j] - y[i]) / (x[j] - x[i]);
            if (x[j] < x[i]) slope[count++] = (y[i] - y[j]) / (x[i] - x[j]);
        }
    return count;
}

/* Ranks rounded half to even and held inside, as scipy does. */
static void sen_interval(const double *slope, size_t count, double sigma, double confidence,
                         bt_sen *out)
{
    const double half = bt_normal_quantile(0.5 + confidence / 2) * sigma, all = (double)count;
    if (count == 0 || !(half >= 0)) return;
    out->low = slope[(size_t)fmax(rint((all - half) / 2) - 1, 0)];
    out->high = slope[(size_t)fmin(rint((all + half) / 2), all - 1)];
}

/* x, y: n points without NaN, order lost; slope: room for all pairs. */
static void fit_sen(double *x, double *y, size_t n, double *slope, double confidence, bt_sen *out)
{
    const size_t count = pair_slopes(x, y, n, slope);
    sort(slope, count);
    out->n = n;
    out->slope = sorted_median(slope, count);
    for (size_t i = 0; i < n; i++) slope[count + i] = y[i] - out->slope * x[i];
    out->intercept = bt_median(slope + count, n);
    sort(x, n);
    sort(y, n);
    const double m = (double)n;
    const double var = (m * (m - 1) * (2 * m + 5) - over_ties(x, n, tie_variance) -
                        over_ties(y, n, tie_variance)) /
                       18;
    sen_interval(slope, count, sqrt(var), confidence, out);
}

bt_status bt_theil_sen(const double *x, const double *y, size_t n, double confidence, bt_sen *out,
                       bt_error *err)
{
    *out = (bt_sen){.slope = NAN, .intercept = NAN, .low = NAN, .high = NAN};
    double *px = new_array(n), *py = new_array(n), *slope = new_array(pairs_of(n) + n);
    const bool room = px && py && slope;
    if (room) {
        size_t used = 0;
        for (size_t i = 0; i < n; i++) {
            if (isnan(x[i]) || isnan(y[i])) continue;
            px[used] = x[i];
            py[used++] = y[i];
        }
        fit_sen(px, py, used, slope, confidence, out);
    }
    free(px);
    free(py);
    free(slope);
    return room ? BT_OK : bt_fail(err, BT_NOMEM, "no memory for the slopes of %zu points", n);
}

/* ---- the laps, places pooled ---- */

static double cell(const bt_panel *g, size_t lap, size_t place)
{
    return g->value[lap * g->places + place];
}

void bt_pooled_free(bt_pooled *q)
{
    free(q->x);
    free(q->y);
    free(q->residue);
    free(q->lap);
}

/* A place's level as it would be in the middle of the panel; NaN with fewer than two values.  `scratch`: room
 * for laps. */
static double level_of(const bt_panel *g, size_t p, double slope, double *scratch)
{
    size_t n = 0;
    for (size_t i = 0; i < g->laps; i++)
        if (!isnan(cell(g, i, p))) scratch[n++] = g->x[i];
    if (n < 2) return NAN;
    const double middle = 0.5 * (g->x[0] + g->x[g->laps - 1]);
    const double rise = isnan(slope) ? 0 : slope * (bt_median(scratch, n) - middle);
    for (size_t i = 0; i < g->laps; i++) scratch[i] = cell(g, i, p);
    return bt_median(scratch, g->laps) - rise;
}

bt_status bt_pooled_new(bt_pooled *q, const bt_panel *g, double slope, bt_error *err)
{
    *q = (bt_pooled){.x = new_array(g->laps), .y = new_array(g->laps)};
    q->residue = new_array(g->laps);
    q->lap = calloc(g->laps + 1, sizeof *q->lap);
    double *level = new_array(g->places), *scratch = new_array(g->laps + g->places);
    const bool room = q->x && q->y && q->residue && q->lap && level && scratch;
    for (size_t p = 0; room && p < g->places; p++) level[p] = level_of(g, p, slope, scratch);
    for (size_t i = 0; room && i < g->laps; i++) {
        for (size_t p = 0; p < g->places; p++) scratch[p] = cell(g, i, p) - level[p];
        const double middle = bt_median(scratch, g->places);
        if (isnan(middle)) continue;
        q->x[q->n] = g->x[i];
        q->y[q->n] = middle;
        q->lap[q->n++] = i;
    }
    free(level);
    free(scratch);
    if (room) return BT_OK;
    bt_pooled_free(q);
    return bt_fail(err, BT_NOMEM, "no memory for %zu laps", g->laps);
}

bt_line bt_pooled_line(const bt_pooled *q, const double *y)
{
    const bt_line line = bt_fit_line(q->x, y, q->n);
    for (size_t i = 0; i < q->n; i++)
        q->residue[i] = y[i] - (line.intercept + line.slope * q->x[i]);
    return line;
}

/* What is left of the pooled series about a parabola, into residue; returns its sum of squares.  About a
 * parabola, not a line, so that a drift that slows down or speeds up is not taken for memory. */
static double bend_off(const bt_pooled *q)
{
    double *u = q->residue, both = 0, square = 0, left = 0;
    const double mid = 0.5 * (q->x[0] + q->x[q->n - 1]);
    for (size_t i = 0; i < q->n; i++) u[i] = (q->x[i] - mid) * (q->x[i] - mid);
    const bt_line bend = bt_fit_line(q->x, u, q->n), line = bt_fit_line(q->x, q->y, q->n);
    for (size_t i = 0; i < q->n; i++) {
        u[i] -= bend.intercept + bend.slope * q->x[i]; /* square to any line now */
        both += u[i] * q->y[i];
        square += u[i] * u[i];
    }
    for (size_t i = 0; i < q->n; i++) {
        const double about_line = q->y[i] - (line.intercept + line.slope * q->x[i]);
        q->residue[i] = about_line - both / square * u[i];
        left += q->residue[i] * q->residue[i];
    }
    return left;
}

/* By how much a car that wanders, each lap like the one before, spreads the sum of
 * signs more than one whose laps forget each other: (1 + r) / (1 - r), r the
 * correlation of neighbouring laps about a parabola, freed of its bias -(3 + 5r)/n.
 * Counted only above half its standard error 1/sqrt(n): to take every chance r > 0
 * for memory would make the interval of a car without it too wide.  Nor with so few
 * laps that r says nothing; and never above 0.6, so that an r that a few laps put too
 * high does not hide a drift that every lap shows. */
static double memory_of(const bt_pooled *q)
{
    enum { LAPS_MIN = 10 };
    const double n = (double)q->n, most = 0.6;
    if (q->n < LAPS_MIN) return 1;
    const double square = bend_off(q);
    if (!(square > 0)) return 1;
    double next = 0;
    for (size_t i = 1; i < q->n; i++) next += q->residue[i - 1] * q->residue[i];
    const double raw = next / square, r = fmin(raw + (3 + 5 * raw) / n, most);
    return r > 0.5 / sqrt(n) ? (1 + r) / (1 - r) : 1;
}

/* ---- seasonal Kendall ---- */

/* Kendall's sum against the line of slope `beta`, and its variance when whole laps
 * are exchanged, so that places of one lap may move together.  With d_ij the sum
 * over places of sign(y_j - y_i), S = sum of d_ij over i < j, and over all orders
 * of the laps  Var S = (Q + sum_i R_i^2) / 3,  Q = sum over i < j of d_ij^2,
 * R_i = sum_j d_ij.  This is Hirsch and Slack's (1984) sum of covariances, term by
 * term: their K sums to Q, and R_i to n + 1 - 2 rank.  `row` holds the R_i. */
typedef struct {
    double s, var;
} kendall;

static kendall kendall_about(const bt_panel *g, double beta, double *row)
{
    kendall k = {0, 0};
    double squares = 0;
    memset(row, 0, g->laps * sizeof *row);
    for (size_t j = 1; j < g->laps; j++)
        for (size_t i = 0; i < j; i++) {
            const double rise = beta * (g->x[j] - g->x[i]);
            double d = 0;
            for (size_t p = 0; p < g->places; p++)
                d += sign((cell(g, j, p) - cell(g, i, p)) - rise);
            k.s += d;
            squares += d * d;
            row[i] += d;
            row[j] -= d;
        }
    for (size_t i = 0; i < g->laps; i++) squares += row[i] * row[i];
    k.var = squares / 3;
    return k;
}

/* Two-sided, with the step of 1 that s takes allowed for, as in scipy. */
static double kendall_p(double s, double var)
{
    if (s == 0 || !(var > 0)) return 1;
    return bt_two_sided_p((fabs(s) - 1) / sqrt(var), INFINITY);
}

/* The least p that exchanging so few laps could show, whatever the normal rule says:
 * the best of n! orders and its mirror image. */
static double least_p(size_t laps)
{
    double p = 2;
    for (size_t i = 2; i <= laps && p > 0; i++) p /= (double)i;
    return p;
}

static bool accepts(const bt_panel *g, double beta, double z, double *row)
{
    const kendall k = kendall_about(g, beta, row);
    return fabs(k.s) <= z * sqrt(k.var);
}

/* A slope between the k-th smallest and the next, k = 0..count. */
static double gap_slope(const double *slope, size_t count, size_t k)
{
    if (k == 0) return slope[0] - fabs(slope[0]) - 1;
    if (k == count) return slope[count - 1] + fabs(slope[count - 1]) + 1;
    return slope[k - 1] + (slope[k] - slope[k - 1]) / 2;
}

/* Number of slopes below the farthest line that the test accepts, going from the
 * median towards `end` (0 or count); `end` itself if it bounds nothing. */
static size_t last_accepted(const bt_panel *g, const double *slope, size_t count, size_t end,
                            double z, double *row)
{
    if (accepts(g, gap_slope(slope, count, end), z, row)) return end;
    size_t in = count / 2, out = end;
    while (in > out + 1 || out > in + 1) {
        const size_t mid = in < out ? in + (out - in) / 2 : out + (in - out) / 2;
        if (accepts(g, gap_slope(slope, count, mid), z, row))
            in = mid;
        else
            out = mid;
    }
    return in;
}

/* Every slope that the test does not refuse.  The variance is taken anew about
 * each line: one estimate at the median slope is too small for few laps. */
static void trend_interval(const bt_panel *g, const double *slope, size_t count, double confidence,
                           double *row, bt_trend *out)
{
    const double z = bt_normal_quantile(0.5 + confidence / 2) * sqrt(out->memory);
    const size_t first = last_accepted(g, slope, count, 0, z, row);
    const size_t last = last_accepted(g, slope, count, count, z, row);
    if (first > 0) out->low = slope[first - 1];
    if (last < count) out->high = slope[last];
}

/* Counts, slopes and the tie-corrected sums of one place after the other. */
static size_t gather(const bt_panel *g, double *slope, double *scratch, bool *lap_used,
                     bt_trend *out)
{
    size_t count = 0;
    double full = 0;
    for (size_t p = 0; p < g->places; p++) {
        size_t n = 0;
        for (size_t i = 0; i < g->laps; i++)
            if (!isnan(cell(g, i, p))) scratch[n++] = cell(g, i, p);
        if (n < 2) continue;
        out->places++;
        out->n += n;
        for (size_t j = 0; j < g->laps; j++) {
            if (isnan(cell(g, j, p))) continue;
            lap_used[j] = true;
            for (size_t i = 0; i < j; i++) {
                const double rise = cell(g, j, p) - cell(g, i, p);
                if (!isnan(rise)) slope[count++] = rise / (g->x[j] - g->x[i]);
            }
        }
        sort(scratch, n);
        const double m = (double)n, all = m * (m - 1);
        out->var_apart += (all * (2 * m + 5) - over_ties(scratch, n, tie_variance)) / 18;
        full += sqrt(all * (all - over_ties(scratch, n, tie_pairs))) / 2;
    }
    for (size_t i = 0; i < g->laps; i++) out->laps += lap_used[i];
    out->tau = full; /* what s is to be divided by */
    return count;
}

static void sort_slopes(double *slope, size_t count, bt_trend *out)
{
    sort(slope, count);
    if (count) out->slope = sorted_median(slope, count);
}

static bt_status measure_memory(const bt_panel *g, bt_trend *out, bt_error *err)
{
    bt_pooled q;
    BT_TRY(bt_pooled_new(&q, g, out->slope, err));
    out->memory = memory_of(&q);
    bt_pooled_free(&q);
    return BT_OK;
}

static void measure_trend(const bt_panel *g, double confidence, const double *slope, size_t count,
                          double *scratch, bt_trend *out)
{
    const kendall k = kendall_about(g, 0, scratch);
    out->s = k.s;
    out->var = k.var;
    out->tau = k.s / out->tau;
    if (count == 0) return;
    const double least = least_p(out->laps);
    out->p_apart = kendall_p(k.s, out->var_apart);
    out->p_together = fmax(least, kendall_p(k.s, out->var));
    out->p = fmax(least, kendall_p(k.s, out->var * out->memory));
    trend_interval(g, slope, count, confidence, scratch, out);
}

bt_status bt_seasonal_trend(const bt_panel *panel, double confidence, bt_trend *out, bt_error *err)
{
    *out = (bt_trend){.slope = NAN, .low = NAN, .high = NAN, .memory = 1};
    out->p_apart = out->p_together = out->p = NAN;
    const size_t pairs = pairs_of(panel->laps);
    const bool fits = panel->places == 0 || pairs <= SIZE_MAX / sizeof(double) / panel->places;
    double *slope = fits ? new_array(pairs * panel->places) : NULL;
    double *scratch = new_array(panel->laps);
    bool *lap_used = calloc(panel->laps + 1, sizeof *lap_used);
    bt_status status = BT_OK;
    if (slope && scratch && lap_used) {
        const size_t count = gather(panel, slope, scratch, lap_used, out);
        sort_slopes(slope, count, out);
        status = measure_memory(panel, out, err);
        if (status == BT_OK) measure_trend(panel, confidence, slope, count, scratch, out);
    } else {
        status = bt_fail(err, BT_NOMEM, "no memory for the slopes of %zu laps at %zu places",
                         panel->laps, panel->places);
    }
    free(slope);
    free(scratch);
    free(lap_used);
    return status;
}
