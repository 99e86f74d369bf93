/* Two groups of zones, place by place (METHODS 10 to 12).  What is systematic, friction, areas and
 * radii, is in both groups alike and drops out of a difference: its uncertainty comes from the
 * spread of the zones at each place, which holds the sensors' noise already. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"
#include "drift/finding.h"
#include "base/grow.h"
#include "laps/places.h"
#include "saved/saved.h"
#include "base/stats.h"

#define CONFIDENCE 0.95
#define SURE       0.05 /* false discovery rate of the places that are reported */

/* Both groups in one array, a's zones first, so that they share their places. */
typedef struct {
    bt_zone *zone;
    size_t n, n_a;
    bool in_charge;     /* by-wire alone: both groups have such zones */
    const char **place; /* sorted labels */
    size_t places;
    double *value; /* room for n of each group */
    double *p;     /* room for a figure's places */
    bt_compare *out;
    size_t n_out, cap;
} study;

static void study_free(study *s)
{
    free(s->zone);
    free(s->place);
    free(s->value);
    free(s->p);
}

/* Runs of one name in both groups are two runs: what is compared with itself still is A and B. */
static void mark_run(bt_zone *zone, const char *group)
{
    char name[BT_NAME_MAX];
    snprintf(name, sizeof name, "%s %.*s", group, BT_NAME_MAX - 4, zone->run);
    memcpy(zone->run, name, sizeof name);
}

static bool on_bypass(const bt_zone *z)
{
    return strcmp(z->mode, "fallback") == 0 || strcmp(z->mode, "mixed") == 0;
}

static size_t count_bypass(const bt_zone *z, size_t n)
{
    size_t count = 0;
    for (size_t i = 0; i < n; i++) count += on_bypass(&z[i]);
    return count;
}

/* Zones that the log cut off are not compared, nor what a bypass did with what by-wire did, which would hide any
 * other difference; where a group has nothing else, its bypass is what was asked about. */
static bool left_out(const study *s, const bt_zone *z)
{
    return z->flags & (BT_FLAG_CUT_START | BT_FLAG_CUT_END) || (s->in_charge && on_bypass(z));
}

static bt_status study_new(study *s, const bt_zones *a, const bt_zones *b, bt_error *err)
{
    const size_t n = a->n + b->n;
    *s = (study){.zone = calloc(n + 1, sizeof *s->zone),
                 .n = n,
                 .n_a = a->n,
                 .place = calloc(n + 1, sizeof *s->place),
                 .value = calloc(2 * n + 1, sizeof *s->value),
                 .p = calloc(n + 1, sizeof *s->p)};
    if (!s->zone || !s->place || !s->value || !s->p)
        return bt_fail(err, BT_NOMEM, "no memory for %zu zones", n);
    for (size_t i = 0; i < n; i++) {
        s->zone[i] = i < a->n ? a->row[i] : b->row[i - a->n];
        mark_run(&s->zone[i], i < a->n ? "A" : "B");
    }
    s->in_charge = count_bypass(s->zone, a->n) < a->n && count_bypass(s->zone + a->n, b->n) < b->n;
    BT_TRY(bt_places_assign(s->zone, n, err));
    s->places = bt_places_list(s->zone, n, s->place);
    return BT_OK;
}

/* A group's figure at a place. */
static bt_moments group_at(const study *s, const bt_column *figure, const char *place, bool b)
{
    size_t n = 0;
    for (size_t i = b ? s->n_a : 0; i < (b ? s->n : s->n_a); i++) {
        const bt_zone *z = &s->zone[i];
        if (strcmp(z->place, place) != 0 || left_out(s, z)) continue;
        s->value[n++] = bt_zone_printed(z, figure);
    }
    return bt_mean_sd(s->value, n);
}

/* A mean's variance and the degrees of freedom it is known with. */
typedef struct {
    double var, df;
} spread;

/* Welch's t: the groups may spread differently. */
static void settle(bt_compare *row, spread a, spread b)
{
    const double both = a.var + b.var;
    const double df = both * both / (a.var * a.var / a.df + b.var * b.var / b.df);
    row->u = sqrt(both);
    if (row->u > 0) {
        const double reach = bt_t_quantile(0.5 + CONFIDENCE / 2, df) * row->u;
        row->low = row->diff - reach;
        row->high = row->diff + reach;
        row->p = bt_two_sided_p(row->diff / row->u, df);
    } else if (row->u >= 0) { /* no spread at all: what differs differs */
        row->low = row->high = row->diff;
        row->p = row->diff > 0 || row->diff < 0 ? 0 : 1;
    }
}

static spread of_mean(const bt_moments *m)
{
    return (spread){m->sd * m->sd / (double)m->n, (double)m->n - 1};
}

static void compare_place(bt_compare *row, const bt_moments *a, const bt_moments *b)
{
    row->n_a = (double)a->n;
    row->n_b = (double)b->n;
    row->mean_a = a->mean;
    row->mean_b = b->mean;
    row->diff = b->mean - a->mean;
    settle(row, of_mean(a), of_mean(b));
}

static void say_finding(bt_compare *row, const bt_column *figure, double p)
{
    bt_line_text l = {row->finding, sizeof row->finding, 0};
    const int decimals = bt_two_digits(row->u > 0 ? row->u : row->diff);
    const bool sure = p < SURE;
    bt_say(&l, bt_figure_words(figure));
    if (isnan(row->diff)) {
        bt_say(&l, ": nothing to compare, expected zones of A and of B");
        return;
    }
    if (sure) {
        bt_say(&l, " of B lies ");
        bt_say_number(&l, fabs(row->diff), decimals, false);
        bt_say_unit(&l, figure);
        bt_say(&l, strcmp(figure->name, "balance_pct") == 0 ? " further "
                   : row->diff > 0                          ? " higher"
                                                            : " lower");
        if (strcmp(figure->name, "balance_pct") == 0) bt_say(&l, bt_direction(figure, row->diff));
    } else {
        bt_say(&l,
               isnan(p) ? ": too few zones to tell, " : ": no difference to be told from chance, ");
        bt_say_number(&l, row->diff, decimals, true);
        bt_say_unit(&l, figure);
    }
    if (!isnan(row->low)) {
        const bool turned = sure && row->diff < 0;
        bt_say(&l, " (");
        bt_say_number(&l, turned ? -row->high : row->low, decimals, false);
        bt_say(&l, "..");
        bt_say_number(&l, turned ? -row->low : row->high, decimals, false);
        bt_say(&l, ")");
    }
    if (isnan(p)) return;
    bt_say(&l, ", ");
    bt_say_p(&l, p);
}

static bt_status new_row(study *s, const bt_column *figure, const char *place, bt_compare **row,
                         bt_error *err)
{
    void *out = s->out;
    BT_TRY(bt_grow(&out, &s->cap, s->n_out + 1, sizeof *s->out, "rows of compare", err));
    s->out = out;
    *row = &s->out[s->n_out++];
    bt_row_blank(BT_TABLE_COMPARE, *row);
    snprintf((*row)->figure, sizeof(*row)->figure, "%s", figure->name);
    snprintf((*row)->place, sizeof(*row)->place, "%s", place);
    snprintf((*row)->unit, sizeof(*row)->unit, "%s", figure->unit);
    return BT_OK;
}

/* The place of a zone among the rows of the places that both groups have; NULL if it is at none. */
static const bt_compare *row_of(const study *s, const bt_zone *z, const bt_compare *at)
{
    for (size_t p = 0; p < s->places; p++)
        if (strcmp(s->place[p], z->place) == 0) return isnan(at[p].diff) ? NULL : &at[p];
    return NULL;
}

static bool same_lap(const bt_zone *a, const bt_zone *b)
{
    return strcmp(a->run, b->run) == 0 && a->lap >= b->lap && a->lap <= b->lap;
}

/* Spread of a group's mean over `shared` places from lap to lap: the sum of squares of what the zones of each lap
 * together put to the mean.  From zone to zone, or from place to place, it would come out too small, for a lap
 * moves all of its places. */
static spread over_laps(const study *s, const bt_column *figure, const bt_compare *at,
                        size_t shared, bool b)
{
    double squares = 0, laps = 0, lap = 0;
    const bt_zone *last = NULL;
    for (size_t i = b ? s->n_a : 0; i < (b ? s->n : s->n_a); i++) {
        const bt_zone *z = &s->zone[i];
        const bt_compare *own = row_of(s, z, at);
        const double x = bt_zone_printed(z, figure);
        if (!own || isnan(x) || left_out(s, z)) continue;
        if (!last || !same_lap(last, z)) {
            squares += lap * lap;
            lap = 0;
            laps++;
        }
        lap += (x - (b ? own->mean_b : own->mean_a)) / (b ? own->n_b : own->n_a) / (double)shared;
        last = z;
    }
    squares += lap * lap;
    return laps < 2 ? (spread){NAN, NAN} : (spread){squares * laps / (laps - 1), laps - 1};
}

static void say_bypass(const study *s, bt_compare *row)
{
    const size_t a = count_bypass(s->zone, s->n_a);
    const size_t b = count_bypass(s->zone + s->n_a, s->n - s->n_a);
    const size_t length = strlen(row->finding);
    if (s->in_charge && a + b)
        snprintf(row->finding + length, sizeof row->finding - length,
                 "; zones on the bypass left out: %zu of A, %zu of B", a, b);
}

/* Mean over the places that both groups have, each counting once. */
static void over_places(const study *s, bt_compare *all, const bt_compare *at,
                        const bt_column *figure)
{
    size_t n = 0;
    double a = 0, b = 0;
    all->n_a = all->n_b = 0;
    for (size_t p = 0; p < s->places; p++) {
        all->n_a += at[p].n_a;
        all->n_b += at[p].n_b;
        if (isnan(at[p].diff)) continue;
        a += at[p].mean_a;
        b += at[p].mean_b;
        n++;
    }
    if (n) {
        all->mean_a = a / (double)n;
        all->mean_b = b / (double)n;
        all->diff = all->mean_b - all->mean_a;
        settle(all, over_laps(s, figure, at, n, false), over_laps(s, figure, at, n, true));
    }
    say_finding(all, figure, all->p);
    say_bypass(s, all);
}

static bt_status add_figure(study *s, const bt_column *figure, bt_error *err)
{
    const size_t first = s->n_out;
    bt_compare *row;
    BT_TRY(new_row(s, figure, "all", &row, err));
    for (size_t p = 0; p < s->places; p++) {
        BT_TRY(new_row(s, figure, s->place[p], &row, err));
        const bt_moments a = group_at(s, figure, s->place[p], false);
        const bt_moments b = group_at(s, figure, s->place[p], true);
        compare_place(row, &a, &b);
        s->p[p] = row->p;
    }
    BT_TRY(bt_adjust_p(s->p, s->places, err));
    row = s->out + first;
    for (size_t p = 0; p < s->places; p++) {
        row[p + 1].p_adjusted = s->p[p];
        say_finding(&row[p + 1], figure, s->p[p]);
    }
    over_places(s, row, row + 1, figure);
    return BT_OK;
}

bt_status bt_compare_find(const bt_zones *a, const bt_zones *b, const char *of, bt_compare **rows,
                          size_t *n_rows, bt_error *err)
{
    study s;
    *rows = NULL;
    *n_rows = 0;
    bt_status status = study_new(&s, a, b, err);
    if (!of) of = "balance_pct";
    while (status == BT_OK && of) {
        const bt_column *figure;
        status = bt_next_figure(&of, &figure, err);
        if (status == BT_OK) status = add_figure(&s, figure, err);
    }
    study_free(&s);
    if (status == BT_OK) {
        *rows = s.out;
        *n_rows = s.n_out;
    } else {
        free(s.out);
    }
    return status;
}
