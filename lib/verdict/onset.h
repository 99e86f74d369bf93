/* A motor that is cut off, which is when a fallback begins (METHODS 8).  Base of dating.h. */
#ifndef BT_ONSET_H
#define BT_ONSET_H

#include "signals/forces.h"

/* The first of n samples at or after a time; the last one if there is none. */
size_t bt_onset_index(const double *t, size_t n, double at);

/* When a motor that was braking was cut off, within the time before `onset` in which the by-wire's line
 * (its delay in s) had yet to answer; NaN = it was not. */
double bt_onset_drop(const double *t, const bt_torques *torques, size_t n, double delay,
                     double onset);

#endif
