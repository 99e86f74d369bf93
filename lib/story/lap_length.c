/* After which way does a run come round?  See align.h. */
#include <math.h>

#include "base/stats.h"
#include "story/align.h"

#define ALIKE  4.5  /* bt_brakes_unlike of two brakes of one kind, at most: three deviations */
#define NEARLY 0.75 /* of the best likeness; half a lap has less, a lap with faults more */

static bool alike(const bt_brake *a, const bt_brake *b)
{
    return bt_brakes_unlike(a, b) < ALIKE;
}

/* How much a run is like itself one length later. */
typedef struct {
    double share; /* of the zones that have a twin there */
    double like; /* how much their twins are like them, 0..1, mean of all zones: corners of one kind
                    * pass for each other, but are not as like as a corner is to itself */
    double middle; /* of the ways to the twins */
} likeness;

/* The zone most like zone i among those from j on and no farther than `reach` from one length later; run.n if
 * none is alike. */
static size_t twin_of(bt_brakes run, size_t i, size_t j, double farthest)
{
    size_t best = run.n;
    for (size_t k = j; k < run.n && run.brake[k].at <= farthest; k++)
        if (alike(&run.brake[i], &run.brake[k]) &&
            (best == run.n || bt_brakes_unlike(&run.brake[i], &run.brake[k]) <
                                  bt_brakes_unlike(&run.brake[i], &run.brake[best])))
            best = k;
    return best;
}

static likeness self_likeness(bt_brakes run, double length, double *ways)
{
    const double end = run.brake[run.n - 1].at, reach = 2 * BT_WAY_SIGMA + BT_WAY_PART / 2 * length;
    size_t asked = 0, twins = 0;
    double like = 0;
    for (size_t i = 0, j = 0; i < run.n && run.brake[i].at + length <= end + reach; i++) {
        while (j < run.n && run.brake[j].at < run.brake[i].at + length - reach) j++;
        asked++;
        const size_t twin = twin_of(run, i, j, run.brake[i].at + length + reach);
        if (twin == run.n) continue;
        like += exp(-bt_brakes_unlike(&run.brake[i], &run.brake[twin]));
        ways[twins++] = run.brake[twin].at - run.brake[i].at;
    }
    if (asked < 3) return (likeness){0, 0, NAN};
    return (likeness){(double)twins / (double)asked, like / (double)asked, bt_median(ways, twins)};
}

/* The double and triple of a lap are as good as it is, so the best alone will not do. */
double bt_lap_length(bt_brakes run, double *ways)
{
    enum { MOST_IN_LAP = 80, STARTS = 24 };
    double best = 0, least = NAN, length = NAN;
    for (int pass = 0; pass < 2; pass++)
        for (size_t back = 1; back <= MOST_IN_LAP && back < run.n; back++)
            for (size_t i = back; i < run.n && i < back + STARTS; i++) {
                const double way = run.brake[i].at - run.brake[i - back].at;
                if (way >= least || !alike(&run.brake[i], &run.brake[i - back])) continue;
                const likeness l = self_likeness(run, way, ways);
                if (!(l.share >= 0.5)) continue;
                if (pass == 0 && l.like > best) best = l.like;
                if (pass == 1 && l.like >= NEARLY * best) {
                    least = way;
                    length = l.middle;
                }
            }
    return length;
}
