/* The car read off its zones: see fit.h. */
#include "story/fit.h"

#include "zones/books.h"
#include "signals/friction.h"
#include "base/grow.h"
#include "story/leastsq.h"
#include "base/stats.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define CONFIDENCE 0.95
#define BYPASS_MIN 3       /* zones in fallback */
#define SURE       0.99995 /* one side: no chance that the demand bends or the motor counts wrong */
#define TELLS_MAX  0.15    /* relative uncertainty above which two gains were not told apart */
#define MOTOR_PART 0.02    /* of all torque: less is no braking motor */
#define WHOLE      0.999   /* of a zone's time, short of what rounding takes */
#define LEVELS     5       /* points of a demand curve */
#define PASCAL     1e5     /* in a bar */

/* A zone's doubts that keep it out. */
#define DOUBTS                                                                                     \
    (BT_FLAG_CUT_START | BT_FLAG_CUT_END | BT_FLAG_NO_ZERO | BT_FLAG_ZERO_OFFSET | BT_FLAG_DRAG |  \
     BT_FLAG_SPEED_UNSURE | BT_FLAG_MOTOR_SPEED | BT_FLAG_SENSOR_STUCK | BT_FLAG_SENSOR_RANGE |    \
     BT_FLAG_SENSOR_GAP)

bool bt_fit_usable(const bt_zone *zone)
{
    return !(zone->flags & DOUBTS) && !(zone->lock > 0) && zone->hold_time > 0;
}

/* Points of one figure and where the results go. */
typedef struct {
    const bt_zone *zones;
    size_t n;
    const bt_car *car;
    bt_fitted *out;
    bool motor_tells, flag_tells; /* who was in charge */
    size_t rows_cap;
    bt_notes notes;
    bt_error *err;
    double *x, *y; /* 5 n and 2 n, scratch */
} fitter;

/* One row; `scale` from SI into its unit. */
static bt_status put(fitter *f, const char *quantity, const char *unit, double scale,
                     const bt_estimate *e, const char *given)
{
    void *array = f->out->rows;
    BT_TRY(bt_grow(&array, &f->rows_cap, f->out->n_rows + 1, sizeof *f->out->rows, "fitted rows",
                   f->err));
    f->out->rows = array;
    bt_fit *row = &f->out->rows[f->out->n_rows++];
    bt_row_blank(BT_TABLE_FIT, row);
    snprintf(row->quantity, sizeof row->quantity, "%s", quantity);
    snprintf(row->unit, sizeof row->unit, "%s", unit);
    /* Below 0 no sheet takes it; the interval says the rest. */
    row->value = (*quantity == '#' ? e->value : fmax(e->value, 0)) * scale;
    row->tolerance = e->u * scale;
    row->low = (e->value - e->reach) * scale;
    row->high = (e->value + e->reach) * scale;
    snprintf(row->note, sizeof row->note, "95 %%: %.5g to %.5g; from %zu zones%s%s", row->low,
             row->high, e->n, *given ? "; given " : "", given);
    return BT_OK;
}

#define SAY(f, ...)    bt_notes_add(&(f)->notes, (f)->err, __VA_ARGS__)
#define CANNOT(f, ...) SAY(f, "cannot be told: " __VA_ARGS__)

static double reach(double u, double df)
{
    return u * bt_t_quantile(0.5 + CONFIDENCE / 2, df);
}

/* ---- who was in charge ---- */

/* The mode of a row was told with the sheet's gain and ratio, the very ones that are looked for here.  The
 * motor and the car's own flag need no sheet: the motor brakes where the by-wire is in charge and is gone
 * in a fallback.  It is also gone with a full battery: its absence alone proves nothing. */
static bool motor_brakes(const bt_zone *z)
{
    return z->hold_motor > MOTOR_PART * (z->hold_motor + z->hold_rear_friction + z->hold_front);
}

static bool mode_is(const bt_zone *z, const char *word)
{
    return strcmp(z->mode, word) == 0;
}

static bool flagged_fallback(const bt_zone *z)
{
    return z->flagged > WHOLE && (!motor_brakes(z) || mode_is(z, "fallback"));
}

static bool by_wire(const fitter *f, const bt_zone *z)
{
    const bool told = mode_is(z, "") || mode_is(z, "by-wire");
    if (mode_is(z, "mixed") || (z->flagged > 0 && !(told && motor_brakes(z)))) return false;
    return f->motor_tells ? motor_brakes(z) : told;
}

static bool fallen_back(const fitter *f, const bt_zone *z)
{
    return f->flag_tells ? flagged_fallback(z) : mode_is(z, "fallback") && !motor_brakes(z);
}

/* What can be asked: a witness that the log does not have, or hardly ever, is none. */
static void find_witnesses(fitter *f)
{
    size_t braking = 0, flagged = 0;
    for (size_t i = 0; i < f->n; i++) {
        const bt_zone *z = &f->zones[i];
        if (!bt_fit_usable(z)) continue;
        braking += motor_brakes(z);
        flagged += flagged_fallback(z);
    }
    f->motor_tells = braking >= BT_FIT_ZONES_MIN;
    f->flag_tells = flagged >= BYPASS_MIN;
}

/* ---- demand: what the by-wire axle delivers over what the pedal asks ---- */

static double delivered(const bt_zone *z, const bt_car *car)
{
    const double friction = car->bywire_axle == BT_REAR ? z->hold_rear_friction : z->hold_front;
    return friction + (car->motor_axle == car->bywire_axle ? z->hold_motor : 0);
}

static double bywire_pedal(const bt_zone *z, const bt_car *car)
{
    return car->bywire_axle == BT_REAR ? z->hold_pedal_rear : z->hold_pedal_front;
}

/* delivered = gain (pedal - threshold) + excess * motor - delay * slope of the friction torque.  Excess:
 * none if the controller takes off the friction brakes all that the motor does. */
enum { GAIN, LEVEL, DELAY, EXCESS };
enum { PLAIN = LEVEL + 1, LINE = DELAY + 1, WITH_MOTOR = EXCESS + 1 }; /* columns */

typedef struct {
    bt_leastsq ls; /* N*m per bar, N*m, -s, 1 */
    size_t n, columns;
} demand;

/* How fast the friction brakes have to change, N*m/s: delayed by tau they lag by tau times that. */
static double friction_slope(const bt_zone *z, const bt_car *car, const bt_leastsq *ls)
{
    const double motor = car->motor_axle == car->bywire_axle ? z->hold_motor_slope : 0;
    return ls->value[GAIN] * z->hold_pedal_slope / PASCAL + (ls->value[EXCESS] - 1) * motor;
}

/* Rows and torques; the friction's slope as the fit so far has it. */
static void demand_points(fitter *f, demand *d)
{
    d->n = 0;
    for (size_t i = 0; i < f->n; i++) {
        const bt_zone *z = &f->zones[i];
        const double x = bywire_pedal(z, f->car), y = delivered(z, f->car);
        const double slope = friction_slope(z, f->car, &d->ls);
        if (!bt_fit_usable(z) || !by_wire(f, z) || isnan(x) || isnan(y) || isnan(slope)) continue;
        const double row[] = {x / PASCAL, 1, slope, z->hold_motor};
        memcpy(f->x + d->columns * d->n, row, d->columns * sizeof *row);
        f->y[d->n++] = y;
    }
}

/* The slope needs the result itself: a few rounds. */
static bool solve_demand(fitter *f, size_t columns, demand *d)
{
    enum { ROUNDS = 5 };
    *d = (demand){.columns = PLAIN};
    for (int round = 0; round < ROUNDS; round++) {
        demand_points(f, d);
        if (d->n < BT_FIT_ZONES_MIN || !bt_least_squares(f->x, f->y, d->n, d->columns, &d->ls))
            return false;
        if (!(d->ls.value[GAIN] > 0)) return false;
        for (size_t k = d->columns; k < BT_LEASTSQ_MAX; k++) d->ls.value[k] = 0;
        d->columns = columns;
    }
    return d->ls.u[GAIN] < TELLS_MAX * d->ls.value[GAIN];
}

static bool no_chance(double value, double u, double df)
{
    return fabs(value / u) > bt_t_quantile(SURE, df);
}

/* Does what the fit leaves over bend with the pedal? */
static bool bends(fitter *f, const demand *d)
{
    double middle = 0;
    for (size_t i = 0; i < d->n; i++) middle += f->x[d->columns * i] / (double)d->n;
    double *squares = f->x + d->columns * d->n, *rest = f->y + d->n;
    for (size_t i = 0; i < d->n; i++) {
        const double *row = f->x + d->columns * i;
        squares[i] = (row[0] - middle) * (row[0] - middle);
        rest[i] = f->y[i];
        for (size_t k = 0; k < d->columns; k++) rest[i] -= d->ls.value[k] * row[k];
    }
    const bt_line bend = bt_fit_line(squares, rest, d->n);
    return no_chance(bend.slope, bend.u_slope, (double)d->n - 2);
}

static int by_pedal(const void *a, const void *b)
{
    const double *p = a, *q = b;
    return (*p > *q) - (*p < *q);
}

/* A straight line does not fit: say the curve's points, levels of equal numbers of zones. */
static bt_status say_bend(fitter *f, const demand *d)
{
    double *pair = f->x; /* pedal in bar, torque */
    for (size_t i = 0; i < d->n; i++) {
        pair[2 * i] = f->x[d->columns * i];
        pair[2 * i + 1] = f->y[i];
    }
    qsort(pair, d->n, 2 * sizeof *pair, by_pedal);
    char text[200] = "";
    const size_t levels = d->n / 2 < LEVELS ? d->n / 2 : LEVELS;
    for (size_t k = 0; k < levels; k++) {
        const size_t lo = k * d->n / levels, hi = (k + 1) * d->n / levels, at = strlen(text);
        double x = 0, y = 0;
        for (size_t i = lo; i < hi; i++) {
            x += pair[2 * i] / (double)(hi - lo);
            y += pair[2 * i + 1] / (double)(hi - lo);
        }
        snprintf(text + at, sizeof text - at, "%s%.2f bar %.0f N·m", k ? ", " : "", x, y);
    }
    return SAY(f, "the demand is no straight line over the pedal: give it as demand_curve (%s)",
               text);
}

static bt_status put_excess(fitter *f, const demand *d)
{
    const double u = d->ls.u[EXCESS];
    const bt_estimate e = {d->ls.value[EXCESS], u, reach(u, d->ls.df), d->n};
    BT_TRY(put(f, "# motor_excess", "1", 1, &e, ""));
    return SAY(f,
               "of the motor torque %.3f comes on top of the demand, where 0 would be right: "
               "controller and sheet differ about the motor torque or the pads; demand_gain and "
               "demand_threshold are those without motor torque",
               e.value);
}

static bt_status cannot_demand(fitter *f, size_t n)
{
    if (n < BT_FIT_ZONES_MIN)
        return CANNOT(f,
                      "demand_gain, demand_threshold: %zu by-wire zones with pedal, line pressure "
                      "and motor torque known, %d needed",
                      n, BT_FIT_ZONES_MIN);
    return CANNOT(f,
                  "demand_gain, demand_threshold: the pedal pressures of the %zu zones are too "
                  "much alike",
                  n);
}

static bt_status put_demand(fitter *f, const demand *d)
{
    const bt_leastsq *ls = &d->ls;
    const bt_estimate gain = {ls->value[GAIN], ls->u[GAIN], reach(ls->u[GAIN], ls->df), d->n};
    const double threshold = -ls->value[LEVEL] / ls->value[GAIN];
    const double u =
        bt_leastsq_at(ls, (const double[BT_LEASTSQ_MAX]){threshold, 1}) / ls->value[GAIN];
    const bt_estimate at = {threshold, u, reach(u, ls->df), d->n};
    const bt_estimate delay = {-ls->value[DELAY], ls->u[DELAY], reach(ls->u[DELAY], ls->df), d->n};
    const char *given = f->car->bywire_axle == BT_REAR ? "pad_friction_rear, motor_efficiency"
                                                       : "pad_friction_front, motor_efficiency";
    BT_TRY(put(f, "demand_gain", "N·m/bar", 1, &gain, given));
    BT_TRY(put(f, "demand_threshold", "bar", 1, &at, given));
    return put(f, "# friction_delay", "s", 1, &delay, "");
}

/* The motor's excess is taken where it is no chance and explains all: a demand that bends looks like
 * one, as the motor has its limits. */
static bt_status fit_demand(fitter *f)
{
    demand d;
    const bool excess = solve_demand(f, WITH_MOTOR, &d) &&
                        no_chance(d.ls.value[EXCESS], d.ls.u[EXCESS], d.ls.df) && !bends(f, &d);
    if (!excess && !solve_demand(f, LINE, &d)) return cannot_demand(f, d.n);
    BT_TRY(put_demand(f, &d));
    if (excess) return put_excess(f, &d);
    return bends(f, &d) ? say_bend(f, &d) : BT_OK;
}

/* ---- the brakes' own gains, from what slowed the car ---- */

/* What the brakes must have done in the held part, N at the tyres: inertia less road load, whose mean is
 * larger than at the mean speed by the spread of the speed. */
static double slowing_force(const bt_zone *z, const bt_car *car)
{
    const double mass = car->value[BT_CAR_MASS], c = car->value[BT_CAR_ROAD_LOAD_C];
    /* Under a slip that changes the wheels slow down by less or more than the car. */
    const double wheels = isnan(z->hold_wheel_decel) ? z->hold_decel : z->hold_wheel_decel;
    const double drop = z->hold_decel * z->hold_time;
    return mass * z->hold_decel + (bt_effective_mass(car) - mass) * wheels -
           bt_road_load(car, z->hold_speed) - (isnan(c) ? 0 : c * drop * drop / 12);
}

static size_t force_points(fitter *f)
{
    const bt_car *car = f->car;
    const double r[2] = {car->value[BT_CAR_ROLLING_RADIUS_FRONT],
                         car->value[BT_CAR_ROLLING_RADIUS_REAR]};
    size_t n = 0;
    for (size_t i = 0; i < f->n; i++) {
        const bt_zone *z = &f->zones[i];
        const double force = slowing_force(z, car) - z->hold_motor / r[car->motor_axle];
        const double front = z->hold_front / r[0], rear = z->hold_rear_friction / r[1];
        if (!bt_fit_usable(z) || isnan(force + front + rear)) continue;
        /* The deceleration is a difference of two speeds, the more uncertain the shorter the time between;
         * from a second on other things count as much. */
        const double weight = z->hold_time / hypot(1, z->hold_time);
        f->x[2 * n] = front * weight;
        f->x[2 * n + 1] = rear * weight;
        f->y[n++] = force * weight;
    }
    return n;
}

static bt_status fit_pads(fitter *f)
{
    static const char *const names[2] = {"pad_friction_front", "pad_friction_rear"};
    const size_t n = force_points(f);
    bt_leastsq fit;
    if (n < BT_FIT_ZONES_MIN || !bt_least_squares(f->x, f->y, n, 2, &fit))
        return CANNOT(f,
                      "pad_friction_front, pad_friction_rear: %zu zones with deceleration, both "
                      "axles' torques, mass and road load known, %d needed",
                      n, BT_FIT_ZONES_MIN);
    if (!(fit.u[0] < TELLS_MAX * fit.value[0] && fit.u[1] < TELLS_MAX * fit.value[1]))
        return CANNOT(f, "pad_friction_front, pad_friction_rear: the zones do not tell the axles "
                         "apart, the motor's share is too much alike in all of them");
    for (int a = 0; a < 2; a++) {
        const double mu = bt_car_axle(f->car, BT_CAR_PAD_FRICTION_FRONT, (bt_axle)a);
        const bt_estimate e = {fit.value[a] * mu, fit.u[a] * mu, reach(fit.u[a] * mu, fit.df), n};
        char given[120];
        snprintf(given, sizeof given,
                 "mass, road load, piston area and radii; axle gain %.4g N·m/bar",
                 fit.value[a] * bt_friction_gain(f->car, (bt_axle)a) * PASCAL);
        BT_TRY(put(f, names[a], "1", 1, &e, given));
    }
    return BT_OK;
}

/* ---- bypass ---- */

static bt_status fit_bypass(fitter *f)
{
    const bool rear = f->car->bywire_axle == BT_REAR;
    size_t n = 0;
    for (size_t i = 0; i < f->n; i++) {
        const bt_zone *z = &f->zones[i];
        const double x = bywire_pedal(z, f->car), slope = z->hold_pedal_slope;
        const double y = rear ? z->hold_line_rear : z->hold_line_front;
        if (!bt_fit_usable(z) || !fallen_back(f, z) || isnan(x) || isnan(y) || isnan(slope))
            continue;
        f->x[2 * n] = x;
        f->x[2 * n + 1] = slope; /* the bypass lags a little, too */
        f->y[n++] = y;
    }
    bt_leastsq fit;
    if (n < BYPASS_MIN || !bt_least_squares(f->x, f->y, n, 2, &fit))
        return CANNOT(f, "bypass_ratio: %zu zones in fallback, %d needed", n, BYPASS_MIN);
    const bt_estimate e = {fit.value[0], fit.u[0], reach(fit.u[0], fit.df), n};
    return put(f, "bypass_ratio", "1", 1, &e, "");
}

/* ---- discs ---- */

static bt_status fit_discs(fitter *f)
{
    static const char *const share_names[2] = {"disc_share_front", "disc_share_rear"};
    static const char *const speed_names[2] = {"cool_speed_front", "cool_speed_rear"};
    static const char *const given[2] = {
        "disc_mass_front, disc_heat_front, cool_still_front, pad_friction_front, ambient",
        "disc_mass_rear, disc_heat_rear, cool_still_rear, pad_friction_rear, ambient"};
    for (int a = 0; a < 2; a++) {
        bt_estimate share, speed;
        BT_TRY(bt_fit_discs(f->zones, f->n, f->car, (bt_axle)a, &share, &speed, f->err));
        if (share.n == 0) {
            BT_TRY(CANNOT(f,
                          "%s, %s: no run of %d zones or more with measured disc temperatures, "
                          "disc mass and heat, ambient and friction torque all known",
                          share_names[a], speed_names[a], BT_FIT_ZONES_MIN));
            continue;
        }
        BT_TRY(put(f, share_names[a], "%", 100, &share, given[a]));
        bt_fit *row = &f->out->rows[f->out->n_rows - 1];
        row->value = fmin(row->value, 100); /* above it no sheet takes it */
        BT_TRY(put(f, speed_names[a], "W/K/(m/s)", 1, &speed, given[a]));
    }
    return BT_OK;
}

/* ---- what is no row of the sheet ---- */

static bt_status fit_mean(fitter *f, const char *name, const char *unit, size_t offset,
                          bool (*takes)(const fitter *, const bt_zone *))
{
    size_t n = 0;
    for (size_t i = 0; i < f->n; i++) {
        double value;
        memcpy(&value, (const char *)&f->zones[i] + offset, sizeof value);
        if (bt_fit_usable(&f->zones[i]) && takes(f, &f->zones[i]) && !isnan(value))
            f->y[n++] = value;
    }
    if (n < BT_FIT_ZONES_MIN)
        return CANNOT(f, "%s: %zu zones with it, %d needed", name + 2, n, BT_FIT_ZONES_MIN);
    const bt_mean_test mean = bt_test_mean(f->y, n, CONFIDENCE);
    const bt_estimate e = {mean.mean, mean.u, mean.high - mean.mean, n};
    return put(f, name, unit, 1, &e, "");
}

static bool with_delay(const fitter *f, const bt_zone *z)
{
    return by_wire(f, z) && !(z->flags & BT_FLAG_DELAY_WEAK);
}

static bool any(const fitter *f, const bt_zone *z)
{
    (void)f;
    (void)z;
    return true;
}

/* Zones of a by-wire car that neither its demand nor its bypass was read from. */
static bt_status say_unclear(fitter *f)
{
    size_t usable = 0, unclear = 0;
    for (size_t i = 0; i < f->n; i++) {
        const bt_zone *z = &f->zones[i];
        if (!bt_fit_usable(z) || mode_is(z, "")) continue;
        usable++;
        unclear += !by_wire(f, z) && !fallen_back(f, z);
    }
    if (unclear == 0) return BT_OK;
    return SAY(f,
               "%zu of %zu zones left out of demand and bypass: motor, bywire_state and pressures "
               "do not say alike who was in charge",
               unclear, usable);
}

static bt_status fit_all(fitter *f)
{
    find_witnesses(f);
    BT_TRY(fit_demand(f));
    BT_TRY(fit_pads(f));
    BT_TRY(fit_bypass(f));
    BT_TRY(say_unclear(f));
    BT_TRY(fit_discs(f));
    BT_TRY(fit_mean(f, "# blend_delay", "s", offsetof(bt_zone, blend_delay), with_delay));
    BT_TRY(fit_mean(f, "# effort_ratio", "1", offsetof(bt_zone, effort_ratio), any));
    if (f->out->n_rows == 0) return BT_OK;
    return SAY(
        f, "demand and heat shares are fitted with the sheet's pad friction: after a change of it, "
           "fit again");
}

bt_status bt_fit_zones(const bt_zone *zones, size_t n, const bt_car *car, bt_fitted *out,
                       bt_error *err)
{
    *out = (bt_fitted){0};
    fitter f = {.zones = zones, .n = n, .car = car, .out = out, .err = err};
    f.x = malloc((n + 1) * 7 * sizeof *f.x);
    if (!f.x) return bt_fail(err, BT_NOMEM, "no memory to fit %zu zones", n);
    f.y = f.x + 5 * (n + 1);
    const bt_status status = fit_all(&f);
    free(f.x);
    out->notes = f.notes.line;
    out->n_notes = f.notes.n;
    return status;
}

void bt_fitted_clear(bt_fitted *fitted)
{
    free(fitted->rows);
    bt_notes notes = {.line = fitted->notes, .n = fitted->n_notes};
    bt_notes_clear(&notes);
    *fitted = (bt_fitted){0};
}
