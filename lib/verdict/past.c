/* Signals of a while ago: see past.h. */
#include "verdict/past.h"

/* Times are decimals turned binary: without it a delay of whole samples would fall to either side of them
 * by chance. */
#define ROUNDING 1e-9 /* s */

/* The last sample not later than `until`, the first one if all are; `guess` may be anything. */
static size_t search(const double *t, size_t n, double until, ptrdiff_t guess)
{
    size_t j = guess < 0 ? 0 : guess < (ptrdiff_t)n ? (size_t)guess : n - 1;
    while (j > 0 && t[j] > until) j--;
    while (j + 1 < n && t[j + 1] <= until) j++;
    return j;
}

void bt_past_find(bt_past *past, const double *t, size_t n, double delay, size_t from, size_t step,
                  size_t count)
{
    ptrdiff_t lag = past->lag;
    for (size_t k = 0, i = from; k < count; k++, i += step) {
        const double time = t[i] - delay, until = time + ROUNDING;
        size_t j = (size_t)((ptrdiff_t)i - lag); /* huge where it is before the first */
        if (!(j < n - 1 && t[j] <= until && t[j + 1] > until)) {
            j = search(t, n, until, (ptrdiff_t)i - lag);
            lag = (ptrdiff_t)i - (ptrdiff_t)j;
        }
        const double after = time - t[j];
        past->at[k] = j;
        past->part[k] = 0;
        if (after > ROUNDING && j < n - 1) past->part[k] = after / (t[j + 1] - t[j]);
        if (after < -ROUNDING) past->part[k] = -1;
    }
    past->lag = lag;
}
