/* The record of one run: see record.h. */
#include "run/record.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "zones/books.h"
#include "verdict/detectors.h"
#include "verdict/fallback.h"
#include "signals/heat.h"
#include "zones/metrics.h"
#include "zones/plateau.h"
#include "zones/sensors.h"
#include "signals/speed.h"
#include "run/doubts.h"
#include "run/trace.h"
#include "zones/uncertain.h"

struct bt_record {
    const bt_channels *channels;
    const bt_car *car;
    const bt_setup *setup;
    bt_result *result;
    bt_zone_sink sink;
    bt_zone row; /* of the zone at hand */
    bt_tally tally;
    const bt_samples *samples;
    const bt_stage *speed, *segment;
    bt_torques torques;
    bt_heat heat;
    bt_fallback *fallback;
    bt_detectors *detectors;
    bt_doubts *doubts;
    bt_events events;
    size_t told;  /* of them, to the caller's callback */
    double *disc; /* temperatures, axle by axle, of a run of samples for the trace */
    size_t disc_cap;
    bt_tracer *tracer; /* NULL = no trace wanted */
    size_t zones_cap;
    double zero[BT_CH_COUNT]; /* the last zone's pressure zeros, for the trace between zones */
    uint32_t flags;           /* of zones, gathered */
};

/* Zone flags that say something of the whole run, too. */
#define RUN_FLAGS                                                                                  \
    (BT_FLAG_ZERO_OFFSET | BT_FLAG_DRAG | BT_FLAG_SPEED_UNSURE | BT_FLAG_MOTOR_SPEED |             \
     BT_FLAG_RADIUS | BT_FLAG_SENSOR_STUCK | BT_FLAG_SENSOR_RANGE | BT_FLAG_SENSOR_GAP |           \
     BT_FLAG_RECOVERED_ESTIMATED | BT_FLAG_THINNED | BT_FLAG_BRAKE_TEMPERATURE)

/* ---- where rows go if nobody else takes them ---- */

static bt_status keep_row(void *user, const bt_zone *row, bt_error *err)
{
    bt_record *r = user;
    void *zones = r->result->zones;
    BT_TRY(bt_grow(&zones, &r->zones_cap, r->result->n_zones + 1, sizeof *row, "zones", err));
    r->result->zones = zones;
    r->result->zones[r->result->n_zones++] = *row;
    return BT_OK;
}

static void amend_row(void *user, size_t i, bt_mode mode)
{
    const bt_record *r = user;
    bt_zone_give_mode(&r->result->zones[i], mode);
}

/* ---- a record's life ---- */

bt_status bt_record_new(bt_record **out, const bt_channels *channels, const bt_car *car,
                        const bt_setup *setup, const bt_zone_sink *sink, bt_result *result,
                        bt_error *err)
{
    *out = NULL;
    bt_record *r = calloc(1, sizeof *r);
    if (!r) return bt_fail(err, BT_NOMEM, "no memory for the record of a run");
    r->channels = channels;
    r->car = car;
    r->setup = setup;
    r->result = result;
    r->sink = sink ? *sink : (bt_zone_sink){r, keep_row, amend_row};
    bt_tally_init(&r->tally);
    memcpy(r->events.run, result->run.run, sizeof r->events.run);
    bt_heat_init(&r->heat, car);
    bt_status status = bt_fallback_new(&r->fallback, channels, car, err);
    if (status == BT_OK) status = bt_detectors_new(&r->detectors, channels, car, err);
    if (status == BT_OK) status = bt_doubts_new(&r->doubts, channels, car, err);
    if (status == BT_OK && setup->trace) status = bt_tracer_new(&r->tracer, car, setup, err);
    if (status == BT_OK)
        *out = r;
    else
        bt_record_free(r);
    return status;
}

void bt_record_attach(bt_record *record, const bt_samples *samples, const bt_stage *speed,
                      const bt_stage *segment)
{
    record->samples = samples;
    record->speed = speed;
    record->segment = segment;
}

void bt_record_free(bt_record *r)
{
    if (!r) return;
    bt_torques_clear(&r->torques);
    bt_fallback_free(r->fallback);
    bt_detectors_free(r->detectors);
    bt_doubts_free(r->doubts);
    bt_events_clear(&r->events);
    bt_tally_clear(&r->tally);
    bt_tracer_free(r->tracer);
    free(r->disc);
    free(r);
}

/* Where both axles' temperatures of n samples go; only the trace wants them. */
static bt_status disc_series(bt_record *r, size_t n, double *series[2], bt_error *err)
{
    if (!r->tracer) return BT_OK;
    void *array = r->disc;
    BT_TRY(bt_grow(&array, &r->disc_cap, 2 * n, sizeof *r->disc, "disc temperatures", err));
    r->disc = array;
    series[0] = r->disc;
    series[1] = r->disc + n;
    return BT_OK;
}

static bt_status tell(const bt_record *r, const bt_events *events, size_t from, bt_error *err)
{
    for (size_t i = from; i < events->n; i++)
        BT_TRY(r->setup->event(r->setup->user, &events->event[i], err));
    return BT_OK;
}

/* What is settled by now to the caller's callback, and a fallback that lasts. */
static bt_status tell_events(bt_record *r, bt_error *err)
{
    if (!r->setup->event) return BT_OK;
    BT_TRY(tell(r, &r->events, r->told, err));
    r->told = r->events.n;
    bt_events lasting = {.offset = r->events.offset};
    memcpy(lasting.run, r->events.run, sizeof lasting.run);
    bt_status status = bt_fallback_lasting(r->fallback, &lasting, err);
    if (status == BT_OK) status = tell(r, &lasting, 0, err);
    bt_events_clear(&lasting);
    return status;
}

static bt_status take_free(void *user, const bt_block *run, bt_error *err)
{
    bt_record *r = user;
    double *series[2] = {NULL, NULL};
    BT_TRY(disc_series(r, run->n, series, err));
    bt_heat_cool(&r->heat, run, series);
    bt_doubts_take(r->doubts, run);
    r->events.offset = bt_samples_offset(r->samples);
    BT_TRY(bt_fallback_free_run(r->fallback, run, &r->events, err));
    BT_TRY(bt_detectors_free_run(r->detectors, run, bt_segment_pedal(r->segment), &r->events, err));
    BT_TRY(tell_events(r, err));
    if (!r->tracer) return BT_OK;
    double trim[4];
    bool beyond;
    bt_speed_trim(r->speed, trim, &beyond);
    const bt_trace_context context = {.zone = NAN,
                                      .zero = r->zero,
                                      .trim = trim,
                                      .disc = {series[0], series[1]},
                                      .offset = r->events.offset};
    return bt_tracer_run(r->tracer, run, &context, err);
}

static bt_zone *new_row(bt_record *r)
{
    bt_row_blank(BT_TABLE_ZONES, &r->row);
    memcpy(r->row.run, r->result->run.run, sizeof r->row.run);
    r->row.zone = (double)(r->tally.n + 1);
    return &r->row;
}

static bt_status warm(bt_record *r, const bt_block *zone, double *series[2], bt_zone *row,
                      bt_error *err)
{
    double peak[2];
    BT_TRY(disc_series(r, zone->n, series, err));
    bt_heat_zone(&r->heat, zone, &r->torques, peak, series);
    bt_heat_row(&r->heat, peak, row);
    return BT_OK;
}

/* Of a car without motor rows and without a motor in its log nothing is known of a motor: it counts as
 * none in the sums, but a zero torque was not measured. */
static void blank_unknown_motor(const bt_record *r, bt_zone *row)
{
    if (bt_channels_has(r->channels, BT_CH_MOTOR_TORQUE) ||
        !isnan(r->car->value[BT_CAR_MOTOR_RATIO]))
        return;
    row->motor = row->motor_share = row->energy_motor = row->recovered = NAN;
}

/* A zone may tell how those before it should have been called. */
static void revise(bt_record *r)
{
    const bt_revision v = bt_fallback_revision(r->fallback);
    for (size_t i = r->tally.n; i > 0 && (double)i >= v.zone; i--) {
        const bt_mode now = (bt_mode)r->tally.zone[i - 1].mode;
        if (v.mode != BT_MODE_MIXED && now != BT_MODE_FALLBACK && now != BT_MODE_MIXED) continue;
        const bool behind = v.mode == BT_MODE_MIXED && (double)i > v.zone;
        const bt_mode mode = behind ? BT_MODE_FALLBACK : v.mode;
        bt_tally_mode(&r->tally, i - 1, mode);
        r->sink.amend(r->sink.user, i - 1, mode);
    }
}

static bt_status take_braking(void *user, const bt_braking *zone, bt_error *err)
{
    bt_record *r = user;
    bt_zone *row = new_row(r);
    bt_doubts_take(r->doubts, &zone->s);
    BT_TRY(bt_torques_make(&r->torques, &zone->s, r->car, err));
    uint32_t which[BT_CH_COUNT];
    const uint32_t sensors = bt_sensors_check(&zone->s, which);
    double trim[4];
    bool beyond;
    bt_speed_trim(r->speed, trim, &beyond);
    for (int w = 0; w < 4; w++) /* one that stands is not locked */
        if (which[BT_CH_WHEEL_FL + w] & BT_FLAG_SENSOR_STUCK) trim[w] = NAN;
    bt_blend blend;
    bt_slip slip;
    r->events.offset = bt_samples_offset(r->samples);
    BT_TRY(bt_metrics(zone, &r->torques, r->car, trim, r->setup->nominal, r->events.offset, row,
                      &blend, &slip, err));
    row->flags |= zone->flags | sensors;
    if (bt_speed_source_of(r->speed) == BT_SPEED_MOTOR) row->flags |= BT_FLAG_MOTOR_SPEED;
    if (beyond) row->flags |= BT_FLAG_RADIUS;
    bt_uncertain(r->channels, r->car, row);
    bt_books_zone(&zone->s, &r->torques, r->car, trim, row);
    bt_plateau(zone, &r->torques, r->car, row);
    double *series[2] = {NULL, NULL};
    BT_TRY(warm(r, &zone->s, series, row, err));
    const uint8_t *states;
    BT_TRY(bt_fallback_zone(r->fallback, zone, &r->torques, row, &states, &r->events, err));
    BT_TRY(bt_detectors_zone(r->detectors, zone, &r->torques, &slip, which, row, &r->events, err));
    revise(r);
    blank_unknown_motor(r, row);
    bt_zone_give_mode(row, bt_zone_mode(row));
    r->flags |= row->flags & RUN_FLAGS;
    BT_TRY(r->sink.add(r->sink.user, row, err));
    BT_TRY(bt_tally_add(&r->tally, row, err));
    bt_doubts_zone(r->doubts, row);
    memcpy(r->zero, zone->zero, sizeof r->zero);
    if (r->setup->zone) BT_TRY(r->setup->zone(r->setup->user, row, err));
    BT_TRY(tell_events(r, err));
    if (!r->tracer) return BT_OK;
    const bt_trace_context context = {.zone = row->zone,
                                      .states = states,
                                      .trim = trim,
                                      .disc = {series[0], series[1]},
                                      .offset = r->events.offset};
    return bt_tracer_run(r->tracer, &zone->s, &context, err);
}

static bt_status take_stretch_end(void *user, bt_error *err)
{
    (void)user;
    (void)err;
    return BT_OK;
}

bt_segment_sink bt_record_sink(bt_record *record)
{
    return (bt_segment_sink){record, take_free, take_braking, take_stretch_end};
}

/* ---- the run row ---- */

static void fill_run(bt_record *r)
{
    bt_run *run = &r->result->run;
    const bt_sample_counts *counts = bt_samples_counts(r->samples);
    bt_tally_run(&r->tally, run);
    run->duration = counts->last - counts->first;
    run->rows = (double)counts->rows;
    run->dropped_rows = (double)counts->dropped;
    run->gaps = (double)counts->gaps;
    run->touches = (double)bt_segment_touches(r->segment);
    run->flags |=
        r->flags | (counts->truncated ? BT_FLAG_TRUNCATED : 0u) |
        (counts->dropped ? BT_FLAG_TIME_FAULTS : 0u) | (counts->gaps ? BT_FLAG_GAPS : 0u) |
        (counts->bad_cells ? BT_FLAG_BAD_CELLS : 0u) | (r->tally.n == 0 ? BT_FLAG_NO_ZONES : 0u);
}

/* What would bring the figures that are blank: once per run, in the words of map and sheet. */
static bt_status say_missing(bt_record *r, bt_notes *notes, bt_error *err)
{
    static const struct {
        bt_torque_kind kind;
        const char *figures;
    } needs[] = {
        {BT_TORQUE_FRONT, "front torque and balance"},
        {BT_TORQUE_REAR, "rear friction torque and balance"},
        {BT_TORQUE_MOTOR, "motor torque, motor share and balance"},
        {BT_TORQUE_DEMAND, "demand and blend figures"},
    };
    char text[400] = "", list[200];
    size_t at = 0;
    for (size_t i = 0; i < sizeof needs / sizeof *needs; i++) {
        bt_torque_missing(r->channels, r->car, needs[i].kind, list, sizeof list);
        if (list[0] == '\0') continue;
        const int n = snprintf(text + at, sizeof text - at, "%s%s need %s", at ? "; " : "",
                               needs[i].figures, list);
        if (n < 0 || (size_t)n >= sizeof text - at) break;
        at += (size_t)n;
    }
    if (at) BT_TRY(bt_notes_add(notes, err, "blank for what is missing: %s", text));
    return BT_OK;
}

/* What was braked and stands in no row, or in a wrong one. */
static bt_status say_unseen(const bt_record *r, bt_notes *notes, bt_error *err)
{
    const double frozen = bt_detectors_speed_frozen(r->detectors);
    if (frozen > 0)
        BT_TRY(bt_notes_add(
            notes, err,
            "speed was frozen for %.1f s (see events): brakings there have no figures, or wrong "
            "ones; with '-' as the column of speed in the map the wheels or the motor give it",
            frozen));
    bt_channel pedal;
    const size_t unseen = bt_detectors_unseen(r->detectors, &pedal);
    if (!unseen) return BT_OK;
    const char *name = bt_channel_name(pedal);
    return bt_notes_add(
        notes, err,
        "%zu brakings opened no zone and are in no figure: %s tells nothing of them (see events); "
        "with '-' as the column of %s in the map another channel or the deceleration "
        "opens them",
        unseen, name, name);
}

/* Close what is still open and hand the events over. */
static bt_status finish_events(bt_record *r, bt_error *err)
{
    bt_run *run = &r->result->run;
    BT_TRY(bt_fallback_end(r->fallback, run, &r->events, err));
    BT_TRY(bt_detectors_end(r->detectors, &r->events, err));
    BT_TRY(tell_events(r, err));
    bt_events_sort(&r->events);
    run->events = (double)r->events.n;
    run->stops = 0;
    for (size_t i = 0; i < r->events.n; i++) {
        run->stops += r->events.event[i].severity == BT_STOP ? 1 : 0;
        const char *kind = r->events.event[i].kind; /* seen between zones, perhaps */
        if (strcmp(kind, "sensor-range") == 0) run->flags |= BT_FLAG_SENSOR_RANGE;
        if (strcmp(kind, "sensor-stuck") == 0) run->flags |= BT_FLAG_SENSOR_STUCK;
    }
    r->result->events = r->events.event;
    r->result->n_events = r->events.n;
    r->events = (bt_events){0};
    return BT_OK;
}

bt_status bt_record_finish(bt_record *record, bt_notes *notes, bt_error *err)
{
    fill_run(record);
    BT_TRY(finish_events(record, err));
    const bt_sample_counts *counts = bt_samples_counts(record->samples);
    if (counts->bad_cells)
        BT_TRY(bt_notes_add(notes, err,
                            "%llu cells are no number and were taken as blank, the first at line "
                            "%llu, field %llu: '%s'",
                            (unsigned long long)counts->bad_cells,
                            (unsigned long long)counts->bad_line,
                            (unsigned long long)counts->bad_column, counts->bad_text));
    static const char *const axle[2] = {"front", "rear"};
    for (int a = 0; a < 2; a++)
        if (record->channels->radius_missing[a])
            BT_TRY(bt_notes_add(notes, err,
                                "%s wheels in turns per time are left out: the car sheet lacks "
                                "rolling_radius_%s",
                                axle[a], axle[a]));
    BT_TRY(say_unseen(record, notes, err));
    BT_TRY(say_missing(record, notes, err));
    return bt_doubts_tell(record->doubts, counts, bt_segment_pedal(record->segment), &record->tally,
                          record->result, notes, err);
}
