/* Disc temperatures (METHODS 9): one lumped node for each disc of an axle,
 *   m c(T) dT/dt = q P - (cool_still + cool_speed v) (T - ambient),  c(T) = heat + slope (T - 20 degC),
 * stepped exactly over each step for constant power and speed (Newton cooling; CHECKS 6.1 to 6.3). */
#ifndef BT_HEAT_H
#define BT_HEAT_H

#include "samples/car.h"
#include "samples/channels.h"
#include "signals/forces.h"
#include "samples/samples.h"

/* One disc; an axle has two of them alike. */
typedef struct {
    double mass;             /* kg */
    double heat, heat_slope; /* J/kg/K at 20 degC, J/kg/K2 */
    double share;            /* of the friction heat that goes into the disc */
    double still, by_speed;  /* W/K, W/K per m/s */
    double limit;            /* K; NaN = none given */
} bt_disc;

/* From the sheet; false if mass, heat or share is missing (slope and cooling count 0 then). */
bool bt_disc_of(const bt_car *car, bt_axle axle, bt_disc *out);

/* Temperature, K, `dt` s later at constant friction power P (W, of this disc's brake, the pads' part
 * included), speed (m/s) and ambient (K).  Exact for a heat capacity that stays; one that changes is taken
 * midway, so that steps of seconds do.  dt = 0 gives temp; NaN in, NaN out. */
double bt_disc_step(const bt_disc *disc, double temp, double power, double speed, double ambient,
                    double dt);

/* Both axles through one log. */
typedef struct {
    const bt_car *car;
    bt_disc disc[2];
    bool known[2];
    double temp[2];   /* K now; NaN = cannot be told (no sheet, no ambient) */
    double ambient;   /* K; the last of the channel, else the sheet's */
    double t, speed;  /* of the last sample; NaN = none yet */
    double time, way; /* s, m driven since the last cooling step */
    /* Of the last zone, by axle; NaN = not measured. */
    double differs[2];         /* K, measured minus computed at its end, of the hotter disc */
    double first[2], final[2]; /* K, measured at its start and end, mean of the discs logged */
} bt_heat;

/* A difference beyond this is worth a flag, K. */
#define BT_HEAT_DIFFERS 60.0

void bt_heat_init(bt_heat *heat, const bt_car *car);
/* Samples between zones: only cooling.  series[] (each may be NULL) get the temperature at every
 * sample. */
void bt_heat_cool(bt_heat *heat, const bt_block *run, double *series[2]);
/* Samples of a zone, with their torques; peak[] gets the largest temperature of each axle in it;
 * series[] as above.  Friction power is torque times wheel turning (turning.h); where a pressure has a
 * hole no heat is added, and the disc cools. */
void bt_heat_zone(bt_heat *heat, const bt_block *zone, const bt_torques *torques, double peak[2],
                  double *series[2]);
/* The zone's disc_ figures into its row: peaks, margins to the limits, what was measured; flags
 * BT_FLAG_BRAKE_TEMPERATURE where that differs by more than BT_HEAT_DIFFERS. */
void bt_heat_row(const bt_heat *heat, const double peak[2], bt_zone *row);

#endif
