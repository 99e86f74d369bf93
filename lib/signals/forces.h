/* Torque and force per axle from pressures and motor torque (METHODS 5), over arrays. */
#ifndef BT_FORCES_H
#define BT_FORCES_H

#include "signals/demand.h"
#include "signals/friction.h"
#include "samples/samples.h"

/* Torque at the axle from the shaft torque `tau` (negative brakes): -tau * ratio / eta while it
 * brakes, -tau * ratio * eta while it drives. */
double bt_motor_axle_torque(double tau, double ratio, double eta);

/* Caliper-side pressure of an axle: *p_left and *p_right get the arrays to use (the same one where
 * the axle has one sensor; the front falls back to pedal_front), NULL where there is none.  Where the
 * front is the by-wire axle that fallback is a mere demand: bt_torques_make does without it. */
void bt_line_pressure(const bt_block *in, bt_axle axle, const double **p_left,
                      const double **p_right);

/* Axle torques of a run of samples, N*m, positive brakes.  Arrays are owned by the struct, NULL where
 * the log or the sheet does not allow the figure (bt_torque_missing names what would bring it) and NaN
 * where a channel has no value.  Start with `= {0}`. */
typedef struct {
    size_t n, cap;
    double *front;        /* friction at the front axle */
    double *rear;         /* friction at the rear axle */
    double *motor;        /* motor at its axle; zeros for a car without (no ratio, no channel) */
    double *demand;       /* what the pedal asks of the by-wire axle (demand.h) */
    double *delivered;    /* friction plus motor at the by-wire axle */
    double *req_motor;    /* motor_request at the axle, NULL if not logged; zeros without motor */
    double *req_friction; /* friction torque of line_request, NULL if not logged */
    bool motor_bywire;    /* the motor brakes the by-wire axle */
    double *store;        /* of all of them */
} bt_torques;

/* Fill in for the samples of `in` (any n).  Grows the arrays; BT_NOMEM is the only error. */
bt_status bt_torques_make(bt_torques *out, const bt_block *in, const bt_car *car,
                          bt_error *err) BT_MUST_USE;
void bt_torques_clear(bt_torques *t);

/* Which sheet rows and channels are missing for the front, rear friction, motor, demand torque: for
 * the notes, a comma-separated list into buf ("" = nothing missing). */
typedef enum { BT_TORQUE_FRONT, BT_TORQUE_REAR, BT_TORQUE_MOTOR, BT_TORQUE_DEMAND } bt_torque_kind;
const char *bt_torque_missing(const bt_channels *channels, const bt_car *car, bt_torque_kind kind,
                              char *buf, size_t cap);

#endif
