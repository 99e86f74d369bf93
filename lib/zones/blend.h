/* Did the by-wire axle deliver what the pedal asked for? (METHODS 7) */
#ifndef BT_BLEND_H
#define BT_BLEND_H

#include "samples/car.h"
#include "signals/forces.h"

/* Of one zone.  NaN = cannot be told. */
typedef struct {
    double demand;                     /* N*m, mean */
    double mean, rms, peak;            /* N*m, delivered minus demand; peak signed */
    double frac;                       /* integral |E| / integral D */
    double inband;                     /* share of time within band_abs + band_rel * D */
    double delay, gain, rest;          /* s, -, N*m RMS of what delay and gain do not explain */
    double delay_u, gain_u, rest_u;    /* standard uncertainties of the fit */
    double by_delay, by_gain, by_rest; /* shares of the mean square error (delay.h) */
    bool delay_weak;                   /* too little shape in the demand to tell */
    double rms_controller, rms_motor, rms_actuator; /* N*m, of the exact split */
    double handover;                                /* N*m, signed */
} bt_blend;

/* Every figure unknown: where to start from.  The functions below set their own ones only. */
void bt_blend_clear(bt_blend *out);

/* Plain figures: mean, rms, peak, frac, inband, demand.  Arrays of n samples; time-weighted trapezoids;
 * NaN samples are left out; all stay NaN if less than 9/10 of the time is known, inband also where
 * neither band is given. */
void bt_blend_error(const double *t, const double *demand, const double *delivered, size_t n,
                    double band_abs, double band_rel, bt_blend *out);
/* Delay, gain and rest: delivered ~ g * demand(t - tau), tau in 0..0.5 s (delay.h). */
bt_status bt_blend_delay(const double *t, const double *demand, const double *delivered, size_t n,
                         bt_blend *out, bt_error *err) BT_MUST_USE;
/* RMS of each part of the exact split, with the friction torque of the by-wire axle; NaN if a request
 * is not logged.  The largest names the cause: controller, motor, actuator, "" = cannot tell. */
void bt_blend_split(const double *t, const bt_torques *torques, const double *bywire_friction,
                    bt_blend *out);
const char *bt_blend_cause(const bt_blend *b);
/* Largest |E| within 0.3 s of the motor fading below 10 % of its zone peak while braking goes on (for
 * those 0.3 s, or to the zone's end, at least a quarter of the largest demand is asked for). */
void bt_blend_handover(const double *t, const double *motor, const double *demand,
                       const double *delivered, size_t n, bt_blend *out);

#endif
