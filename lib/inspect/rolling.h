/* Speeds that contradict each other while the car rolls freely (METHODS 3): a wheel that reads 2.2 times
 * the speed, a dead zero, a raw count.  For `inspect`: named, never corrected. */
#ifndef BT_ROLLING_H
#define BT_ROLLING_H

#include "base/error.h"

/* Who says how fast the car is; a slot each. */
enum { BT_ROLL_SPEED, BT_ROLL_MOTOR, BT_ROLL_WHEELS, BT_ROLL_SLOTS = BT_ROLL_WHEELS + 4 };

typedef struct bt_rolling bt_rolling;
bt_status bt_rolling_new(bt_rolling **out, bt_error *err) BT_MUST_USE;
/* A brake pressure (Pa) or a speed (m/s, of the slot) at time t (s).  Slots may come in any order and
 * at any rate.  While any brake pressure is above 3 bar nothing is compared. */
void bt_rolling_brake(bt_rolling *r, double pressure);
void bt_rolling_speed(bt_rolling *r, unsigned slot, double t, double v);

typedef struct {
    double factor; /* median of reading over reference; NaN = could not be compared */
    bool dead;     /* 0 all the time while the reference moved */
    /* What most of it was compared with: "the speed", "the motor's speed", "the other wheels'". */
    const char *than;
    int twin; /* slot of another wheel that never differed from this one; -1 = none */
} bt_rolling_finding;
bt_rolling_finding bt_rolling_find(const bt_rolling *r, unsigned slot);
void bt_rolling_free(bt_rolling *r);

#endif
