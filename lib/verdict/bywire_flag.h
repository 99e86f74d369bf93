/* bywire_state, held against what the pressures say (METHODS 8). */
#ifndef BT_BYWIRE_FLAG_H
#define BT_BYWIRE_FLAG_H

#include "verdict/events.h"

/* From where the flag says given up to where it says by-wire again.  Zeroed = down. */
typedef struct {
    bool up;
    double rise;            /* s; meaningful while up */
    double zone, lap;       /* of the first braking in it, NaN = none yet */
    double braking, denied; /* s of braking in it; nats of by-wire evidence there */
    bool fallback;          /* the pressures told of one, too */
} bt_bywire_flag;

/* Nats of evidence for by-wire that make the flag wrong. */
#define BT_FLAG_DENIED 10.0

/* It is down again at `end`.  Adds a false-flag event if the pressures denied it (or nothing was there to
 * tell), a fallback by the flag alone if they could not tell; none if they told of a fallback, whose
 * event says the rest.  *by_flag gets that fallback, or NULL, valid until the next event. */
bt_status bt_bywire_flag_close(bt_bywire_flag *flag, double end, bt_events *events,
                               bt_event **by_flag, bt_error *err) BT_MUST_USE;

#endif
