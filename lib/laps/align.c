/* A run aligned with its lap: see align.h.  Global alignment (Needleman and Wunsch 1970) of the
 * zones with a lap repeated without end.  The way is compared from one matched zone
 * to the next, so that the error of a distance made from wheel speeds does not add up. */
#include "laps/align.h"

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

/* How the best alignment that ends with a zone at a place came there.  There is one for each zone and place, so it
 * is small; what it costs is kept of the last LOOK_BACK zones only. */
typedef struct {
    unsigned back : 3;   /* zones back to the one before; 0 = it is the first */
    unsigned steps : 29; /* places on from the one before */
} step;

typedef struct {
    const bt_lap_form *form;
    bt_brakes run;
    step *table;  /* zone * places + place */
    double *ring; /* see costs_of */
    double
        least; /* of a whole alignment, and where it ends; BT_NO_PLACE = with no zone at a place */
    size_t end;
} alignment;

/* The cost of zone i at each place, and behind them the least of these. */
static double *costs_of(const alignment *a, size_t i)
{
    return a->ring + i % (LOOK_BACK + 1) * (a->form->n + 1);
}

/* Neither a pair nor a step takes anything off the least cost of a zone before. */
static double best_step(const alignment *a, size_t i, size_t j, step *best)
{
    const bt_lap_form *f = a->form;
    const bt_brake *brake = a->run.brake;
    double least = EXTRA * (double)i + speed_cost(&brake[i], &f->place[j]);
    *best = (step){0, 0};
    for (size_t back = 1; back <= LOOK_BACK && back <= i; back++) {
        const double extra = EXTRA * (double)(back - 1);
        const double *costs = costs_of(a, i - back);
        size_t from = j;
        for (size_t steps = 1; steps <= 2 * f->n; steps++) {
            const double missed = MISSED * (double)(steps - 1);
            if (!(costs[f->n] + extra + missed < least)) break;
            from = (from ? from : f->n) - 1;
            const double before = costs[from] + extra + missed;
            if (!(before < least)) continue;
            const double cost =
                before + pair_cost(&brake[i - back], &brake[i], &f->place[from], &f->place[j],
                                   bt_lap_form_way_on(f, from, steps));
            if (!(cost < least)) continue;
            least = cost;
            *best = (step){(unsigned)back & 7u, (unsigned)steps & 0x1fffffffu};
        }
    }
    return least;
}

static void fill_table(alignment *a)
{
    const size_t n = a->run.n, places = a->form->n;
    a->least = EXTRA * (double)n;
    a->end = BT_NO_PLACE;
    for (size_t i = 0; i < n; i++) {
        double *costs = costs_of(a, i);
        costs[places] = INFINITY;
        for (size_t j = 0; j < places; j++) {
            costs[j] = best_step(a, i, j, &a->table[i * places + j]);
            if (costs[j] < costs[places]) costs[places] = costs[j];
            const double whole = costs[j] + EXTRA * (double)(n - 1 - i);
            if (!(whole < a->least)) continue;
            a->least = whole;
            a->end = i * places + j;
        }
    }
}

/* Follow the cheapest alignment back to its first zone.  Gives the share. */
static double trace_back(const alignment *a, size_t *place)
{
    const size_t n = a->run.n, places = a->form->n;
    for (size_t i = 0; i < n; i++) place[i] = BT_NO_PLACE;
    if (a->end == BT_NO_PLACE) return 0;
    size_t matched = 1, passed = 0, back = 0, first;
    /* place[] holds the steps back from the last one until the first is known. */
    for (size_t s = a->end;; matched++) {
        const step came = a->table[s];
        place[s / places] = back;
        first = s % places;
        if (came.back == 0) break;
        back += came.steps;
        passed += came.steps - 1;
        s = (s / places - came.back) * places + (first + 2 * places - came.steps) % places;
    }
    for (size_t i = 0; i < n; i++)
        if (place[i] != BT_NO_PLACE) place[i] = first + back - place[i];
    return (double)matched / (double)(n + passed);
}

bt_status bt_lap_form_align(const bt_lap_form *f, bt_brakes run, size_t *place, double *share,
                            double *cost, bt_error *err)
{
    alignment a = {.form = f, .run = run};
    *share = 0;
    *cost = INFINITY;
    for (size_t i = 0; i < run.n; i++) place[i] = BT_NO_PLACE;
    if (run.n == 0 || f->n == 0) return BT_OK;
    if (f->n < UINT32_MAX >> 4 && run.n <= SIZE_MAX / f->n) {
        a.table = calloc(run.n * f->n, sizeof *a.table);
        a.ring = calloc((LOOK_BACK + 1) * (f->n + 1), sizeof *a.ring);
    }
    const bool room = a.table && a.ring;
    if (room) {
        fill_table(&a);
        *cost = a.least;
        *share = trace_back(&a, place);
    }
    free(a.table);
    free(a.ring);
    return room ? BT_OK : bt_fail(err, BT_NOMEM, "no memory to align %zu zones", run.n);
}
