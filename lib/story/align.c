/* A run aligned with its lap: see align.h.  Global alignment (Needleman and Wunsch 1970) of the
 * zones with a lap repeated without end.  The way is compared from one matched zone
 * to the next, so that the error of a distance made from wheel speeds does not add up. */
#include "story/align.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"

/* Costs are in units of half a squared standard deviation. */
#define ENTRY_LOOSE 6.0  /* m/s; more speed comes along where a brake was left out */
#define EXTRA       8.0  /* a zone that is no place's: four deviations off, it is not the same */
#define MISSED      3.0  /* a place passed by */
#define SPEED_MOST  4.5  /* of one speed: one odd speed does not outweigh where the zone is */
#define WAY_MOST    12.0 /* of the way: a hole in time hides how far it was */
#define BY_START    2.0  /* what it costs to go by the start: the end is the better witness */
enum { LOOK_BACK = 5 };  /* zones in a row that may be extra, plus 1 */

/* ---- is one brake another's twin? ---- */

static double cost_of(double difference, double sigma)
{
    return difference * difference / (2 * sigma * sigma);
}

double bt_brakes_unlike(const bt_brake *a, const bt_brake *b)
{
    return cost_of(a->entry - b->entry, BT_ENTRY_SIGMA) + cost_of(a->exit - b->exit, BT_EXIT_SIGMA);
}

/* A brake held on longer leaves any speed behind it; one that leaves far more than usual is another. */
static double speed_cost(const bt_brake *b, const bt_brake *place)
{
    const double exit = cost_of(b->exit - place->exit, BT_EXIT_SIGMA);
    return fmin(cost_of(b->entry - place->entry, ENTRY_LOOSE), SPEED_MOST) +
           (b->exit < place->exit ? fmin(exit, SPEED_MOST) : exit);
}

static double way_cost(double way, double expected)
{
    const double difference = way - expected, part = BT_WAY_PART * expected;
    return fmin(difference * difference / (2 * (BT_WAY_SIGMA * BT_WAY_SIGMA + part * part)),
                WAY_MOST);
}

/* The way from place j on to the place `steps` behind it, end to end. */
double bt_lap_form_way_on(const bt_lap_form *f, size_t j, size_t steps)
{
    const size_t to = j + steps, laps = to / f->n;
    return f->place[to % f->n].at - f->place[j].at + (double)laps * f->length;
}

/* Brake b, `way` behind a, is place q, `expected` behind p: by its end, or by its start
 * where it was held on longer than usual; seen from the end or from the start of a. */
static double pair_cost(const bt_brake *a, const bt_brake *b, const bt_brake *p, const bt_brake *q,
                        double expected)
{
    const double way = b->at - a->at, held = a->length - p->length, late = b->length - q->length;
    const double by_end = fmin(way_cost(way, expected), way_cost(way + held, expected));
    const double by_start =
        fmin(way_cost(way - late, expected), way_cost(way - late + held, expected));
    if (b->exit > q->exit + BT_EXIT_SIGMA)
        return by_end + speed_cost(b, q); /* not held on longer */
    return fmin(by_end + speed_cost(b, q),
                BY_START + by_start + cost_of(b->entry - q->entry, BT_ENTRY_SIGMA));
}

/* ---- alignment ---- */

/* The best alignment that ends with a zone at a place. */
typedef struct {
    double cost;
    size_t from_zone; /* BT_NO_PLACE = it is the first */
    size_t steps;     /* places on from the one before */
} state;

/* least[] has the least cost of each zone before; neither a pair nor a step takes anything off. */
static state best_state(const bt_lap_form *f, bt_brakes run, const state *table,
                        const double *least, size_t i, size_t j)
{
    state best = {EXTRA * (double)i + speed_cost(&run.brake[i], &f->place[j]), BT_NO_PLACE, 0};
    for (size_t back = 1; back <= LOOK_BACK && back <= i; back++) {
        const double extra = EXTRA * (double)(back - 1);
        size_t from = j;
        for (size_t steps = 1; steps <= 2 * f->n; steps++) {
            const double missed = MISSED * (double)(steps - 1);
            if (!(least[i - back] + extra + missed < best.cost)) break;
            from = (from ? from : f->n) - 1;
            const double before = table[(i - back) * f->n + from].cost + extra + missed;
            if (!(before < best.cost)) continue;
            const double cost =
                before + pair_cost(&run.brake[i - back], &run.brake[i], &f->place[from],
                                   &f->place[j], bt_lap_form_way_on(f, from, steps));
            if (cost < best.cost) best = (state){cost, i - back, steps};
        }
    }
    return best;
}

/* Follow the cheapest alignment back to its first zone. */
static double trace_back(const bt_lap_form *f, size_t n, const state *table, size_t *place,
                         double *share)
{
    double least = EXTRA * (double)n;
    size_t at = BT_NO_PLACE, matched = 0, passed = 0;
    for (size_t i = 0; i < n; i++) {
        place[i] = BT_NO_PLACE;
        for (size_t j = 0; j < f->n; j++) {
            const double cost = table[i * f->n + j].cost + EXTRA * (double)(n - 1 - i);
            if (cost < least) {
                least = cost;
                at = i * f->n + j;
            }
        }
    }
    *share = 0;
    if (at == BT_NO_PLACE) return least;
    size_t last = 0, back = 0, first = 0;
    /* place[] holds the steps back from the last one until the first is known. */
    for (size_t s = at;; matched++) {
        const size_t zone = s / f->n, j = s % f->n;
        place[zone] = back;
        last = back;
        first = j;
        if (table[s].from_zone == BT_NO_PLACE) break;
        back += table[s].steps;
        passed += table[s].steps - 1;
        s = table[s].from_zone * f->n + (j + 2 * f->n - table[s].steps) % f->n;
    }
    for (size_t i = 0; i < n; i++)
        if (place[i] != BT_NO_PLACE) place[i] = first + last - place[i];
    matched++;
    *share = (double)matched / (double)(n + passed);
    return least;
}

bt_status bt_lap_form_align(const bt_lap_form *f, bt_brakes run, size_t *place, double *share,
                            double *cost, bt_error *err)
{
    *share = 0;
    *cost = INFINITY;
    state *table = run.n && f->n ? calloc(run.n * f->n, sizeof *table) : NULL;
    double *least = run.n && f->n ? calloc(run.n, sizeof *least) : NULL;
    if (!table || !least) {
        free(table);
        free(least);
        for (size_t i = 0; i < run.n; i++) place[i] = BT_NO_PLACE;
        if (run.n == 0 || f->n == 0) return BT_OK;
        return bt_fail(err, BT_NOMEM, "no memory to align %zu zones", run.n);
    }
    for (size_t i = 0; i < run.n; i++) {
        least[i] = INFINITY;
        for (size_t j = 0; j < f->n; j++) {
            const state s = best_state(f, run, table, least, i, j);
            table[i * f->n + j] = s;
            if (s.cost < least[i]) least[i] = s.cost;
        }
    }
    *cost = trace_back(f, run.n, table, place, share);
    free(table);
    free(least);
    return BT_OK;
}
