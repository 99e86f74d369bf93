/* Drift of zone figures (METHODS 11): what is compared with what, the rows of the table and their
 * findings.  The numerics are trend's, breakpoint's and panel's. */
#include "story/drift.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "story/breakpoint.h"
#include "base/error.h"
#include "story/finding.h"
#include "base/grow.h"
#include "story/places.h"
#include "story/saved.h"

#define CONFIDENCE 0.95
#define SURE       0.01 /* p of a drift or a break that is said without doubt */
#define PROBABLE   0.05 /* p of a drift that is reported: its interval leaves out 0 */
#define SURE_STEP  0.05 /* p_line of a break that is called one */
#define LEAST_PCT  0.05 /* % per lap that matters, unless told */

/* All there is to compare. */
typedef struct {
    const bt_zone *zone;
    size_t n;
    size_t *run;    /* of each zone, from 1 in order of appearance */
    double *minute; /* at which its lap began braking */
    size_t runs;
    const char **run_name; /* [1..runs] */
    const char **place;    /* sorted labels */
    size_t places;
    bool motor_in_front;
    bt_against against;
    double least;
    bt_sample *sample; /* room for n */
    bt_drift *out;
    size_t n_out, cap;
} study;

/* ---- runs, laps and places ---- */

static void list_runs(study *s)
{
    size_t r = 0;
    for (size_t i = 0; i < s->n; i++) {
        const bt_zone *z = &s->zone[i];
        if (r == 0 || strcmp(s->run_name[r], z->run) != 0)
            for (r = 1; r <= s->runs && strcmp(s->run_name[r], z->run) != 0;) r++;
        if (r > s->runs) s->run_name[s->runs = r] = z->run;
        s->run[i] = r;
        const bool same = i > 0 && s->run[i - 1] == r && z->lap >= z[-1].lap && z->lap <= z[-1].lap;
        s->minute[i] = same ? s->minute[i - 1] : z->start / 60;
    }
}

static void study_free(study *s)
{
    free(s->run);
    free(s->minute);
    free(s->run_name);
    free(s->place);
    free(s->sample);
}

static bt_status study_new(study *s, const bt_zone *zones, size_t n, const bt_drift_options *o,
                           bt_error *err)
{
    *s = (study){.zone = zones,
                 .n = n,
                 .run = calloc(n + 1, sizeof *s->run),
                 .minute = calloc(n + 1, sizeof *s->minute),
                 .run_name = calloc(n + 2, sizeof *s->run_name),
                 .place = calloc(n + 1, sizeof *s->place),
                 .sample = calloc(n + 1, sizeof *s->sample),
                 .against = o->against,
                 .least = o->least};
    if (!s->run || !s->minute || !s->run_name || !s->place || !s->sample)
        return bt_fail(err, BT_NOMEM, "no memory for %zu zones", n);
    list_runs(s);
    s->places = bt_places_list(s->zone, s->n, s->place);
    s->motor_in_front = bt_motor_in_front(zones, n);
    return BT_OK;
}

/* ---- one row ---- */

/* What goes into a row: run 0 and place NULL = all. */
typedef struct {
    const bt_column *figure;
    size_t run;
    const char *place;
} choice;

static size_t choose(const study *s, const choice *c)
{
    size_t n = 0;
    for (size_t i = 0; i < s->n; i++) {
        const bt_zone *z = &s->zone[i];
        if ((c->run && s->run[i] != c->run) || z->place[0] == '\0') continue;
        if (c->place && strcmp(c->place, z->place) != 0) continue;
        if (z->flags & (BT_FLAG_CUT_START | BT_FLAG_CUT_END)) continue;
        bt_sample *q = &s->sample[n];
        *q = (bt_sample){.place = z->place,
                         .run = s->against == BT_AGAINST_RUN ? 0 : s->run[i],
                         .setting = z->bias_setting,
                         .x = s->against == BT_AGAINST_LAP    ? z->lap
                              : s->against == BT_AGAINST_TIME ? s->minute[i]
                                                              : (double)s->run[i],
                         .value = bt_zone_printed(z, c->figure)};
        bt_force_parts(z, s->motor_in_front, q->part);
        n += !isnan(q->value) && !isnan(q->x);
    }
    return n;
}

typedef struct {
    bt_trend trend;
    bt_break at;
    double break_x;
    double by[3];
    double level; /* of the figure, mean of all */
} measures;

static const char *against_word(bt_against against)
{
    return against == BT_AGAINST_LAP ? "lap" : against == BT_AGAINST_TIME ? "min" : "run";
}

/* A lap number is a moment only in one run. */
static bool has_moments(const study *s, const choice *c)
{
    return s->against == BT_AGAINST_RUN || c->run || s->runs == 1;
}

static bt_status measure(const study *s, const choice *c, measures *m, size_t *n, bt_error *err)
{
    bt_panel panel;
    *n = choose(s, c);
    *m = (measures){.break_x = NAN, .by = {NAN, NAN, NAN}, .level = 0};
    m->at = (bt_break){.size = NAN, .p_level = NAN, .p_line = NAN};
    for (size_t i = 0; i < *n; i++) m->level += s->sample[i].value / (double)*n;
    BT_TRY(bt_panel_make(&panel, s->sample, *n, err));
    bt_status status = bt_seasonal_trend(&panel, CONFIDENCE, &m->trend, err);
    if (status == BT_OK && has_moments(s, c)) {
        status = bt_find_break(&panel, &m->at, err);
        if (m->at.at) m->break_x = panel.x[m->at.at];
    }
    if (status == BT_OK && strcmp(c->figure->name, "balance_pct") == 0)
        status = bt_drift_split(&panel, s->sample, *n, m->trend.slope, m->by, err);
    bt_panel_clear(&panel);
    return status;
}

/* ---- what a row says ---- */

/* Least step that matters, in the figure's printed unit per x. */
static double least_of(const study *s, const bt_column *figure)
{
    if (s->least > 0) return s->least;
    return strcmp(figure->unit, "%") == 0 ? LEAST_PCT : 0;
}

static void say_rate(bt_line_text *l, const study *s, const bt_column *figure)
{
    bt_say_unit(l, figure);
    bt_say(l, "/");
    bt_say(l, against_word(s->against));
}

static void say_interval(bt_line_text *l, double low, double high, int decimals, bool turned)
{
    if (isnan(low) || isnan(high)) return;
    bt_say(l, " (");
    bt_say_number(l, turned ? -high : low, decimals, false);
    bt_say(l, "..");
    bt_say_number(l, turned ? -low : high, decimals, false);
    bt_say(l, ")");
}

/* Which force did it: parts of the whole brake force, that of the motor first if it is the one. */
static void say_why(bt_line_text *l, const study *s, const bt_column *figure, const measures *m)
{
    const double b = m->level / 100, motor = -m->by[2] / b, rear = -m->by[1] / b;
    const double largest = fmax(fabs(m->by[0]), fabs(m->by[1]));
    const int decimals = bt_two_digits(m->trend.slope);
    if (isnan(m->by[0] + m->by[1] + m->by[2])) return;
    if (fabs(m->by[2]) >= largest) {
        const double replaced = -rear / motor;
        bt_say(l, motor < 0 ? "; the motor's part of the brake force fell "
                            : "; the motor's part of the brake force rose ");
        bt_say_number(l, fabs(motor), bt_two_digits(motor), false);
        say_rate(l, s, figure);
        bt_say(l, motor < 0 ? " and rear friction replaced " : " and rear friction gave way by ");
        bt_say_number(l, fmax(replaced, 0), 2, false);
        bt_say(l, " of it");
    } else {
        static const char *const words[] = {"; by front friction ", ", rear friction ", ", motor "};
        for (size_t k = 0; k < 3; k++) {
            bt_say(l, words[k]);
            bt_say_number(l, m->by[k], decimals, true);
        }
        say_rate(l, s, figure);
    }
}

static void say_step(bt_line_text *l, const study *s, const bt_column *figure, const measures *m)
{
    bt_say(l, " moved ");
    bt_say_number(l, fabs(m->at.size), bt_two_digits(m->at.size), false);
    bt_say_unit(l, figure);
    bt_say(l, " ");
    bt_say(l, bt_direction(figure, m->at.size));
    bt_say(l, s->against == BT_AGAINST_TIME ? " at minute " : " at ");
    if (s->against != BT_AGAINST_TIME) {
        bt_say(l, against_word(s->against));
        bt_say(l, " ");
    }
    bt_say_number(l, m->break_x, s->against == BT_AGAINST_TIME ? 1 : 0, false);
    bt_say(l, ", ");
    bt_say_p(l, m->at.p_level);
}

static void say_slope(bt_line_text *l, const study *s, const bt_column *figure, const measures *m)
{
    const double slope = m->trend.slope;
    const int decimals = bt_two_digits(slope);
    bt_say(l, m->trend.p < SURE ? " moved " : " probably moved ");
    bt_say_number(l, fabs(slope), decimals, false);
    say_rate(l, s, figure);
    bt_say(l, " ");
    bt_say(l, bt_direction(figure, slope));
    say_interval(l, m->trend.low, m->trend.high, decimals, slope < 0);
    bt_say(l, ", ");
    bt_say_p(l, m->trend.p);
}

static bool step_found(const measures *m)
{
    return m->at.p_level < SURE && m->at.rss_step < m->at.rss_line;
}

static void say_finding(bt_drift *row, const study *s, const choice *c, const measures *m)
{
    bt_line_text l = {row->finding, sizeof row->finding, 0};
    const double least = least_of(s, c->figure), slope = m->trend.slope;
    const bool drifts = m->trend.p < PROBABLE && fabs(slope) >= least && fabs(slope) > 0;
    const bool steps = step_found(m) && fabs(m->at.size) >= least;
    bt_say(&l, bt_figure_words(c->figure));
    if (steps && m->at.p_line < SURE_STEP) {
        say_step(&l, s, c->figure, m);
        bt_say(&l, ", and not slowly");
        say_why(&l, s, c->figure, m);
    } else if (drifts) {
        say_slope(&l, s, c->figure, m);
        if (has_moments(s, c)) {
            bt_say(&l, ", from ");
            bt_say(&l, s->against == BT_AGAINST_TIME ? "the start" : against_word(s->against));
            if (s->against != BT_AGAINST_TIME) {
                bt_say(&l, " ");
                bt_say_number(&l, s->sample[0].x, 0, false);
            }
        }
        say_why(&l, s, c->figure, m);
    } else if (steps) {
        say_step(&l, s, c->figure, m);
        bt_say(&l, ", or slowly about then");
    } else if (isnan(slope)) {
        bt_say(&l, ": too little to compare, expected two values at one place");
    } else {
        const bool small = m->trend.p < PROBABLE;
        const double half = 0.5 * (m->trend.high - m->trend.low); /* a slope of 0 has no digits */
        const int decimals = bt_two_digits(fmax(fabs(slope), half));
        bt_say(&l, small ? ": less than matters, " : ": no drift to be told from chance, ");
        bt_say_number(&l, slope, decimals, true);
        say_rate(&l, s, c->figure);
        say_interval(&l, m->trend.low, m->trend.high, decimals, false);
        bt_say(&l, ", ");
        bt_say_p(&l, m->trend.p);
    }
}

/* ---- the table ---- */

static bt_status new_row(study *s, bt_drift **row, bt_error *err)
{
    void *out = s->out;
    BT_TRY(bt_grow(&out, &s->cap, s->n_out + 1, sizeof *s->out, "rows of drift", err));
    s->out = out;
    *row = &s->out[s->n_out++];
    bt_row_blank(BT_TABLE_DRIFT, *row);
    return BT_OK;
}

static void name_row(const study *s, const choice *c, bt_drift *row)
{
    const char *run = c->run ? s->run_name[c->run] : s->runs == 1 ? s->run_name[1] : "all";
    snprintf(row->figure, sizeof row->figure, "%s", c->figure->name);
    snprintf(row->place, sizeof row->place, "%s", c->place ? c->place : "all");
    snprintf(row->run, sizeof row->run, "%s", run);
    snprintf(row->unit, sizeof row->unit, "%s/{%s}", c->figure->unit, against_word(s->against));
    if (s->against == BT_AGAINST_TIME)
        snprintf(row->unit, sizeof row->unit, "%s/min", c->figure->unit);
}

static bt_status add_row(study *s, const choice *c, bt_error *err)
{
    measures m;
    bt_drift *row;
    size_t n;
    BT_TRY(measure(s, c, &m, &n, err));
    BT_TRY(new_row(s, &row, err));
    name_row(s, c, row);
    row->n = (double)n;
    row->laps = (double)m.trend.laps;
    row->slope = m.trend.slope;
    row->low = m.trend.low;
    row->high = m.trend.high;
    row->p = m.trend.p;
    row->break_p = m.at.p_level;
    if (step_found(&m)) {
        row->break_lap = m.break_x;
        row->break_size = m.at.size;
    }
    row->by_front = m.by[0];
    row->by_rear_friction = m.by[1];
    row->by_motor = m.by[2];
    /* samples lie sorted by column: the earliest is wanted */
    for (size_t i = 1; i < n; i++)
        if (s->sample[i].x < s->sample[0].x) s->sample[0].x = s->sample[i].x;
    say_finding(row, s, c, &m);
    return BT_OK;
}

/* Middle of the figure in a run at a place with a setting and in one mode, for a fallback moves it far
 * more; NaN if it never was. */
static double middle_with(const study *s, const choice *c, const char *place, double setting,
                          const char *mode, double *scratch)
{
    size_t n = 0;
    for (size_t i = 0; i < s->n; i++)
        if (s->run[i] == c->run && strcmp(s->zone[i].place, place) == 0 &&
            strcmp(s->zone[i].mode, mode) == 0 && s->zone[i].bias_setting >= setting &&
            s->zone[i].bias_setting <= setting)
            scratch[n++] = bt_zone_printed(&s->zone[i], c->figure);
    return bt_median(scratch, n);
}

/* A step of the driver's setting in a run, and what the figure did there; one row for each pair of
 * settings, where it came first. */
static bt_status add_step(study *s, const choice *c, size_t i, double before, bt_error *err)
{
    const bt_zone *z = &s->zone[i];
    const double step = z->bias_setting - before;
    bt_drift *row;
    double *scratch = calloc(2 * s->n + 1, sizeof *scratch);
    if (!scratch) return bt_fail(err, BT_NOMEM, "no memory for %zu zones", s->n);
    for (size_t p = 0; p < s->places; p++)
        scratch[s->n + p] = middle_with(s, c, s->place[p], z->bias_setting, z->mode, scratch) -
                            middle_with(s, c, s->place[p], before, z->mode, scratch);
    const double moved = bt_median(scratch + s->n, s->places);
    free(scratch);
    BT_TRY(new_row(s, &row, err));
    name_row(s, c, row);
    snprintf(row->figure, sizeof row->figure, "bias_setting");
    row->unit[0] = '\0';
    row->break_lap = z->lap;
    row->break_size = step;
    bt_line_text l = {row->finding, sizeof row->finding, 0};
    bt_say(&l, "bias_setting stepped from ");
    bt_say_number(&l, before, 2, false);
    bt_say(&l, " to ");
    bt_say_number(&l, z->bias_setting, 2, false);
    bt_say(&l, " in lap ");
    bt_say_number(&l, z->lap, 0, false);
    if (isnan(moved)) return BT_OK;
    bt_say(&l, "; ");
    bt_say(&l, bt_figure_words(c->figure));
    bt_say(&l, " with it by ");
    bt_say_number(&l, moved, 2, true);
    bt_say_unit(&l, c->figure);
    bt_say(&l, ", which is no drift");
    return BT_OK;
}

static bool stepped_before(const study *s, size_t i, double from, double to)
{
    double last = NAN;
    for (size_t k = 0; k < i; k++) {
        if (s->run[k] != s->run[i] || isnan(s->zone[k].bias_setting)) continue;
        const double now = s->zone[k].bias_setting;
        if (last >= from && last <= from && now >= to && now <= to) return true;
        last = now;
    }
    return false;
}

static bt_status add_steps(study *s, const bt_column *figure, bt_error *err)
{
    for (size_t r = 1; r <= s->runs; r++) {
        const choice c = {figure, r, NULL};
        double last = NAN;
        for (size_t i = 0; i < s->n; i++) {
            if (s->run[i] != r || isnan(s->zone[i].bias_setting)) continue;
            const double now = s->zone[i].bias_setting;
            if ((now > last || now < last) && !stepped_before(s, i, last, now))
                BT_TRY(add_step(s, &c, i, last, err));
            last = now;
        }
    }
    return BT_OK;
}

static bt_status add_figure(study *s, const bt_column *figure, bt_error *err)
{
    choice c = {figure, 0, NULL};
    BT_TRY(add_row(s, &c, err));
    if (s->runs > 1 && s->against != BT_AGAINST_RUN)
        for (c.run = 1; c.run <= s->runs; c.run++) BT_TRY(add_row(s, &c, err));
    BT_TRY(add_steps(s, figure, err));
    c.run = 0;
    for (size_t p = 0; p < s->places; p++) {
        c.place = s->place[p];
        BT_TRY(add_row(s, &c, err));
    }
    return BT_OK;
}

bt_status bt_drift_find(bt_zone *zones, size_t n, const bt_drift_options *options, bt_drift **rows,
                        size_t *n_rows, bt_error *err)
{
    static const bt_drift_options defaults;
    const bt_drift_options *o = options ? options : &defaults;
    study s = {0};
    *rows = NULL;
    *n_rows = 0;
    bt_status status = bt_places_assign(zones, n, err);
    if (status == BT_OK) status = study_new(&s, zones, n, o, err);
    for (const char *of = o->of ? o->of : "balance_pct"; status == BT_OK && of;) {
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

bt_status bt_drift_of_run(bt_run *run, const bt_zone *zones, size_t n, bt_error *err)
{
    const bt_drift_options o = {.against = BT_AGAINST_LAP};
    study s;
    measures m;
    bt_status status = study_new(&s, zones, n, &o, err);
    run->balance_drift = run->drift_low = run->drift_high = run->drift_p = NAN;
    choice c = {bt_zone_column("balance_pct"), 0, NULL};
    for (size_t r = 1; status == BT_OK && r <= s.runs; r++)
        if (strcmp(s.run_name[r], run->run) == 0) c.run = r;
    if (status == BT_OK && c.run) {
        status = measure(&s, &c, &m, &n, err);
        run->balance_drift = m.trend.slope / 100;
        run->drift_low = m.trend.low / 100;
        run->drift_high = m.trend.high / 100;
        run->drift_p = m.trend.p;
    }
    study_free(&s);
    return status;
}
