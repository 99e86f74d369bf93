/* How often is compare right, on simulated pairs of runs whose difference is known?  Zones scatter by 0.8 percentage
 * points about their place's level; laps may move all their places together ("common").
 * Bounds: places reported different that are not, as a part of all that are reported (false discovery rate), in
 * at most 5 % and two standard errors; the same for the mean over places where nothing differs; its 95 % interval
 * holds the truth in 93 to 97.5 %; a difference of 1 point is found.  Ends in 1 if a bound fails. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "base/stats.h"

enum { LAPS = 10, PLACES = 9, RUNS = 1000 };

typedef struct {
    const char *what;
    double common; /* pp */
    double diff;   /* pp, B more than A, at the first `differ` places */
    size_t differ;
} scene;

static double uniform(bt_random *r)
{
    return ((double)(bt_random_next(r) >> 11) + 0.5) / 9007199254740992.0; /* 2^53 */
}

static double normal(bt_random *r)
{
    return sqrt(-2 * log(uniform(r))) * cos(6.283185307179586 * uniform(r));
}

static void drive(bt_zones *zones, const scene *s, bool b, bt_random *r)
{
    zones->n = 0;
    for (int lap = 1; lap <= LAPS; lap++) {
        const double moved = s->common * normal(r);
        for (size_t p = 0; p < PLACES; p++) {
            bt_zone z;
            bt_row_blank(BT_TABLE_ZONES, &z);
            snprintf(z.run, sizeof z.run, "run");
            z.zone = (double)(zones->n + 1);
            z.lap = lap;
            z.start = 90 * lap + 8 * (double)p;
            z.start_dist = 300 * (double)(p + 1);
            z.distance = 100;
            z.entry = 60 - (double)p;
            z.exit = 20 + (double)p;
            z.balance = 0.01 * (60 + (double)p + moved + 0.8 * normal(r) +
                                (b && p < s->differ ? s->diff : 0));
            if (bt_zones_add(zones, &z, 1, NULL) != BT_OK) exit(2);
        }
    }
}

typedef struct {
    size_t reported, false_reported, all_reported, covered, place_covered;
    double fdr;
} count;

static void look(const bt_compare *row, size_t n, const scene *s, count *c)
{
    const double truth = s->diff * (double)s->differ / PLACES;
    size_t reported = 0, wrong = 0;
    if (n != 1 + PLACES) exit(2);
    c->all_reported += row[0].p < 0.05;
    c->covered += row[0].low <= truth && row[0].high >= truth;
    for (size_t p = 0; p < PLACES; p++) {
        const bool differs = s->diff != 0 && p < s->differ;
        const double own = differs ? s->diff : 0;
        const bool told = row[p + 1].p_adjusted < 0.05;
        reported += told;
        wrong += told && !differs;
        c->place_covered += row[p + 1].low <= own && row[p + 1].high >= own;
    }
    c->reported += reported;
    c->false_reported += wrong;
    c->fdr += reported ? (double)wrong / (double)reported : 0;
}

static bool judge(const scene *s, uint64_t seed)
{
    bt_random r = {seed};
    bt_zones a = {0}, b = {0};
    count c = {0};
    for (int k = 0; k < RUNS; k++) {
        bt_compare *row;
        size_t n;
        drive(&a, s, false, &r);
        drive(&b, s, true, &r);
        if (bt_compare_find(&a, &b, NULL, &row, &n, NULL) != BT_OK) exit(2);
        look(row, n, s, &c);
        free(row);
    }
    bt_zones_free(&a);
    bt_zones_free(&b);
    const double fdr = c.fdr / RUNS, all = (double)c.all_reported / RUNS,
                 cover = (double)c.covered / RUNS,
                 power = s->differ
                             ? (double)(c.reported - c.false_reported) / (double)(RUNS * s->differ)
                             : NAN;
    const double most = 0.05 + 2 * sqrt(0.05 * 0.95 / RUNS);
    bool good = fdr <= most && cover >= 0.93 && cover <= 0.975;
    if (s->differ == 0) good = good && all <= most;
    if (s->differ == PLACES && s->diff >= 1) good = good && all >= 0.95;
    printf("%-34s common %.1f: false discoveries %.1f%%, differing places found %.1f%%; mean: "
           "reported "
           "%.1f%%, interval holds %.1f%% (places %.1f%%)%s\n",
           s->what, s->common, 100 * fdr, 100 * power, 100 * all, 100 * cover,
           100 * (double)c.place_covered / (RUNS * PLACES), good ? "" : "   OUT OF BOUNDS");
    return good;
}

int main(void)
{
    static const scene scenes[] = {
        {"no difference", 0, 0, 0},
        {"no difference", 0.3, 0, 0},
        {"no difference", 0.8, 0, 0},
        {"1 pp at all places", 0, 1, PLACES},
        {"1 pp at all places", 0.3, 1, PLACES},
        {"2 pp at three of nine places", 0.3, 2, 3},
        {"1 pp at three of nine places", 0, 1, 3},
    };
    bool good = true;
    for (size_t i = 0; i < sizeof scenes / sizeof *scenes; i++)
        good = judge(&scenes[i], i + 1) && good;
    return good ? EXIT_SUCCESS : EXIT_FAILURE;
}
