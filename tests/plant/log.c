/* Logs: which columns, under which names, in which units and clothes. */
#include "plant.h"
#include "text.h"
#include "truth.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define DAY_START 34867.0               /* s, 09:41:07: clock times count from here */
#define EPOCH_NS  1746265267000000000LL /* 2025-05-03 09:41:07 UTC */
#define NS        1000000000LL

/* unit of a channel's own kind = other unit: written = value * scale + offset */
static const struct {
    const char *base, *unit;
    double scale, offset;
    int more_decimals;
} units[] = {
    {"bar", "bar", 1, 0, 0},
    {"bar", "kPa", 100, 0, -2},
    {"bar", "MPa", 0.1, 0, 1},
    {"bar", "psi", 14.503773773, 0, -1},
    {"bar", "Pa", 1e5, 0, -2},
    {"m/s", "m/s", 1, 0, 0},
    {"m/s", "km/h", 3.6, 0, 0},
    {"m/s", "kph", 3.6, 0, 0},
    {"m/s", "mph", 2.2369362921, 0, 0},
    {"m/s2", "m/s2", 1, 0, 0},
    {"m/s2", "g", 0.10197162130, 0, 1},
    {"Cel", "Cel", 1, 0, 0},
    {"Cel", "°C", 1, 0, 0},
    {"Cel", "C", 1, 0, 0},
    {"Cel", "K", 1, 273.15, 1},
    {"Cel", "°F", 1.8, 32, 0},
    {"N·m", "N·m", 1, 0, 0},
    {"N·m", "Nm", 1, 0, 0},
    {"N·m", "lbf·ft", 0.73756214928, 0, 1},
    {"rpm", "rpm", 1, 0, 0},
    {"rpm", "rad/s", 0.10471975512, 0, 1},
    {"rpm", "Hz", 1.0 / 60, 0, 2},
    {"s", "s", 1, 0, 0},
    {"s", "ms", 1000, 0, -3},
    {"mm", "mm", 1, 0, 0},
    {"mm", "m", 0.001, 0, 3},
    {"m", "m", 1, 0, 0},
    {"m", "km", 0.001, 0, 3},
    {"N", "N", 1, 0, 0},
    {"V", "V", 1, 0, 0},
    {"A", "A", 1, 0, 0},
    {"%", "%", 1, 0, 0},
    {"deg", "deg", 1, 0, 0},
    {"", "", 1, 0, 0},
};

static plant_column plain(plant_channel ch, int time_decimals)
{
    plant_column c = {.channel = ch, .scale = 1, .map_scale = 1};
    const char *unit = plant_channel_unit(ch);
    snprintf(c.name, sizeof c.name, *unit ? "%s [%s]" : "%s", plant_channel_name(ch), unit);
    snprintf(c.unit, sizeof c.unit, "%s", unit);
    c.decimals = ch == PLANT_TIME ? time_decimals : plant_channel_decimals(ch);
    return c;
}

static bool has(const plant_config *cfg, plant_channel ch)
{
    switch (ch) {
    case PLANT_MOTOR_TORQUE:
    case PLANT_MOTOR_REQUEST:
    case PLANT_MOTOR_SPEED:
    case PLANT_BATTERY_VOLTAGE:
    case PLANT_BATTERY_CURRENT:
        return cfg->car.motor;
    case PLANT_LINE_REQUEST:
    case PLANT_BYWIRE_STATE:
        return cfg->car.bywire;
    default:
        return true;
    }
}

void plant_log_defaults(plant_log_options *opt, const plant_config *cfg)
{
    *opt = (plant_log_options){.delimiter = ','};
    const bool fine = cfg->fine_rate > 1000 || cfg->rate > 1000 || (cfg->uneven && cfg->rate > 250);
    for (int ch = 0; ch < PLANT_CHANNELS; ch++)
        if (has(cfg, (plant_channel)ch))
            opt->column[opt->columns++] = plain((plant_channel)ch, fine ? 6 : 3);
}

plant_column *plant_log_column(plant_log_options *opt, plant_channel channel)
{
    for (int i = 0; i < opt->columns; i++)
        if (opt->column[i].channel == channel) return &opt->column[i];
    return NULL;
}

void plant_log_choose(plant_log_options *opt, const char *names)
{
    plant_log_options old = *opt;
    opt->columns = 0;
    while (*(names += strspn(names, " "))) {
        const size_t n = strcspn(names, " ");
        for (int i = 0; i < old.columns; i++) {
            const char *name = plant_channel_name(old.column[i].channel);
            if (strlen(name) == n && memcmp(name, names, n) == 0)
                opt->column[opt->columns++] = old.column[i];
        }
        names += n;
    }
}

int plant_log_unit(plant_log_options *opt, plant_channel channel, const char *name,
                   const char *unit)
{
    plant_column *c = plant_log_column(opt, channel);
    for (size_t i = 0; c && i < sizeof units / sizeof units[0]; i++) {
        if (strcmp(units[i].base, plant_channel_unit(channel)) != 0 ||
            strcmp(units[i].unit, unit) != 0)
            continue;
        const int decimals = plant_channel_decimals(channel) + units[i].more_decimals;
        c->scale = units[i].scale;
        c->offset = units[i].offset;
        c->decimals = decimals < 0 ? 0 : decimals;
        snprintf(c->unit, sizeof c->unit, "%s", unit);
        if (name) snprintf(c->name, sizeof c->name, "%s", name);
        return 0;
    }
    return -1;
}

/* Everything the callbacks need while a log is being written. */
typedef struct {
    const plant_log_options *opt;
    text *out;
    plant_truth_files *truth;
} writer;

static void line_end(writer *w)
{
    text_put(w->out, w->opt->crlf ? "\r\n" : "\n");
}

static void put_name(writer *w, const char *name)
{
    const bool quote = strchr(name, w->opt->delimiter) || strchr(name, '"');
    if (quote) text_char(w->out, '"');
    text_put(w->out, name);
    if (quote) text_char(w->out, '"');
}

static void clock_text(text *out, long long ms, bool hours, char point)
{
    if (hours) {
        text_digits(out, ms / 3600000 % 24, 2);
        text_char(out, ':');
        ms %= 3600000;
    }
    text_digits(out, ms / 60000, 2);
    text_char(out, ':');
    text_digits(out, ms / 1000 % 60, 2);
    text_char(out, point);
    text_digits(out, ms % 1000, 3);
}

static void put_time(writer *w, const plant_column *c, double t)
{
    const plant_log_options *o = w->opt;
    const char point = o->decimal_comma ? ',' : '.';
    const double shown = t + o->time_offset;
    const long long ms = llround((shown + DAY_START) * 1000);
    switch (o->time_format) {
    case PLANT_MILLISECONDS:
        text_number(w->out, shown * 1000, 0, point);
        break;
    case PLANT_CLOCK:
        clock_text(w->out, ms, true, point);
        break;
    case PLANT_MINUTES:
        clock_text(w->out, llround(shown * 1000), false, point);
        break;
    case PLANT_ISO8601: /* the day runs on past midnight for a night's worth of logs */
        text_put(w->out, "2025-05-");
        text_digits(w->out, 3 + ms / 86400000, 2);
        text_char(w->out, 'T');
        clock_text(w->out, ms, true, '.');
        break;
    case PLANT_EPOCH_NS:
        text_digits(w->out, EPOCH_NS + llround(shown * 1e6) * 1000, 1);
        break;
    case PLANT_EPOCH_S: {
        const long long us = EPOCH_NS / 1000 + llround(shown * 1e6);
        text_digits(w->out, us / 1000000, 1);
        text_char(w->out, point);
        text_digits(w->out, us % 1000000, 6);
        break;
    }
    default:
        text_number(w->out, shown * c->scale + c->offset, c->decimals, point);
        break;
    }
}

static void put_cell(writer *w, const plant_column *c, const plant_row *row)
{
    const double x = row->value[c->channel];
    if (c->channel == PLANT_TIME)
        put_time(w, c, x);
    else
        text_number(w->out, x * c->scale + c->offset, c->decimals,
                    w->opt->decimal_comma ? ',' : '.');
}

static void put_row(void *ctx, const plant_row *row)
{
    writer *w = ctx;
    const plant_log_options *o = w->opt;
    const plant_column *time = NULL;
    for (int i = 0; i < o->columns; i++)
        if (o->column[i].channel == PLANT_TIME) time = &o->column[i];
    for (int i = 0; i < o->columns; i++) {
        const plant_column *c = &o->column[i];
        if (o->long_layout) {
            if (!time || c == time || isnan(row->value[c->channel])) continue;
            put_cell(w, time, row);
            text_char(w->out, o->delimiter);
            put_name(w, c->name);
            text_char(w->out, o->delimiter);
            put_cell(w, c, row);
            line_end(w);
        } else {
            if (i > 0) text_char(w->out, o->delimiter);
            put_cell(w, c, row);
        }
    }
    if (!o->long_layout) line_end(w);
}

static void put_header(writer *w)
{
    const plant_log_options *o = w->opt;
    if (o->preamble) text_put(w->out, o->preamble);
    if (o->no_header) return;
    if (o->long_layout) {
        text_put(w->out, "time");
        text_char(w->out, o->delimiter);
        text_put(w->out, "signal");
        text_char(w->out, o->delimiter);
        text_put(w->out, "value");
        line_end(w);
        return;
    }
    for (int i = 0; i < o->columns; i++) {
        if (i > 0) text_char(w->out, o->delimiter);
        put_name(w, o->column[i].name);
    }
    line_end(w);
    if (!o->units_row) return;
    for (int i = 0; i < o->columns; i++) {
        if (i > 0) text_char(w->out, o->delimiter);
        text_put(w->out, o->column[i].unit);
    }
    line_end(w);
}

static void put_zone(void *ctx, const plant_zone *zone)
{
    plant_truth_zone(((writer *)ctx)->truth, zone);
}

static void put_event(void *ctx, const plant_event *event)
{
    plant_truth_event(((writer *)ctx)->truth, event);
}

static int cut(const char *path, long bytes)
{
    struct stat st;
    if (stat(path, &st) != 0) return -1;
    return truncate(path, st.st_size > bytes ? st.st_size - (off_t)bytes : 0);
}

int plant_write_log(const plant_config *cfg, const char *path, const plant_log_options *opt)
{
    errno = 0;
    writer w = {.opt = opt};
    if (opt->truth) {
        w.truth = plant_truth_open(opt->truth);
        if (!w.truth) return -1;
    }
    w.out = text_open(path);
    int status = w.out ? 0 : -1;
    if (w.out) {
        put_header(&w);
        const plant_sink sink = {.ctx = &w,
                                 .row = put_row,
                                 .zone = w.truth ? put_zone : NULL,
                                 .event = w.truth ? put_event : NULL};
        status = plant_run(cfg, &sink);
        if (status != 0 && errno == 0) errno = EINVAL;
        if (text_close(w.out) != 0) status = -1;
    }
    if (w.truth && plant_truth_close(w.truth) != 0) status = -1;
    if (status == 0 && opt->truncate_bytes > 0) status = cut(path, opt->truncate_bytes);
    return status;
}
