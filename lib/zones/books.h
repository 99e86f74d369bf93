/* Energy books (METHODS 9): where the kinetic energy of a braking went,
 *   m_eff (v_in^2 - v_out^2) / 2 = front + rear + motor work + tyre slip + road load + rest.
 * Work is taken at the wheels (turning.h); an axle's force times its slip speed is what its tyres take. */
#ifndef BT_BOOKS_H
#define BT_BOOKS_H

#include "samples/car.h"
#include "signals/forces.h"
#include "samples/samples.h"

/* Mass with turning parts, kg: mass * inertia_factor (1.04 if not given); NaN without mass. */
double bt_effective_mass(const bt_car *car);
/* Road load, N, at a speed: coefficients not given count 0 if another one is given, else NaN. */
double bt_road_load(const bt_car *car, double speed);

/* Fill kinetic, tyre, road and rest of a row that has its energies and speeds.  trim as in slip.h (NaN = not known, counts 1).
 * NaN where sheet or log do not allow the figure, or less than 9/10 of the zone's time is known; tyre
 * stays NaN, and counts 0 in the rest, where no wheel is logged: the work is then taken as the car rolls. */
void bt_books_zone(const bt_block *zone, const bt_torques *torques, const bt_car *car,
                   const double trim[4], bt_zone *row);

#endif
