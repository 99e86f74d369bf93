/* The order of places: see succession.h. */
#include "laps/succession.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"

double bt_zone_end(const bt_where *z)
{
    return z->start_dist + (isnan(z->distance) ? 0 : z->distance);
}

void bt_succession_free(bt_succession *s)
{
    free(s->count);
    free(s->way);
    free(s->before);
    free(s->first);
}

bt_status bt_succession_new(bt_succession *s, size_t places, size_t busiest, bt_error *err)
{
    const size_t n = places * places + 1;
    *s = (bt_succession){.places = places,
                         .busiest = busiest,
                         .count = calloc(n, sizeof *s->count),
                         .way = calloc(n, sizeof *s->way),
                         .before = calloc(n, sizeof *s->before),
                         .first = calloc(places + 1, sizeof *s->first)};
    if (s->count && s->way && s->before && s->first) return BT_OK;
    return bt_fail(err, BT_NOMEM, "no memory for %zu places", places);
}

static void add_steps(bt_succession *s, bt_track_run run, const size_t *place)
{
    size_t last = BT_NO_PLACE;
    for (size_t i = 0; i < run.n; i++) {
        if (place[i] == BT_NO_PLACE) continue;
        const size_t to = place[i] % s->places;
        if (last != BT_NO_PLACE) {
            const bt_where *a = &run.zone[last], *b = &run.zone[i];
            const double way = bt_zone_end(b) - bt_zone_end(a);
            const size_t at = place[last] % s->places * s->places + to;
            s->count[at]++;
            s->way[at] += way > 0 ? way : b->start - a->start;
            s->first[to] += b->lap > a->lap;
        }
        last = i;
    }
}

/* Which of two was first since the busiest place was passed.  What follows a place that comes a second time
 * is another lap, in which the busiest was left out. */
static bt_status add_laps(bt_succession *s, bt_track_run run, const size_t *place, bt_error *err)
{
    bool under_way = false, *seen = calloc(s->places + 1, sizeof *seen);
    if (!seen) return bt_fail(err, BT_NOMEM, "no memory for %zu places", s->places);
    for (size_t i = 0; i < run.n; i++) {
        if (place[i] == BT_NO_PLACE) continue;
        const size_t now = place[i] % s->places;
        if (now == s->busiest) memset(seen, 0, s->places * sizeof *seen);
        under_way = now == s->busiest || (under_way && !seen[now]);
        for (size_t p = 0; under_way && p < s->places; p++)
            s->before[p * s->places + now] += seen[p];
        seen[now] = true;
    }
    free(seen);
    return BT_OK;
}

bt_status bt_succession_add(bt_succession *s, bt_track_run run, const size_t *place, bt_error *err)
{
    add_steps(s, run, place);
    return add_laps(s, run, place, err);
}

static size_t usual_before(const bt_succession *s, size_t to)
{
    size_t best = 0;
    for (size_t from = 1; from < s->places; from++)
        if (s->count[from * s->places + to] > s->count[best * s->places + to]) best = from;
    return best;
}

size_t bt_succession_first(const bt_succession *s)
{
    size_t first = 0, longest = 0;
    double most = -1;
    for (size_t p = 0; p < s->places; p++) {
        const size_t at = usual_before(s, p) * s->places + p;
        const double way = s->count[at] ? s->way[at] / (double)s->count[at] : 0;
        if (s->first[p] > s->first[first]) first = p;
        if (way > most) {
            most = way;
            longest = p;
        }
    }
    return s->first[first] ? first : longest;
}

/* How many places come before p in more laps than behind it: its rank from the busiest place on, which a brake
 * left out in half of the laps does not change. */
static size_t rank_of(const bt_succession *s, size_t p)
{
    size_t rank = 0;
    for (size_t q = 0; q < s->places; q++)
        rank += s->before[q * s->places + p] > s->before[p * s->places + q];
    return rank;
}

void bt_succession_order(const bt_succession *s, size_t *order)
{
    const size_t n = s->places, first = bt_succession_first(s);
    size_t turn = 0;
    for (size_t p = 0; p < n; p++) { /* into its place among those before it */
        const size_t rank = rank_of(s, p);
        size_t at = p;
        for (; at > 0 && rank_of(s, order[at - 1]) > rank; at--) order[at] = order[at - 1];
        order[at] = p;
    }
    while (turn < n && order[turn] != first) turn++;
    for (; turn > 0 && turn < n; turn--) {
        const size_t moved = order[0];
        memmove(order, order + 1, (n - 1) * sizeof *order);
        order[n - 1] = moved;
    }
}
