/* A run aligned with its lap: see align.h.  Global alignment (Needleman and Wunsch 1970) of the
 * zones with a lap repeated without end.  The way is compared from one matched zone
 * to the next, so that the error of a distance made from wheel speeds does not add up. */
#include "story/align.h"

#include <math.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"
#include "base/grow.h"
#include "story/spots.h"
#include "base/stats.h"

/* Costs are in units of half a squared standard deviation. */
#define ENTRY_SIGMA 3.0  /* m/s, from lap to lap */
#define EXIT_SIGMA  2.0  /* m/s; the corner sets it */
#define ENTRY_LOOSE 6.0  /* m/s; more speed comes along where a brake was left out */
#define WAY_SIGMA   15.0 /* m, of the way between two release points */
#define WAY_PART    0.01 /* of the way, for lines and rolling radii that differ */
#define EXTRA       8.0  /* a zone that is no place's: four deviations off, it is not the same */
#define MISSED      3.0  /* a place passed by */
#define SPEED_MOST  4.5  /* of one speed: one odd speed does not outweigh where the zone is */
#define WAY_MOST    12.0 /* of the way: a hole in time hides how far it was */
#define NEARLY      0.75 /* of the best likeness; half a lap has less, a lap with faults more */
#define BY_START    2.0  /* what it costs to go by the start: the end is the better witness */
enum { LOOK_BACK = 5 /* zones in a row that may be extra, plus 1 */, SCORED = 400, STARTS = 24 };

/* ---- is one brake another's twin? ---- */

static double cost_of(double difference, double sigma)
{
    return difference * difference / (2 * sigma * sigma);
}

/* A brake held on longer leaves any speed behind it; one that leaves far more than usual is another. */
static double speed_cost(const bt_brake *b, const bt_brake *place)
{
    const double exit = cost_of(b->exit - place->exit, EXIT_SIGMA);
    return fmin(cost_of(b->entry - place->entry, ENTRY_LOOSE), SPEED_MOST) +
           (b->exit < place->exit ? fmin(exit, SPEED_MOST) : exit);
}

static double way_cost(double way, double expected)
{
    const double difference = way - expected, part = WAY_PART * expected;
    return fmin(difference * difference / (2 * (WAY_SIGMA * WAY_SIGMA + part * part)), WAY_MOST);
}

/* The way from place j on to the place `steps` behind it, end to end. */
static double way_on(const bt_lap_form *f, size_t j, size_t steps)
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
    if (b->exit > q->exit + EXIT_SIGMA) return by_end + speed_cost(b, q); /* not held on longer */
    return fmin(by_end + speed_cost(b, q),
                BY_START + by_start + cost_of(b->entry - q->entry, ENTRY_SIGMA));
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
                                   &f->place[j], way_on(f, from, steps));
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

static bt_status align(const bt_lap_form *f, bt_brakes run, size_t *place, double *share,
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

bt_status bt_lap_form_align(const bt_lap_form *form, bt_brakes run, size_t *place, double *share,
                            bt_error *err)
{
    double cost;
    return align(form, run, place, share, &cost, err);
}

/* ---- the length of the lap ---- */

static double unlike(const bt_brake *a, const bt_brake *b)
{
    return cost_of(a->entry - b->entry, ENTRY_SIGMA) + cost_of(a->exit - b->exit, EXIT_SIGMA);
}

static bool alike(const bt_brake *a, const bt_brake *b)
{
    return unlike(a, b) < SPEED_MOST;
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
            (best == run.n ||
             unlike(&run.brake[i], &run.brake[k]) < unlike(&run.brake[i], &run.brake[best])))
            best = k;
    return best;
}

static likeness self_likeness(bt_brakes run, double length, double *ways)
{
    const double end = run.brake[run.n - 1].at, reach = 2 * WAY_SIGMA + WAY_PART / 2 * length;
    size_t asked = 0, twins = 0;
    double like = 0;
    for (size_t i = 0, j = 0; i < run.n && run.brake[i].at + length <= end + reach; i++) {
        while (j < run.n && run.brake[j].at < run.brake[i].at + length - reach) j++;
        asked++;
        const size_t twin = twin_of(run, i, j, run.brake[i].at + length + reach);
        if (twin == run.n) continue;
        like += exp(-unlike(&run.brake[i], &run.brake[twin]));
        ways[twins++] = run.brake[twin].at - run.brake[i].at;
    }
    if (asked < 3) return (likeness){0, 0, NAN};
    return (likeness){(double)twins / (double)asked, like / (double)asked, bt_median(ways, twins)};
}

/* The smallest way after which the run is nearly as like itself as after any: the double and triple of
 * a lap are as good as it is, so the best alone will not do.  NaN if it never comes round. */
static double lap_length(bt_brakes run, double *ways)
{
    enum { MOST_IN_LAP = 80 };
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

/* ---- the form ---- */

void bt_lap_form_free(bt_lap_form *form)
{
    free(form->place);
    *form = (bt_lap_form){0};
}

static bt_status insert_place(bt_lap_form *f, size_t at, bt_brake brake, bt_error *err)
{
    void *place = f->place;
    BT_TRY(bt_grow(&place, &f->cap, f->n + 1, sizeof *f->place, "places", err));
    f->place = place;
    memmove(&f->place[at + 1], &f->place[at], (f->n - at) * sizeof *f->place);
    f->place[at] = brake;
    f->n++;
    return BT_OK;
}

bt_status bt_lap_form_copy(bt_lap_form *to, const bt_lap_form *from, bt_error *err)
{
    *to = (bt_lap_form){.length = from->length};
    for (size_t i = 0; i < from->n; i++) BT_TRY(insert_place(to, i, from->place[i], err));
    return BT_OK;
}

void bt_lap_form_turn(bt_lap_form *form, size_t first)
{
    const double zero = form->n ? form->place[first].at : 0;
    for (; first > 0; first--) {
        const bt_brake moved = form->place[0];
        memmove(form->place, form->place + 1, (form->n - 1) * sizeof *form->place);
        form->place[form->n - 1] = moved;
    }
    for (size_t i = 0; i < form->n; i++) {
        form->place[i].at -= zero;
        if (form->place[i].at < 0) form->place[i].at += form->length;
    }
}

/* One lap's length of the run as it was driven, from zone `first` on. */
static bt_status window(bt_lap_form *f, bt_brakes run, size_t first, double length, bt_error *err)
{
    f->n = 0;
    f->length = length;
    for (size_t i = first; i < run.n; i++) {
        bt_brake brake = run.brake[i];
        brake.at -= run.brake[first].at;
        if (brake.at > length - 2 * WAY_SIGMA) break;
        BT_TRY(insert_place(f, f->n, brake, err));
    }
    return BT_OK;
}

/* The window that fits all of the run best. */
static bt_status best_window(bt_lap_form *best, bt_brakes run, double length, size_t *place,
                             bt_error *err)
{
    double least = INFINITY;
    bt_lap_form f = {0};
    bt_status status = BT_OK;
    for (size_t first = 0; status == BT_OK && first < run.n && first < STARTS; first++) {
        double share, cost = INFINITY;
        if (first > 0 && run.brake[first].at + length > run.brake[run.n - 1].at) break;
        status = window(&f, run, first, length, err);
        if (status == BT_OK) status = align(&f, run, place, &share, &cost, err);
        if (status != BT_OK || !(cost < least)) continue;
        least = cost;
        bt_lap_form_free(best);
        status = bt_lap_form_copy(best, &f, err);
    }
    bt_lap_form_free(&f);
    return status;
}

bt_status bt_lap_form_find(bt_lap_form *form, bt_brakes run, bt_error *err)
{
    *form = (bt_lap_form){0};
    if (run.n < 4) return BT_OK;
    const bt_brakes head = {run.brake, run.n < SCORED ? run.n : SCORED};
    double *ways = calloc(head.n, sizeof *ways);
    size_t *place = calloc(head.n, sizeof *place);
    if (!ways || !place) {
        free(ways);
        free(place);
        return bt_fail(err, BT_NOMEM, "no memory to align %zu zones", head.n);
    }
    bt_status status = BT_OK;
    const double length = lap_length(head, ways);
    if (!isnan(length)) status = best_window(form, head, length, place, err);
    free(ways);
    free(place);
    return status == BT_OK && form->n ? bt_lap_form_refine(form, &run, 1, err) : status;
}

/* ---- the middle of many laps ---- */

/* What the alignment of all runs says; arrays one behind the other, as long as all zones. */
typedef struct {
    size_t n;
    size_t *place; /* counting on */
    bt_brake *brake;
    size_t *run;
    double *value, *spare; /* room */
} evidence;

static void evidence_free(evidence *e)
{
    free(e->place);
    free(e->brake);
    free(e->run);
    free(e->value);
    free(e->spare);
}

static bt_status evidence_new(evidence *e, const bt_brakes *run, size_t runs, bt_error *err)
{
    size_t n = 0;
    for (size_t r = 0; r < runs; r++) n += run[r].n;
    *e = (evidence){.place = calloc(n + 1, sizeof *e->place),
                    .brake = calloc(n + 1, sizeof *e->brake),
                    .run = calloc(n + 1, sizeof *e->run),
                    .value = calloc(n + 1, sizeof *e->value),
                    .spare = calloc(n + 1, sizeof *e->spare)};
    if (!e->place || !e->brake || !e->run || !e->value || !e->spare)
        return bt_fail(err, BT_NOMEM, "no memory to align %zu zones", n);
    for (size_t r = 0; r < runs; r++)
        for (size_t i = 0; i < run[r].n; i++) {
            e->brake[e->n] = run[r].brake[i];
            e->run[e->n++] = r;
        }
    return BT_OK;
}

static bt_status align_all(evidence *e, const bt_lap_form *f, const bt_brakes *run, size_t runs,
                           bt_error *err)
{
    size_t at = 0;
    for (size_t r = 0; r < runs; r++) {
        double share;
        BT_TRY(bt_lap_form_align(f, run[r], e->place + at, &share, err));
        at += run[r].n;
    }
    return BT_OK;
}

static size_t place_count(const evidence *e, const bt_lap_form *f, size_t j)
{
    size_t count = 0;
    for (size_t i = 0; i < e->n; i++)
        count += e->place[i] != BT_NO_PLACE && e->place[i] % f->n == j;
    return count;
}

static size_t laps_seen(const evidence *e, const bt_lap_form *f)
{
    size_t most = 0;
    for (size_t j = 0; j < f->n; j++) {
        const size_t count = place_count(e, f, j);
        if (count > most) most = count;
    }
    return most;
}

/* Medians of the speeds and of the zone's length at place j, and of the way to the next place where both were braked for. */
static double middle_place(const evidence *e, bt_lap_form *f, size_t j)
{
    static const size_t members[] = {offsetof(bt_brake, length), offsetof(bt_brake, entry),
                                     offsetof(bt_brake, exit)};
    size_t ways = 0;
    for (size_t k = 0; k < 3; k++) {
        size_t n = 0;
        for (size_t i = 0; i < e->n; i++)
            if (e->place[i] != BT_NO_PLACE && e->place[i] % f->n == j)
                memcpy(&e->value[n++], (const char *)&e->brake[i] + members[k], sizeof(double));
        const double middle = bt_median(e->value, n);
        if (n) memcpy((char *)&f->place[j] + members[k], &middle, sizeof middle);
    }
    for (size_t i = 0; i < e->n; i++) {
        if (e->place[i] == BT_NO_PLACE || e->place[i] % f->n != j) continue;
        size_t next = i + 1;
        while (next < e->n && e->run[next] == e->run[i] && e->place[next] == BT_NO_PLACE) next++;
        if (next < e->n && e->run[next] == e->run[i] && e->place[next] == e->place[i] + 1)
            e->spare[ways++] = e->brake[next].at - e->brake[i].at;
    }
    return ways ? bt_median(e->spare, ways) : way_on(f, j, 1);
}

static bt_status middle_of_all(const evidence *e, bt_lap_form *f, bt_error *err)
{
    /* Ways on are the old form's until all the new ones are known. */
    double *way = calloc(f->n, sizeof *way);
    if (!way) return bt_fail(err, BT_NOMEM, "no memory for %zu places", f->n);
    for (size_t j = 0; j < f->n; j++) way[j] = middle_place(e, f, j);
    f->length = 0;
    for (size_t j = 0; j < f->n; j++) {
        f->place[j].at = f->length;
        f->length += way[j];
    }
    free(way);
    return BT_OK;
}

static void remove_place(bt_lap_form *f, size_t j)
{
    if (j == 0 && f->n > 1) { /* the way counts from place 0 */
        bt_lap_form_turn(f, 1);
        j = f->n - 1;
    }
    memmove(&f->place[j], &f->place[j + 1], (f->n - j - 1) * sizeof *f->place);
    f->n--;
}

/* The place least often braked for, if that is too seldom. */
static bool remove_rare(const evidence *e, bt_lap_form *f, size_t laps)
{
    size_t rare = BT_NO_PLACE, least = laps;
    for (size_t j = 0; j < f->n; j++) {
        const size_t count = place_count(e, f, j);
        if (count >= least) continue;
        least = count;
        rare = j;
    }
    if (rare == BT_NO_PLACE || (double)least >= BT_PLACE_LEAST * (double)laps) return false;
    remove_place(f, rare);
    return true;
}

/* A place where zones without one gather; only one at a time, since it changes the alignment. */
static bt_status insert_common(const evidence *e, bt_lap_form *f, size_t laps, bool *inserted,
                               bt_error *err)
{
    const double weight = 4; /* m per m/s of exit speed */
    size_t n = 0, last = BT_NO_PLACE, spots;
    bt_spot *spot;
    *inserted = false;
    bt_point *point = calloc(e->n + 1, sizeof *point);
    if (!point) return bt_fail(err, BT_NOMEM, "no memory to align %zu zones", e->n);
    for (size_t i = 0; i < e->n; i++) {
        if (i > 0 && e->run[i] != e->run[i - 1]) last = BT_NO_PLACE;
        if (e->place[i] != BT_NO_PLACE) last = i;
        if (e->place[i] != BT_NO_PLACE || last == BT_NO_PLACE) continue;
        const double way = e->brake[i].at - e->brake[last].at;
        e->value[n] = (double)i;
        point[n++] =
            (bt_point){f->place[e->place[last] % f->n].at + way, weight * e->brake[i].exit, 0};
    }
    bt_status status = bt_spots_find(point, n, 2 * WAY_SIGMA, 4 * WAY_SIGMA, &spot, &spots, err);
    if (status == BT_OK && spots && (double)spot[0].n >= BT_PLACE_LEAST * (double)laps &&
        spot[0].at.x < f->length) {
        /* As the zone nearest to it was; the medians come with the next alignment. */
        size_t nearest = 0, to = 0;
        for (size_t k = 1; k < n; k++)
            if (bt_points_apart(point[k], spot[0].at) < bt_points_apart(point[nearest], spot[0].at))
                nearest = k;
        bt_brake brake = e->brake[(size_t)e->value[nearest]];
        brake.at = spot[0].at.x;
        while (to < f->n && f->place[to].at <= brake.at) to++;
        status = insert_place(f, to, brake, err);
        *inserted = true;
    }
    free(spot);
    free(point);
    return status;
}

bt_status bt_lap_form_refine(bt_lap_form *form, const bt_brakes *run, size_t runs, bt_error *err)
{
    enum { ROUNDS = 12, SETTLED = 3 };
    evidence e;
    bt_status status = evidence_new(&e, run, runs, err);
    int settled = 0;
    for (int round = 0; status == BT_OK && form->n && round < ROUNDS && settled < SETTLED;
         round++) {
        bool changed = false;
        if ((status = align_all(&e, form, run, runs, err)) != BT_OK) break;
        const size_t laps = laps_seen(&e, form);
        changed = remove_rare(&e, form, laps);
        if (!changed) status = insert_common(&e, form, laps, &changed, err);
        if (!changed && status == BT_OK) {
            status = middle_of_all(&e, form, err);
            settled++;
        }
    }
    evidence_free(&e);
    return status;
}
