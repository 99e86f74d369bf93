/* Free rolling: see rolling.h.  Each reading is divided by the best reference there is at that moment;
 * the ratios go into a histogram with even steps of the logarithm, whose median is the factor. */
#include "inspect/rolling.h"

#include <math.h>
#include <stdlib.h>

#define FRESH    0.2 /* s; speeds change little meanwhile */
#define MOVING   5.0 /* m/s */
#define RELEASED 3e5 /* Pa, where braking zones begin (METHODS 4) */

enum { BINS = 1601, LEAST = 20, LEAST_TWINS = 200 };
#define RATIO_MAX 1e4 /* raw counts of some hundred per m/s are in */

typedef struct {
    double t, v; /* last reading */
    uint32_t bin[BINS];
    uint64_t n, zeros;
    uint64_t by[BT_ROLL_WHEELS + 1]; /* comparisons with each kind of reference */
} slot;

struct bt_rolling {
    slot slot[BT_ROLL_SLOTS];
    uint64_t both[BT_ROLL_SLOTS][BT_ROLL_SLOTS]; /* readings of two wheels at one time, moving, */
    uint64_t same[BT_ROLL_SLOTS][BT_ROLL_SLOTS]; /* and those that were equal */
    double brake;
};

bt_status bt_rolling_new(bt_rolling **out, bt_error *err)
{
    bt_rolling *r = *out = calloc(1, sizeof *r);
    if (!r) return bt_fail(err, BT_NOMEM, "no memory to compare speeds");
    for (int i = 0; i < BT_ROLL_SLOTS; i++) r->slot[i].t = r->slot[i].v = NAN;
    return BT_OK;
}

void bt_rolling_free(bt_rolling *r)
{
    free(r);
}

void bt_rolling_brake(bt_rolling *r, double pressure)
{
    r->brake = pressure;
}

static bool fresh(const slot *s, double t)
{
    return t - s->t <= FRESH && t >= s->t;
}

/* Speed by the best other source: the speed, else the motor, else the median of the other wheels that
 * turn.  NaN = none. */
static double reference(const bt_rolling *r, unsigned of, double t, int *kind)
{
    for (int i = 0; i < BT_ROLL_WHEELS; i++) {
        *kind = i;
        if ((unsigned)i == of) return NAN; /* nothing better than itself */
        if (fresh(&r->slot[i], t)) return r->slot[i].v;
    }
    double v[4];
    int n = 0;
    *kind = BT_ROLL_WHEELS;
    for (unsigned i = BT_ROLL_WHEELS; i < BT_ROLL_SLOTS; i++) {
        if (i == of || !fresh(&r->slot[i], t) || !(r->slot[i].v > 0)) continue;
        int at = n++;
        /* cppcheck-suppress uninitvar ; v[0..at) is filled already */
        for (; at > 0 && v[at - 1] > r->slot[i].v; at--) v[at] = v[at - 1];
        v[at] = r->slot[i].v;
    }
    return n == 0 ? NAN : 0.5 * (v[(n - 1) / 2] + v[n / 2]);
}

static void compare_wheels(bt_rolling *r, unsigned of, double t, double v)
{
    if (of < BT_ROLL_WHEELS || !(v > MOVING)) return;
    for (unsigned o = BT_ROLL_WHEELS; o < BT_ROLL_SLOTS; o++) {
        if (o == of || !(r->slot[o].t >= t && r->slot[o].t <= t)) continue;
        const bool same = r->slot[o].v >= v && r->slot[o].v <= v;
        r->both[of][o]++, r->both[o][of]++;
        r->same[of][o] += same, r->same[o][of] += same;
    }
}

void bt_rolling_speed(bt_rolling *r, unsigned of, double t, double v)
{
    slot *s = &r->slot[of];
    s->t = t;
    s->v = v;
    compare_wheels(r, of, t, v);
    if (r->brake > RELEASED) return;
    int kind;
    const double against = reference(r, of, t, &kind);
    if (!(against > MOVING)) return;
    s->n++;
    s->by[kind]++;
    if (!(v > 0)) {
        s->zeros++;
        return;
    }
    const double place = 0.5 * (log(v / against) / log(RATIO_MAX) + 1) * (BINS - 1);
    s->bin[place < 0 ? 0 : place > BINS - 1 ? BINS - 1 : (int)lround(place)]++;
}

bt_rolling_finding bt_rolling_find(const bt_rolling *r, unsigned of)
{
    static const char *const than[] = {"the speed", "the motor's speed", "the other wheels'"};
    const slot *s = &r->slot[of];
    int most = 0;
    for (int kind = 1; kind <= BT_ROLL_WHEELS; kind++)
        if (s->by[kind] > s->by[most]) most = kind;
    bt_rolling_finding found = {.factor = NAN, .than = than[most], .twin = -1};
    for (int o = BT_ROLL_SLOTS - 1; o >= BT_ROLL_WHEELS; o--)
        if (r->both[of][o] >= LEAST_TWINS && r->same[of][o] == r->both[of][o]) found.twin = o;
    if (s->n < LEAST) return found;
    found.dead = s->zeros == s->n;
    if (s->zeros > s->n / 2) return found;
    uint64_t sum = 0;
    int bin = 0;
    while (bin < BINS && 2 * (sum += s->bin[bin]) < s->n - s->zeros) bin++;
    found.factor = exp((2.0 * bin / (BINS - 1) - 1) * log(RATIO_MAX));
    return found;
}
