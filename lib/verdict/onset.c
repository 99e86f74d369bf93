/* A motor that is cut off: see onset.h (METHODS 8). */
#include "verdict/onset.h"

#include <math.h>

#define SLACK       0.05 /* s that the sum may have left zero before the drop */
#define DROP_TIME   0.15 /* s in which a motor that is cut off is gone; its fade-out takes longer */
#define DROP_BEFORE 0.15 /* s, and the delay: as long after the drop the by-wire's line shows it */
#define DROP_LEFT   0.3  /* of its torque, left after the drop */
#define DROP_LEAST  0.1  /* of the demand: a smaller motor torque is none to be dropped */

size_t bt_onset_index(const double *t, size_t n, double at)
{
    size_t i = 0;
    while (i + 1 < n && t[i] < at) i++;
    return i;
}

/* Of the demand; 0 where nothing is asked. */
static double share(const bt_torques *q, size_t i)
{
    return q->demand[i] > 0 ? q->motor[i] / q->demand[i] : 0;
}

double bt_onset_drop(const double *t, const bt_torques *q, size_t n, double delay, double onset)
{
    if (!q->motor || !q->demand || !q->motor_bywire) return NAN;
    const double from = onset - delay - DROP_BEFORE;
    size_t high = 0; /* the last sample at the highest share so far */
    for (size_t i = bt_onset_index(t, n, from); i < n && t[i] <= onset + SLACK; i++) {
        if (!(t[high] >= from) || share(q, i) >= 0.95 * share(q, high)) high = i;
        const bool asked = q->demand[i] >= 0.5 * q->demand[high];
        if (share(q, high) >= DROP_LEAST && asked && share(q, i) <= DROP_LEFT * share(q, high))
            return t[i] - t[high] <= DROP_TIME ? t[high] : NAN;
    }
    return NAN;
}
