/* When did the line change hands, to someone who knows all but the moment?  The maximum-likelihood change
 * point of the logged line pressure and motor torque, given the true pressures and torque on either
 * way, the true offsets and the true noise.  No estimator that has to find those out can do better in
 * the mean: the bound that an onset is held against. */
#ifndef PLANT_ORACLE_H
#define PLANT_ORACLE_H

#include "plant.h"

typedef struct plant_oracle plant_oracle;
/* cfg is borrowed.  NULL = no memory. */
plant_oracle *plant_oracle_new(const plant_config *cfg);
/* A row of the log, in order; those with the pedal released tell nothing and are left out. */
void plant_oracle_row(plant_oracle *o, const plant_row *row);
void plant_oracle_free(plant_oracle *o);

/* s.  low..high: every moment that is less likely than `best` by a factor of no more than e^2. */
typedef struct {
    double best, low, high;
} plant_moment;
/* Of a change to the bypass within from..to.  motor_cut = the motor goes with it. */
plant_moment plant_oracle_find(const plant_oracle *o, double from, double to, bool motor_cut);

#endif
