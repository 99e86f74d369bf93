/* Channels: see channels.h.  Each channel looks for its column in two rounds, the map's rows and then
 * the names; what it finds is turned into one factor and one shift. */
#include "samples/channels.h"

#include "samples/car.h"
#include "samples/map.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { TIME = BT_CH_COUNT, SERVED }; /* time is bound like a channel */

/* Dimension of each channel, and the unit that a blank means (CONTRACT 4).  NONE = as logged. */
static const struct {
    bt_dimension dimension;
    const char *unit;
} kinds[SERVED] = {
    [BT_CH_SPEED] = {BT_DIM_SPEED, "m/s"},
    [BT_CH_WHEEL_FL] = {BT_DIM_SPEED, "m/s"},
    [BT_CH_WHEEL_FR] = {BT_DIM_SPEED, "m/s"},
    [BT_CH_WHEEL_RL] = {BT_DIM_SPEED, "m/s"},
    [BT_CH_WHEEL_RR] = {BT_DIM_SPEED, "m/s"},
    [BT_CH_PEDAL_FRONT] = {BT_DIM_PRESSURE, "bar"},
    [BT_CH_PEDAL_REAR] = {BT_DIM_PRESSURE, "bar"},
    [BT_CH_PEDAL_TRAVEL] = {BT_DIM_LENGTH, "mm"},
    [BT_CH_PEDAL_FORCE] = {BT_DIM_FORCE, "N"},
    [BT_CH_LINE_FRONT] = {BT_DIM_PRESSURE, "bar"},
    [BT_CH_LINE_REAR] = {BT_DIM_PRESSURE, "bar"},
    [BT_CH_LINE_FL] = {BT_DIM_PRESSURE, "bar"},
    [BT_CH_LINE_FR] = {BT_DIM_PRESSURE, "bar"},
    [BT_CH_LINE_RL] = {BT_DIM_PRESSURE, "bar"},
    [BT_CH_LINE_RR] = {BT_DIM_PRESSURE, "bar"},
    [BT_CH_LINE_REQUEST] = {BT_DIM_PRESSURE, "bar"},
    [BT_CH_MOTOR_TORQUE] = {BT_DIM_TORQUE, "Nm"},
    [BT_CH_MOTOR_REQUEST] = {BT_DIM_TORQUE, "Nm"},
    [BT_CH_MOTOR_SPEED] = {BT_DIM_ANGULAR_SPEED, "rpm"},
    [BT_CH_BATTERY_VOLTAGE] = {BT_DIM_VOLTAGE, "V"},
    [BT_CH_BATTERY_CURRENT] = {BT_DIM_CURRENT, "A"},
    [BT_CH_BYWIRE_STATE] = {BT_DIM_NONE, ""},
    [BT_CH_BIAS_SETTING] = {BT_DIM_NONE, ""},
    [BT_CH_ACCEL_LONG] = {BT_DIM_ACCEL, "m/s2"},
    [BT_CH_ACCEL_LAT] = {BT_DIM_ACCEL, "m/s2"},
    [BT_CH_DISC_FL] = {BT_DIM_TEMPERATURE, "Cel"},
    [BT_CH_DISC_FR] = {BT_DIM_TEMPERATURE, "Cel"},
    [BT_CH_DISC_RL] = {BT_DIM_TEMPERATURE, "Cel"},
    [BT_CH_DISC_RR] = {BT_DIM_TEMPERATURE, "Cel"},
    [BT_CH_LAP] = {BT_DIM_NONE, ""},
    [BT_CH_LAP_DISTANCE] = {BT_DIM_LENGTH, "m"},
    [BT_CH_LATITUDE] = {BT_DIM_ANGLE, "deg"},
    [BT_CH_LONGITUDE] = {BT_DIM_ANGLE, "deg"},
    [BT_CH_AMBIENT] = {BT_DIM_TEMPERATURE, "Cel"},
    [TIME] = {BT_DIM_TIME, "s"},
};

static const char *const names[SERVED] = {
#define X(id, name, kind) [BT_CH_##id] = name,
    BT_CHANNEL_LIST(X)
#undef X
        [TIME] = "time",
};

const char *bt_channel_name(bt_channel channel)
{
    return (unsigned)channel < BT_CH_COUNT ? names[channel] : "";
}

bool bt_channel_is_state(bt_channel channel)
{
    enum { C = 0, S = 1 };
    static const bool state[] = {
#define X(id, name, kind) kind,
        BT_CHANNEL_LIST(X)
#undef X
    };
    return (unsigned)channel < BT_CH_COUNT && state[channel];
}

bool bt_channel_is_pressure(bt_channel channel)
{
    return (unsigned)channel < BT_CH_COUNT && kinds[channel].dimension == BT_DIM_PRESSURE;
}

bt_dimension bt_channel_dimension(bt_channel channel)
{
    return (unsigned)channel < BT_CH_COUNT ? kinds[channel].dimension : BT_DIM_NONE;
}

static unsigned find_served(const char *name)
{
    unsigned c = 0;
    while (c < SERVED && !bt_name_alike(name, names[c])) c++;
    return c;
}

bt_channel bt_channel_find(const char *name)
{
    const unsigned c = find_served(name);
    return c < BT_CH_COUNT ? (bt_channel)c : BT_CH_COUNT;
}

bool bt_channels_has(const bt_channels *channels, bt_channel channel)
{
    return channels->ch[channel].column >= 0;
}

const bt_log_column *bt_channels_columns(const bt_channels *channels, size_t *n)
{
    *n = channels->signals ? channels->signals->n : channels->dialect->columns;
    return channels->signals ? channels->signals->column : channels->dialect->column;
}

const bt_unit *bt_channels_header_unit(const bt_channels *channels, bt_channel channel)
{
    const bt_binding *b = &channels->ch[channel];
    if (b->column < 0 || !b->unit || b->scaled) return NULL;
    size_t n;
    const char *text = bt_channels_columns(channels, &n)[b->column].unit;
    const bt_unit *header = *text ? bt_unit_find(text, strlen(text), b->unit->dimension) : NULL;
    return header && strcmp(header->ucum, b->unit->ucum) != 0 ? header : NULL;
}

/* What binding works on. */
typedef struct {
    bt_channels *out;
    const bt_dialect *dialect;
    bt_signals *signals; /* NULL = wide */
    const bt_map *map;
    const bt_car *car;
    bt_error *err;
} binder;

/* How well a column's header answers to a name: 0 = not at all. */
static int match(const bt_log_column *column, const char *name)
{
    if (strcmp(column->text, name) == 0) return 5;
    if (strcmp(column->name, name) == 0) return 4;
    if (bt_name_alike(column->text, name)) return 3;
    if (bt_name_alike(column->name, name)) return 2;
    return 0;
}

/* The name with a unit that the column's units row states as well: "Line rear [bar]". */
static int match_with_unit(const bt_log_column *column, const char *name)
{
    const int plain = match(column, name);
    if (plain) return plain;
    size_t name_len, unit_len;
    const char *unit;
    if (!bt_unit_in_name(name, strlen(name), &name_len, &unit, &unit_len)) return 0;
    if (!bt_name_alike_n(column->name, strlen(column->name), name, name_len)) return 0;
    const bt_unit *said = bt_unit_find(unit, unit_len, BT_DIM_ANY);
    return said && said == bt_unit_find(column->unit, strlen(column->unit), BT_DIM_ANY);
}

/* Place of a column's header in the log. */
static bt_status at_column(const binder *b, size_t column, bt_status status)
{
    if (b->signals) return status;
    return bt_at(b->err, status, NULL, b->dialect->header_line, column + 1);
}

/* The best column for a name; BT_NO_COLUMN if none.  Two equally good ones are BT_SYNTAX. */
static bt_status best_column(const binder *b, const char *name, bool from_map, size_t *column)
{
    size_t n;
    const bt_log_column *columns = bt_channels_columns(b->out, &n);
    int best = 0;
    size_t rival = BT_NO_COLUMN;
    *column = BT_NO_COLUMN;
    for (size_t i = 0; i < n; i++) {
        const int m = from_map ? match_with_unit(&columns[i], name) : match(&columns[i], name);
        if (m == 0 || m < best) continue;
        rival = m == best ? i : BT_NO_COLUMN;
        if (m > best) *column = i;
        best = m;
    }
    if (rival == BT_NO_COLUMN) return BT_OK;
    char q0[BT_QUOTE_MAX], q1[BT_QUOTE_MAX], q2[BT_QUOTE_MAX];
    const char *first = columns[*column].text, *second = columns[rival].text;
    return bt_fail(b->err, BT_SYNTAX,
                   "%s: columns #%zu '%s' and #%zu '%s' match equally well, name one in a map",
                   bt_quote(q0, name, strlen(name)), *column + 1,
                   bt_quote(q1, first, strlen(first)), rival + 1,
                   bt_quote(q2, second, strlen(second)));
}

static bt_status no_such_column(const binder *b, const char *text)
{
    size_t n;
    const bt_log_column *columns = bt_channels_columns(b->out, &n);
    const char *near = NULL;
    const char **texts = malloc((n + 1) * sizeof *texts);
    for (int bare = 0; bare < 2 && texts && !near; bare++) { /* as written, then without the unit */
        for (size_t i = 0; i < n; i++) texts[i] = bare ? columns[i].name : columns[i].text;
        near = bt_nearest(text, texts, n);
    }
    free(texts);
    char quoted[BT_QUOTE_MAX], offer[BT_QUOTE_MAX];
    bt_quote(quoted, text, strlen(text));
    if (near)
        return bt_fail(b->err, BT_SYNTAX, "expected a column of the log, found '%s'; near: '%s'",
                       quoted, bt_quote(offer, near, strlen(near)));
    const char *first = n ? columns[0].text : "";
    return bt_fail(b->err, BT_SYNTAX,
                   "expected a column of the log, found '%s'; its %zu columns begin with '%s'",
                   quoted, n, bt_quote(offer, first, strlen(first)));
}

/* "#n", or the header's text. */
static bt_status mapped_column(const binder *b, const char *text, size_t *column)
{
    size_t n;
    bt_channels_columns(b->out, &n);
    if (text[0] == '#' && text[1] >= '0' && text[1] <= '9') {
        char *end;
        const unsigned long number = strtoul(text + 1, &end, 10);
        if (*end == '\0') {
            if (number < 1 || number > n)
                return bt_fail(b->err, BT_SYNTAX, "expected #1 to #%zu, found '%.40s'", n, text);
            *column = number - 1;
            return BT_OK;
        }
    }
    BT_TRY(best_column(b, text, true, column));
    if (*column != BT_NO_COLUMN) return BT_OK;
    if (!b->signals) return no_such_column(b, text);
    return bt_signals_add(b->signals, (bt_cell){.text = text, .len = strlen(text)},
                          (bt_cell){.text = "", .len = 0}, BT_UTF8, column, b->err);
}

static bool is_wheel(unsigned channel)
{
    return channel >= BT_CH_WHEEL_FL && channel <= BT_CH_WHEEL_RR;
}

static const bt_unit *unit_for(unsigned channel, const char *text)
{
    static const bt_unit degree = {"\u00b0", "deg", BT_DIM_ANGLE, 1, 0};
    static const bt_unit as_logged = {"", "1", BT_DIM_NONE, 1, 0};
    if (kinds[channel].dimension == BT_DIM_NONE) return &as_logged;
    if (*text == '\0') text = kinds[channel].unit;
    const size_t len = strlen(text);
    const bt_unit *unit = bt_unit_find(text, len, kinds[channel].dimension);
    if (!unit && is_wheel(channel)) unit = bt_unit_find(text, len, BT_DIM_ANGULAR_SPEED);
    /* A position is told apart by degrees, nothing is computed in radians. */
    if (unit && unit == bt_unit_find("deg", 3, BT_DIM_ANGLE)) return &degree;
    return unit;
}

static bt_status unknown_unit(const binder *b, unsigned channel, const char *text)
{
    char labels[120], quoted[BT_QUOTE_MAX];
    bt_unit_labels(kinds[channel].dimension, labels, sizeof labels);
    bt_quote(quoted, text, strlen(text));
    const bt_unit *other = bt_unit_find(text, strlen(text), BT_DIM_ANY);
    if (other)
        return bt_fail(b->err, BT_SYNTAX, "%s: expected a unit of %s (%s%s), found '%s' (%s)",
                       names[channel], bt_dimension_name(kinds[channel].dimension), labels,
                       is_wheel(channel) ? ", rad/s, rpm" : "", quoted,
                       bt_dimension_name(other->dimension));
    return bt_fail(b->err, BT_SYNTAX, "%s: expected a unit of %s (%s%s), found '%s'",
                   names[channel], bt_dimension_name(kinds[channel].dimension), labels,
                   is_wheel(channel) ? ", rad/s, rpm" : "", quoted);
}

/* The stamps are read as integers with their unit alone. */
static bt_status bind_time(const binder *b, size_t column, const char *unit, const bt_map_row *row)
{
    if (row && (row->scale != 1 || row->offset != 0))
        return bt_fail(b->err, BT_SYNTAX, "time: expected a unit, no scale or offset");
    if (*unit && !bt_unit_find(unit, strlen(unit), BT_DIM_TIME)) return unknown_unit(b, TIME, unit);
    b->out->time_column = (int)column;
    snprintf(b->out->time_unit, sizeof b->out->time_unit, "%s", unit);
    return BT_OK;
}

/* SI = (cell * scale + offset) * unit's factor + unit's offset, times the radius for a wheel that
 * turns. */
static bt_status bind_column(const binder *b, unsigned channel, size_t column,
                             const bt_map_row *row)
{
    size_t n;
    const bt_log_column *columns =
        channel == TIME ? b->dialect->column : bt_channels_columns(b->out, &n);
    const char *text = row && *row->unit ? row->unit : columns[column].unit;
    if (channel == TIME) return bind_time(b, column, text, row);
    const bt_unit *unit = unit_for(channel, text);
    if (!unit) return unknown_unit(b, channel, text);

    bt_binding *binding = &b->out->ch[channel];
    const double scale = row ? row->scale : 1, offset = row ? row->offset : 0;
    double radius = 1;
    binding->angular = is_wheel(channel) && unit->dimension == BT_DIM_ANGULAR_SPEED;
    if (binding->angular) {
        const bt_axle axle = channel >= BT_CH_WHEEL_RL ? BT_REAR : BT_FRONT;
        radius = b->car ? bt_car_axle(b->car, BT_CAR_ROLLING_RADIUS_FRONT, axle) : NAN;
        if (isnan(radius)) {
            b->out->radius_missing[axle] = true;
            return BT_OK;
        }
    }
    binding->column = (int)column;
    binding->unit = unit->dimension == BT_DIM_NONE ? NULL : unit;
    binding->scaled = scale < 1 || scale > 1 || offset < 0 || offset > 0;
    binding->factor = scale * unit->factor * radius;
    binding->shift = (offset * unit->factor + unit->offset) * radius;
    binding->tolerance = row ? row->tolerance * unit->factor * radius : NAN;
    return BT_OK;
}

static bt_status bind_row(const binder *b, const bt_map_row *row, const bt_map_row *taken[SERVED])
{
    const bt_sheet *sheet = &b->map->sheet;
    const unsigned channel = find_served(row->channel);
    if (channel == SERVED) {
        char quoted[BT_QUOTE_MAX];
        const char *near = bt_nearest(row->channel, names, SERVED);
        bt_quote(quoted, row->channel, strlen(row->channel));
        return bt_sheet_at(sheet, row->row, b->map->channel_column, b->err,
                           bt_fail(b->err, BT_SYNTAX, "expected a channel, found '%s'%s%s", quoted,
                                   near ? "; near: " : "; see braketally-log(5)",
                                   near ? near : ""));
    }
    if (taken[channel])
        return bt_sheet_at(
            sheet, row->row, b->map->channel_column, b->err,
            bt_fail(b->err, BT_SYNTAX, "%s: expected one row, found another one on line %llu",
                    names[channel], (unsigned long long)bt_sheet_line(sheet, taken[channel]->row)));
    taken[channel] = row;
    if (strcmp(row->column, "-") == 0) return BT_OK;

    size_t column = b->dialect->time_column; /* in the long layout whatever it is called */
    bt_status status = BT_OK;
    if (channel != TIME || !b->signals) status = mapped_column(b, row->column, &column);
    if (status != BT_OK) return bt_sheet_at(sheet, row->row, b->map->column_column, b->err, status);
    status = bind_column(b, channel, column, row);
    /* A unit that the log states is still this row's doing: it could state another. */
    return bt_sheet_at(sheet, row->row,
                       b->map->unit_column == BT_NO_COLUMN ? b->map->column_column
                                                           : b->map->unit_column,
                       b->err, status);
}

/* The long layout's time stands in a column of its own, whatever its name. */
static bt_status bind_name(const binder *b, unsigned channel)
{
    size_t column;
    if (channel == TIME && b->signals) return bind_column(b, TIME, b->dialect->time_column, NULL);
    bt_status status = best_column(b, names[channel], false, &column);
    if (status != BT_OK) return bt_at(b->err, status, NULL, b->dialect->header_line, 0);
    if (column == BT_NO_COLUMN) return BT_OK;
    return at_column(b, column, bind_column(b, channel, column, NULL));
}

bt_status bt_channels_bind(bt_channels *out, const bt_dialect *dialect, bt_signals *signals,
                           const bt_map *map, const bt_car *car, const bt_setup *setup,
                           bt_error *err)
{
    *out = (bt_channels){.time_column = -1,
                         .rate = setup ? setup->rate : 0,
                         .layout = dialect->layout,
                         .dialect = dialect,
                         .signals = dialect->layout == BT_LAYOUT_LONG ? signals : NULL};
    for (int c = 0; c < BT_CH_COUNT; c++)
        out->ch[c] = (bt_binding){.column = -1, .factor = 1, .tolerance = NAN};
    const binder b = {out, dialect, dialect->layout == BT_LAYOUT_LONG ? signals : NULL,
                      map, car,     err};

    if (b.signals && out->rate > 0)
        return bt_fail(err, BT_SYNTAX, "rate: expected a log without time, found the long layout");
    const bt_map_row *taken[SERVED] = {NULL};
    for (size_t i = 0; map && i < map->n; i++) BT_TRY(bind_row(&b, &map->row[i], taken));
    for (unsigned c = 0; c < SERVED; c++)
        if (!taken[c] && !(c == TIME && out->rate > 0)) BT_TRY(bind_name(&b, c));
    if (out->rate > 0) out->time_column = -1; /* the user said what the time is */
    if (out->time_column < 0 && !(out->rate > 0))
        return bt_at(err,
                     bt_fail(err, BT_MISSING,
                             "time: expected a column of that name, found none; name it in a map "
                             "or give the rate"),
                     NULL, dialect->header_line, 0);
    return BT_OK;
}
