/* Does balance_u say how far off the balance is?  The whole program on logs of cars whose pads differ from
 * the sheet by chance, as their tolerance there says: the true balance lies within 1.96 of it in 95 %
 * of the cars.  Ends in 1 if a coverage is out of 92 to 98 % (95 % and three standard errors of 400 cars), or if
 * the error in units of u spreads by less than 0.85 or more than 1.15. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/stats.h"
#include "samples/car.h"
#include "tests/plant/plant.h"

enum { CARS = 400, ZONES_MAX = 32 };
static const double pad_tolerance = 0.04; /* part of the value */

typedef struct {
    plant_zone zone[ZONES_MAX];
    size_t n;
} truth;

static double uniform(bt_random *r)
{
    return ((double)(bt_random_next(r) >> 11) + 0.5) / 9007199254740992.0; /* 2^53 */
}

static double normal(bt_random *r)
{
    return sqrt(-2 * log(uniform(r))) * cos(6.283185307179586 * uniform(r));
}

static void take_zone(void *ctx, const plant_zone *z)
{
    truth *t = ctx;
    if (t->n == ZONES_MAX) exit(2);
    t->zone[t->n++] = *z;
}

/* A sheet on which nothing but the pads is uncertain. */
static bt_car *read_sheet(const plant_config *cfg, const char *path)
{
    bt_car *car;
    bt_error err = {0};
    if (plant_write_car_sheet(cfg, path) != 0 || bt_car_new(&car, &err) != BT_OK ||
        bt_car_read(car, path, &err) != BT_OK)
        exit(2);
    remove(path);
    for (int q = 0; q < BT_CAR_COUNT; q++) car->u[q] = NAN;
    for (int axle = 0; axle < 2; axle++)
        car->u[BT_CAR_PAD_FRICTION_FRONT + axle] =
            pad_tolerance * car->value[BT_CAR_PAD_FRICTION_FRONT + axle];
    return car;
}

int main(void)
{
    static double z[CARS];
    static truth t;
    char folder[] = "/tmp/uncertain-XXXXXX", log_path[64], sheet_path[64];
    size_t covered = 0, n = 0;
    if (!mkdtemp(folder)) return 2;
    snprintf(log_path, sizeof log_path, "%s/run.csv", folder);
    snprintf(sheet_path, sizeof sheet_path, "%s/car.csv", folder);
    for (int k = 0; k < CARS; k++) {
        bt_random r = {(uint64_t)k + 1};
        plant_config cfg;
        plant_log_options opt;
        plant_defaults(&cfg);
        cfg.seed = (uint64_t)k + 1;
        cfg.laps = 1;
        cfg.rate = 50;
        bt_car *car = read_sheet(&cfg, sheet_path);
        for (int axle = 0; axle < 2; axle++)
            cfg.deviation.pad_mu[axle] *= 1 + pad_tolerance * normal(&r);
        plant_log_defaults(&opt, &cfg);
        t.n = 0;
        const plant_sink sink = {.ctx = &t, .zone = take_zone};
        if (plant_run(&cfg, &sink) != 0 || plant_write_log(&cfg, log_path, &opt) != 0) return 2;
        bt_result result;
        const bt_setup setup = {.car = car};
        bt_error err = {0};
        if (bt_analyse(log_path, &setup, &result, &err) != BT_OK) return 2;
        remove(log_path);
        /* One zone of each car: those of one car share their error. */
        const size_t i = (size_t)k % t.n;
        if (result.n_zones == t.n && result.zones[i].balance_u > 0) {
            z[n] =
                (result.zones[i].balance - t.zone[i].balance_pct / 100) / result.zones[i].balance_u;
            covered += fabs(z[n++]) <= 1.959964;
        }
        bt_result_clear(&result);
        bt_car_free(car);
    }
    rmdir(folder);
    const bt_moments m = bt_mean_sd(z, n);
    const double cover = (double)covered / (double)n;
    printf("%zu of %d cars: balance_u holds the true balance in %.1f%% at 1.96, error over u: mean "
           "%+.2f, spread %.2f\n",
           n, CARS, 100 * cover, m.mean, m.sd);
    return n == CARS && cover >= 0.92 && cover <= 0.98 && m.sd > 0.85 && m.sd < 1.15 ? EXIT_SUCCESS
                                                                                     : EXIT_FAILURE;
}
