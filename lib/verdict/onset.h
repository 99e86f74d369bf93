/* When did the line change hands? (METHODS 8)  The evidence dates a fallback to where its sum left zero;
 * that is late where by-wire and bypass are close to each other, and where by-wire's delayed answer was
 * still to come.  Here are two sharper marks. */
#ifndef BT_ONSET_H
#define BT_ONSET_H

#include "signals/forces.h"

/* The first of n samples at or after a time; the last one if there is none. */
size_t bt_onset_index(const double *t, size_t n, double at);

/* When a motor that was braking was cut off, within the time before `onset` in which the by-wire's line
 * (its delay in s) had yet to answer; NaN = it was not. */
double bt_onset_drop(const double *t, const bt_torques *torques, size_t n, double delay,
                     double onset);

/* From which sample on the line followed the pedal as closely as it does in samples [from, found], on
 * which a fallback was found: `from` or before.  The tolerance of a by-wire line hides the change where
 * the two are close, but a line on the bypass knows none.  *clear = before it the line was clearly
 * somewhere else. */
size_t bt_onset_followed(const double *t, const double *line, const double *pedal, size_t from,
                         size_t found, bool *clear);

/* Since when the line followed the pedal at bypass_ratio up to a zone's release, where that was too little
 * to be sure of a fallback; NaN = it did not.  For the next zone, if that shows it from its start. */
double bt_onset_tail(const double *t, const double *line, const double *pedal, size_t n,
                     double bypass_ratio);

#endif
