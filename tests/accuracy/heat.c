/* Discs and energy books against the plant: several cars over 20 laps, with measured temperatures and
 * without, on an uneven grid and with a hole in time.  Peak temperatures must come within 5 % of the
 * rise, and what the books leave over within 2 % of the kinetic energy.  Prints the worst cases. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "braketally.h"
#include "tests/plant/plant.h"

enum { CARS = 6, LAPS = 20, ZONES_MAX = 512 };

typedef struct {
    plant_zone zone[ZONES_MAX];
    int n;
} truth;

static void keep_zone(void *ctx, const plant_zone *zone)
{
    truth *t = ctx;
    if (t->n < ZONES_MAX) t->zone[t->n++] = *zone;
}

static void die(const char *what)
{
    fprintf(stderr, "accuracy: %s\n", what);
    exit(2);
}

/* Worst |error| of something, in percent. */
typedef struct {
    const char *name;
    double bound, worst, sum, n;
} figure;
enum { FRONT, REAR, ZONE_REST, RUN_REST, COUNT, RECOVERED, FIGURES };
static figure figures[FIGURES] = {
    {.name = "front disc peak, of rise", .bound = 5},
    {.name = "rear disc peak, of rise", .bound = 5},
    {.name = "zone's rest, of kinetic", .bound = 2},
    {.name = "run's rest, of kinetic", .bound = 2},
    {.name = "zones found", .bound = 0},
    {.name = "recovered energy", .bound = 5},
};

static void note(int which, double percent)
{
    figure *f = &figures[which];
    if (isnan(percent)) percent = INFINITY;
    if (!(fabs(percent) <= fabs(f->worst))) f->worst = percent;
    f->sum += percent;
    f->n += 1;
}

static void compare(const bt_result *r, const truth *t, double start)
{
    note(COUNT, (double)r->n_zones - t->n);
    double recovered = 0;
    for (size_t i = 0; i < r->n_zones && (int)i < t->n; i++) {
        const bt_zone *z = &r->zones[i];
        const plant_zone *w = &t->zone[i];
        note(FRONT, 100 * (z->disc_front - 273.15 - w->disc_front) / (w->disc_front - start));
        note(REAR, 100 * (z->disc_rear - 273.15 - w->disc_rear) / (w->disc_rear - start));
        note(ZONE_REST, 100 * z->rest / z->kinetic);
        recovered += w->recovered;
    }
    note(RUN_REST, 100 * r->run.rest / r->run.kinetic);
    note(RECOVERED, 100 * (r->run.recovered - recovered) / recovered);
}

/* Six cars: masses, discs, cooling and balance apart. */
static void prepare(plant_config *cfg, int car)
{
    static const double mass[CARS] = {1240, 980, 1500, 1240, 1350, 1100};
    static const double disc[CARS] = {1, 0.7, 1.3, 0.9, 1.1, 0.8};
    static const double cool[CARS] = {1, 1.4, 0.7, 0.8, 1.2, 1};
    static const double bias[CARS] = {0.52, 0.56, 0.5, 0.6, 0.48, 0.54};
    plant_defaults(cfg);
    cfg->seed = (uint64_t)(car + 1);
    cfg->laps = LAPS;
    cfg->car.mass = mass[car];
    for (int a = 0; a < 2; a++) {
        cfg->car.disc_mass[a] *= disc[car];
        cfg->car.cool_still[a] *= cool[car];
        cfg->car.cool_speed[a] *= cool[car];
    }
    cfg->driver.bias = bias[car];
    cfg->uneven = car == 2;
    cfg->disc_start = car == 1 ? cfg->car.ambient : 60;
}

/* A hole of 5.5 s in the log, in the middle of the longest way between brakings. */
static void add_hole(plant_config *cfg, const truth *t)
{
    int at = 1;
    for (int i = 2; i < t->n; i++)
        if (t->zone[i].start - t->zone[i - 1].end > t->zone[at].start - t->zone[at - 1].end) at = i;
    if (t->zone[at].start - t->zone[at - 1].end < 7) die("no room for a hole");
    plant_fault *hole = plant_add_fault(cfg, PLANT_FAULT_TIME_HOLE);
    hole->start = 0.5 * (t->zone[at].start + t->zone[at - 1].end) - 2.75;
    hole->duration = 5.5;
}

static void one_car(int car, const char *folder)
{
    plant_config cfg;
    prepare(&cfg, car);
    char log[256], sheet[256];
    snprintf(log, sizeof log, "%s/log.csv", folder);
    snprintf(sheet, sizeof sheet, "%s/car.csv", folder);
    plant_log_options opt;
    plant_log_defaults(&opt, &cfg);
    if (car == 1) /* no temperatures logged: the start is the air's */
        plant_log_choose(&opt, "time speed wheel_fl wheel_fr wheel_rl wheel_rr pedal_front "
                               "pedal_rear line_front line_rear motor_torque battery_voltage "
                               "battery_current lap");
    truth t = {.n = 0};
    const plant_sink sink = {.ctx = &t, .zone = keep_zone};
    if (plant_run(&cfg, &sink)) die("the plant failed");
    if (car == 3) add_hole(&cfg, &t);
    if (plant_write_log(&cfg, log, &opt) || plant_write_car_sheet(&cfg, sheet))
        die("the plant failed");
    bt_car *c;
    bt_error err = {0};
    if (bt_car_new(&c, &err) || bt_car_read(c, sheet, &err)) die(err.message);
    const bt_setup setup = {.car = c};
    bt_result result;
    if (bt_analyse(log, &setup, &result, &err)) die(err.message);
    printf(
        "car %d: %zu zones, front %.0f degC, rear %.0f degC, kinetic %.1f MJ = front %.1f + rear "
        "%.1f + motor %.1f + tyres %.1f + road %.1f + rest %.3f\n",
        car + 1, result.n_zones, result.run.disc_front - 273.15, result.run.disc_rear - 273.15,
        result.run.kinetic / 1e6, result.run.energy_front / 1e6, result.run.energy_rear / 1e6,
        result.run.energy_motor / 1e6, result.run.tyre / 1e6, result.run.road / 1e6,
        result.run.rest / 1e6);
    if (car == 3 && result.run.gaps != 1) die("the hole was not seen");
    compare(&result, &t, cfg.disc_start);
    bt_result_clear(&result);
    bt_car_free(c);
    remove(log);
    remove(sheet);
}

int main(void)
{
    char folder[] = "/tmp/braketally-accuracy-XXXXXX";
    if (!mkdtemp(folder)) die("no scratch folder");
    for (int car = 0; car < CARS; car++) one_car(car, folder);
    rmdir(folder);
    bool failed = false;
    printf("%-26s %8s %8s %8s %6s\n", "percent", "mean", "worst", "bound", "n");
    for (int i = 0; i < FIGURES; i++) {
        const figure *f = &figures[i];
        printf("%-26s %8.3f %8.3f %8.1f %6.0f\n", f->name, f->sum / f->n, f->worst, f->bound, f->n);
        failed |= !(fabs(f->worst) <= f->bound) || !(f->n > 0);
    }
    puts(failed ? "heat: a bound was passed" : "heat: all within their bounds");
    return failed ? 1 : 0;
}
