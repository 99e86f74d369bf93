/* When did the line change hands? (METHODS 8)  The most likely moment, by-wire before it and the bypass
 * behind it.  How the by-wire's line answers demand and motor is learned from zones in which it was in
 * charge, and from the samples before the moment itself: the sheet's gains may be wrong by several
 * percent, which would hide the change where both hypotheses are close, but they are the same all day. */
#ifndef BT_CHANGE_H
#define BT_CHANGE_H

#include "samples/car.h"
#include "signals/forces.h"

/* Line pressure = answer[0] x what is asked + answer[1] x motor torque + answer[2], with the covariance of
 * the three.  Asked is the demand in N*m, or line_request in Pa where it is logged. */
typedef struct {
    double answer[3], covariance[3][3];
} bt_wire;

/* One zone.  Arrays of n samples; NaN = no value. */
typedef struct {
    size_t n;
    const double *t, *line, *pedal; /* s, Pa, Pa */
    const double *asked;            /* N*m, or Pa of line_request */
    const double *motor;            /* N*m; NULL = none, or asked is line_request */
    double delay;                   /* s, of the by-wire */
    double line_u, pedal_u;         /* Pa, standard uncertainties of the sensors */
} bt_change_zone;

/* What the sheet says: gain in N*m/Pa and threshold in Pa of the axle's friction, gain_u relative; `request`
 * = of line_request. */
void bt_wire_init(bt_wire *wire, double gain, double threshold, double gain_u, bool request);
/* From a zone in which the by-wire was in charge. */
void bt_wire_learn(bt_wire *wire, const bt_change_zone *zone);

/* Line over pedal pressure in samples [from, to), least squares; the line is as far behind the pedal as behind
 * a pipe, which in a quick release would else pass for a higher ratio.  NaN = cannot be told. */
double bt_change_ratio(const bt_change_zone *zone, size_t from, size_t to);

/* Samples.  The change was most likely at `first`, the first sample on the bypass, and not much less likely
 * anywhere in [low, high].  first 0 = the line may have been on it before the zone; first = `to` = it may not
 * have been on it at all. */
typedef struct {
    size_t first, low, high;
    double nats; /* by which it is more likely than no change up to `to` */
} bt_change;
/* Within samples [0, to), on a bypass at so much of the pedal's pressure. */
bt_change bt_change_find(const bt_wire *wire, const bt_change_zone *zone, size_t to, double ratio);

#endif
