/* Does a line stand still while its request moves? (METHODS 8, actuator-stall)  Base of the detectors. */
#ifndef BT_STALL_H
#define BT_STALL_H

#include "braketally.h"

/* The line moves by less than BT_STALL_STILL over five slices of 0.1 s, in the first three of which
 * its request moves by BT_STALL_MOVES and more, so that even a slow actuator would have answered.  A line
 * that keeps its very value is a sensor's affair and no stall. */
#define BT_STALL_STILL 1.2e5 /* Pa */
#define BT_STALL_MOVES 8e5   /* Pa */

typedef struct {
    double start, time; /* s; time 0 = no stall */
    double line,
        apart; /* Pa, where the line stands; line minus request where they are farthest apart */
} bt_stall;

/* Of one zone; left and right pressure may be the same array.  NaN = no value. */
bt_stall bt_stall_find(const double *t, const double *request, const double *left,
                       const double *right, size_t n);

#endif
