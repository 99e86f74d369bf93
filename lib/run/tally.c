/* The tally of a run: see tally.h. */
#include "run/tally.h"

#include <math.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/grow.h"
#include "base/stats.h"

#define INTERVAL_ZONES 3 /* of two, the interval is six times their distance: it says nothing */

typedef enum {
    MEAN, /* plain, over the zones that have the figure */
    SUM,
    LARGEST,
    BOOKS /* sum over the zones whose books are complete: their rest is known (METHODS 9) */
} way;

static const struct {
    size_t zone, run; /* offsets */
    way how;
} figures[] = {
#define FIGURE(zone, run, how)                                                                     \
    {                                                                                              \
        offsetof(bt_zone, zone), offsetof(bt_run, run), how                                        \
    }
    FIGURE(duration, braking, SUM),
    FIGURE(decel_peak, decel_peak, LARGEST),
    FIGURE(balance, balance, MEAN),
    FIGURE(blend_rms, blend_rms, MEAN),
    FIGURE(blend_frac, blend_frac, MEAN),
    FIGURE(motor_share, motor_share, MEAN),
    FIGURE(recovered, recovered, SUM),
    FIGURE(disc_front, disc_front, LARGEST),
    FIGURE(disc_rear, disc_rear, LARGEST),
    FIGURE(effort_ratio, effort_ratio, MEAN),
    FIGURE(kinetic, kinetic, BOOKS),
    FIGURE(energy_front, energy_front, BOOKS),
    FIGURE(energy_rear, energy_rear, BOOKS),
    FIGURE(energy_motor, energy_motor, BOOKS),
    FIGURE(tyre, tyre, BOOKS), /* the rest is known without it */
    FIGURE(road, road, BOOKS),
    FIGURE(rest, rest, BOOKS),
#undef FIGURE
};
enum { FIGURES = sizeof figures / sizeof *figures, NO_INTERVAL = -1 };
_Static_assert((int)FIGURES == (int)BT_TALLY_FIGURES, "room for each figure");

/* Means of what a mixed zone has not; `low`, and the high end behind it, bound some of them. */
static const struct {
    size_t zone, run;
    ptrdiff_t low;
} fits[BT_TALLY_FIT] = {
    {offsetof(bt_zone, blend_delay), offsetof(bt_run, blend_delay),
     offsetof(bt_run, blend_delay_low)},
    {offsetof(bt_zone, blend_gain), offsetof(bt_run, blend_gain), offsetof(bt_run, blend_gain_low)},
    {offsetof(bt_zone, blend_rest), offsetof(bt_run, blend_rest), offsetof(bt_run, blend_rest_low)},
    {offsetof(bt_zone, blend_by_delay), offsetof(bt_run, blend_by_delay), NO_INTERVAL},
    {offsetof(bt_zone, blend_by_gain), offsetof(bt_run, blend_by_gain), NO_INTERVAL},
    {offsetof(bt_zone, blend_by_rest), offsetof(bt_run, blend_by_rest), NO_INTERVAL},
};

static double figure_of(const bt_zone *row, size_t offset)
{
    double x;
    memcpy(&x, (const char *)row + offset, sizeof x);
    return x;
}

static void set_figure(bt_run *run, size_t offset, double x)
{
    memcpy((char *)run + offset, &x, sizeof x);
}

/* ---- modes ---- */

void bt_zone_give_mode(bt_zone *row, bt_mode mode)
{
    snprintf(row->mode, sizeof row->mode, "%s", bt_mode_word(mode));
    if (mode != BT_MODE_MIXED) return;
    row->blend_delay = row->blend_gain = row->blend_rest = NAN;
    row->blend_delay_u = row->blend_gain_u = row->blend_rest_u = NAN;
    row->blend_by_delay = row->blend_by_gain = row->blend_by_rest = NAN;
    row->flags |= BT_FLAG_DELAY_WEAK;
}

bt_mode bt_zone_mode(const bt_zone *row)
{
    int mode = BT_MODE_MIXED;
    while (mode > BT_MODE_NONE && strcmp(row->mode, bt_mode_word((bt_mode)mode)) != 0) mode--;
    return (bt_mode)mode;
}

/* ---- zone by zone ---- */

void bt_tally_init(bt_tally *t)
{
    *t = (bt_tally){.worst = NAN, .worst_zone = NAN, .locks = NAN, .laps = BT_NO_LAPS};
}

void bt_tally_clear(bt_tally *t)
{
    free(t->zone);
    bt_tally_init(t);
}

void bt_lap_count_add(bt_lap_count *laps, double lap)
{
    if (isnan(lap) || (lap >= laps->last && lap <= laps->last)) return;
    laps->last = lap;
    laps->n = isnan(laps->n) ? 1 : laps->n + 1;
}

static void add_figures(bt_tally *t, const bt_zone *row)
{
    for (size_t k = 0; k < FIGURES; k++) {
        const double x = figure_of(row, figures[k].zone);
        if (isnan(x) || (figures[k].how == BOOKS && isnan(row->rest))) continue;
        if (figures[k].how != LARGEST)
            t->figure[k] += x;
        else if (t->count[k] < 1 || x > t->figure[k])
            t->figure[k] = x;
        t->count[k]++;
    }
}

bt_status bt_tally_add(bt_tally *t, const bt_zone *row, bt_error *err)
{
    void *zone = t->zone;
    BT_TRY(bt_grow(&zone, &t->cap, t->n + 1, sizeof *t->zone, "zones", err));
    t->zone = zone;
    bt_tally_zone *z = &t->zone[t->n++];
    z->mode = (uint8_t)bt_zone_mode(row);
    for (size_t k = 0; k < BT_TALLY_FIT; k++) z->fit[k] = figure_of(row, fits[k].zone);
    z->delivers = (row->demand + row->blend_mean) / row->demand;
    add_figures(t, row);
    if (!isnan(row->blend_rms) && !(t->worst >= row->blend_rms)) {
        t->worst = row->blend_rms;
        t->worst_zone = row->zone;
    }
    if (!isnan(row->lock)) t->locks = (isnan(t->locks) ? 0 : t->locks) + (row->lock > 0 ? 1 : 0);
    bt_lap_count_add(&t->laps, row->lap);
    return BT_OK;
}

void bt_tally_mode(bt_tally *t, size_t i, bt_mode mode)
{
    t->zone[i].mode = (uint8_t)mode;
    for (size_t k = 0; k < BT_TALLY_FIT && mode == BT_MODE_MIXED; k++) t->zone[i].fit[k] = NAN;
}

/* ---- the run ---- */

/* Figure k of zone i's fit for the run, NaN = none.  A bypass is quick and exact: counted in, it would make the by-wire
 * look so. */
static double fit_of(const bt_tally *t, size_t k, size_t i)
{
    return t->zone[i].mode == BT_MODE_FALLBACK ? NAN : t->zone[i].fit[k];
}

static double mean_fit(const bt_tally *t, size_t k, double *n)
{
    double sum = 0;
    *n = 0;
    for (size_t i = 0; i < t->n; i++) {
        const double x = fit_of(t, k, i);
        if (isnan(x)) continue;
        sum += x;
        *n += 1;
    }
    return *n > 0 ? sum / *n : NAN;
}

/* Half of Student's 95 % interval of such a mean: how it would move with other brakings of this kind. */
static double half_interval(const bt_tally *t, size_t k, double mean, double n)
{
    double squares = 0;
    for (size_t i = 0; i < t->n; i++) {
        const double off = fit_of(t, k, i) - mean;
        squares += isnan(off) ? 0 : off * off;
    }
    return bt_t_quantile(0.975, n - 1) * sqrt(squares / (n - 1) / n);
}

void bt_tally_run(const bt_tally *t, bt_run *run)
{
    for (size_t k = 0; k < FIGURES; k++) {
        const double x = figures[k].how == MEAN ? t->figure[k] / t->count[k] : t->figure[k];
        set_figure(run, figures[k].run, t->count[k] > 0 ? x : NAN);
    }
    for (size_t k = 0; k < BT_TALLY_FIT; k++) {
        double n;
        const double mean = mean_fit(t, k, &n);
        set_figure(run, fits[k].run, mean);
        if (fits[k].low == NO_INTERVAL || n < INTERVAL_ZONES) continue;
        const double half = half_interval(t, k, mean, n);
        set_figure(run, (size_t)fits[k].low, mean - half);
        set_figure(run, (size_t)fits[k].low + sizeof(double), mean + half);
    }
    run->zones = (double)t->n;
    if (t->n == 0) run->braking = 0;
    run->worst_zone = t->worst_zone;
    run->locks = t->locks;
    run->laps = t->laps.n;
}
