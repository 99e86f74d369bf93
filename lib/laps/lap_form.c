/* The lap itself: found in one run, and made the middle of many.  See align.h. */
#include <math.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"
#include "base/grow.h"
#include "base/stats.h"
#include "laps/align.h"
#include "laps/spots.h"

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
        if (brake.at > length - 2 * BT_WAY_SIGMA) break;
        BT_TRY(insert_place(f, f->n, brake, err));
    }
    return BT_OK;
}

/* The window that fits all of the run best. */
static bt_status best_window(bt_lap_form *best, bt_brakes run, double length, size_t *place,
                             bt_error *err)
{
    enum { STARTS = 24 };
    double least = INFINITY;
    bt_lap_form f = {0};
    bt_status status = BT_OK;
    for (size_t first = 0; status == BT_OK && first < run.n && first < STARTS; first++) {
        double share, cost = INFINITY;
        if (first > 0 && run.brake[first].at + length > run.brake[run.n - 1].at) break;
        status = window(&f, run, first, length, err);
        if (status == BT_OK) status = bt_lap_form_align(&f, run, place, &share, &cost, err);
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
    enum { SCORED = 400 }; /* zones that show the lap; the rest is aligned with it */
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
    const double length = bt_lap_length(head, ways);
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
        double share, cost;
        BT_TRY(bt_lap_form_align(f, run[r], e->place + at, &share, &cost, err));
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
    return ways ? bt_median(e->spare, ways) : bt_lap_form_way_on(f, j, 1);
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
    bt_status status =
        bt_spots_find(point, n, 2 * BT_WAY_SIGMA, 4 * BT_WAY_SIGMA, &spot, &spots, err);
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
