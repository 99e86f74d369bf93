/* The brakings of a run as loads on the discs, and the discs driven through them again (METHODS 13):
 * works on zone rows alone, so also on rows read back from a saved table. */
#ifndef BT_REPLAY_H
#define BT_REPLAY_H

#include "samples/car.h"
#include "signals/heat.h"

/* One braking and the way to the next one. */
typedef struct {
    double duration, entry, exit; /* s, m/s */
    double speed;                 /* m/s, mean over it */
    double work;                  /* J that all brakes took out, motor included */
    double force;                 /* N, mean brake force of all of them */
    double decel, decel_peak;     /* m/s2 */
    double gap, gap_speed;        /* s and mean m/s from its end to the next one's start */
    double gap_end;               /* m/s there */
    bool lap_ends;                /* the last one of a lap */
} bt_load;

/* Zeroed = none.  `load` is owned. */
typedef struct {
    bt_load *load;
    size_t n;
    double laps;      /* in the pattern; 1 where no lap is logged */
    bool lapped;      /* laps are logged */
    bool slip_known;  /* in any zone: else brake work is as if the tyres rolled */
    double first_lap; /* as logged; NaN */
    double start[2];  /* K, discs at the first braking; NaN = cannot be told */
    size_t left_out;  /* zones whose work cannot be told */
} bt_replay;

/* From the zones of one run whose lap is from_lap or later (NaN = all).  A zone's work is that of its
 * brakes, or, where torques are missing, its kinetic energy less road load.  Discs start as measured,
 * else at the zone's peak less its own rise, else at the sheet's ambient.  BT_NOMEM is the only error;
 * n = 0 if no zone can be used. */
bt_status bt_replay_new(bt_replay *out, const bt_zone *zones, size_t n, const bt_car *car,
                        double from_lap, bt_error *err) BT_MUST_USE;
void bt_replay_free(bt_replay *replay);

/* A disc's temperature after a braking that puts `energy` (J, of this disc's brake, pads included) into
 * it, at constant torque; *peak is raised to the largest on the way. */
double bt_load_brake(const bt_disc *disc, const bt_load *load, double temp, double energy,
                     double ambient, double *peak);
/* And after the way to the next braking: a speed with the ends and the mean that are known. */
double bt_load_cool(const bt_disc *disc, const bt_load *load, double temp, double ambient);

/* One axle's disc through the pattern, again and again.  share(user, load) is the axle's part of a
 * load's work.  `laps`: over how many laps `peak` is taken. */
typedef struct {
    double peak; /* K, over the laps asked for */
    double
        settled; /* K, peak of a whole pattern once it changes by less than 0.01 K from one to the next; NaN
                  * with a single braking, which tells no way to cool: it is driven once */
    double limit_lap; /* the lap, from 1, in which the disc's limit is first passed; NaN = never */
} bt_disc_course;
bt_disc_course bt_replay_disc(const bt_replay *replay, const bt_disc *disc, bt_axle axle,
                              double ambient, double laps,
                              double (*share)(const void *user, const bt_load *load),
                              const void *user);

#endif
