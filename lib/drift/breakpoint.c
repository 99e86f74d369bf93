/* Where and whether the pooled laps moved at once.  See breakpoint.h; METHODS 11. */
#include "drift/breakpoint.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"
#include "base/stats.h"

/* First index behind the farthest excursion of the CUSUM of y about its mean. */
static size_t farthest(const double *y, size_t n, double *excursion)
{
    const double mean = bt_mean_sd(y, n).mean;
    double sum = 0;
    size_t at = 0;
    *excursion = 0;
    for (size_t i = 0; i + 1 < n; i++) {
        sum += y[i] - mean;
        if (!(fabs(sum) > *excursion)) continue;
        *excursion = fabs(sum);
        at = i + 1;
    }
    return at;
}

static double rss_about_mean(const double *y, size_t n)
{
    const bt_moments m = bt_mean_sd(y, n);
    return n < 2 ? 0 : m.sd * m.sd * (double)(n - 1);
}

static double rss_two_levels(const double *y, size_t n, size_t at)
{
    return rss_about_mean(y, at) + rss_about_mean(y + at, n - at);
}

enum { PERMUTATIONS = 1999 };
static const uint64_t seed = 11;

/* (as far or farther + 1) / (permutations + 1): the order seen is one of them.
 * Sums in another order may differ by a rounding; that still counts as "as far". */
static const double as_far = 1 - 1e-10;

static double share(int farther)
{
    return (farther + 1.0) / (PERMUTATIONS + 1.0);
}

static double level_p(const bt_pooled *q, double excursion)
{
    bt_random chance = {seed};
    int farther = 0;
    memcpy(q->residue, q->y, q->n * sizeof *q->y);
    for (int k = 0; k < PERMUTATIONS; k++) {
        double e;
        bt_shuffle(&chance, q->residue, q->n);
        farthest(q->residue, q->n, &e);
        farther += e >= excursion * as_far;
    }
    return share(farther);
}

/* How much better two levels, parted where the CUSUM says, fit than a line. */
static double step_over_line(const double *y, size_t n, double rss_line)
{
    double e;
    return rss_line / rss_two_levels(y, n, farthest(y, n, &e));
}

/* The line's residuals are exchanged among laps and put on the line again; both
 * models are then fitted afresh.  `noise` and `y`: room for n each. */
static double line_p(const bt_pooled *q, bt_line line, double seen, double *noise, double *y)
{
    bt_random chance = {seed};
    int farther = 0;
    bt_pooled_line(q, q->y);
    memcpy(noise, q->residue, q->n * sizeof *noise);
    for (int k = 0; k < PERMUTATIONS; k++) {
        bt_shuffle(&chance, noise, q->n);
        for (size_t i = 0; i < q->n; i++) y[i] = line.slope * q->x[i] + noise[i];
        const double rss = bt_fit_line(q->x, y, q->n).rss;
        farther += step_over_line(y, q->n, rss) >= seen * as_far;
    }
    return share(farther);
}

/* What is left of laps that lie on their line is rounding, not noise to permute. */
static const double rounding = 1e-20;

static void break_p(const bt_pooled *q, bt_line line, double *noise, double *y, bt_break *out)
{
    const bool one_level = !(out->rss_level > 0);
    const bool on_line = !(out->rss_line > rounding * out->rss_level);
    out->p_level = one_level ? 1 : level_p(q, out->excursion);
    out->p_line = on_line ? 1 : line_p(q, line, out->rss_line / out->rss_step, noise, y);
}

static void measure_break(const bt_pooled *q, bt_break *out)
{
    const size_t at = farthest(q->y, q->n, &out->excursion);
    out->laps = q->n;
    if (at == 0) return;
    out->at = q->lap[at];
    out->size = bt_mean_sd(q->y + at, q->n - at).mean - bt_mean_sd(q->y, at).mean;
    out->rss_step = rss_two_levels(q->y, q->n, at);
    out->rss_level = rss_about_mean(q->y, q->n);
    out->rss_line = bt_fit_line(q->x, q->y, q->n).rss;
}

bt_status bt_find_break(const bt_panel *panel, double slope, bt_break *out, bt_error *err)
{
    *out = (bt_break){.size = NAN, .rss_step = NAN, .rss_line = NAN, .rss_level = NAN};
    out->p_level = out->p_line = NAN;
    bt_pooled q;
    BT_TRY(bt_pooled_new(&q, panel, slope, err));
    double *noise = calloc(q.n + 1, sizeof(double)), *y = calloc(q.n + 1, sizeof(double));
    const bool room = noise && y;
    if (room) {
        measure_break(&q, out);
        if (q.n >= BT_BREAK_LAPS_MIN) break_p(&q, bt_fit_line(q.x, q.y, q.n), noise, y, out);
    }
    free(noise);
    free(y);
    bt_pooled_free(&q);
    return room ? BT_OK : bt_fail(err, BT_NOMEM, "no memory for %zu laps", panel->laps);
}
