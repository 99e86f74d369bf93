/* When did the line change hands: see onset.h (METHODS 8). */
#include "verdict/onset.h"

#include <math.h>

#define SLACK 0.05 /* s that the sum may have left zero before the drop */
#define FOLLOWS                                                                                    \
    1.5 /* of the line's RMS distance from the pedal's: mean distance that still follows */
#define FOLLOW_TIME 0.05  /* s that the mean is taken over */
#define FOLLOW_LAG  0.01  /* s that the line may be behind the pedal */
#define CLEARLY     0.15  /* of the bypass's pressure: a line so far off is not on it, */
#define CLEAR_LAG   0.02  /* s, even if it is late by so much */
#define TAIL_TIME   0.4   /* s of release that are held against the bypass */
#define TAIL_LEAST  5e5   /* Pa of pedal pressure in them, at least */
#define TAIL_RATIO  0.03  /* relative, that its ratio may differ by */
#define TAIL_REST   0.6e5 /* Pa, RMS of what is left */
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

double bt_onset_drop(const double *t, const bt_torques *q, size_t n, double delay, double onset)
{
    if (!q->motor || !q->demand || !q->motor_bywire) return NAN;
    const double from = onset - delay - DROP_BEFORE;
    size_t high = 0; /* the last sample at the highest torque so far */
    for (size_t i = bt_onset_index(t, n, from); i < n && t[i] <= onset + SLACK; i++) {
        if (!(t[high] >= from) || q->motor[i] >= 0.95 * q->motor[high]) high = i;
        const bool mattered = q->motor[high] >= DROP_LEAST * q->demand[high] && q->motor[high] > 0;
        const bool asked = q->demand[i] >= 0.7 * q->demand[high];
        if (mattered && asked && q->motor[i] <= DROP_LEFT * q->motor[high])
            return t[i] - t[high] <= DROP_TIME ? t[high] : NAN;
    }
    return NAN;
}

size_t bt_onset_followed(const double *t, const double *line, const double *pedal, size_t from,
                         size_t found, bool *clear)
{
    *clear = false;
    double cross = 0, square = 0, rest = 0, n = 0;
    for (size_t i = from; i <= found; i++) {
        if (isnan(line[i] + pedal[i])) continue;
        cross += line[i] * pedal[i];
        square += pedal[i] * pedal[i];
        n += 1;
    }
    if (!(square > 0)) return from;
    const double ratio = cross / square;
    for (size_t i = from; i <= found; i++) {
        const double d = line[i] - ratio * pedal[i];
        if (!isnan(d)) rest += d * d;
    }
    const double close = FOLLOWS * sqrt(rest / n);
    size_t first = from, hi = from; /* the window [first, hi] slides back */
    double sum = 0, swing = 0;
    while (first > 0) {
        const double d = line[first - 1] - ratio * pedal[first - 1];
        if (isnan(d)) break;
        first--;
        sum += d;
        while (hi > first && t[hi] - t[first] > FOLLOW_TIME) {
            if (hi < from) sum -= line[hi] - ratio * pedal[hi];
            hi--;
        }
        const size_t last = hi < from ? hi + 1 : from;
        swing = ratio * fabs(pedal[last] - pedal[first]);
        const double samples = (double)(last - first);
        if (t[last] - t[first] < 0.6 * FOLLOW_TIME) continue;
        if (fabs(sum / samples) > close + FOLLOW_LAG / FOLLOW_TIME * swing) {
            *clear = fabs(sum / samples) >
                     CLEARLY * ratio * pedal[last] + CLEAR_LAG / FOLLOW_TIME * swing;
            return last;
        }
    }
    return first;
}

double bt_onset_tail(const double *t, const double *line, const double *pedal, size_t n,
                     double bypass_ratio)
{
    size_t hi = n;
    while (hi > 0 && !(pedal[hi - 1] >= TAIL_LEAST)) hi--;
    if (hi == 0) return NAN;
    const size_t lo = bt_onset_index(t, n, t[hi - 1] - TAIL_TIME);
    double cross = 0, square = 0, rest = 0;
    for (size_t i = lo; i < hi; i++) {
        cross += line[i] * pedal[i];
        square += pedal[i] * pedal[i];
    }
    for (size_t i = lo; i < hi; i++) {
        const double d = line[i] - cross / square * pedal[i];
        rest += d * d;
    }
    const bool fits = fabs(cross / square / bypass_ratio - 1) <= TAIL_RATIO &&
                      rest <= TAIL_REST * TAIL_REST * (double)(hi - lo);
    bool clear;
    return fits ? t[bt_onset_followed(t, line, pedal, lo, hi - 1, &clear)] : NAN;
}
