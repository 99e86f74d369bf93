/* Does `fit` find the car?  200 cars that differ from their sheets, three short laps each at 50 Hz with
 * realistic sensors, the last lap on the bypass: every fitted parameter's 95 % interval must hold the
 * plant's value in 90 to 99 % of them.  The pure delay has no parameter of its own in the plant: its
 * truth is the least-squares delay of the true torques, zone by zone; its interval counts the zones'
 * real differences as chance and may hold it more often than 99 %.
 * Which zones were on the bypass is taken from the truth where the rows do not say.
 *
 *   accuracy/fit [CARS [FIRST_SEED]]    default 200 from 1 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "braketally.h"
#include "tests/plant/plant.h"
#include "tests/plant/random.h"

enum { SEEDS = 200, LAPS = 3, ZONES_MAX = 64, STEPS_MAX = 600000 };

static void die(const char *what)
{
    fprintf(stderr, "accuracy: %s\n", what);
    exit(2);
}

/* ---- truth ---- */

typedef struct {
    plant_zone zone[ZONES_MAX];
    int n;
    float *demand, *delivered; /* N*m at the physics step */
    long steps;
} truth;

static void keep_zone(void *ctx, const plant_zone *zone)
{
    truth *t = ctx;
    if (t->n < ZONES_MAX) t->zone[t->n++] = *zone;
}

static void keep_step(void *ctx, const plant_state *s)
{
    truth *t = ctx;
    if (t->steps >= STEPS_MAX) return;
    t->demand[t->steps] = (float)s->demand_nm;
    t->delivered[t->steps++] = (float)(s->rear_friction_nm + s->motor_nm);
}

/* Residual of delivered ~ g * demand so many steps earlier, over a zone. */
static double residual(const truth *t, long from, long to, long back)
{
    double dd = 0, db = 0, bb = 0;
    for (long i = from; i < to; i++) {
        const double d = i >= back ? t->demand[i - back] : 0, b = t->delivered[i];
        dd += d * d;
        db += d * b;
        bb += b * b;
    }
    return bb - db * db / dd;
}

static double true_delay(const truth *t, double rate)
{
    double sum = 0, n = 0;
    for (int i = 0; i < t->n; i++) {
        if (strcmp(t->zone[i].mode, "by-wire") != 0) continue;
        const long from = lround(t->zone[i].start * rate), to = lround(t->zone[i].end * rate);
        long best = 1;
        for (long back = 2; back < 120; back++)
            if (residual(t, from, to, back) < residual(t, from, to, best)) best = back;
        const double a = residual(t, from, to, best - 1), b = residual(t, from, to, best),
                     c = residual(t, from, to, best + 1);
        sum += ((double)best + 0.5 * (a - c) / (a - 2 * b + c)) / rate;
        n += 1;
    }
    return sum / n;
}

/* ---- the count ---- */

enum {
    GAIN,
    THRESHOLD,
    PAD_FRONT,
    PAD_REAR,
    RATIO,
    SHARE_FRONT,
    SHARE_REAR,
    COOL_FRONT,
    COOL_REAR,
    FRICTION_DELAY,
    DELAY,
    FIGURES
};
static struct {
    const char *name;
    double held, n, bias, width; /* sums of relative error and half width */
} figures[FIGURES] = {
    {.name = "demand_gain"},       {.name = "demand_threshold"}, {.name = "pad_friction_front"},
    {.name = "pad_friction_rear"}, {.name = "bypass_ratio"},     {.name = "disc_share_front"},
    {.name = "disc_share_rear"},   {.name = "cool_speed_front"}, {.name = "cool_speed_rear"},
    {.name = "# friction_delay"},  {.name = "# blend_delay"},
};

static void count(const bt_fitted *fitted, const double want[FIGURES])
{
    for (int k = 0; k < FIGURES; k++)
        for (size_t i = 0; i < fitted->n_rows; i++) {
            const bt_fit *row = &fitted->rows[i];
            if (strcmp(row->quantity, figures[k].name) != 0) continue;
            figures[k].n += 1;
            figures[k].held += row->low <= want[k] && want[k] <= row->high ? 1 : 0;
            figures[k].bias += (row->value - want[k]) / want[k];
            figures[k].width += 0.5 * (row->high - row->low) / want[k];
        }
}

/* ---- one car ---- */

static double within(plant_random *r, double low, double high)
{
    return low + (high - low) * plant_random_uniform(r);
}

static void prepare(plant_config *sheet, plant_config *real, uint64_t seed, plant_random *r,
                    double want[FIGURES])
{
    plant_defaults(sheet);
    sheet->seed = seed;
    sheet->laps = LAPS;
    sheet->rate = 50;
    sheet->disc_start = within(r, 20, 200);
    plant_fault *fallback = plant_add_fault(sheet, PLANT_FAULT_FALLBACK);
    fallback->lap = LAPS;
    fallback->flagged = true;
    *real = *sheet;
    plant_car *c = &real->car;
    want[GAIN] = c->demand_gain *= within(r, 0.9, 1.1);
    want[THRESHOLD] = c->demand_threshold_bar = within(r, 0.4, 1.6);
    want[RATIO] = c->bypass_ratio = within(r, 0.8, 1.1);
    for (int a = 0; a < 2; a++) {
        const double pads = real->deviation.pad_mu[a] = within(r, 0.92, 1.06);
        c->disc_share[a] = within(r, 0.82, 0.95);
        c->cool_speed[a] *= within(r, 0.75, 1.3);
        want[PAD_FRONT + a] = pads * c->pad_mu[a];
        want[SHARE_FRONT + a] = 100 * pads * c->disc_share[a]; /* with the sheet's pad friction */
        want[COOL_FRONT + a] = c->cool_speed[a];
    }
    real->control.dead_time = within(r, 0.01, 0.05);
    real->control.lag = within(r, 0.01, 0.04);
    /* decisions are held for a cycle: half of it on the mean */
    want[FRICTION_DELAY] = real->control.dead_time + real->control.lag + 0.5 * real->control.cycle;
}

static void one_car(uint64_t seed, truth *t, const char *folder)
{
    plant_random r;
    plant_random_init(&r, seed, 77);
    plant_config sheet, real;
    double want[FIGURES];
    prepare(&sheet, &real, seed, &r, want);
    char log[256], car_file[256];
    snprintf(log, sizeof log, "%s/log.csv", folder);
    snprintf(car_file, sizeof car_file, "%s/car.csv", folder);
    plant_log_options opt;
    plant_log_defaults(&opt, &real);
    plant_log_choose(&opt, "time speed wheel_fl wheel_fr wheel_rl wheel_rr pedal_front pedal_rear "
                           "line_front line_rear motor_torque bywire_state disc_fl disc_fr disc_rl "
                           "disc_rr lap lap_distance");
    t->n = 0;
    t->steps = 0;
    const plant_sink sink = {.ctx = t, .zone = keep_zone, .step = keep_step};
    if (plant_run(&real, &sink) || plant_write_log(&real, log, &opt) ||
        plant_write_car_sheet(&sheet, car_file))
        die("the plant failed");
    want[DELAY] = true_delay(t, real.fine_rate);
    bt_car *car;
    bt_error err = {0};
    if (bt_car_new(&car, &err) || bt_car_read(car, car_file, &err)) die(err.message);
    const bt_setup setup = {.car = car};
    bt_result result;
    if (bt_analyse(log, &setup, &result, &err)) die(err.message);
    if ((int)result.n_zones != t->n) die("not the zones that there were");
    for (int i = 0; i < t->n; i++)
        if (!*result.zones[i].mode)
            snprintf(result.zones[i].mode, sizeof result.zones[i].mode, "%s", t->zone[i].mode);
    bt_fitted fitted;
    if (bt_fit_zones(result.zones, result.n_zones, car, &fitted, &err)) die(err.message);
    count(&fitted, want);
    bt_fitted_clear(&fitted);
    bt_result_clear(&result);
    bt_car_free(car);
    remove(log);
    remove(car_file);
}

int main(int argc, char **argv)
{
    const uint64_t seeds = argc > 1 ? (uint64_t)atol(argv[1]) : SEEDS;
    const uint64_t first = argc > 2 ? (uint64_t)atol(argv[2]) : 1;
    char folder[] = "/tmp/braketally-accuracy-XXXXXX";
    if (!mkdtemp(folder)) die("no scratch folder");
    truth *t = calloc(1, sizeof *t);
    if (t) t->demand = malloc(2 * STEPS_MAX * sizeof *t->demand);
    if (!t || !t->demand) die("no memory");
    t->delivered = t->demand + STEPS_MAX;
    for (uint64_t i = 0; i < seeds; i++) one_car(first + i, t, folder);
    free(t->demand);
    free(t);
    rmdir(folder);
    bool failed = false;
    printf("%-20s %8s %8s %10s %12s\n", "fitted", "cars", "held %", "bias %", "half width %");
    for (int k = 0; k < FIGURES; k++) {
        const double held = 100 * figures[k].held / figures[k].n;
        printf("%-20s %8.0f %8.1f %10.3f %12.3f\n", figures[k].name, figures[k].n, held,
               100 * figures[k].bias / figures[k].n, 100 * figures[k].width / figures[k].n);
        failed |=
            !(held >= 90) || (k != DELAY && held > 99) || !(figures[k].n >= 0.95 * (double)seeds);
    }
    puts(failed ? "fit: a bound was passed" : "fit: all within their bounds");
    return failed ? 1 : 0;
}
