/* Means over the held part of a braking: one nearly steady point per zone, free of the delays of
 * applying and releasing.  `fit` reads the car off these points (METHODS 7, DESIGN: rows only). */
#ifndef BT_PLATEAU_H
#define BT_PLATEAU_H

#include "signals/forces.h"
#include "zones/segment.h"

/* Fill the hold_ figures of a row.  Held = from 0.25 s after the pedal first got to 90 % of its peak
 * (motion.h) to the last time it stood above 75 %; blank if that is less than 0.2 s or there is no pedal. */
void bt_plateau(const bt_braking *zone, const bt_torques *torques, const bt_car *car, bt_zone *row);

#endif
