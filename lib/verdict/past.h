/* A signal as it was a while ago: straight lines between samples, on any grid (METHODS 8).  Base of evidence. */
#ifndef BT_PAST_H
#define BT_PAST_H

#include <stddef.h>

/* Where the times of some samples, less a delay, lie: behind sample at[k], part[k] of the way to the next one;
 * part[k] < 0 = before the first sample.  Zero it before the first use on a zone. */
#define BT_PAST_PIECE ((size_t)64)
typedef struct {
    size_t at[BT_PAST_PIECE];
    double part[BT_PAST_PIECE];
    ptrdiff_t lag; /* samples, of the last one found: where to look first */
} bt_past;

/* For samples from, from + step, ... of t[0..n), `count` of them, at most BT_PAST_PIECE.  A delay (s) may be less
 * than 0; behind the last sample all stays as it is there. */
void bt_past_find(bt_past *past, const double *t, size_t n, double delay, size_t from, size_t step,
                  size_t count);

/* x there; `before` is what it was before its first sample. */
static inline double bt_past_value(const bt_past *past, size_t k, const double *x, double before)
{
    const size_t at = past->at[k];
    const double part = past->part[k];
    if (part < 0) return before;
    return part > 0 ? x[at] + part * (x[at + 1] - x[at]) : x[at];
}

#endif
