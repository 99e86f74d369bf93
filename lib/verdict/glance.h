/* Looking at samples ten times a second, for what lasts: most of a log goes by unlooked at. */
#ifndef BT_GLANCE_H
#define BT_GLANCE_H

#define BT_GLANCE 0.1 /* s */

/* s since the look at `last` (NaN = none), if the sample at t is due, and 0 if it is not; behind a hole of a second
 * and more, or a jump back of the time, as long as a look usually is.  *next, -INFINITY at first, is kept here. */
static inline double bt_glance(double *next, double last, double t)
{
    if (t < *next && t > *next - 2 * BT_GLANCE) return 0; /* a time that jumped back is due */
    *next = t + BT_GLANCE;
    const double past = t - last;
    return past > 0 && past < 1 ? past : BT_GLANCE;
}

#endif
