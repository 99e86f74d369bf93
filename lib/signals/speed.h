/* Reference speed (METHODS 3): from `speed`, else the fused wheels (with the accelerometer where
 * logged), else the motor speed.  A stage that adds BT_SIG_SPEED, BT_SIG_DIST and BT_SIG_UNSURE. */
#ifndef BT_SPEED_H
#define BT_SPEED_H

#include "samples/car.h"
#include "samples/samples.h"

typedef enum { BT_SPEED_NONE, BT_SPEED_LOGGED, BT_SPEED_WHEELS, BT_SPEED_MOTOR } bt_speed_source;

/* `channels` and `car` are borrowed for the stage's life.  BT_MISSING if nothing logged gives a
 * speed: the message names the channels or car-sheet rows that would.
 * Where the source moves as no car can (grip_limit, a margin of 50 ms of it and the source's own noise),
 * BT_SIG_UNSURE is 1 and BT_SIG_SPEED goes on by the accelerometer, if it was seen to follow the speed,
 * else falls at the limit.  It stays 1 until the source moves possibly again, over 50 ms, at or above
 * the lowest speed that the car can have; a source near 0 (a locked wheel creeps) is believed only
 * after so long that the car must have come to rest.  A stop that a car can make is not unsure.
 * Where the source has no value, BT_SIG_SPEED and BT_SIG_DIST are NaN and all starts afresh after. */
bt_status bt_speed_new(bt_stage **out, const bt_channels *channels, const bt_car *car,
                       bt_stage *next, bt_error *err) BT_MUST_USE;
bt_speed_source bt_speed_source_of(const bt_stage *stage);
/* Rolling radius of each wheel (fl fr rl rr) over the sheet's as trimmed while coasting; 1 = as the
 * sheet says, NaN = not logged, or left out because it contradicts the others while the car rolls
 * freely (dead, counted in another unit).  `beyond` tells whether any is left out or needs more than 3 %.
 * With a logged speed the trims are against that. */
void bt_speed_trim(const bt_stage *stage, double trim[4], bool *beyond);
void bt_speed_free(bt_stage *stage);

#endif
