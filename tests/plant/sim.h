/* The state of one simulation and the parts that step it, in the order of a step:
 * faults -> driver -> rear -> chassis -> zones -> sensors.  Private to the plant. */
#ifndef PLANT_SIM_H
#define PLANT_SIM_H

#include "plant.h"
#include "random.h"

#if defined(__clang__)
#pragma STDC FP_CONTRACT OFF /* gcc does so by itself under -std=c11 */
#endif

#define PLANT_G          9.80665
#define PLANT_PI         3.141592653589793
#define PLANT_TRACK_N    2048 /* points of the track's shape */
#define PLANT_DELAY_MAX  8192 /* physics steps kept for the actuator's dead time */
#define PLANT_TRACK_HALF 0.78 /* m, half the track width, for wheel speeds in corners */

/* What the active faults do in this step; neutral values in brackets. */
typedef struct {
    bool fallback, motor_stays, flag, motor_lost, motor_off, stall;
    double dead_time, lag;      /* added s [0] */
    double caliper[4], grip[4]; /* [1] */
    double drag_bar[2];         /* [0] */
    double pedal, motor;        /* [1] */
    double abs_depth, abs_hz;   /* [0] */
    double bias;                /* [0] */
} effects;

typedef struct {
    bool active, done;
    double t_on, t_off;
    int lap, corner;
    double frozen; /* value a stuck sensor repeats */
    double stamp;  /* a hole's or repeat's bookkeeping */
} fault_run;

typedef enum { DRIVING, APPLYING, HOLDING, RELEASING, STANDING } driver_phase;

typedef struct {
    driver_phase phase;
    double since;   /* s, start of the phase */
    int target;     /* corner index or stop index ahead */
    int target_lap; /* from 0 */
    bool extra;     /* braking for nothing */
    int extra_id;   /* 101.. */
    double goal;    /* m/s to brake down to */
    double plan_bar, hold_bar, release_bar, correction;
    double apply, release; /* s, this time's */
    double mod_hz, mod_phase, mod_depth;
    double early;    /* m, this time's error of the braking point */
    double hard;     /* this time's factor on the wanted deceleration */
    double pressure; /* bar at even bias, before the last smoothing */
    double smooth_bar;
    double throttle;    /* 0..1 */
    double drive_force; /* N asked for */
    double brake_start; /* s, last time the pedal went on; -1 = never */
    int brake_lap, brake_corner;
    double settled; /* s at the target speed (stops) */
} driver_state;

typedef struct {
    double next_cycle;
    double brake_request_nm; /* what the controller leaves to the motor, axle */
    double line_request;     /* bar */
    double *delay;           /* ring of requests, PLANT_DELAY_MAX */
    double line_rear;        /* bar */
    double line_front;       /* bar */
    double torque;           /* N*m, shaft */
    double request;          /* N*m, shaft */
    double limit;            /* product of the limits on motor braking, 0..1 */
    double charge, volts, amps;
    double *wire_delay; /* the same for what would be, see plant_state */
    double wire_line_request, wire_line, wire_torque, wire_request, pipe_line;
} rear_state;

typedef struct {
    double v, s, accel, z; /* z: smoothed deceleration for the load transfer, g */
    double omega[4], slip[4];
    double disc[4];
    double brake_nm[4]; /* caliper torque of each wheel */
} chassis_state;

typedef struct {
    double start;
    bool on;
} lock_run;

typedef struct zone_tracker zone_tracker;

typedef struct {
    const plant_config *cfg;
    plant_config own; /* with repairs: fine_rate */
    const plant_sink *sink;
    uint64_t n; /* step */
    double t, dt;
    bool over;
    int lap; /* from 1 */
    double lap_start;
    effects fx;
    fault_run fault[PLANT_FAULTS_MAX];
    driver_state driver;
    rear_state rear;
    chassis_state chassis;
    plant_state now;
    plant_ledger ledger;
    double kinetic0;
    lock_run lock[4];
    zone_tracker *zones;
    plant_random driver_random, control_random, sensor_random, step_random;
    double track_x[PLANT_TRACK_N + 1], track_y[PLANT_TRACK_N + 1], track_curve[PLANT_TRACK_N + 1];
    double next_sample[PLANT_CHANNELS], held[PLANT_CHANNELS];
    double last_stamp;
} sim;

/* track.c */
void plant_track_shape(sim *m);
void plant_track_at(const sim *m, double lap_distance, double *curvature, double *latitude,
                    double *longitude);
/* faults.c */
void plant_faults_step(sim *m);
void plant_faults_end(sim *m);
void plant_fault_once(sim *m, int i); /* the driver's own: over as soon as begun */
void plant_locks_step(sim *m);
/* driver.c */
void plant_driver_init(sim *m);
void plant_driver_step(sim *m);
/* rear.c */
void plant_rear_init(sim *m);
void plant_rear_step(sim *m);
void plant_battery_step(sim *m);
/* chassis.c */
void plant_chassis_init(sim *m);
void plant_chassis_torques(sim *m); /* caliper torques from the lines */
void plant_chassis_step(sim *m);
double plant_kinetic(const sim *m);
/* zones.c */
zone_tracker *plant_zones_new(void);
void plant_zones_step(sim *m);
void plant_zones_end(sim *m);
void plant_zones_free(zone_tracker *z);
/* sensors.c */
bool plant_sensors_row(sim *m, plant_row *row); /* false: no row, the log has a hole here */

/* 0..1 with flat ends. */
static inline double plant_smoothstep(double x)
{
    if (!(x > 0)) return 0;
    if (x >= 1) return 1;
    return x * x * x * (10 + x * (6 * x - 15));
}
static inline double plant_clamp(double x, double low, double high)
{
    return x < low ? low : x > high ? high : x;
}

#endif
