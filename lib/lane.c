/* Lanes: see lane.h. */
#include "lane.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define HOLE_MIN ((int64_t)1000000000) /* ns, 1 s */

enum { HOLE_INTERVALS = 5 };

static int by_length(const void *a, const void *b)
{
    const int64_t x = *(const int64_t *)a, y = *(const int64_t *)b;
    return x < y ? -1 : x > y;
}

/* Is a hole of that length too long to fill?  Only what came before the hole counts, so that the
 * answer is the same however long one waits. */
static bool too_long(const bt_lane *l, int64_t hole, uint64_t rows)
{
    if (rows > BT_HOLD_ROWS) return true;
    if (hole <= HOLE_MIN) return false;
    if (l->intervals == 0) return true;
    int64_t sorted[BT_INTERVALS];
    memcpy(sorted, l->interval, l->intervals * sizeof *sorted);
    qsort(sorted, l->intervals, sizeof *sorted, by_length);
    return hole / HOLE_INTERVALS > sorted[l->intervals / 2];
}

static void note_interval(bt_lane *l, int64_t interval)
{
    if (l->intervals < BT_INTERVALS) {
        l->interval[l->intervals++] = interval;
        return;
    }
    l->interval[l->oldest] = interval;
    l->oldest = (l->oldest + 1) % BT_INTERVALS;
}

void bt_lane_take(bt_lane *l, double value, size_t at, uint64_t row, int64_t ns, const double *t)
{
    l->x[at] = value;
    if (l->has && !l->state) {
        const int64_t hole = ns - l->ns;
        const uint64_t rows = row - l->row;
        if (rows > 1 && !l->lapsed && !too_long(l, hole, rows)) {
            /* A lap's distance that starts anew is not drawn back through the lap. */
            const bool anew = l->channel == BT_CH_LAP_DISTANCE && value < l->value;
            const double slope = anew ? 0 : (value - l->value) / (t[at] - l->t);
            for (size_t i = at - (size_t)rows + 1; i < at; i++)
                l->x[i] = l->value + slope * (t[i] - l->t);
        }
        note_interval(l, hole);
    }
    l->has = true;
    l->lapsed = false;
    l->row = row;
    l->ns = ns;
    l->t = t[at];
    l->value = value;
}

void bt_lane_blank(bt_lane *l, size_t at)
{
    l->x[at] = l->state ? l->value : NAN;
}

uint64_t bt_lane_open_rows(bt_lane *l, uint64_t row, int64_t ns)
{
    if (l->state || !l->has || l->lapsed || row == l->row) return 0;
    l->lapsed = too_long(l, ns - l->ns, row - l->row);
    return l->lapsed ? 0 : row - l->row;
}
