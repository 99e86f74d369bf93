/* Wheel speeds to one car speed (METHODS 3): which wheels are to be believed, how their rolling radii
 * differ while the car rolls freely, and which of them leads.  Used by the speed stage alone. */
#ifndef BT_WHEELS_H
#define BT_WHEELS_H

#include "samples/car.h"

#define BT_WHEELS          4 /* fl fr rl rr */
#define BT_TRIM_MAX        0.03
#define BT_WHEEL_TRIM_BINS 481

/* Value and slope of a signal, past samples fading with a time constant; follows a ramp without lag
 * (the fading-memory form of the alpha-beta filter).  Zeroed = no sample yet. */
typedef struct {
    bool started;
    double value, slope;
} bt_track;
void bt_track_add(bt_track *track, double dt, double x, double constant);

typedef struct {
    double doubt; /* s of free rolling in which it contradicted the others; falls again */
    bool left_out;
    bool moved;    /* it was seen to turn at all */
    double trim;   /* the wheel's rolling radius over the sheet's, in use; 1 = as the sheet says */
    double needed; /* the same before the bounds of BT_TRIM_MAX */
    double bin[BT_WHEEL_TRIM_BINS], total; /* s, of the ratios seen while rolling freely */
    double sum;                            /* over the tick */
    size_t n;
    double mean; /* m/s over the last tick, NaN = none */
    bt_track track;
    double last, since; /* m/s as logged, and s for which it has stood there */
} bt_wheel;

typedef struct {
    bt_wheel wheel[BT_WHEELS];
    size_t order[BT_WHEELS];     /* who is asked first where two pairs contradict each other */
    double tick_start, tick_mid; /* s, NaN = none */
    double ref_sum, ref;
    size_t n;
    double cluster; /* m/s, of the last tick */
    unsigned members;
} bt_wheels;

void bt_wheels_init(bt_wheels *w, const bt_car *car);
/* A stretch is over: forget speeds, keep trims and who is left out. */
void bt_wheels_restart(bt_wheels *w);

/* n samples of wheel speeds (m/s, NaN = none, NULL = not logged): learns trims and doubts.  `reference` is
 * the logged speed, NULL where the wheels have only each other.  Then the largest company of wheels within 10 %
 * of each other is right; of two companies alike the one with more speed than a crawl, then the one of
 * the axle that the motor does not drive.  One wheel against one tells nothing. */
void bt_wheels_watch(bt_wheels *w, const double *t, const double *const v[BT_WHEELS],
                     const double *reference, size_t n);

/* The speed that the wheels stand for, NaN if none has a value.  dt: s since the last sample, 0 = first.
 * `expected` (m/s, NaN = unknown) is what the car was doing by what went before, `reach` by how much
 * it can have changed since; wheels far off are left out as long as others are not.  `accel` (m/s2,
 * positive forward) decides who leads: the fastest wheel while braking, the middle while rolling, the
 * slower middle one while driving. */
double bt_wheels_fuse(bt_wheels *w, double dt, const double v[BT_WHEELS], double expected,
                      double reach, double accel);

/* How much of the car's motion is braking: 0 rolling or driving .. 1. */
double bt_braking_weight(double accel);

#endif
