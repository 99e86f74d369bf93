/* The main job against the plant's truth: every zone of many simulated runs, sensor noise, offset and
 * quantisation on, at 100 Hz, 500 Hz and on an uneven grid, and stops to standstill.  Prints bias,
 * spread and the worst case of every figure beside its bound; fails if a bound is passed. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "braketally.h"
#include "tests/plant/plant.h"

enum { SEEDS = 24, LAPS = 3, ZONES_MAX = 256 };

/* A figure's errors over all zones: in units of the bound for the verdict, and as they are. */
typedef struct {
    const char *name, *unit;
    double n, sum, square, worst; /* of the error */
    double over;                  /* zones beyond the bound */
    double worst_ratio;           /* of error to bound */
} figure;

enum {
    START,
    END,
    ENTRY,
    EXIT,
    DECEL,
    DECEL_DIST,
    MFDD,
    BALANCE,
    BALANCE_HYD,
    SHARE,
    ENERGY_FRONT,
    ENERGY_REAR,
    ENERGY_MOTOR,
    BLEND_MEAN,
    BLEND_RMS,
    FIGURES
};
static figure figures[FIGURES] = {
    {.name = "start", .unit = "s"},
    {.name = "end", .unit = "s"},
    {.name = "entry speed", .unit = "%"},
    {.name = "exit speed", .unit = "%"},
    {.name = "decel mean", .unit = "%"},
    {.name = "decel by distance", .unit = "%"},
    {.name = "mfdd", .unit = "%"},
    {.name = "balance", .unit = "pp"},
    {.name = "hydraulic balance", .unit = "pp"},
    {.name = "motor share", .unit = "pp"},
    {.name = "energy front", .unit = "%"},
    {.name = "energy rear", .unit = "%"},
    {.name = "energy motor", .unit = "%"},
    {.name = "blend mean", .unit = "N*m"},
    {.name = "blend rms", .unit = "N*m"},
};
static double missed, invented, zones_seen;

static void note(int which, double error, double bound)
{
    figure *f = &figures[which];
    if (isnan(error)) error = INFINITY; /* a figure that should be there and is not */
    f->n += 1;
    f->sum += error;
    f->square += error * error;
    if (!(fabs(error) <= fabs(f->worst))) f->worst = error;
    if (!(fabs(error) <= bound)) f->over += 1;
    if (!(fabs(error) / bound <= f->worst_ratio)) f->worst_ratio = fabs(error) / bound;
}

static double percent(double got, double want)
{
    return 100 * (got - want) / want;
}

typedef struct {
    plant_zone zone[ZONES_MAX];
    int n;
} truth;

static void keep_zone(void *ctx, const plant_zone *zone)
{
    truth *t = ctx;
    if (t->n < ZONES_MAX) t->zone[t->n++] = *zone;
}

static void compare(const bt_zone *got, const plant_zone *want)
{
    note(START, got->start - want->start, 0.030);
    note(END, got->start + got->duration - want->end, 0.030);
    note(ENTRY, percent(got->entry, want->entry), 0.5);
    /* Half a percent of nothing is nothing: a stop's exit speed is held to the entry's instead. */
    note(EXIT,
         want->exit > 1 ? percent(got->exit, want->exit)
                        : 100 * (got->exit - want->exit) / want->entry,
         0.5);
    note(DECEL, percent(got->decel_mean, want->decel_mean), 1);
    note(DECEL_DIST, percent(got->decel_dist, want->decel_dist), 1);
    if (!isnan(want->mfdd)) note(MFDD, percent(got->mfdd, want->mfdd), 1.5);
    note(BALANCE, 100 * got->balance - want->balance_pct, 0.7);
    note(BALANCE_HYD, 100 * got->balance_hyd - want->balance_hyd_pct, 1);
    note(SHARE, 100 * got->motor_share - want->motor_share_pct, 1);
    note(ENERGY_FRONT, percent(got->energy_front, want->energy_front), 2);
    note(ENERGY_REAR, percent(got->energy_rear, want->energy_rear), 2);
    note(ENERGY_MOTOR, percent(got->energy_motor, want->energy_motor), 2);
    note(BLEND_MEAN, got->blend_mean - want->blend_mean_nm, 10 + 0.03 * fabs(want->blend_mean_nm));
    note(BLEND_RMS, got->blend_rms - want->blend_rms_nm, fmax(15, 0.10 * want->blend_rms_nm));
}

/* Each true zone goes with the found one that covers most of it. */
static void match(const bt_result *result, const truth *t)
{
    bool used[ZONES_MAX] = {false};
    for (int i = 0; i < t->n; i++) {
        const plant_zone *want = &t->zone[i];
        size_t best = SIZE_MAX;
        double most = 0;
        for (size_t k = 0; k < result->n_zones && k < ZONES_MAX; k++) {
            const bt_zone *z = &result->zones[k];
            const double overlap =
                fmin(z->start + z->duration, want->end) - fmax(z->start, want->start);
            if (used[k] || !(overlap > most)) continue;
            most = overlap;
            best = k;
        }
        zones_seen += 1;
        if (best == SIZE_MAX) {
            missed += 1;
            continue;
        }
        used[best] = true;
        compare(&result->zones[best], want);
    }
    for (size_t k = 0; k < result->n_zones && k < ZONES_MAX; k++) invented += used[k] ? 0 : 1;
}

static void die(const char *what)
{
    fprintf(stderr, "accuracy: %s\n", what);
    exit(2);
}

static void one_run(const plant_config *cfg, const char *folder)
{
    char log[256], sheet[256];
    snprintf(log, sizeof log, "%s/log.csv", folder);
    snprintf(sheet, sizeof sheet, "%s/car.csv", folder);
    plant_log_options opt;
    plant_log_defaults(&opt, cfg);
    truth t = {.n = 0};
    const plant_sink sink = {.ctx = &t, .zone = keep_zone};
    if (plant_write_log(cfg, log, &opt) || plant_write_car_sheet(cfg, sheet) ||
        plant_run(cfg, &sink))
        die("the plant failed");
    bt_car *car;
    bt_error err = {0};
    if (bt_car_new(&car, &err) || bt_car_read(car, sheet, &err)) die(err.message);
    const bt_setup setup = {.car = car};
    bt_result result;
    if (bt_analyse(log, &setup, &result, &err)) die(err.message);
    match(&result, &t);
    bt_result_clear(&result);
    bt_car_free(car);
    remove(log);
    remove(sheet);
}

static void runs(const char *title, double rate, bool uneven, bool stops, const char *folder)
{
    const double missed_before = missed, zones_before = zones_seen, invented_before = invented;
    for (uint64_t seed = 1; seed <= SEEDS; seed++) {
        plant_config cfg;
        plant_defaults(&cfg);
        if (stops) plant_stops_programme(&cfg);
        cfg.seed = seed;
        cfg.rate = rate;
        cfg.uneven = uneven;
        cfg.laps = LAPS;
        /* The bounds hold for a car that is as its sheet says (the truth of one that is not is
         * beyond any log); its controller and its sensors are as bad as ever. */
        cfg.deviation = (plant_deviation){.mass = 1,
                                          .radius = {1, 1},
                                          .pad_mu = {1, 1},
                                          .cooling = {1, 1},
                                          .road = 1,
                                          .pad_fade_from = 1e9};
        one_run(&cfg, folder);
    }
    printf("%-22s %2d runs, %5.0f zones, %g missed, %g invented\n", title, SEEDS,
           zones_seen - zones_before, missed - missed_before, invented - invented_before);
}

int main(void)
{
    char folder[] = "/tmp/braketally-accuracy-XXXXXX";
    if (!mkdtemp(folder)) die("no scratch folder");
    runs("laps, 100 Hz", 100, false, false, folder);
    runs("laps, 500 Hz", 500, false, false, folder);
    runs("laps, uneven 100 Hz", 100, true, false, folder);
    runs("stops, 100 Hz", 100, false, true, folder);
    rmdir(folder);
    printf("%-20s %5s %9s %9s %9s %7s %9s\n", "figure", "unit", "bias", "spread", "worst", "zones",
           "beyond");
    bool failed = missed > 0 || invented > 0;
    for (int i = 0; i < FIGURES; i++) {
        const figure *f = &figures[i];
        const double bias = f->sum / f->n;
        printf("%-20s %5s %9.4f %9.4f %9.4f %7.0f %9.0f\n", f->name, f->unit, bias,
               sqrt(fmax(0, f->square / f->n - bias * bias)), f->worst, f->n, f->over);
        failed |= f->over > 0 || !(f->n > 0);
    }
    puts(failed ? "zones: a bound was passed" : "zones: all within their bounds");
    return failed ? 1 : 0;
}
