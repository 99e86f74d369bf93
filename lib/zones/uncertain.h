/* Uncertainty of a zone's headline figures by first-order propagation (METHODS 12; JCGM 100:2008, 5.1.2).
 * Sheet tolerances (friction, areas, radii, ratios) are the same in every zone: systematic.  Channel
 * tolerances are taken as one draw per zone (a pressure zero, a speed reading): random.  Only the
 * random part limits a drift. */
#ifndef BT_UNCERTAIN_H
#define BT_UNCERTAIN_H

#include "samples/car.h"
#include "samples/channels.h"

/* Fill decel_u, balance_u, motor_share_u, blend_u and their _sys and _rnd parts of a row whose means
 * (front, rear_friction, motor, demand, decel_mean, duration) are there.  What has no tolerance counts
 * as exact; a figure none of whose sources has one stays NaN. */
void bt_uncertain(const bt_channels *channels, const bt_car *car, bt_zone *row);

#endif
