/* Accuracy of the by-wire verdict: is every fallback found, in time and with its flag judged, and is a
 * healthy car left in peace?  Onsets are held against an oracle (tests/plant/oracle.h) that knows the true
 * car, its sensors' offsets and noise, and only lacks the moment.  Runs come from the plant with all disturbances on and go through the
 * stages from speed to fallback, zones found by our own segment stage.  Fails when a bound is missed. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "verdict/detectors.h"
#include "verdict/fallback.h"
#include "zones/metrics.h"
#include "zones/sensors.h"
#include "signals/smooth.h"
#include "signals/speed.h"
#include "tests/accuracy/disturbed.h"
#include "tests/plant/oracle.h"

#define BAR           1e5
#define FALLBACK_RUNS 220
#define HEALTHY_ZONES 10000
#define ONSET_BOUND   0.1  /* s of braking time */
#define PEDAL_LEAST   30.0 /* bar in a zone that a fallback must have lasted for to be found */

#define ROOM   600
#define ZONES  4000
#define TRUTHS 64

/* What goes into a block, with its factor to SI. */
static const struct {
    plant_channel from;
    int to;
    double factor;
} served[] = {{PLANT_SPEED, BT_CH_SPEED, 1},
              {PLANT_PEDAL_FRONT, BT_CH_PEDAL_FRONT, BAR},
              {PLANT_PEDAL_REAR, BT_CH_PEDAL_REAR, BAR},
              {PLANT_LINE_FRONT, BT_CH_LINE_FRONT, BAR},
              {PLANT_LINE_REAR, BT_CH_LINE_REAR, BAR},
              {PLANT_LINE_REQUEST, BT_CH_LINE_REQUEST, BAR},
              {PLANT_MOTOR_TORQUE, BT_CH_MOTOR_TORQUE, 1},
              {PLANT_MOTOR_REQUEST, BT_CH_MOTOR_REQUEST, 1},
              {PLANT_BYWIRE_STATE, BT_CH_BYWIRE_STATE, 1},
              {PLANT_LAP, BT_CH_LAP, 1}};
enum { SERVED = sizeof served / sizeof *served };

/* One run through the stages. */
typedef struct {
    bt_channels channels;
    const bt_car *car;
    const plant_config *cfg;
    plant_oracle *oracle;
    bt_stage *speed, *smooth, *segment;
    bt_fallback *fallback;
    bt_detectors *detectors;
    bt_torques torques;
    bt_events events;
    bt_run run;
    size_t rows, zones;
    double t[ROOM], x[SERVED][ROOM];
    size_t undetermined;
    /* truth */
    plant_zone zone[ZONES];
    size_t true_zones;
    plant_event event[TRUTHS];
    size_t true_events;
} through;

static void hand_on(through *h)
{
    if (h->rows == 0) return;
    bt_error err = {0};
    bt_block b = {.n = h->rows, .t = h->t};
    for (int c = 0; c < SERVED; c++)
        if (bt_channels_has(&h->channels, (bt_channel)served[c].to)) b.ch[served[c].to] = h->x[c];
    must(h->speed->push(h->speed, &b, &err), &err);
    h->rows = 0;
}

static void take_row(void *ctx, const plant_row *row)
{
    through *h = ctx;
    h->t[h->rows] = row->value[PLANT_TIME];
    plant_oracle_row(h->oracle, row);
    for (int c = 0; c < SERVED; c++)
        h->x[c][h->rows] = served[c].factor * row->value[served[c].from];
    if (++h->rows == ROOM) hand_on(h);
}

static void take_zone(void *ctx, const plant_zone *zone)
{
    through *h = ctx;
    if (h->true_zones < ZONES) h->zone[h->true_zones++] = *zone;
}

static void take_event(void *ctx, const plant_event *event)
{
    through *h = ctx;
    if (h->true_events < TRUTHS) h->event[h->true_events++] = *event;
}

static bt_status free_run(void *user, const bt_block *run, bt_error *err)
{
    through *h = user;
    BT_TRY(bt_detectors_free_run(h->detectors, run, BT_CH_PEDAL_FRONT, &h->events, err));
    return bt_fallback_free_run(h->fallback, run, &h->events, err);
}

static bt_status braking(void *user, const bt_braking *zone, bt_error *err)
{
    static const double trim[4] = {1, 1, 1, 1};
    through *h = user;
    bt_zone row;
    bt_blend blend;
    bt_slip slip;
    bt_row_blank(BT_TABLE_ZONES, &row);
    row.zone = (double)++h->zones;
    BT_TRY(bt_torques_make(&h->torques, &zone->s, h->car, err));
    BT_TRY(bt_metrics(zone, &h->torques, h->car, trim, 0, 0, &row, &blend, &slip, err));
    BT_TRY(bt_fallback_zone(h->fallback, zone, &h->torques, &row, NULL, &h->events, err));
    uint32_t which[BT_CH_COUNT];
    (void)bt_sensors_check(&zone->s, which);
    BT_TRY(bt_detectors_zone(h->detectors, zone, &h->torques, &slip, which, &row, &h->events, err));
    h->undetermined += strcmp(row.mode, "undetermined") == 0;
    return BT_OK;
}

static bt_status stretch_end(void *user, bt_error *err)
{
    (void)user;
    (void)err;
    return BT_OK;
}

static void set(bt_car *car, const char *name, double value, const char *unit)
{
    char text[80];
    bt_error err = {0};
    snprintf(text, sizeof text, "%s=%.9g %s", name, value, unit);
    must(bt_car_set(car, text, &err), &err);
}

/* The sheet that belongs to the plant's car. */
static bt_car *sheet(const plant_car *c)
{
    bt_error err = {0};
    bt_car *car;
    must(bt_car_new(&car, &err), &err);
    set(car, "rolling_radius_front", c->radius[0], "m");
    set(car, "rolling_radius_rear", c->radius[1], "m");
    set(car, "piston_area_front", c->piston_area[0], "m2");
    set(car, "piston_area_rear", c->piston_area[1], "m2");
    set(car, "pad_friction_front", c->pad_mu[0], "1");
    set(car, "pad_friction_rear", c->pad_mu[1], "1");
    set(car, "effective_radius_front", c->effective_radius[0], "m");
    set(car, "effective_radius_rear", c->effective_radius[1], "m");
    set(car, "threshold_front", c->threshold_bar[0], "bar");
    set(car, "threshold_rear", c->threshold_bar[1], "bar");
    set(car, "bypass_ratio", c->bypass_ratio, "1");
    car->u[BT_CAR_BYPASS_RATIO] = 0.01 * c->bypass_ratio; /* as the plant's sheet says */
    if (c->motor) set(car, "motor_ratio", c->motor_ratio, "1");
    if (c->motor) set(car, "motor_efficiency", c->motor_efficiency, "1");
    if (c->demand_kind != PLANT_DEMAND_GAIN) return car;
    set(car, "demand_gain", c->demand_gain, "N·m/bar");
    set(car, "demand_threshold", c->demand_threshold_bar, "bar");
    return car;
}

static through *drive(const plant_config *cfg, bool requests)
{
    static through h; /* large */
    bt_error err = {0};
    free(h.events.event);
    plant_oracle_free(h.oracle);
    memset(&h, 0, sizeof h);
    bt_car *car = sheet(&cfg->car);
    h.car = car;
    h.cfg = cfg;
    h.oracle = plant_oracle_new(cfg);
    for (int c = 0; c < BT_CH_COUNT; c++)
        h.channels.ch[c] = (bt_binding){.column = -1, .factor = 1, .tolerance = NAN};
    for (int c = 0; c < SERVED; c++) {
        const bool request =
            served[c].to == BT_CH_LINE_REQUEST || served[c].to == BT_CH_MOTOR_REQUEST;
        const bool motor =
            served[c].to == BT_CH_MOTOR_TORQUE || served[c].to == BT_CH_MOTOR_REQUEST;
        if ((request && !requests) || (motor && !cfg->car.motor)) continue;
        h.channels.ch[served[c].to].column = c;
        if (served[c].factor == BAR)
            h.channels.ch[served[c].to].tolerance = cfg->pressure_sigma * BAR;
    }
    const bt_segment_sink sink = {&h, free_run, braking, stretch_end};
    must(bt_fallback_new(&h.fallback, &h.channels, car, &err), &err);
    must(bt_detectors_new(&h.detectors, &h.channels, car, &err), &err);
    must(bt_segment_new(&h.segment, &h.channels, car, 0, &sink, &err), &err);
    must(bt_smooth_new(&h.smooth, car->value[BT_CAR_SMOOTH_WINDOW], h.segment, &err), &err);
    must(bt_speed_new(&h.speed, &h.channels, car, h.smooth, &err), &err);
    bt_row_blank(BT_TABLE_RUNS, &h.run);
    const plant_sink rows = {.ctx = &h, .row = take_row, .zone = take_zone, .event = take_event};
    if (plant_run(cfg, &rows) != 0) exit(EXIT_FAILURE);
    hand_on(&h);
    must(h.speed->end(h.speed, &err), &err);
    must(bt_fallback_end(h.fallback, &h.run, &h.events, &err), &err);
    must(bt_detectors_end(h.detectors, &h.events, &err), &err);
    bt_detectors_free(h.detectors);
    bt_speed_free(h.speed);
    bt_smooth_free(h.smooth);
    bt_segment_free(h.segment);
    bt_fallback_free(h.fallback);
    bt_torques_clear(&h.torques);
    bt_car_free(car);
    return &h;
}

/* A car and its logger with all disturbances on. */
static void disturb(plant_config *cfg, uint64_t *seed)
{
    static const double rates[] = {100, 100, 100, 200, 200, 500, 1000};
    plant_defaults(cfg);
    cfg->seed = next(seed);
    cfg->rate = rates[below(seed, 7)];
    cfg->uneven = below(seed, 4) == 0 && cfg->rate <= 200;
    disturb_car(cfg, seed);
}

/* s of true braking up to t. */
static double braking_time(const through *h, double t)
{
    double sum = 0;
    for (size_t i = 0; i < h->true_zones; i++) {
        const plant_zone *z = &h->zone[i];
        if (t > z->start) sum += fmin(t, z->end) - z->start;
    }
    return sum;
}

static bool is_fallback(const char *kind)
{
    return strcmp(kind, "fallback") == 0 || strcmp(kind, "silent-fallback") == 0;
}

/* Did a true fallback last for one whole zone with enough pedal? */
static bool lasted(const through *h, const plant_event *e)
{
    for (size_t i = 0; i < h->true_zones; i++) {
        const plant_zone *z = &h->zone[i];
        if (z->start >= e->start && z->end <= e->end && z->pedal_peak_bar > PEDAL_LEAST)
            return true;
    }
    return false;
}

typedef struct {
    size_t runs, zones, undetermined, due, found, short_ones, short_found, late, silent,
        silent_told, wrongly_silent, false_ones;
    double square, worst_end;
    double ours[FALLBACK_RUNS], oracle[FALLBACK_RUNS]; /* s, sizes of the onsets' errors */
} score;

/* Our event of a true one: the first that overlaps it. */
static const bt_event *match(const through *h, const plant_event *e)
{
    for (size_t i = 0; i < h->events.n; i++) {
        const bt_event *o = &h->events.event[i];
        if (is_fallback(o->kind) && o->start < e->end && o->start + o->duration > e->start - 1)
            return o;
    }
    return NULL;
}

/* The onset to who knows all else, from the zone before to the second one after. */
static double best_moment(const through *h, const plant_event *e)
{
    double from = 0, to = e->end;
    size_t behind = 0;
    for (size_t i = 0; i < h->true_zones; i++) {
        if (i > 0 && h->zone[i].start < e->start) from = h->zone[i - 1].start;
        if (h->zone[i].end > e->start && ++behind == 2) to = fmin(to, h->zone[i].end);
    }
    const bool motor_stays = h->cfg->fault[0].value > 0;
    return plant_oracle_find(h->oracle, from, to, !motor_stays).best;
}

static void judge(const through *h, score *s)
{
    size_t matched = 0, ours = 0;
    for (size_t i = 0; i < h->events.n; i++) ours += is_fallback(h->events.event[i].kind);
    for (size_t i = 0; i < h->true_events; i++) {
        const plant_event *e = &h->event[i];
        if (!is_fallback(e->kind)) continue;
        const bt_event *o = match(h, e);
        matched += o != NULL;
        const bool due = lasted(h, e);
        if (!due) s->short_ones++, s->short_found += o != NULL;
        if (!due) continue;
        s->due++;
        s->silent += !e->flagged;
        if (!o) {
            printf("  missed: %.2f to %.2f s\n", e->start, e->end);
            continue;
        }
        const bool told_silent = strcmp(o->kind, "silent-fallback") == 0;
        s->silent_told += !e->flagged && told_silent;
        s->wrongly_silent += e->flagged && told_silent;
        const double at = braking_time(h, e->start), off = braking_time(h, o->start) - at;
        const double oracle = braking_time(h, best_moment(h, e)) - at;
        s->ours[s->found] = fabs(off);
        s->oracle[s->found++] = fabs(oracle);
        s->square += off * off;
        const double end = braking_time(h, o->start + o->duration) - braking_time(h, e->end);
        s->worst_end = fmax(s->worst_end, fabs(end));
        if (fabs(off) > ONSET_BOUND) {
            s->late++;
            printf("  onset %+.3f s, the oracle's %+.3f s: true %.3f, %s\n", off, oracle, e->start,
                   o->reason);
        }
    }
    if (ours > matched) {
        s->false_ones += ours - matched;
        for (size_t i = 0; i < h->events.n; i++)
            printf("  %s %.2f + %.2f: %s\n", h->events.event[i].kind, h->events.event[i].start,
                   h->events.event[i].duration, h->events.event[i].reason);
        for (size_t i = 0; i < h->true_events; i++)
            printf("    true %s %.2f to %.2f\n", h->event[i].kind, h->event[i].start,
                   h->event[i].end);
    }
    s->runs++;
    s->zones += h->zones;
    s->undetermined += h->undetermined;
}

static void fallback_run(uint64_t *seed, score *s)
{
    plant_config cfg;
    disturb(&cfg, seed);
    cfg.laps = 3;
    plant_fault *f = plant_add_fault(&cfg, PLANT_FAULT_FALLBACK);
    f->start = between(seed, 0, 160);
    f->value = below(seed, 3) == 0;
    if (below(seed, 2)) f->duration = between(seed, 5, 120);
    f->flagged = below(seed, 2);
    f->flag_delay = between(seed, 0, 1);
    if (below(seed, 2)) { /* on the pedal, where it matters most */
        f->lap = 1 + below(seed, 2);
        f->corner = 1 + below(seed, 9);
        f->delay = between(seed, 0, 2.5);
    }
    const bool requests = below(seed, 2);
    judge(drive(&cfg, requests), s);
}

/* What must not be taken for a fallback. */
static void benign(plant_config *cfg, uint64_t *seed, int which)
{
    plant_fault *f = NULL;
    switch (which) {
    case 1: /* known to be off: hydraulics only */
        f = plant_add_fault(cfg, PLANT_FAULT_MOTOR_OFF);
        break;
    case 2:
        f = plant_add_fault(cfg, PLANT_FAULT_MOTOR_LOSS);
        break;
    case 3:
        f = plant_add_fault(cfg, PLANT_FAULT_ABS);
        f->value = between(seed, 0.1, 0.5);
        f->value2 = between(seed, 3, 12);
        break;
    case 4:
        f = plant_add_fault(cfg, PLANT_FAULT_SENSOR_STUCK);
        f->channel = PLANT_LINE_REAR;
        break;
    case 5:
        f = plant_add_fault(cfg, PLANT_FAULT_ACTUATOR_STALL);
        break;
    case 6:
        f = plant_add_fault(cfg, PLANT_FAULT_ACTUATOR_SLOW);
        f->value = between(seed, 0, 0.08);
        f->value2 = between(seed, 0, 0.08);
        f->ramp = 200;
        break;
    case 7:
        for (int lap = 1; lap <= 8; lap++) {
            f = plant_add_fault(cfg, PLANT_FAULT_PEDAL_LIFT);
            f->lap = lap;
            f->corner = 1 + below(seed, 9);
            f->delay = between(seed, 0.2, 2);
            f->duration = between(seed, 0.1, 0.6);
            f->value = between(seed, 0, 0.5);
        }
        return;
    case 8:
        cfg->car.motor = false;
        return;
    case 9:
        cfg->car.demand_kind = PLANT_DEMAND_HYDRAULIC;
        return;
    case 10:
        plant_stops_programme(cfg);
        return;
    case 11:
        f = plant_add_fault(cfg, PLANT_FAULT_SENSOR_STUCK);
        f->channel = PLANT_PEDAL_REAR;
        break;
    case 12:
        f = plant_add_fault(cfg, PLANT_FAULT_DRAG);
        f->wheel = 2;
        f->value = between(seed, 1, 8);
        break;
    case 13:
        f = plant_add_fault(cfg, PLANT_FAULT_FALSE_FLAG);
        break;
    default:
        return;
    }
    f->start = between(seed, 20, 400);
    f->duration = between(seed, 5, 200);
}
enum { BENIGN = 14 };
static const char *const benign_names[BENIGN] = {
    "healthy",         "hydraulics only",  "motor loss",   "pressure modulated", "line_rear stuck",
    "actuator stalls", "actuator slows",   "pedal lifted", "no motor",           "hydraulic demand",
    "stops",           "pedal_rear stuck", "drag",         "false flag"};

static void print(const char *what, const score *s)
{
    printf("%-20s %5zu %6zu %5zu %6zu %6zu %5zu  %6.3f %5zu  %6.3f %6zu %6zu\n", what, s->runs,
           s->zones, s->undetermined, s->false_ones, s->due, s->due - s->found,
           s->found ? sqrt(s->square / (double)s->found) : 0, s->late, s->worst_end, s->silent,
           s->silent_told);
}

static int ascending(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static void print_errors(const char *whose, double *errors, size_t n)
{
    if (n == 0) return;
    qsort(errors, n, sizeof *errors, ascending);
    printf("onset error, %-6s half below %.3f s, 90 %% %.3f s, 99 %% %.3f s, all %.3f s\n", whose,
           errors[n / 2], errors[n * 9 / 10], errors[n * 99 / 100], errors[n - 1]);
}

int main(int argc, char **argv)
{
    const double part = argc > 1 ? strtod(argv[1], NULL) : 1; /* of the runs, for a quick look */
    uint64_t seed = argc > 2 ? strtoull(argv[2], NULL, 10) : 1;
    bool good = true;
    puts("                      runs  zones undet  false    due missed  onset beyond  end    "
         "silent told\n"
         "                                       fallbacks                rms  0.1 s worst");
    static score sum;
    for (int i = 0; i < FALLBACK_RUNS * part; i++) fallback_run(&seed, &sum);
    print("fallbacks", &sum);
    print_errors("ours", sum.ours, sum.found);
    print_errors("oracle", sum.oracle, sum.found);
    printf("shorter than a zone: %zu, of them found %zu\n", sum.short_ones, sum.short_found);
    good = sum.found == sum.due && sum.late == 0 && sum.silent_told == sum.silent &&
           sum.wrongly_silent == 0 && sum.false_ones == 0;
    for (int b = 0; b < BENIGN; b++) {
        score s = {0};
        const double zones = part * HEALTHY_ZONES / (b == 0 ? 1 : 18);
        while ((double)s.zones < zones) {
            plant_config cfg;
            disturb(&cfg, &seed);
            cfg.laps = 8;
            benign(&cfg, &seed, b);
            judge(drive(&cfg, below(&seed, 2)), &s);
        }
        print(benign_names[b], &s);
        good = good && s.false_ones == 0;
    }
    puts(good ? "within bounds" : "BEYOND BOUNDS");
    return good ? EXIT_SUCCESS : EXIT_FAILURE;
}
