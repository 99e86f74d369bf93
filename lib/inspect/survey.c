/* The survey: see survey.h.  Wires bytes to rows as `analysis` does. */
#include "inspect/survey.h"

#include "base/number.h"
#include "inspect/propose.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define LIKELY 0.5 /* how sure a proposal must be to be compared with others */

static bool is_long(const bt_survey *in)
{
    return in->log.dialect.layout == BT_LAYOUT_LONG;
}

/* ---- roles ---- */

static int role_of(bt_channel channel)
{
    if (channel == BT_CH_SPEED) return BT_ROLL_SPEED;
    if (channel == BT_CH_MOTOR_SPEED) return BT_ROLL_MOTOR;
    if (channel >= BT_CH_WHEEL_FL && channel <= BT_CH_WHEEL_RR)
        return BT_ROLL_WHEELS + (int)(channel - BT_CH_WHEEL_FL);
    if (channel == BT_CH_PEDAL_FRONT || channel == BT_CH_LINE_FRONT) return BT_BRAKE_ROLE;
    return BT_NO_ROLE;
}

/* The motor's speed says how fast the car is only with ratio and radius. */
static double motor_to_speed(const bt_car *car)
{
    return bt_car_axle(car, BT_CAR_ROLLING_RADIUS_FRONT, car->motor_axle) /
           car->value[BT_CAR_MOTOR_RATIO];
}

static void set_role(bt_survey *in, bt_column_stat *stat, bt_channel channel, double factor,
                     double shift)
{
    stat->role = role_of(channel);
    const double to_speed = stat->role == BT_ROLL_MOTOR ? motor_to_speed(in->car) : 1;
    if (isnan(to_speed)) stat->role = BT_NO_ROLE;
    stat->factor = factor * to_speed;
    stat->shift = shift * to_speed;
}

/* Roles of what serves, and of columns that nobody has named yet by what they could be. */
static void guess_role(bt_survey *in, size_t index)
{
    size_t n;
    const bt_log_column *column = &bt_channels_columns(&in->channels, &n)[index];
    bt_column_stat *stat = &in->stat[index];
    stat->role = BT_NO_ROLE;
    for (int c = 0; c < BT_CH_COUNT; c++) {
        const bt_binding *b = &in->channels.ch[c];
        if (b->column == (int)index && role_of((bt_channel)c) != BT_NO_ROLE) {
            set_role(in, stat, (bt_channel)c, b->factor, b->shift);
            return;
        }
    }
    const bt_proposal p = bt_propose(column->name, column->unit);
    const bt_channel channel = bt_channel_find(p.channel);
    if (role_of(channel) == BT_NO_ROLE || p.sure < LIKELY ||
        bt_channels_has(&in->channels, channel))
        return;
    const bt_unit *unit = bt_unit_find(p.unit, strlen(p.unit), bt_channel_dimension(channel));
    if (unit) set_role(in, stat, channel, unit->factor, unit->offset);
}

static bt_status add_stats(bt_survey *in, size_t n, bt_error *err)
{
    void *array = in->stat;
    BT_TRY(bt_grow(&array, &in->cap, n, sizeof *in->stat, "columns", err));
    in->stat = array;
    while (in->n < n) {
        in->stat[in->n] = (bt_column_stat){.min = NAN, .max = NAN, .last = NAN};
        guess_role(in, in->n++);
    }
    return BT_OK;
}

/* ---- rows ---- */

static void take_value(bt_survey *in, bt_column_stat *stat, double value)
{
    stat->values++;
    if (!(value >= stat->min)) stat->min = value;
    if (!(value <= stat->max)) stat->max = value;
    const double step = in->time - stat->last;
    if (step > 0 && step <= BT_SURVEY_HOLE) {
        stat->steps++;
        stat->span += step;
    }
    if (!isnan(in->time)) stat->last = in->time;
    if (stat->role == BT_NO_ROLE) return;
    const double si = value * stat->factor + stat->shift;
    if (stat->role == BT_BRAKE_ROLE)
        bt_rolling_brake(in->rolling, si);
    else
        bt_rolling_speed(in->rolling, (unsigned)stat->role, in->time, si);
}

static void take_cell(bt_survey *in, bt_column_stat *stat, bt_cell cell)
{
    double value;
    switch (bt_number_parse(cell.text, cell.len, in->log.dialect.decimal, &value)) {
    case BT_CELL_VALUE:
        take_value(in, stat, value);
        break;
    case BT_CELL_BLANK:
        stat->blanks++;
        break;
    case BT_CELL_BAD:
        stat->bad++;
        break;
    }
}

static void take_time(bt_survey *in, bt_cell cell, bt_column_stat *stat)
{
    int64_t ns;
    const double before = in->time;
    const bt_cell_result result = bt_stamps_parse(&in->stamps, cell.text, cell.len, &ns);
    if (result != BT_CELL_VALUE) {
        if (stat && result == BT_CELL_BAD) stat->bad++;
        if (stat && result == BT_CELL_BLANK) stat->blanks++;
        return;
    }
    in->time = (double)ns / 1e9;
    if (!(in->time > before) && !isnan(before) && !(is_long(in) && in->time == before)) in->back++;
    if (in->time - before > in->longest) in->longest = in->time - before;
    if (stat) take_value(in, stat, in->time + bt_stamps_offset(&in->stamps));
}

static bt_status take_row(void *user, const bt_row *row, bt_error *err)
{
    bt_survey *in = user;
    in->rows++;
    if (in->channels.rate > 0) in->time = (double)(in->rows - 1) / in->channels.rate;
    if (is_long(in)) {
        size_t index;
        if (in->channels.rate <= 0) take_time(in, row->cell[0], NULL);
        if (row->cell[1].len == 0) return BT_OK;
        const bt_cell unit = in->log.dialect.unit_column == BT_NO_COLUMN
                                 ? (bt_cell){.text = "", .len = 0}
                                 : row->cell[3];
        BT_TRY(bt_signals_add(&in->log.signals, row->cell[1], unit, in->log.dialect.encoding,
                              &index, err));
        BT_TRY(add_stats(in, in->log.signals.n, err));
        take_cell(in, &in->stat[index], row->cell[2]);
        return BT_OK;
    }
    if (in->time_column != BT_NO_COLUMN)
        take_time(in, row->cell[in->time_column], &in->stat[in->time_column]);
    for (size_t i = 0; i < in->n; i++)
        if (i != in->time_column) take_cell(in, &in->stat[i], row->cell[i]);
    return BT_OK;
}

/* A log that cannot be bound yet is what `inspect` is for: the reason becomes a note.  A faulty map is
 * the user's to mend first. */
static bt_status bind(bt_survey *in, const bt_setup *given, bt_error *err)
{
    bt_error why = {0};
    bt_setup setup = *given;
    bt_status status = bt_channels_bind(&in->channels, &in->log.dialect, &in->log.signals,
                                        setup.map, in->car, &setup, &why);
    if (status == BT_OK) return BT_OK;
    if (status == BT_NOMEM || why.file[0]) {
        if (err) *err = why;
        return status;
    }
    BT_TRY(bt_notes_add(&in->why, err, "%s", why.message));
    if (status == BT_MISSING) { /* the other channels serve all the same */
        setup.rate = 1;
        status = bt_channels_bind(&in->channels, &in->log.dialect, &in->log.signals, setup.map,
                                  in->car, &setup, NULL);
        in->channels.rate = 0;
        if (status == BT_OK) return BT_OK;
    }
    for (int c = 0; c < BT_CH_COUNT; c++) in->channels.ch[c].column = -1;
    return BT_OK;
}

/* The time column that is bound, else the likeliest. */
static void find_time(bt_survey *in)
{
    in->time_column = BT_NO_COLUMN;
    const char *unit = in->channels.time_unit;
    if (in->channels.time_column >= 0) {
        in->time_column = (size_t)in->channels.time_column;
    } else if (!(in->channels.rate > 0)) {
        double sure = 0;
        for (size_t i = 0; i < in->log.dialect.columns; i++) {
            const bt_log_column *column = &in->log.dialect.column[i];
            const bt_proposal p = bt_propose(column->name, column->unit);
            if (strcmp(p.channel, "time") != 0 || !(p.sure > sure)) continue;
            sure = p.sure;
            in->time_column = i;
            unit = column->unit;
        }
    }
    bt_stamps_init(&in->stamps, *unit ? bt_unit_find(unit, strlen(unit), BT_DIM_TIME) : NULL,
                   in->log.dialect.decimal);
}

static bt_status set_up(bt_survey *in, const bt_setup *setup, bt_error *err)
{
    if (is_long(in) && setup->layout == BT_LAYOUT_AUTO)
        BT_TRY(bt_notes_add(&in->notes, err,
                            "looks like the long layout (time, signal, value) and is read as such; "
                            "--layout long says so for certain"));
    BT_TRY(bind(in, setup, err));
    find_time(in);
    BT_TRY(bt_rolling_new(&in->rolling, err));
    in->time = NAN;
    size_t n =
        is_long(in) ? 3 + (in->log.dialect.unit_column != BT_NO_COLUMN) : in->log.dialect.columns;
    size_t *wanted = calloc(n + 4, sizeof *wanted);
    if (!wanted) return bt_fail(err, BT_NOMEM, "no memory for %zu columns", n);
    const size_t parts[] = {in->log.dialect.time_column, in->log.dialect.signal_column,
                            in->log.dialect.value_column, in->log.dialect.unit_column};
    for (size_t i = 0; i < n; i++) wanted[i] = is_long(in) ? parts[i] : i;
    bt_status status = add_stats(in, is_long(in) ? in->log.signals.n : n, err);
    if (status == BT_OK)
        status = bt_table_new(&in->table, &in->log.dialect, wanted, n, take_row, in, err);
    free(wanted);
    return status;
}

bt_status bt_survey_read(bt_survey *in, const char *path, const bt_setup *setup, const bt_car *car,
                         bt_error *err)
{
    *in = (bt_survey){.car = car, .time_column = BT_NO_COLUMN, .time = NAN};
    BT_TRY(bt_log_open(&in->log, path, setup, err));
    BT_TRY(set_up(in, setup, err));
    while (in->log.n > 0) {
        BT_TRY(bt_table_push(in->table, in->log.bytes, in->log.n, err));
        BT_TRY(bt_log_next(&in->log, err));
    }
    BT_TRY(bt_table_end(in->table, err));
    in->truncated = bt_source_truncated(in->log.source) || bt_table_truncated(in->table);
    return BT_OK;
}

void bt_survey_free(bt_survey *in)
{
    bt_table_free(in->table);
    bt_rolling_free(in->rolling);
    bt_log_close(&in->log);
    free(in->stat);
    bt_notes_clear(&in->notes);
    bt_notes_clear(&in->why);
}
