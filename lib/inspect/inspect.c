/* What `inspect` shows: one row a column of the log, what it serves or could serve, and what is odd about
 * it (CONTRACT 2). */
#include "inspect/allowed.h"
#include "inspect/propose.h"
#include "inspect/survey.h"
#include "base/print.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* What no sensor of a car reads, in SI: units mistaken or raw counts. */
static const struct {
    bt_dimension dimension;
    double low, high;
    const char *said;
} sane[] = {
    {BT_DIM_PRESSURE, -20e5, 400e5, "-20 to 400 bar"},
    {BT_DIM_SPEED, -50, 150, "-50 to 150 m/s"},
    {BT_DIM_ACCEL, -100, 100, "-100 to 100 m/s2"},
    {BT_DIM_TEMPERATURE, 213, 1773, "-60 to 1500 degC"},
    {BT_DIM_ANGULAR_SPEED, -5000, 5000, "-5000 to 5000 rad/s"},
};

#define SLOW_ROWS 0.5  /* s; brakings cannot be seen */
#define NAME_SURE 0.85 /* from here on a name says what its column is */

static void remark(bt_inspect_column *row, const char *text)
{
    const size_t at = strlen(row->remark);
    bt_print(row->remark + at, sizeof row->remark - at, "%s%s", at ? "; " : "", text);
}

static void remark_rolling(const bt_survey *in, const bt_column_stat *stat, bt_inspect_column *row)
{
    if (stat->role < 0 || stat->role == BT_BRAKE_ROLE) return;
    const bt_rolling_finding found = bt_rolling_find(in->rolling, (unsigned)stat->role);
    char text[120];
    if (found.dead) {
        snprintf(text, sizeof text, "dead: always 0 while the car moves (by %s)", found.than);
        remark(row, text);
    } else if (found.factor > 1.05 || found.factor < 1 / 1.05) {
        bt_print(text, sizeof text, "reads %.3g times %s while rolling freely%s", found.factor,
                 found.than, found.factor > 15 || found.factor < 1 / 15.0 ? " (a raw count?)" : "");
        remark(row, text);
    }
    if (found.twin >= 0) {
        snprintf(text, sizeof text, "never differs from %s: one sensor under two names?",
                 bt_channel_name((bt_channel)(BT_CH_WHEEL_FL + found.twin - BT_ROLL_WHEELS)));
        remark(row, text);
    }
}

/* Least and largest value in SI, of what dimension: as the map says for a column that serves, else by
 * the unit that the log states. */
static bt_dimension in_si(const bt_survey *in, size_t index, const char *text, double *low,
                          double *high)
{
    const bt_column_stat *stat = &in->stat[index];
    double factor = 1, shift = 0;
    const bt_unit *unit = *text ? bt_unit_find(text, strlen(text), BT_DIM_ANY) : NULL;
    if (unit) factor = unit->factor, shift = unit->offset;
    for (int c = 0; c < BT_CH_COUNT; c++) {
        const bt_binding *b = &in->channels.ch[c];
        if (b->column != (int)index || !b->unit) continue;
        unit = b->unit;
        factor = b->angular ? unit->factor : b->factor;
        shift = b->angular ? unit->offset : b->shift;
        break;
    }
    const double a = stat->min * factor + shift, b = stat->max * factor + shift;
    *low = fmin(a, b);
    *high = fmax(a, b);
    return unit ? unit->dimension : BT_DIM_NONE;
}

static void remark_range(const bt_survey *in, size_t index, bt_inspect_column *row)
{
    double low, high;
    const bt_dimension dimension = in_si(in, index, row->unit, &low, &high);
    for (size_t i = 0; i < sizeof sane / sizeof *sane; i++) {
        char text[80];
        if (dimension != sane[i].dimension || !(low < sane[i].low || high > sane[i].high)) continue;
        snprintf(text, sizeof text, "outside %s: another unit, or raw counts?", sane[i].said);
        remark(row, text);
    }
}

/* What goes both ways in a car that brakes by its motor. */
static void remark_sign(const bt_column_stat *stat, bt_inspect_column *row)
{
    if (!(stat->min >= 0) || !(stat->max > 0)) return;
    const char *channel = *row->channel ? row->channel : row->proposed;
    if (strcmp(channel, "battery_current") == 0)
        remark(row, "never below 0: it does not show charging");
    if (strcmp(channel, "motor_torque") == 0)
        remark(row, "never below 0: it must be negative where it brakes");
}

/* A map may know better than header and name, and should be seen to. */
static void remark_map(const bt_survey *in, size_t index, const bt_proposal *p,
                       bt_inspect_column *row)
{
    char text[120];
    for (int c = 0; c < BT_CH_COUNT; c++) {
        const bt_binding *b = &in->channels.ch[c];
        if (b->column != (int)index) continue;
        const bt_unit *header = bt_channels_header_unit(&in->channels, (bt_channel)c);
        if (header) {
            snprintf(text, sizeof text, "the map says %s", b->unit->label);
            remark(row, text);
        }
        if (p->sure < NAME_SURE || strcmp(p->channel, bt_channel_name((bt_channel)c)) == 0 ||
            bt_channel_dimension(bt_channel_find(p->channel)) !=
                bt_channel_dimension((bt_channel)c))
            continue;
        snprintf(text, sizeof text, "its name says %s", p->channel);
        remark(row, text);
    }
}

static void remark_values(const bt_survey *in, const bt_column_stat *stat, bt_inspect_column *row)
{
    if (stat->values == 0) {
        remark(row, stat->bad ? "no numbers" : "no values");
        return;
    }
    if (stat->bad) remark(row, "some cells are no number");
    if (stat->values >= 50 && stat->min == stat->max) remark(row, "never changes");
    remark_rolling(in, stat, row);
}

static void remark_time(const bt_survey *in, const bt_column_stat *stat, bt_inspect_column *row)
{
    char text[80];
    const double step = (stat->max - stat->min) / ((double)in->rows - 1);
    if (step > SLOW_ROWS) {
        bt_print(text, sizeof text, "rows %.3g s apart: in milliseconds?", step);
        remark(row, text);
    }
    if (in->back) {
        snprintf(text, sizeof text, "%llu rows repeat or go back", (unsigned long long)in->back);
        remark(row, text);
    }
    if (in->longest > BT_SURVEY_HOLE) {
        bt_print(text, sizeof text, "longest hole %.1f s", in->longest);
        remark(row, text);
    }
}

static void name_channels(const bt_survey *in, size_t index, bt_inspect_column *row)
{
    size_t at = 0;
    if (!in->channels.signals && in->channels.time_column == (int)index)
        at = (size_t)snprintf(row->channel, sizeof row->channel, "time");
    for (int c = 0; c < BT_CH_COUNT; c++) {
        if (in->channels.ch[c].column != (int)index) continue;
        const char *name = bt_channel_name((bt_channel)c);
        if (at + strlen(name) + 2 > sizeof row->channel) return;
        at += (size_t)snprintf(row->channel + at, sizeof row->channel - at, "%s%s", at ? " " : "",
                               name);
    }
}

static void fill_row(const bt_survey *in, size_t index, bt_inspect_column *row)
{
    size_t n;
    const bt_log_column *column = &bt_channels_columns(&in->channels, &n)[index];
    const bt_column_stat *stat = &in->stat[index];
    const bt_proposal p = bt_propose(column->name, column->unit);
    *row = (bt_inspect_column){.column = (double)index + 1,
                               .sure = *p.channel ? p.sure : NAN,
                               .rate = stat->steps ? (double)stat->steps / stat->span : NAN,
                               .blanks = NAN,
                               .bad = (double)stat->bad,
                               .min = stat->min,
                               .max = stat->max};
    bt_print(row->name, sizeof row->name, "%s", column->text);
    bt_print(row->unit, sizeof row->unit, "%s", column->unit);
    snprintf(row->proposed, sizeof row->proposed, "%s", p.channel);
    name_channels(in, index, row);
    /* Signals of a long log stand in rows of their own; none of them has a blank. */
    if (!in->channels.signals && in->rows) row->blanks = (double)stat->blanks / (double)in->rows;
    remark_values(in, stat, row);
    remark_range(in, index, row);
    remark_sign(stat, row);
    remark_map(in, index, &p, row);
    if (!in->channels.signals && index == in->time_column) remark_time(in, stat, row);
}

static bt_status report(bt_survey *in, bt_inspection *out, bt_error *err)
{
    out->columns = calloc(in->n + 1, sizeof *out->columns);
    if (!out->columns) return bt_fail(err, BT_NOMEM, "no memory for %zu columns", in->n);
    for (size_t i = 0; i < in->n; i++) fill_row(in, i, &out->columns[i]);
    out->n_columns = in->n;
    if (in->truncated)
        BT_TRY(bt_notes_add(&in->notes, err,
                            "truncated: ends in the middle of a row or of a gzip member"));
    for (int axle = 0; axle < 2; axle++)
        if (in->channels.radius_missing[axle])
            BT_TRY(bt_notes_add(&in->notes, err,
                                "%s wheels in rad/s or rpm are left out: missing rolling_radius_%s",
                                axle ? "rear" : "front", axle ? "rear" : "front"));
    out->notes = in->notes.line;
    out->n_notes = in->notes.n;
    in->notes = (bt_notes){0};
    bt_notes allowed = in->why;
    in->why = (bt_notes){0};
    const bt_status status = bt_allowed_notes(&in->channels, in->car, &allowed, err);
    out->allowed = allowed.line;
    out->n_allowed = allowed.n;
    return status;
}

bt_status bt_inspect(const char *path, const bt_setup *setup, bt_inspection *out, bt_error *err)
{
    static const bt_setup defaults;
    if (!setup) setup = &defaults;
    *out = (bt_inspection){0};
    bt_car *own_car = NULL;
    if (!setup->car) BT_TRY(bt_car_new(&own_car, err));
    bt_survey survey;
    bt_status status = bt_survey_read(&survey, path, setup, setup->car ? setup->car : own_car, err);
    if (status == BT_OK) status = report(&survey, out, err);
    bt_survey_free(&survey);
    bt_car_free(own_car);
    if (status == BT_OK) return BT_OK;
    bt_inspection_clear(out);
    return bt_at(err, status, path, 0, 0);
}

void bt_inspection_clear(bt_inspection *out)
{
    free(out->columns);
    for (size_t i = 0; i < out->n_notes; i++) free(out->notes[i]);
    free(out->notes);
    for (size_t i = 0; i < out->n_allowed; i++) free(out->allowed[i]);
    free(out->allowed);
    *out = (bt_inspection){0};
}
