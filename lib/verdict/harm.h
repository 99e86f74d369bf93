/* What a fallback did (METHODS 8): demand missed, balance shift and rear friction energy against the
 * zones before it of the same pedal range.  Of the energy their share of all brakes' work counts, since other
 * corners take other speeds off: it comes out within some 10 % of what the same place had taken before.
 * Zone rows and samples in, pieces of a reason out. */
#ifndef BT_HARM_H
#define BT_HARM_H

#include "samples/car.h"
#include "verdict/events.h"

#define BT_HARM_RANGES 25   /* of peak pedal pressure, ... */
#define BT_HARM_RANGE  10e5 /* ... Pa each; the last one takes what is above */

/* By-wire zones so far.  Zeroed = none. */
typedef struct {
    size_t n[BT_HARM_RANGES];
    double balance[BT_HARM_RANGES], energy[BT_HARM_RANGES],
        work[BT_HARM_RANGES]; /* sums; J of the by-wire axle and of all brakes and the motor */
    double motor, demand;     /* N*m, sums of zone means */
} bt_harm_before;
void bt_harm_learn(bt_harm_before *before, const bt_zone *row, const bt_car *car);

/* One fallback.  Zeroed = nothing yet. */
typedef struct {
    double time, known;               /* s of braking in it; of that with both torques known */
    double demand, missed, motor;     /* N*m*s */
    double both, line, pedal;         /* s with both pressures known; Pa s */
    double line_pedal, pedal_square;  /* Pa2 s, for the ratio of line to pedal */
    size_t zones;                     /* that could be compared */
    double shift, energy, energy_was; /* sums over those: share, J, J had the by-wire done it */
} bt_harm;

/* One sample in fallback that stands for dt seconds; NaN what is not known. */
typedef struct {
    double dt, line, pedal;          /* s, Pa, Pa */
    double demand, delivered, motor; /* N*m */
} bt_harm_sample;
void bt_harm_add(bt_harm *harm, const bt_harm_sample *sample);
/* A zone that was in fallback from start to end. */
void bt_harm_zone(bt_harm *harm, const bt_harm_before *before, const bt_zone *row,
                  const bt_car *car);

/* Line over pedal pressure, least squares; N*m missed, mean; NaN = cannot be told. */
double bt_harm_ratio(const bt_harm *harm);
double bt_harm_missed(const bt_harm *harm);
/* The pedal moved, and the line did not go along at `ratio` to it: they only met. */
bool bt_harm_stood(const bt_harm *harm, double ratio);
/* Says what is known: motor, demand missed, balance, friction energy. */
void bt_harm_say(const bt_harm *harm, const bt_harm_before *before, const bt_car *car,
                 bt_event *event);

#endif
