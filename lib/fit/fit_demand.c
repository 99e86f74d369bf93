/* What the by-wire axle delivers over what the pedal asks: see fitter.h. */
#include "fit/fitter.h"

#include "base/stats.h"
#include "base/print.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define SURE   0.99995 /* one side: no chance that the demand bends or the motor counts wrong */
#define LEVELS 5       /* points of a demand curve */
#define PASCAL 1e5     /* in a bar */

static double delivered(const bt_zone *z, const bt_car *car)
{
    const double friction = car->bywire_axle == BT_REAR ? z->hold_rear_friction : z->hold_front;
    return friction + (car->motor_axle == car->bywire_axle ? z->hold_motor : 0);
}

double bt_fit_pedal(const bt_zone *z, const bt_car *car)
{
    return car->bywire_axle == BT_REAR ? z->hold_pedal_rear : z->hold_pedal_front;
}

/* delivered = gain (pedal - threshold) - gain delay * slope of the pedal + lateness * slope of the motor
 * + excess * motor.  The friction brakes come late by the delay; what they make up for the motor may come
 * later still, as the controller hears of the motor after the pedal: its lateness is free, else a few
 * milliseconds of it look like a threshold.  Excess: none if the controller takes off the friction brakes
 * all that the motor does. */
enum { GAIN, LEVEL, LATE, MOTOR_LATE, EXCESS };
enum { LINE = LATE + 1, BLENDED = MOTOR_LATE + 1, WITH_EXCESS = EXCESS + 1 }; /* columns */

typedef struct {
    bt_leastsq ls; /* N*m per bar, N*m, N*m s per bar, s, 1 */
    size_t n, columns;
} demand;

static void demand_points(bt_fitter *f, demand *d)
{
    d->n = 0;
    for (size_t i = 0; i < f->n; i++) {
        const bt_zone *z = &f->zones[i];
        const bool motor = f->car->motor_axle == f->car->bywire_axle;
        const double row[BT_LEASTSQ_MAX] = {bt_fit_pedal(z, f->car) / PASCAL, 1,
                                            z->hold_pedal_slope / PASCAL,
                                            motor ? z->hold_motor_slope : 0, z->hold_motor};
        const double y = delivered(z, f->car);
        if (!bt_fit_usable(z) || !bt_fitter_by_wire(f, z)) continue;
        if (isnan(y) || isnan(row[GAIN] + row[LATE] + row[MOTOR_LATE])) continue;
        memcpy(f->x + d->columns * d->n, row, d->columns * sizeof *row);
        f->y[d->n++] = y;
    }
}

static bool solve_demand(bt_fitter *f, size_t columns, demand *d)
{
    *d = (demand){.columns = columns};
    demand_points(f, d);
    return d->n >= BT_FIT_ZONES_MIN && bt_least_squares(f->x, f->y, d->n, columns, &d->ls) &&
           d->ls.u[GAIN] < BT_FIT_TELLS_MAX * d->ls.value[GAIN];
}

static bool no_chance(double value, double u, double df)
{
    return fabs(value / u) > bt_t_quantile(SURE, df);
}

/* Does what the fit leaves over bend with the pedal? */
static bool bends(bt_fitter *f, const demand *d)
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

/* What comes late is no demand: a parabola over the pedal tells how much that is.  Gives the columns that
 * the points have now. */
static size_t take_off_lateness(bt_fitter *f)
{
    demand bent = {.columns = WITH_EXCESS};
    demand_points(f, &bent);
    for (size_t i = 0; i < bent.n; i++) {
        double *row = f->x + bent.columns * i;
        row[EXCESS] = row[GAIN] * row[GAIN];
    }
    if (bt_least_squares(f->x, f->y, bent.n, bent.columns, &bent.ls))
        for (size_t i = 0; i < bent.n; i++) {
            const double *row = f->x + bent.columns * i;
            f->y[i] -=
                bent.ls.value[LATE] * row[LATE] + bent.ls.value[MOTOR_LATE] * row[MOTOR_LATE];
        }
    return bent.columns;
}

/* A straight line does not fit: say the curve's points, levels of equal numbers of zones. */
static bt_status say_bend(bt_fitter *f, const demand *d)
{
    const size_t columns = take_off_lateness(f);
    double *pair = f->x; /* pedal in bar, torque */
    for (size_t i = 0; i < d->n; i++) {
        pair[2 * i] = f->x[columns * i];
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
        bt_print(text + at, sizeof text - at, "%s%.2f bar %.0f N·m", k ? ", " : "", x, y);
    }
    return BT_FIT_SAY(
        f, "the demand is no straight line over the pedal: give it as demand_curve (%s)", text);
}

static bt_status put_excess(bt_fitter *f, const demand *d)
{
    const double u = d->ls.u[EXCESS];
    const bt_estimate e = {d->ls.value[EXCESS], u, bt_fit_reach(u, d->ls.df), d->n};
    BT_TRY(bt_fitter_put(f, "# motor_excess", "1", 1, &e, ""));
    return BT_FIT_SAY(
        f,
        "of the motor torque %.3f comes on top of the demand, where 0 would be right: "
        "controller and sheet differ about the motor torque or the pads; demand_gain and "
        "demand_threshold are those without motor torque",
        e.value);
}

static bt_status cannot_demand(bt_fitter *f, size_t n)
{
    if (n < BT_FIT_ZONES_MIN)
        return BT_FIT_CANNOT(
            f,
            "demand_gain, demand_threshold: %zu by-wire zones with pedal, line pressure "
            "and motor torque known, %d needed",
            n, BT_FIT_ZONES_MIN);
    return BT_FIT_CANNOT(
        f,
        "demand_gain, demand_threshold: the pedal pressures of the %zu zones are too "
        "much alike",
        n);
}

/* A quotient x = -value[k] / gain and its first-order uncertainty. */
static bt_estimate over_gain(const demand *d, size_t k)
{
    const bt_leastsq *ls = &d->ls;
    double at[BT_LEASTSQ_MAX] = {0};
    at[GAIN] = -ls->value[k] / ls->value[GAIN];
    at[k] = 1;
    const double u = bt_leastsq_at(ls, at) / ls->value[GAIN];
    return (bt_estimate){at[GAIN], u, bt_fit_reach(u, ls->df), d->n};
}

static bt_status put_demand(bt_fitter *f, const demand *d)
{
    const bt_leastsq *ls = &d->ls;
    const bt_estimate gain = {ls->value[GAIN], ls->u[GAIN], bt_fit_reach(ls->u[GAIN], ls->df),
                              d->n};
    const bt_estimate threshold = over_gain(d, LEVEL), delay = over_gain(d, LATE);
    const char *given = f->car->bywire_axle == BT_REAR ? "pad_friction_rear, motor_efficiency"
                                                       : "pad_friction_front, motor_efficiency";
    BT_TRY(bt_fitter_put(f, "demand_gain", "N.m/bar", 1, &gain, given));
    BT_TRY(bt_fitter_put(f, "demand_threshold", "bar", 1, &threshold, given));
    return bt_fitter_put(f, "# friction_delay", "s", 1, &delay, "");
}

/* The motor's excess is taken where it is no chance and explains all: a demand that bends looks like
 * one, as the motor has its limits.  Without a motor there is none to be late. */
bt_status bt_fit_demand(bt_fitter *f)
{
    demand d;
    const bool excess = solve_demand(f, WITH_EXCESS, &d) &&
                        no_chance(d.ls.value[EXCESS], d.ls.u[EXCESS], d.ls.df) && !bends(f, &d);
    if (!excess && !solve_demand(f, BLENDED, &d) && !solve_demand(f, LINE, &d))
        return cannot_demand(f, d.n);
    BT_TRY(put_demand(f, &d));
    if (excess) return put_excess(f, &d);
    return bends(f, &d) ? say_bend(f, &d) : BT_OK;
}
