/* By how much is one signal later and larger than another? (METHODS 7)  y(t) is fitted as
 * g * x(t - tau), tau in 0..BT_DELAY_MAX, by least squares. */
#ifndef BT_DELAY_H
#define BT_DELAY_H

#include "base/error.h"

#define BT_DELAY_MAX 0.5 /* s */

/* NaN = cannot be told. */
typedef struct {
    double delay, delay_u; /* s, and its standard uncertainty */
    double gain, gain_u;   /* unit of y / unit of x */
    double rest,
        rest_u; /* RMS of y - g x(t - tau), both averaged over 5 ms, unit of y; rest_u: what
                            * the sensors' noise may have added to it, and its chance */
    /* Shares of the mean square of y - x that go away with the delay, then with the gain, and that stay;
     * together 1.  By delay may fall below 0 where y is early here and late there.  NaN unless delay and
     * gain are told. */
    double by_delay, by_gain, by_rest;
    bool weak; /* too little shape in x, or y is no copy of it: delay is NaN */
} bt_delay;

/* t in s, rising; NaN in x or y is left out, with what it would have told BT_DELAY_MAX later.  Before
 * the first sample x is taken to have come up from 0 as a foot moves it; if it is too large there for
 * that, y is only fitted from BT_DELAY_MAX on.  A quarter of a second of y has to be left.  BT_NOMEM is
 * the only error. */
bt_status bt_delay_fit(const double *t, const double *x, const double *y, size_t n, bt_delay *out,
                       bt_error *err) BT_MUST_USE;

#endif
