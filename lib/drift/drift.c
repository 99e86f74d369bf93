/* Drift of zone figures (METHODS 11): what is compared with what, the rows of the table and their
 * findings.  The numerics are trend's, breakpoint's and panel's. */
#include "drift/study.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"
#include "base/grow.h"
#include "laps/places.h"
#include "saved/saved.h"

#define CONFIDENCE 0.95

/* ---- runs, laps and places ---- */

static void list_runs(bt_study *s)
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

/* A zone that cannot tell, as where by-wire and bypass would press alike, is taken for what the last one that
 * could was; before any could, for by-wire. */
static void list_charges(bt_study *s)
{
    for (size_t r = 1; r <= s->runs; r++) {
        bt_charge last = BT_IN_CHARGE;
        for (size_t i = 0; i < s->n; i++) {
            if (s->run[i] != r) continue;
            const char *mode = s->zone[i].mode;
            if (strcmp(mode, "by-wire") == 0) last = BT_IN_CHARGE;
            if (strcmp(mode, "fallback") == 0) last = BT_ON_BYPASS;
            s->charge[i] = strcmp(mode, "mixed") == 0 ? BT_CHANGING : last;
        }
    }
}

static void study_free(bt_study *s)
{
    free(s->run);
    free(s->charge);
    free(s->minute);
    free(s->run_name);
    free(s->place);
    free(s->sample);
}

static bt_status study_new(bt_study *s, const bt_zone *zones, size_t n, const bt_drift_options *o,
                           bt_error *err)
{
    *s = (bt_study){.zone = zones,
                    .n = n,
                    .run = calloc(n + 1, sizeof *s->run),
                    .charge = calloc(n + 1, sizeof *s->charge),
                    .minute = calloc(n + 1, sizeof *s->minute),
                    .run_name = calloc(n + 2, sizeof *s->run_name),
                    .place = calloc(n + 1, sizeof *s->place),
                    .sample = calloc(n + 1, sizeof *s->sample),
                    .against = o->against,
                    .least = o->least};
    if (!s->run || !s->charge || !s->minute || !s->run_name || !s->place || !s->sample)
        return bt_fail(err, BT_NOMEM, "no memory for %zu zones", n);
    list_runs(s);
    list_charges(s);
    s->places = bt_places_list(s->zone, s->n, s->place);
    s->motor_in_front = bt_motor_in_front(zones, n);
    return BT_OK;
}

/* ---- one row ---- */

static size_t choose(const bt_study *s, const bt_choice *c)
{
    size_t n = 0;
    for (size_t i = 0; i < s->n; i++) {
        const bt_zone *z = &s->zone[i];
        if ((c->run && s->run[i] != c->run) || z->place[0] == '\0') continue;
        if (c->place && strcmp(c->place, z->place) != 0) continue;
        if (z->flags & (BT_FLAG_CUT_START | BT_FLAG_CUT_END)) continue;
        if (s->charge[i] == BT_CHANGING) continue; /* part this, part that: compares with none */
        bt_sample *q = &s->sample[n];
        *q = (bt_sample){.place = z->place,
                         .run = s->against == BT_AGAINST_RUN ? 0 : s->run[i],
                         .setting = z->bias_setting,
                         .charge = (int)s->charge[i],
                         .x = s->against == BT_AGAINST_LAP    ? z->lap
                              : s->against == BT_AGAINST_TIME ? s->minute[i]
                                                              : (double)s->run[i],
                         .value = bt_zone_printed(z, c->figure)};
        bt_force_parts(z, s->motor_in_front, q->part);
        n += !isnan(q->value) && !isnan(q->x);
    }
    return n;
}

/* A lap number is a moment only in one run. */
bool bt_study_has_moments(const bt_study *s, const bt_choice *c)
{
    return s->against == BT_AGAINST_RUN || c->run || s->runs == 1;
}

static bt_status measure(const bt_study *s, const bt_choice *c, bt_measures *m, size_t *n,
                         bt_error *err)
{
    bt_panel panel;
    *n = choose(s, c);
    *m = (bt_measures){.break_x = NAN, .by = {NAN, NAN, NAN}, .level = 0};
    m->at = (bt_break){.size = NAN, .p_level = NAN, .p_line = NAN};
    for (size_t i = 0; i < *n; i++) m->level += s->sample[i].value / (double)*n;
    BT_TRY(bt_panel_make(&panel, s->sample, *n, err));
    bt_status status = bt_seasonal_trend(&panel, CONFIDENCE, &m->trend, err);
    if (status == BT_OK && bt_study_has_moments(s, c)) {
        status = bt_find_break(&panel, m->trend.slope, &m->at, err);
        if (m->at.at) m->break_x = panel.x[m->at.at];
    }
    if (status == BT_OK && strcmp(c->figure->name, "balance_pct") == 0)
        status = bt_drift_split(&panel, s->sample, *n, m->trend.slope, m->by, err);
    bt_panel_clear(&panel);
    return status;
}

/* ---- the table ---- */

static bt_status new_row(bt_study *s, bt_drift **row, bt_error *err)
{
    void *out = s->out;
    BT_TRY(bt_grow(&out, &s->cap, s->n_out + 1, sizeof *s->out, "rows of drift", err));
    s->out = out;
    *row = &s->out[s->n_out++];
    bt_row_blank(BT_TABLE_DRIFT, *row);
    return BT_OK;
}

static void name_row(const bt_study *s, const bt_choice *c, bt_drift *row)
{
    const char *run = c->run ? s->run_name[c->run] : s->runs == 1 ? s->run_name[1] : "all";
    snprintf(row->figure, sizeof row->figure, "%s", c->figure->name);
    snprintf(row->place, sizeof row->place, "%s", c->place ? c->place : "all");
    snprintf(row->run, sizeof row->run, "%s", run);
    snprintf(row->unit, sizeof row->unit, "%s/{%s}", c->figure->unit, bt_against_word(s->against));
    if (s->against == BT_AGAINST_TIME)
        snprintf(row->unit, sizeof row->unit, "%s/min", c->figure->unit);
}

bt_status bt_study_row(bt_study *s, const bt_choice *c, bt_drift **row, bt_error *err)
{
    BT_TRY(new_row(s, row, err));
    name_row(s, c, *row);
    return BT_OK;
}

bool bt_step_found(const bt_measures *m)
{
    return m->at.p_level < BT_PROBABLE && m->at.rss_step < m->at.rss_line;
}

static bt_status add_row(bt_study *s, const bt_choice *c, bt_error *err)
{
    bt_measures m;
    bt_drift *row;
    size_t n;
    BT_TRY(measure(s, c, &m, &n, err));
    BT_TRY(bt_study_row(s, c, &row, err));
    row->n = (double)n;
    row->laps = (double)m.trend.laps;
    row->slope = m.trend.slope;
    row->low = m.trend.low;
    row->high = m.trend.high;
    row->p = m.trend.p;
    row->break_p = m.at.p_level;
    if (bt_step_found(&m)) {
        row->break_lap = m.break_x;
        row->break_size = m.at.size;
    }
    row->by_front = m.by[0];
    row->by_rear_friction = m.by[1];
    row->by_motor = m.by[2];
    /* samples lie sorted by column: the earliest is wanted */
    for (size_t i = 1; i < n; i++)
        if (s->sample[i].x < s->sample[0].x) s->sample[0].x = s->sample[i].x;
    bt_drift_say(row, s, c, &m, s->sample[0].x);
    return BT_OK;
}

static bt_status add_figure(bt_study *s, const bt_column *figure, bt_error *err)
{
    bt_choice c = {figure, 0, NULL};
    BT_TRY(add_row(s, &c, err));
    if (s->runs > 1 && s->against != BT_AGAINST_RUN)
        for (c.run = 1; c.run <= s->runs; c.run++) BT_TRY(add_row(s, &c, err));
    BT_TRY(bt_drift_steps(s, figure, err));
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
    bt_study s = {0};
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
    bt_study s;
    bt_panel panel = {0};
    bt_trend trend = {.slope = NAN, .low = NAN, .high = NAN, .p = NAN};
    bt_status status = study_new(&s, zones, n, &o, err);
    bt_choice c = {bt_zone_column("balance_pct"), 0, NULL};
    for (size_t r = 1; status == BT_OK && r <= s.runs; r++)
        if (strcmp(s.run_name[r], run->run) == 0) c.run = r;
    if (status == BT_OK && c.run) {
        status = bt_panel_make(&panel, s.sample, choose(&s, &c), err);
        if (status == BT_OK) status = bt_seasonal_trend(&panel, CONFIDENCE, &trend, err);
    }
    run->balance_drift = trend.slope / 100;
    run->drift_low = trend.low / 100;
    run->drift_high = trend.high / 100;
    run->drift_p = trend.p;
    bt_panel_clear(&panel);
    study_free(&s);
    return status;
}
