/* Accuracy of the other events: does a healthy car raise none, and does each fault raise its own, how
 * late and how severe?  Runs come from the plant with all disturbances on and go through the library as
 * one's own samples do (bt_feed).  Fails when a healthy zone raises an event that is not true or a fault is missed.
 *
 *     detectors [PART [SEED [KIND]]]
 *
 * runs PART of the runs, for a quick look, and with KIND that fault alone, telling what else its runs raised.
 *
 * A healthy car may lock a wheel: what the plant knows of as well is no false alarm, nor is one as near to the limit as
 * a bend makes it.  Of an offset's bound: a zero is
 * a median of 50 samples at 100 Hz, so that 0.25 bar of noise leave 1.25 * 0.25 / sqrt(50) = 0.044 bar of it and 0.063 bar
 * of the difference of two; the 1 bar from which a moved zero is told is 16 of them, and the 1.4 bar of the least
 * fault here lie 6 above that.  Every one can be found. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "tests/accuracy/disturbed.h"

#define HEALTHY_ZONES 10000
#define FAULTY_RUNS   20
#define ROOM          500
#define TRUTHS        64
#define ZONES_MAX     400

/* One run. */
typedef struct {
    bt_feed *feed;
    bt_result result;
    size_t rows;
    double row[ROOM][PLANT_CHANNELS];
    plant_event event[TRUTHS];
    size_t events;
    plant_zone zone[ZONES_MAX];
    size_t zones;
} through;

static void hand_on(through *h)
{
    bt_error err = {0};
    must(bt_feed_push(h->feed, h->row[0], h->rows, &err), &err);
    h->rows = 0;
}

static void take_row(void *ctx, const plant_row *row)
{
    through *h = ctx;
    memcpy(h->row[h->rows], row->value, sizeof h->row[0]);
    if (++h->rows == ROOM) hand_on(h);
}

static void take_event(void *ctx, const plant_event *event)
{
    through *h = ctx;
    if (h->events < TRUTHS) h->event[h->events++] = *event;
}

static void take_zone(void *ctx, const plant_zone *zone)
{
    through *h = ctx;
    if (h->zones < ZONES_MAX) h->zone[h->zones++] = *zone;
}

static const through *drive(const plant_config *cfg)
{
    static through h; /* large */
    static char names[PLANT_CHANNELS][48];
    const char *columns[PLANT_CHANNELS];
    char sheet[] = "/tmp/braketally-detectors-XXXXXX";
    bt_error err = {0};
    bt_result_clear(&h.result);
    memset(&h, 0, sizeof h);
    for (int c = 0; c < PLANT_CHANNELS; c++) {
        const char *unit = plant_channel_unit((plant_channel)c);
        snprintf(names[c], sizeof names[c], *unit ? "%s [%s]" : "%s",
                 plant_channel_name((plant_channel)c), unit);
        columns[c] = names[c];
    }
    const int fd = mkstemp(sheet);
    if (fd < 0 || close(fd) != 0 || plant_write_car_sheet(cfg, sheet) != 0) exit(EXIT_FAILURE);
    bt_car *car;
    must(bt_car_new(&car, &err), &err);
    must(bt_car_read(car, sheet, &err), &err);
    remove(sheet);
    const bt_setup setup = {.car = car};
    must(bt_feed_new(&h.feed, "run", columns, PLANT_CHANNELS, &setup, &err), &err);
    const plant_sink sink = {.ctx = &h, .row = take_row, .event = take_event, .zone = take_zone};
    if (plant_run(cfg, &sink) != 0) exit(EXIT_FAILURE);
    hand_on(&h);
    must(bt_feed_end(h.feed, &h.result, &err), &err);
    bt_feed_free(h.feed);
    bt_car_free(car);
    return &h;
}

/* A car and its logger with all disturbances on. */
static void disturb(plant_config *cfg, uint64_t *seed)
{
    plant_defaults(cfg);
    cfg->seed = next(seed);
    cfg->laps = 4;
    cfg->rate = below(seed, 8) == 0 ? 500 : 100;
    cfg->uneven = below(seed, 4) == 0;
    disturb_car(cfg, seed);
}

/* ---- faults ---- */

static const plant_channel pressures[] = {PLANT_PEDAL_FRONT, PLANT_PEDAL_REAR, PLANT_LINE_FRONT,
                                          PLANT_LINE_REAR};

static void wheel_locks(plant_config *cfg, uint64_t *seed, plant_fault *f)
{
    (void)cfg;
    f->kind = PLANT_FAULT_GRIP;
    f->wheel = below(seed, 4);
    f->value = between(seed, 0.2, 0.5);
}

static void sides_differ(plant_config *cfg, uint64_t *seed, plant_fault *f)
{
    (void)cfg;
    f->kind = PLANT_FAULT_LEFT_RIGHT;
    f->wheel = below(seed, 4);
    f->value = between(seed, 0.6, 0.8); /* apart by a fifth of the mean and more */
}

static void drags(plant_config *cfg, uint64_t *seed, plant_fault *f)
{
    (void)cfg;
    f->kind = PLANT_FAULT_DRAG;
    f->wheel = 2;
    f->value = between(seed, 4, 8);
}

static void motor_goes(plant_config *cfg, uint64_t *seed, plant_fault *f)
{
    (void)seed;
    f->kind = PLANT_FAULT_MOTOR_LOSS;
    cfg->battery.charge = 0.5; /* or nothing is asked of it */
}

static void stalls(plant_config *cfg, uint64_t *seed, plant_fault *f)
{
    (void)cfg;
    (void)seed;
    f->kind = PLANT_FAULT_ACTUATOR_STALL;
}

static void sticks(plant_config *cfg, uint64_t *seed, plant_fault *f)
{
    (void)cfg;
    f->kind = PLANT_FAULT_SENSOR_STUCK;
    f->channel = pressures[below(seed, 4)];
}

static void moves(plant_config *cfg, uint64_t *seed, plant_fault *f)
{
    (void)cfg;
    f->kind = PLANT_FAULT_SENSOR_OFFSET;
    f->channel = pressures[below(seed, 4)];
    f->value = between(seed, 1.4, 4) * (below(seed, 2) ? 1 : -1);
}

static void breaks(plant_config *cfg, uint64_t *seed, plant_fault *f)
{
    (void)cfg;
    f->kind = PLANT_FAULT_SENSOR_OFFSET; /* a wire that reads far below nought, braking or not */
    f->channel = pressures[below(seed, 4)];
    f->value = -300;
}

static void is_missing(plant_config *cfg, uint64_t *seed, plant_fault *f)
{
    (void)cfg;
    f->kind = PLANT_FAULT_SENSOR_GAP;
    f->channel = pressures[below(seed, 4)];
}

static void overheats(plant_config *cfg, uint64_t *seed, plant_fault *f)
{
    f->kind = PLANT_FAULT_BIAS; /* nothing by itself; the limit is what is passed */
    cfg->car.disc_limit[0] = between(seed, 300, 400);
}

static const struct {
    const char *kind, *truth; /* our word, and the plant's */
    void (*make)(plant_config *cfg, uint64_t *seed, plant_fault *f);
    bt_severity severity;
} faults[] = {
    {"wheel-lock", "wheel-lock", wheel_locks, BT_WATCH},
    {"left-right", "left-right", sides_differ, BT_WATCH},
    {"drag", "drag", drags, BT_WATCH},
    {"motor-loss", "motor-loss", motor_goes, BT_WATCH},
    {"actuator-stall", "actuator-stall", stalls, BT_WATCH},
    {"sensor-stuck", "sensor-stuck", sticks, BT_STOP},
    {"sensor-offset", "sensor-offset", moves, BT_WATCH}, /* stop beyond 2 bar */
    {"sensor-range", "sensor-offset", breaks, BT_STOP},
    {"sensor-gap", "sensor-gap", is_missing, BT_STOP},
    {"disc-limit", "", overheats, BT_STOP},
};
enum { FAULTS = sizeof faults / sizeof *faults };

/* s of true braking up to t. */
static double braking_time(const through *h, double t)
{
    double sum = 0;
    for (size_t i = 0; i < h->zones; i++)
        if (t > h->zone[i].start) sum += fmin(t, h->zone[i].end) - h->zone[i].start;
    return sum;
}

/* The true fault of that kind: where it begins; a disc's is the zone in which the limit is passed. */
static bool truth_of(const through *h, const plant_config *cfg, int k, double *start, double *end)
{
    *end = INFINITY;
    for (size_t i = 0; faults[k].truth[0] && i < h->events; i++) {
        if (strcmp(h->event[i].kind, faults[k].truth) != 0) continue;
        *start = h->event[i].start;
        *end = h->event[i].end;
        return true;
    }
    for (size_t i = 0; !faults[k].truth[0] && i < h->zones; i++) {
        *start = h->zone[i].start;
        if (h->zone[i].disc_front > cfg->car.disc_limit[0]) return true;
    }
    return false;
}

static const bt_event *ours(const through *h, const char *kind, double start, double end)
{
    for (size_t i = 0; i < h->result.n_events; i++) {
        const bt_event *e = &h->result.events[i];
        if (strcmp(e->kind, kind) == 0 && e->start + e->duration > start - 1 && e->start < end + 15)
            return e;
    }
    return NULL;
}

typedef struct {
    size_t runs, due, found, milder, others, fallbacks;
    double late, worst; /* s of braking: sum, largest size */
} score;

static void judge(const through *h, const plant_config *cfg, int k, score *s)
{
    double start, end;
    s->runs++;
    for (size_t i = 0; i < h->result.n_events; i++)
        s->others += strcmp(h->result.events[i].kind, faults[k].kind) != 0;
    if (h->result.run.fallbacks > 0) printf("  false fallback with %s\n", faults[k].kind);
    s->fallbacks += (size_t)h->result.run.fallbacks;
    if (!truth_of(h, cfg, k, &start, &end)) return;
    s->due++;
    const bt_event *e = ours(h, faults[k].kind, start, end);
    if (!e) {
        printf("  missed: %s %.2f to %.2f s, value %.3g, channel %s\n", faults[k].kind, start, end,
               cfg->fault[0].value, plant_channel_name((plant_channel)cfg->fault[0].channel));
        return;
    }
    s->found++;
    s->milder += e->severity < faults[k].severity;
    const double off = braking_time(h, e->start) - braking_time(h, start);
    s->late += off;
    s->worst = fmax(s->worst, fabs(off));
}

/* A wheel that turns inside of a bend is slower than the car by half the track times the lateral acceleration over v^2,
 * 1 % at 10 m/s2 and 27 m/s: by as much a slip is larger to its sensor than in truth. */
#define BEND 0.01

static bool is_true(const through *h, const plant_config *cfg, const bt_event *e)
{
    for (size_t i = 0; i < h->events; i++)
        if (strcmp(h->event[i].kind, e->kind) == 0 && fabs(h->event[i].start - e->start) < 0.1)
            return true;
    if (strcmp(e->kind, "wheel-lock") != 0) return false;
    for (size_t i = 0; i < h->zones; i++) {
        const plant_zone *z = &h->zone[i];
        if (e->start >= z->start && e->start <= z->end)
            return fmax(z->slip_front, z->slip_rear) > cfg->slip_limit - BEND;
    }
    return false;
}

static void print_events(const through *h, const plant_config *cfg, const char *what,
                         const char *but)
{
    for (size_t i = 0; i < h->result.n_events; i++) {
        const bt_event *e = &h->result.events[i];
        if (strcmp(e->kind, but) == 0) continue;
        printf("  %s: %s %.2f + %.2f%s: %s\n", what, e->kind, e->start, e->duration,
               is_true(h, cfg, e) ? " (true)" : "", e->reason);
    }
}

/* Healthy cars: how many events that are not true. */
static size_t leave_in_peace(double zones_wanted, uint64_t *seed)
{
    size_t zones = 0, raised = 0, wrong = 0;
    while ((double)zones < zones_wanted) {
        plant_config cfg;
        disturb(&cfg, seed);
        const through *h = drive(&cfg);
        zones += h->result.n_zones;
        raised += h->result.n_events;
        for (size_t i = 0; i < h->result.n_events; i++)
            wrong += !is_true(h, &cfg, &h->result.events[i]);
        print_events(h, &cfg, "healthy", "");
    }
    printf("healthy: %zu events of any kind in %zu zones, %zu of them not true\n", raised, zones,
           wrong);
    return wrong;
}

int main(int argc, char **argv)
{
    const double part = argc > 1 ? strtod(argv[1], NULL) : 1; /* of the runs, for a quick look */
    uint64_t seed = argc > 2 ? strtoull(argv[2], NULL, 10) : 1;
    const char *only = argc > 3 ? argv[3] : NULL;
    bool good = only || leave_in_peace(part * HEALTHY_ZONES, &seed) == 0;
    puts("                  runs   due found milder  others  start: mean, worst error, s of "
         "braking");
    for (int k = 0; k < FAULTS; k++) {
        score s = {0};
        if (only && strcmp(only, faults[k].kind) != 0) continue;
        while ((double)s.runs < part * FAULTY_RUNS) {
            plant_config cfg;
            disturb(&cfg, &seed);
            plant_fault *f = plant_add_fault(&cfg, PLANT_FAULT_BIAS);
            f->start = between(&seed, 60, 150); /* after a lap in which all was well */
            f->duration = between(&seed, 40, 100);
            faults[k].make(&cfg, &seed, f);
            const through *h = drive(&cfg);
            judge(h, &cfg, k, &s);
            if (only) print_events(h, &cfg, "beside", only);
        }
        printf("%-16s %5zu %5zu %5zu %6zu %7zu %8.3f %8.3f\n", faults[k].kind, s.runs, s.due,
               s.found, s.milder, s.others, s.found ? s.late / (double)s.found : 0, s.worst);
        good = good && s.found == s.due && s.milder == 0 && s.fallbacks == 0;
    }
    puts(good ? "within bounds" : "BEYOND BOUNDS");
    return good ? EXIT_SUCCESS : EXIT_FAILURE;
}
