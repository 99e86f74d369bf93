/* Where points gather: see spots.h. */
#include "laps/spots.h"

#include <math.h>
#include <stdlib.h>

#include "base/error.h"
#include "base/grow.h"

typedef struct {
    bt_point at;
    size_t near; /* free points within the core's radius */
    bool taken;
} member;

static int by_place(const void *a, const void *b)
{
    const bt_point *p = &((const member *)a)->at, *q = &((const member *)b)->at;
    if (p->x < q->x || p->x > q->x) return p->x < q->x ? -1 : 1;
    if (p->y < q->y || p->y > q->y) return p->y < q->y ? -1 : 1;
    return (p->z > q->z) - (p->z < q->z);
}

double bt_points_apart(bt_point a, bt_point b)
{
    return hypot(hypot(a.x - b.x, a.y - b.y), a.z - b.z);
}

/* Sorted by x, so that only a strip has to be searched. */
static size_t strip_start(const member *p, size_t n, double x)
{
    size_t low = 0, high = n;
    while (low < high) {
        const size_t mid = low + (high - low) / 2;
        if (p[mid].at.x < x)
            low = mid + 1;
        else
            high = mid;
    }
    return low;
}

static size_t count_near(const member *p, size_t n, bt_point at, double radius)
{
    size_t count = 0;
    for (size_t i = strip_start(p, n, at.x - radius); i < n && p[i].at.x <= at.x + radius; i++)
        count += !p[i].taken && bt_points_apart(p[i].at, at) <= radius;
    return count;
}

static size_t densest(const member *p, size_t n)
{
    size_t best = BT_NO_SPOT;
    for (size_t i = 0; i < n; i++)
        if (!p[i].taken && (best == BT_NO_SPOT || p[i].near > p[best].near)) best = i;
    return best;
}

/* The mean of the free points around `at`. */
static bt_point core_around(const member *p, size_t n, bt_point at, double core)
{
    bt_point mean = {0, 0, 0};
    double count = 0;
    for (size_t i = strip_start(p, n, at.x - core); i < n && p[i].at.x <= at.x + core; i++) {
        if (p[i].taken || !(bt_points_apart(p[i].at, at) <= core)) continue;
        mean.x += p[i].at.x;
        mean.y += p[i].at.y;
        mean.z += p[i].at.z;
        count++;
    }
    return (bt_point){mean.x / count, mean.y / count, mean.z / count};
}

/* What is within the core's radius of the spot is no longer free.  What is left at its edges makes
 * small spots of its own, for the caller to pass over. */
static bt_point take_spot(member *p, size_t n, size_t seed, double core)
{
    const bt_point mean = core_around(p, n, p[seed].at, core);
    p[seed].taken = true; /* it may lie off the mean */
    for (size_t i = strip_start(p, n, mean.x - core); i < n && p[i].at.x <= mean.x + core; i++)
        p[i].taken = p[i].taken || bt_points_apart(p[i].at, mean) <= core;
    for (size_t i = strip_start(p, n, mean.x - 2 * core); i < n && p[i].at.x <= mean.x + 2 * core;
         i++)
        p[i].near = count_near(p, n, p[i].at, core);
    return mean;
}

size_t bt_spots_nearest(const bt_spot *spot, size_t n, bt_point point, double reach)
{
    size_t best = BT_NO_SPOT;
    double least = reach;
    for (size_t i = 0; i < n; i++) {
        const double far = bt_points_apart(spot[i].at, point);
        if (!(far <= least)) continue;
        least = far;
        best = i;
    }
    return best;
}

bt_status bt_spots_find(const bt_point *point, size_t n, double core, double reach, bt_spot **out,
                        size_t *n_out, bt_error *err)
{
    void *spots = NULL;
    size_t cap = 0, used = 0;
    bt_status status = BT_OK;
    *out = NULL;
    *n_out = 0;
    if (n == 0) return BT_OK;
    member *p = calloc(n, sizeof *p);
    if (!p) return bt_fail(err, BT_NOMEM, "no memory for %zu braking zones", n);
    for (size_t i = 0; i < n; i++)
        if (!isnan(point[i].x) && !isnan(point[i].y) && !isnan(point[i].z))
            p[used++] = (member){.at = point[i]};
    qsort(p, used, sizeof *p, by_place);
    for (size_t i = 0; i < used; i++) p[i].near = count_near(p, used, p[i].at, core);
    for (size_t seed; status == BT_OK && (seed = densest(p, used)) != BT_NO_SPOT;) {
        status = bt_grow(&spots, &cap, *n_out + 1, sizeof(bt_spot), "places", err);
        if (status == BT_OK)
            ((bt_spot *)spots)[(*n_out)++] = (bt_spot){take_spot(p, used, seed, core), 0};
    }
    *out = spots;
    for (size_t i = 0; i < used && status == BT_OK; i++) {
        const size_t own = bt_spots_nearest(*out, *n_out, p[i].at, reach);
        if (own != BT_NO_SPOT) (*out)[own].n++;
    }
    free(p);
    if (status != BT_OK) {
        free(*out);
        *out = NULL;
        *n_out = 0;
    }
    return status;
}
