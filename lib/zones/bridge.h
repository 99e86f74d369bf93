/* Where the speed could not be believed inside a braking zone, a straight line stands in for it
 * (METHODS 3).  Between hold and segment. */
#ifndef BT_BRIDGE_H
#define BT_BRIDGE_H

#include "zones/hold.h"

/* A speed that was believed; t NaN = none. */
typedef struct {
    double t, v;
} bt_believed;

/* How long behind a zone to look for a speed to believe in again, s. */
#define BT_BRIDGE_AHEAD 3.0

/* In samples [0, n) of what is held, wherever BT_SIG_UNSURE is 1: put BT_SIG_SPEED on the straight
 * line from the last believed sample before to the first believed one behind, BT_SIG_DECEL to its
 * slope, and BT_SIG_DIST to its integral, what follows in the zone moved along.  Samples [n, known)
 * serve as what comes behind and stay as they are; `before` is the last believed speed before the
 * first sample.  The smoothing mixes believed and unbelieved speeds over half its window: `half` s
 * on either side count as unsure. Without a believed speed on both sides, what the speed stage
 * bridged stays.  True if any of the n samples is unsure. */
bool bt_bridge(bt_hold *h, size_t n, size_t known, bt_believed before, double half);

#endif
