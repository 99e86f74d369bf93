/* After which way does a run come round?  See align.h. */
#include <math.h>

#include "base/stats.h"
#include "laps/align.h"

#define ALIKE  4.5  /* bt_brakes_unlike of two brakes of one kind, at most: three deviations */
#define NEARLY 0.75 /* of the best likeness; half a lap has less, a lap with faults more */
#define SPREAD 0.35 /* standard deviation of likeness, 0..1, from zone to zone */
#define CHANCE 0.05 /* that brakes in any order would look like laps, at most */

static bool alike(const bt_brake *a, const bt_brake *b)
{
    return bt_brakes_unlike(a, b) < ALIKE;
}

/* How far a twin may lie from one length later. */
static double reach_at(double length)
{
    return 2 * BT_WAY_SIGMA + BT_WAY_PART / 2 * length;
}

/* How much a run is like itself one length later. */
typedef struct {
    size_t asked, twins; /* zones that could have a twin there; that have one */
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
    const double end = run.brake[run.n - 1].at, reach = reach_at(length);
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
    if (asked < 3) return (likeness){0, 0, 0, NAN};
    return (likeness){asked, twins, like / (double)asked, bt_median(ways, twins)};
}

/* P(X >= k) of n draws that each succeed with probability p. */
static double at_least(size_t k, size_t n, double p)
{
    double sum = 0;
    for (size_t x = k; x <= n; x++)
        sum += exp(lgamma((double)n + 1) - lgamma((double)x + 1) - lgamma((double)(n - x) + 1) +
                   (double)x * log(p) + (double)(n - x) * log1p(-p));
    return sum;
}

/* The share of pairs of brakes that are alike. */
static double any_alike(bt_brakes run)
{
    enum { MOST = 80 };
    const size_t n = run.n < MOST ? run.n : MOST;
    size_t pairs = 0;
    for (size_t i = 1; i < n; i++)
        for (size_t k = 0; k < i; k++) pairs += alike(&run.brake[i], &run.brake[k]);
    return n < 2 ? 1 : 2.0 * (double)pairs / (double)(n * (n - 1));
}

/* Would as many twins be found one length later if the brakes came in any order?  Brakes that are alike everywhere,
 * or few of them, tell of no laps; nor does the best of as many lengths as can be told apart. */
static bool by_chance(bt_brakes run, double length, likeness l, double any)
{
    const double way = run.brake[run.n - 1].at - run.brake[0].at, window = 2 * reach_at(length);
    const double in_window = fmax(1, window * (double)(run.n - 1) / way);
    const double one = 1 - pow(1 - any, in_window);
    return !(one < 1 && at_least(l.twins, l.asked, one) * way / window < CHANCE);
}

/* The double and triple of a lap are as good as it is, so the best alone will not do; nor are few zones that are
 * alike, one long way later, as sure as many. */
double bt_lap_length(bt_brakes run, double *ways)
{
    enum { MOST_IN_LAP = 80, STARTS = 24 };
    const double any = any_alike(run);
    double best = 0, least = NAN, length = NAN;
    for (int pass = 0; pass < 2; pass++)
        for (size_t back = 1; back <= MOST_IN_LAP && back < run.n; back++)
            for (size_t i = back; i < run.n && i < back + STARTS; i++) {
                const double way = run.brake[i].at - run.brake[i - back].at;
                if (way >= least || !alike(&run.brake[i], &run.brake[i - back])) continue;
                const likeness l = self_likeness(run, way, ways);
                if (l.asked == 0 || 2 * l.twins < l.asked || by_chance(run, way, l, any)) continue;
                if (pass == 0) best = fmax(best, l.like - SPREAD / sqrt((double)l.asked));
                if (pass == 1 && l.like >= NEARLY * best) {
                    least = way;
                    length = l.middle;
                }
            }
    return length;
}
