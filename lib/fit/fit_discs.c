/* Heat share and cooling of an axle's discs from measured temperatures: see fit.h (METHODS 9).  The disc
 * is driven through all brakings and ways of a run by its model; start temperature, share and cooling
 * are what brings it closest to what was measured (Gauss and Newton). */
#include "fit/fitter.h"
#include "fit/leastsq.h"
#include "plan/replay.h"
#include "base/stats.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define ROUNDS_MAX 30
#define CLOSE      1e-6 /* relative step that ends the rounds */
/* Of a value, standard uncertainty: a zone's row does not say when within the braking its heat came.  From
 * steady torque to one that fades from an early peak the rise differs by 0.8 %, evenly spread. */
#define SHAPE 0.0023

enum { START, SHARE, SPEED, PARAMETERS };

/* One run of one axle. */
typedef struct {
    const bt_replay *replay;
    bt_disc disc;
    double ambient;
    const double *energy;   /* J into both discs' brakes, a braking each */
    const double *measured; /* K at start and end of every braking; NaN = none */
    double *model;          /* the same computed */
} course;

static void drive(const course *c, const double value[PARAMETERS], double *model)
{
    bt_disc disc = c->disc;
    disc.share = value[SHARE];
    disc.by_speed = value[SPEED];
    double temp = value[START], peak = 0;
    for (size_t i = 0; i < c->replay->n; i++) {
        const bt_load *load = &c->replay->load[i];
        model[2 * i] = temp;
        temp = bt_load_brake(&disc, load, temp, 0.5 * c->energy[i], c->ambient, &peak);
        model[2 * i + 1] = temp;
        temp = bt_load_cool(&disc, load, temp, c->ambient);
    }
}

/* One round: derivatives by differences, a step to the least squares.  x: 3 per point, y: 1, moved: 1
 * per temperature. */
static bool improve(const course *c, double value[PARAMETERS], double *x, double *y, double *moved,
                    bt_leastsq *fit)
{
    static const double step[PARAMETERS] = {0.1, 1e-3, 1e-3};
    const size_t temps = 2 * c->replay->n;
    size_t n = 0;
    drive(c, value, c->model);
    for (size_t i = 0; i < temps; i++)
        if (!isnan(c->measured[i])) y[n++] = c->measured[i] - c->model[i];
    for (size_t k = 0; k < PARAMETERS; k++) {
        double other[PARAMETERS];
        memcpy(other, value, sizeof other);
        other[k] += step[k];
        drive(c, other, moved);
        size_t row = 0;
        for (size_t i = 0; i < temps; i++)
            if (!isnan(c->measured[i]))
                x[PARAMETERS * row++ + k] = (moved[i] - c->model[i]) / step[k];
    }
    if (!bt_least_squares(x, y, n, PARAMETERS, fit)) return false;
    for (size_t k = 0; k < PARAMETERS; k++) value[k] += fit->value[k];
    return isfinite(value[START] + value[SHARE] + value[SPEED]);
}

static bool solve(const course *c, double value[PARAMETERS], double *store, bt_leastsq *fit)
{
    const size_t temps = 2 * c->replay->n;
    double *x = store, *y = x + PARAMETERS * temps, *moved = y + temps;
    for (int round = 0; round < ROUNDS_MAX; round++) {
        if (!improve(c, value, x, y, moved, fit)) return false;
        double most = 0;
        for (size_t k = 0; k < PARAMETERS; k++)
            most = fmax(most, fabs(fit->value[k]) / fmax(fabs(value[k]), 1e-3));
        if (most < CLOSE) return true;
    }
    return false;
}

/* Sums of estimates of several runs, each weighted by what it knows. */
typedef struct {
    double weight, sum, df;
    size_t n;
} pool;

static void pool_add(pool *p, double value, double u, double df, size_t n)
{
    p->weight += 1 / (u * u);
    p->sum += value / (u * u);
    p->df += df;
    p->n += n;
}

static bt_estimate pool_mean(const pool *p)
{
    bt_estimate e = {NAN, NAN, NAN, p->n};
    if (p->n == 0) return e;
    e.value = p->sum / p->weight;
    e.u = hypot(1 / sqrt(p->weight), SHAPE * e.value);
    e.reach = bt_fit_reach(e.u, p->df);
    return e;
}

/* What the zones say of the axle; false if a braking's energy is not known. */
static bool read_zones(const bt_zone *zones, size_t n, bt_axle axle, double *energy,
                       double *measured)
{
    const bool front = axle == BT_FRONT;
    bool known = true;
    for (size_t i = 0; i < n; i++) {
        energy[i] = front ? zones[i].energy_front : zones[i].energy_rear;
        measured[2 * i] = front ? zones[i].disc_front_first : zones[i].disc_rear_first;
        measured[2 * i + 1] = front ? zones[i].disc_front_final : zones[i].disc_rear_final;
        known &= !isnan(energy[i]);
    }
    return known;
}

/* One run; adds nothing where it cannot tell. */
static bt_status take_run(const bt_zone *zones, size_t n, const bt_car *car, bt_axle axle,
                          pool pools[2], bt_error *err)
{
    /* energy; measured and model; x, y, moved of a round */
    double *store = malloc((n + 2 * n * (2 + PARAMETERS + 2)) * sizeof *store);
    if (!store) return bt_fail(err, BT_NOMEM, "no memory to fit %zu zones", n);
    double *energy = store, *measured = energy + n, *model = measured + 2 * n;
    bt_replay replay;
    const bt_status status = bt_replay_new(&replay, zones, n, car, NAN, err);
    course c = {.replay = &replay,
                .ambient = car->value[BT_CAR_AMBIENT],
                .energy = energy,
                .measured = measured,
                .model = model};
    bt_disc_of(car, axle, &c.disc);
    const bool known = read_zones(zones, n, axle, energy, measured) && !isnan(c.ambient);
    double value[PARAMETERS] = {isnan(measured[0]) ? c.ambient : measured[0], c.disc.share,
                                c.disc.by_speed};
    bt_leastsq fit;
    if (status == BT_OK && known && replay.n >= BT_FIT_ZONES_MIN && replay.left_out == 0 &&
        solve(&c, value, model + 2 * n, &fit)) {
        pool_add(&pools[0], value[SHARE], fit.u[SHARE], fit.df, n);
        pool_add(&pools[1], value[SPEED], fit.u[SPEED], fit.df, n);
    }
    bt_replay_free(&replay);
    free(store);
    return status;
}

bt_status bt_fit_discs(const bt_zone *zones, size_t n, const bt_car *car, bt_axle axle,
                       bt_estimate *share, bt_estimate *by_speed, bt_error *err)
{
    pool pools[2] = {{0}};
    bt_disc disc;
    bt_car with_share = *car; /* the share is what is looked for: the sheet's is a start at most */
    double *start =
        &with_share.value[axle == BT_FRONT ? BT_CAR_DISC_SHARE_FRONT : BT_CAR_DISC_SHARE_REAR];
    if (isnan(*start)) *start = 0.9;
    const bool known = bt_disc_of(&with_share, axle, &disc);
    for (size_t i = 0, k; known && i < n; i = k) {
        for (k = i + 1; k < n && strcmp(zones[k].run, zones[i].run) == 0;) k++;
        BT_TRY(take_run(zones + i, k - i, &with_share, axle, pools, err));
    }
    *share = pool_mean(&pools[0]);
    *by_speed = pool_mean(&pools[1]);
    return BT_OK;
}
