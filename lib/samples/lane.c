/* Lanes: see lane.h. */
#include "samples/lane.h"

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

static void remember(bt_lane *l, const bt_lane_rows *r, size_t at)
{
    l->has = true;
    l->lapsed = false;
    l->row = r->origin + at;
    l->ns = r->ns[at];
    l->t = r->t[at];
    l->value = l->x[at];
}

/* Buffer row `at` has a value. */
static void take(bt_lane *l, const bt_lane_rows *r, size_t at)
{
    const double value = l->x[at];
    if (l->has && !l->state) {
        const int64_t hole = r->ns[at] - l->ns;
        const uint64_t rows = r->origin + at - l->row;
        if (rows > 1 && !l->lapsed && !too_long(l, hole, rows)) {
            /* A lap's distance that starts anew is not drawn back through the lap. */
            const bool anew = l->channel == BT_CH_LAP_DISTANCE && value < l->value;
            const double slope = anew ? 0 : (value - l->value) / (r->t[at] - l->t);
            for (size_t i = at - (size_t)rows + 1; i < at; i++)
                l->x[i] = l->value + slope * (r->t[i] - l->t);
        }
        note_interval(l, hole);
    }
    remember(l, r, at);
}

/* The first row of [from, to) without a value, to if there is none. */
static size_t values_end(const bt_lane *l, const bt_lane_rows *r, size_t from, size_t to)
{
    if (l->blank <= r->origin + from) return to;
    while (from < to && !isnan(l->x[from])) from++;
    return from;
}

/* Rows [from, to) have values, and so has the one before: of all those intervals the last are what
 * counts. */
static void take_values(bt_lane *l, const bt_lane_rows *r, size_t from, size_t to)
{
    if (to - from <= BT_INTERVALS) {
        while (from < to) take(l, r, from++);
        return;
    }
    const int64_t *ns = r->ns + to - BT_INTERVALS - 1;
    for (size_t i = 0; i < BT_INTERVALS; i++) l->interval[i] = ns[i + 1] - ns[i];
    l->intervals = BT_INTERVALS;
    l->oldest = 0;
    remember(l, r, to - 1);
}

void bt_lane_settle(bt_lane *l, const bt_lane_rows *rows, size_t from, size_t to)
{
    for (size_t i = from; i < to;) {
        if (isnan(l->x[i])) {
            if (l->state) l->x[i] = l->value;
            i++;
            continue;
        }
        const size_t end = values_end(l, rows, i + 1, to);
        take(l, rows, i);
        take_values(l, rows, i + 1, end);
        i = end;
    }
}

uint64_t bt_lane_open_rows(bt_lane *l, uint64_t row, int64_t ns)
{
    if (l->state || !l->has || l->lapsed || row == l->row) return 0;
    l->lapsed = too_long(l, ns - l->ns, row - l->row);
    return l->lapsed ? 0 : row - l->row;
}
