/* What the parts of a fit share: the zones, who was in charge in them, and where rows and notes go.  A part
 * (demand, brakes, discs) reads zones on its own, puts the rows that it can tell and says what it cannot. */
#ifndef BT_FITTER_H
#define BT_FITTER_H

#include "base/grow.h"
#include "fit/fit.h"
#include "fit/leastsq.h"

typedef struct {
    const bt_zone *zones;
    size_t n;
    const bt_car *car;
    bt_fitted *out;
    bool motor_tells, flag_tells; /* who was in charge: see bt_fitter_witnesses */
    size_t rows_cap;
    bt_notes notes;
    bt_error *err;
    double *x, *y; /* (BT_LEASTSQ_MAX + 1) n and 2 n, scratch */
} bt_fitter;

/* ---- rows and notes ---- */

/* Half width of the 95 % interval of an estimate with standard uncertainty u. */
double bt_fit_reach(double u, double df);
/* Append a row; `scale` from SI into its unit.  Value and tolerance are rounded to two digits of the
 * tolerance (JCGM 100 7.2.6): more is chance.  A value that no sheet takes goes to the bound. */
bt_status bt_fitter_put(bt_fitter *f, const char *quantity, const char *unit, double scale,
                        const bt_estimate *e, const char *given) BT_MUST_USE;
/* A line of notes, printf-like. */
#define BT_FIT_SAY(f, ...)    bt_notes_add(&(f)->notes, (f)->err, __VA_ARGS__)
#define BT_FIT_CANNOT(f, ...) BT_FIT_SAY(f, "cannot be told: " __VA_ARGS__)

/* ---- who was in charge ---- */

/* The mode of a row was told with the sheet's gain and ratio, the very ones that are looked for here.  The
 * motor and the car's own flag need no sheet: the motor brakes where the by-wire is in charge and is gone
 * in a fallback.  It is also gone with a full battery: its absence alone proves nothing. */

/* Find out which of them the log has often enough to be asked. */
void bt_fitter_witnesses(bt_fitter *f);
bool bt_fitter_by_wire(const bt_fitter *f, const bt_zone *zone);
bool bt_fitter_fallen_back(const bt_fitter *f, const bt_zone *zone);
bool bt_fit_mode_is(const bt_zone *zone, const char *word);

/* ---- parts ---- */

/* Pressure of the by-wire axle's pedal circuit over the held part, Pa. */
double bt_fit_pedal(const bt_zone *zone, const bt_car *car);

bt_status bt_fit_demand(bt_fitter *f) BT_MUST_USE; /* demand_gain, demand_threshold, delay */
bt_status bt_fit_pads(bt_fitter *f) BT_MUST_USE;   /* pad_friction_*: gains of both axles' lines */
bt_status bt_fit_bypass(bt_fitter *f) BT_MUST_USE; /* bypass_ratio */

#define BT_FIT_TELLS_MAX 0.15 /* relative uncertainty above which two gains were not told apart */

#endif
