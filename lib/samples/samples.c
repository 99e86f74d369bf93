/* Samples: see samples.h (METHODS 2.1 to 2.3).  Cells are converted straight into arrays, one a channel
 * (a lane), from which blocks are handed on without copying.  Holes are looked for lane by lane, some
 * hundred rows at a time; a row is held back only while a lane waits for the far side of one. */
#include "samples/samples.h"

#include "samples/held.h"
#include "base/number.h"
#include "rows/stamps.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define SECOND ((int64_t)1000000000) /* ns */

#define VALUE_MAX 1e30 /* no quantity of a car comes near it */

enum { GAP_MAX = 5, BACK_MAX = 1 }; /* s */

struct bt_samples {
    const bt_channels *channels;
    bt_stamps stamps;
    bt_held held;
    bt_lane *lane;
    size_t lanes;
    size_t *lane_of; /* long: first lane of a signal, `lanes` = none; the others follow it */

    char time_text[32]; /* long: the time cell before, since most rows repeat it */
    size_t time_len;
    int64_t time_ns;
    uint64_t rows_timed;
    size_t fields, fields_before;
    bt_sample_counts counts;
};

static int by_column(const void *a, const void *b)
{
    const bt_lane *x = a, *y = b;
    if (x->column != y->column) return x->column < y->column ? -1 : 1;
    return x->channel < y->channel ? -1 : x->channel > y->channel;
}

/* Is what eight digits make of it a possible value, whatever they are? */
static bool in_reach(const bt_binding *b)
{
    return fabs(b->factor) * 1e8 + fabs(b->shift) <= VALUE_MAX;
}

static bt_status set_up(bt_samples *s, bt_stage *next, bt_error *err)
{
    const bt_channels *channels = s->channels;
    size_t columns;
    bt_channels_columns(channels, &columns);
    s->lane = calloc(BT_CH_COUNT, sizeof *s->lane);
    s->lane_of = calloc(columns + 1, sizeof *s->lane_of);
    if (!s->lane || !s->lane_of) return bt_fail(err, BT_NOMEM, "no memory for samples");
    for (int c = 0; c < BT_CH_COUNT; c++) {
        const bt_binding *b = &channels->ch[c];
        if (b->column < 0) continue;
        s->lane[s->lanes++] = (bt_lane){.channel = (bt_channel)c,
                                        .state = bt_channel_is_state((bt_channel)c),
                                        .column = (size_t)b->column,
                                        .factor = b->factor,
                                        .shift = b->shift,
                                        .quick = in_reach(b),
                                        .form = bt_form_of("0", 1, '.'),
                                        .value = NAN};
    }
    qsort(s->lane, s->lanes, sizeof *s->lane, by_column);
    for (size_t i = 0; i < columns; i++) s->lane_of[i] = s->lanes;
    for (size_t i = s->lanes; i-- > 0;) s->lane_of[s->lane[i].column] = i;
    return bt_held_init(&s->held, s->lane, s->lanes, next, err);
}

bt_status bt_samples_new(bt_samples **out, const bt_channels *channels, bt_stage *next,
                         bt_error *err)
{
    *out = NULL;
    bt_samples *s = calloc(1, sizeof *s);
    if (!s) return bt_fail(err, BT_NOMEM, "no memory for samples");
    s->channels = channels;
    s->counts.first = s->counts.last = NAN;
    const bt_unit *unit =
        bt_unit_find(channels->time_unit, strlen(channels->time_unit), BT_DIM_TIME);
    bt_stamps_init(&s->stamps, *channels->time_unit ? unit : NULL, channels->dialect->decimal);
    const bt_status status = set_up(s, next, err);
    if (status != BT_OK) {
        bt_samples_free(s);
        return status;
    }
    *out = s;
    return BT_OK;
}

void bt_samples_free(bt_samples *s)
{
    if (!s) return;
    bt_held_free(&s->held);
    free(s->lane);
    free(s->lane_of);
    free(s);
}

bt_status bt_samples_table(bt_samples *s, bt_table **out, bt_error *err)
{
    const bt_dialect *dialect = s->channels->dialect;
    size_t wanted[BT_CH_COUNT + 1], n = 0;
    if (s->channels->signals) {
        wanted[n++] = dialect->time_column;
        wanted[n++] = dialect->signal_column;
        wanted[n++] = dialect->value_column;
    } else {
        if (s->channels->time_column >= 0) wanted[n++] = (size_t)s->channels->time_column;
        for (size_t i = 0; i < s->lanes; i++) wanted[n++] = s->lane[i].column;
    }
    BT_TRY(bt_table_new(out, dialect, wanted, n, bt_samples_row, s, err));
    if (!s->channels->signals) bt_table_take_rows(*out, bt_samples_rows);
    return BT_OK;
}

const bt_sample_counts *bt_samples_counts(const bt_samples *s)
{
    return &s->counts;
}

double bt_samples_offset(const bt_samples *s)
{
    return s->channels->time_column < 0 ? 0 : bt_stamps_offset(&s->stamps);
}

/* ---- rows ---- */

typedef enum { ROW_NEW, ROW_SAME, ROW_DROPPED } placing;

static double in_seconds(int64_t ns)
{
    return (double)ns / (double)SECOND;
}

/* Where a row of time ns belongs; ROW_NEW has been appended, its lanes not yet written. */
static bt_status place(bt_samples *s, int64_t ns, placing *out, bt_error *err)
{
    const double t = in_seconds(ns);
    *out = ROW_NEW;
    if (s->held.open) {
        const int64_t step = ns - s->held.ns[s->held.n - 1];
        if (step > GAP_MAX * SECOND || step < -BACK_MAX * SECOND) {
            s->counts.gaps++;
            BT_TRY(bt_held_end(&s->held, err));
        } else if (step <= 0 || !(t > s->held.t[s->held.n - 1])) {
            *out = step == 0 ? ROW_SAME : ROW_DROPPED;
            return BT_OK;
        }
    }
    BT_TRY(bt_held_add(&s->held, ns, t, err));
    if (isnan(s->counts.first)) s->counts.first = t;
    s->counts.last = t;
    return BT_OK;
}

/* Of the first bad cell, as the rows come, tell where it is. */
static void note_bad(bt_samples *s, uint64_t line, bt_cell cell, size_t column)
{
    if (s->counts.bad_cells++ > 0 && s->counts.bad_line <= line) return;
    s->counts.bad_line = line;
    s->counts.bad_column = column + 1;
    char quoted[BT_QUOTE_MAX];
    snprintf(s->counts.bad_text, sizeof s->counts.bad_text, "%.*s",
             (int)sizeof s->counts.bad_text - 1, bt_quote(quoted, cell.text, cell.len));
}

/* Without a time column rows come at a rate. */
static int64_t counted_time(bt_samples *s)
{
    return llround((double)s->rows_timed++ * (double)SECOND / s->channels->rate);
}

/* A row's time; false = it has none that can be read. */
static bool read_time(bt_samples *s, uint64_t line, bt_cell cell, int64_t *ns)
{
    if (s->channels->time_column < 0) {
        *ns = counted_time(s);
        return true;
    }
    if (s->channels->signals && cell.len == s->time_len && cell.len > 0 &&
        memcmp(cell.text, s->time_text, cell.len) == 0) {
        *ns = s->time_ns;
        return true;
    }
    const bt_cell_result result = bt_stamps_parse(&s->stamps, cell.text, cell.len, ns);
    if (result == BT_CELL_BAD) note_bad(s, line, cell, (size_t)s->channels->time_column);
    if (result != BT_CELL_VALUE) return false;
    s->rows_timed++;
    if (!s->channels->signals) return true;
    s->time_len = cell.len <= sizeof s->time_text ? cell.len : 0;
    memcpy(s->time_text, cell.text, s->time_len);
    s->time_ns = *ns;
    return true;
}

/* A value in SI; NaN if it is none or so far off that its powers would overflow. */
static double in_si(const bt_lane *l, double value)
{
    const double si = value * l->factor + l->shift;
    return fabs(si) <= VALUE_MAX ? si : NAN;
}

/* The cell's value, NaN = none. */
static double read_cell(bt_samples *s, uint64_t line, bt_cell cell, bt_lane *l)
{
    double value;
    if (cell.len == 0) return NAN;
    if (l->quick && bt_number_quick(cell.text + cell.len, cell.len, &l->form, &value))
        return value * l->factor + l->shift;
    const char decimal = s->channels->dialect->decimal;
    const bt_cell_result result = bt_number_parse(cell.text, cell.len, decimal, &value);
    if (result == BT_CELL_VALUE) l->form = bt_form_of(cell.text, cell.len, decimal);
    const double si = in_si(l, value); /* value is NaN if there is none */
    if (result != BT_CELL_BLANK && isnan(si))
        note_bad(s, line, cell,
                 s->channels->signals ? s->channels->dialect->value_column : l->column);
    return si;
}

static void put_newest(const bt_samples *s, bt_lane *l, double value)
{
    bt_lane_put(l, s->held.n - 1, s->held.origin + s->held.n - 1, value);
}

/* The newest row is never settled, so that NaN means no value there in states, too. */
static bool newest_has(const bt_samples *s, const bt_lane *l)
{
    return !isnan(l->x[s->held.n - 1]);
}

/* A second row at the newest row's time: taken if it brings only what that one lacks. */
static void merge_row(bt_samples *s, uint64_t line, const bt_cell *cell)
{
    for (size_t i = 0; i < s->lanes; i++)
        if (newest_has(s, &s->lane[i]) && !bt_number_blank(cell[i].text, cell[i].len)) {
            s->counts.dropped++;
            return;
        }
    for (size_t i = 0; i < s->lanes; i++)
        if (!newest_has(s, &s->lane[i]))
            put_newest(s, &s->lane[i], read_cell(s, line, cell[i], &s->lane[i]));
}

static void wide_row(bt_samples *s, const bt_row *row, placing where)
{
    const bt_cell *cell = row->cell + (s->channels->time_column >= 0 ? 1 : 0);
    if (where == ROW_SAME) {
        merge_row(s, row->line, cell);
        return;
    }
    for (size_t i = 0; i < s->lanes; i++)
        put_newest(s, &s->lane[i], read_cell(s, row->line, cell[i], &s->lane[i]));
}

static void long_row(bt_samples *s, const bt_row *row, placing where)
{
    if (where == ROW_NEW)
        for (size_t i = 0; i < s->lanes; i++) put_newest(s, &s->lane[i], NAN);
    const bt_cell name = row->cell[1];
    const size_t signal = bt_signals_find(s->channels->signals, name.text, name.len);
    if (signal == BT_NO_COLUMN) return;
    bool twice = false;
    for (size_t i = s->lane_of[signal]; i < s->lanes && s->lane[i].column == signal; i++) {
        if (newest_has(s, &s->lane[i]))
            twice = true;
        else
            put_newest(s, &s->lane[i], read_cell(s, row->line, row->cell[2], &s->lane[i]));
    }
    if (twice) s->counts.dropped++;
}

bt_status bt_samples_row(void *user, const bt_row *row, bt_error *err)
{
    bt_samples *s = user;
    int64_t ns;
    s->counts.rows++;
    s->fields_before = s->fields;
    s->fields = row->fields;
    placing where = ROW_DROPPED;
    if (read_time(s, row->line, row->cell[0], &ns)) BT_TRY(place(s, ns, &where, err));
    if (where == ROW_DROPPED)
        s->counts.dropped++;
    else if (s->channels->signals)
        long_row(s, row, where);
    else
        wide_row(s, row, where);
    return BT_OK;
}

/* ---- rows together ---- */

/* Rows [from, to), the newest ones of the buffer, of one channel: the quick way as far as it goes, then
 * a few of them cell by cell. */
static void read_column(bt_samples *s, const bt_rows *rows, size_t from, size_t to, bt_lane *l)
{
    enum { SINGLY = 4 };
    const size_t at = s->held.n - to; /* of row 0 in the buffer */
    const bool quick = l->quick && l->column < rows->fields;
    for (size_t r = from; r < to;) {
        if (quick) {
            const bt_cells cells = bt_rows_column(rows, r, l->column);
            r += bt_numbers_quick(&cells, to - r, &l->form, l->factor, l->shift, &l->x[at + r]);
        }
        for (size_t end = to - r < SINGLY ? to : r + SINGLY; r < end; r++)
            bt_lane_put(l, at + r, s->held.origin + at + r,
                        read_cell(s, rows->line + r, bt_rows_cell(rows, r, l->column), l));
    }
}

static void read_lanes(bt_samples *s, const bt_rows *rows, size_t from, size_t to)
{
    if (from == to) return;
    for (size_t i = 0; i < s->lanes; i++) read_column(s, rows, from, to, &s->lane[i]);
}

/* A second row at the newest row's time. */
static void merge_one(bt_samples *s, const bt_rows *rows, size_t r)
{
    bt_cell cell[BT_CH_COUNT];
    for (size_t i = 0; i < s->lanes; i++) cell[i] = bt_rows_cell(rows, r, s->lane[i].column);
    merge_row(s, rows->line + r, cell);
}

/* Does a row of that time simply come behind the newest one, with nothing to be done before? */
static bool follows(const bt_samples *s, int64_t ns)
{
    if (!bt_held_has_room(&s->held)) return false;
    const int64_t step = ns - s->held.ns[s->held.n - 1];
    return step > 0 && step <= GAP_MAX * SECOND && in_seconds(ns) > s->held.t[s->held.n - 1];
}

bt_status bt_samples_rows(void *user, const bt_rows *rows, bt_error *err)
{
    bt_samples *s = user;
    s->counts.rows += rows->n;
    s->fields_before = rows->n > 1 ? rows->fields : s->fields;
    s->fields = rows->fields;
    const size_t time = (size_t)s->channels->time_column;
    size_t from = 0; /* rows [from, r) are in the buffer, their lanes not yet written */
    for (size_t r = 0; r < rows->n; r++) {
        int64_t ns = 0;
        const bool timed = read_time(s, rows->line + r, bt_rows_cell(rows, r, time), &ns);
        if (timed && follows(s, ns)) {
            bt_held_append(&s->held, ns, in_seconds(ns));
            continue;
        }
        read_lanes(s, rows, from, r);
        from = r + 1;
        placing where = ROW_DROPPED;
        if (timed) BT_TRY(place(s, ns, &where, err));
        if (where == ROW_NEW)
            from = r;
        else if (where == ROW_SAME)
            merge_one(s, rows, r);
        else
            s->counts.dropped++;
    }
    read_lanes(s, rows, from, rows->n);
    if (s->held.n > 0) s->counts.last = s->held.t[s->held.n - 1];
    return BT_OK;
}

/* ---- rows of numbers ---- */

static bool time_of(bt_samples *s, const double *row, int64_t *ns)
{
    if (s->channels->time_column < 0) {
        *ns = counted_time(s);
        return true;
    }
    const double time = row[s->channels->time_column];
    if (bt_stamps_number(&s->stamps, time, ns) != BT_CELL_VALUE) return false;
    s->rows_timed++;
    return true;
}

static double value_of(const bt_lane *l, const double *row)
{
    return in_si(l, row[l->column]);
}

/* As merge_row. */
static void merge_values(bt_samples *s, const double *row)
{
    for (size_t i = 0; i < s->lanes; i++)
        if (newest_has(s, &s->lane[i]) && isfinite(row[s->lane[i].column])) {
            s->counts.dropped++;
            return;
        }
    for (size_t i = 0; i < s->lanes; i++)
        if (!newest_has(s, &s->lane[i])) put_newest(s, &s->lane[i], value_of(&s->lane[i], row));
}

bt_status bt_samples_values(bt_samples *s, const double *row, bt_error *err)
{
    int64_t ns;
    s->counts.rows++;
    placing where = ROW_DROPPED;
    if (time_of(s, row, &ns)) BT_TRY(place(s, ns, &where, err));
    if (where == ROW_DROPPED)
        s->counts.dropped++;
    else if (where == ROW_SAME)
        merge_values(s, row);
    else
        for (size_t i = 0; i < s->lanes; i++)
            put_newest(s, &s->lane[i], value_of(&s->lane[i], row));
    return BT_OK;
}

bt_status bt_samples_flush(bt_samples *s, bt_error *err)
{
    return bt_held_flush(&s->held, err);
}

bt_status bt_samples_end(bt_samples *s, bt_error *err)
{
    BT_TRY(bt_held_end(&s->held, err));
    s->counts.truncated = s->fields < s->channels->dialect->columns && s->fields < s->fields_before;
    if (s->counts.rows == 0 || s->rows_timed > 0) return BT_OK;
    const bt_sample_counts *c = &s->counts;
    return bt_at(err,
                 bt_fail(err, BT_SYNTAX,
                         "time: expected seconds, a clock time or a date, found '%s'", c->bad_text),
                 NULL, c->bad_line, c->bad_column);
}
