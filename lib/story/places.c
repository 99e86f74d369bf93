/* Places of all rows at once (METHODS 10): runs are sorted into tracks, each track's places are
 * found from all its runs, and labelled.  The order of the runs plays no part: the run with
 * the most zones founds a track, the others join it if they fit. */
#include "story/places.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"
#include "base/grow.h"
#include "story/saved.h"
#include "story/track.h"

#define FITS 0.5 /* part of a run's zones that lie at a track's places, if it is that track */

typedef struct {
    const char *name;
    size_t first, n; /* rows of the copy */
    bt_track_kind kind;
    size_t track;
    double mark; /* of the content: what to sort equal lengths by */
} run_rows;

/* The rows rounded as they are saved, so that saved rows give the same places, run behind run. */
typedef struct {
    bt_zone *zone;
    size_t *from; /* row of the caller */
    size_t *place;
    double *lap;
    size_t n;
    run_rows *run;
    size_t runs, cap;
} copy;

static void copy_free(copy *c)
{
    free(c->zone);
    free(c->from);
    free(c->place);
    free(c->lap);
    free(c->run);
}

static bt_track_run rows_of(const copy *c, const run_rows *r)
{
    return (bt_track_run){c->zone + r->first, r->n};
}

static bt_status find_runs(copy *c, const bt_zone *zones, size_t n, bt_error *err)
{
    size_t r = 0;
    for (size_t i = 0; i < n; i++) {
        if (c->runs && strcmp(c->run[r].name, zones[i].run) == 0) { /* as the row before */
            c->run[r].n++;
            continue;
        }
        for (r = 0; r < c->runs && strcmp(c->run[r].name, zones[i].run) != 0;) r++;
        if (r == c->runs) {
            void *run = c->run;
            BT_TRY(bt_grow(&run, &c->cap, c->runs + 1, sizeof *c->run, "runs", err));
            c->run = run;
            c->run[c->runs++] = (run_rows){.name = zones[i].run};
        }
        c->run[r].n++;
    }
    for (size_t k = 1; k < c->runs; k++) c->run[k].first = c->run[k - 1].first + c->run[k - 1].n;
    return BT_OK;
}

static bt_status copy_new(copy *c, const bt_zone *zones, size_t n, bt_error *err)
{
    *c = (copy){.zone = calloc(n + 1, sizeof *c->zone),
                .from = calloc(n + 1, sizeof *c->from),
                .place = calloc(n + 1, sizeof *c->place),
                .lap = calloc(n + 1, sizeof *c->lap),
                .n = n};
    if (!c->zone || !c->from || !c->place || !c->lap)
        return bt_fail(err, BT_NOMEM, "no memory for %zu zones", n);
    BT_TRY(find_runs(c, zones, n, err));
    for (size_t k = 0; k < c->runs; k++) {
        run_rows *r = &c->run[k];
        size_t at = r->first;
        for (size_t i = 0; i < n; i++) {
            if (strcmp(zones[i].run, r->name) != 0) continue;
            c->zone[at] = zones[i];
            bt_zone_round(&c->zone[at]);
            c->from[at++] = i;
            r->mark += isnan(c->zone[at - 1].entry) ? 0 : c->zone[at - 1].entry;
        }
    }
    for (size_t i = 0; i < n; i++) c->place[i] = BT_NO_PLACE;
    return BT_OK;
}

/* ---- laps ---- */

static bool has_lap(bt_track_run run)
{
    for (size_t i = 0; i < run.n; i++)
        if (!isnan(run.zone[i].lap)) return true;
    return false;
}

/* A run without laps gets them from its own places alone: what other runs are at hand must
 * not change its rows. */
static bt_status fill_laps(copy *c, const run_rows *r, bt_error *err)
{
    const bt_track_run run = rows_of(c, r);
    if (has_lap(run)) return BT_OK;
    bt_track own;
    double share;
    bt_status status = bt_track_find(&own, r->kind, &run, 1, err);
    if (status == BT_OK && own.places)
        status = bt_track_fit(&own, run, c->place + r->first, c->lap + r->first, &share, err);
    for (size_t i = 0; status == BT_OK && own.places && i < r->n; i++)
        c->zone[r->first + i].lap = c->lap[r->first + i];
    bt_track_free(&own);
    return status;
}

/* ---- tracks ---- */

typedef struct {
    bt_track *track;
    size_t n;
    size_t *zones;      /* in each track */
    const char **name;  /* of the alphabetically first run, to sort equal ones by */
    bt_track_run *rows; /* room for all runs */
} track_list;

static void tracks_free(track_list *l)
{
    for (size_t t = 0; t < l->n; t++) bt_track_free(&l->track[t]);
    free(l->track);
    free(l->zones);
    free(l->name);
    free(l->rows);
}

static int longest_first(const void *a, const void *b)
{
    const run_rows *p = a, *q = b;
    if (p->n != q->n) return p->n > q->n ? -1 : 1;
    if (p->mark < q->mark || p->mark > q->mark) return p->mark < q->mark ? -1 : 1;
    return strcmp(p->name, q->name);
}

/* The track that a run fits best; l->n if it fits none. */
static bt_status best_track(const copy *c, const track_list *l, const run_rows *r, size_t *best,
                            bt_error *err)
{
    double most = FITS;
    *best = l->n;
    for (size_t t = 0; t < l->n; t++) {
        double share;
        if (l->track[t].kind != r->kind || l->track[t].places == 0) continue;
        BT_TRY(bt_track_fit(&l->track[t], rows_of(c, r), c->place + r->first, NULL, &share, err));
        if (r->kind == BT_BY_STOPS) share = 1; /* all stops are one programme */
        if (!(share >= most)) continue;
        most = share;
        *best = t;
    }
    return BT_OK;
}

/* Found a track with the runs that have been sorted into it. */
static bt_status find_track(const copy *c, track_list *l, size_t t, bt_track_kind kind,
                            bt_error *err)
{
    size_t runs = 0;
    for (size_t k = 0; k < c->runs; k++)
        if (c->run[k].track == t) l->rows[runs++] = rows_of(c, &c->run[k]);
    bt_track_free(&l->track[t]);
    return bt_track_find(&l->track[t], kind, l->rows, runs, err);
}

static bt_status sort_into_tracks(copy *c, track_list *l, bt_error *err)
{
    *l = (track_list){.track = calloc(c->runs + 1, sizeof *l->track),
                      .zones = calloc(c->runs + 1, sizeof *l->zones),
                      .name = calloc(c->runs + 1, sizeof *l->name),
                      .rows = calloc(c->runs + 1, sizeof *l->rows)};
    if (!l->track || !l->zones || !l->name || !l->rows)
        return bt_fail(err, BT_NOMEM, "no memory for %zu runs", c->runs);
    if (c->runs) qsort(c->run, c->runs, sizeof *c->run, longest_first);
    for (size_t k = 0; k < c->runs; k++) c->run[k].track = BT_NO_PLACE;
    for (size_t k = 0; k < c->runs; k++) {
        run_rows *r = &c->run[k];
        size_t t;
        BT_TRY(best_track(c, l, r, &t, err));
        r->track = t;
        if (t == l->n) {
            l->n++;
            BT_TRY(find_track(c, l, t, r->kind, err));
        }
        l->zones[t] += r->n;
        if (!l->name[t] || strcmp(r->name, l->name[t]) < 0) l->name[t] = r->name;
    }
    return BT_OK;
}

static bt_status place_zones(copy *c, track_list *l, bt_error *err)
{
    for (size_t t = 0; t < l->n; t++) BT_TRY(find_track(c, l, t, l->track[t].kind, err));
    for (size_t k = 0; k < c->runs; k++) {
        const run_rows *r = &c->run[k];
        double share;
        for (size_t i = 0; i < r->n; i++) c->place[r->first + i] = BT_NO_PLACE;
        if (l->track[r->track].places == 0) continue;
        BT_TRY(bt_track_fit(&l->track[r->track], rows_of(c, r), c->place + r->first, NULL, &share,
                            err));
    }
    return BT_OK;
}

/* Tracks with places that come before track t. */
static size_t rank_of(const track_list *l, size_t t)
{
    size_t rank = 0;
    for (size_t k = 0; k < l->n; k++) {
        if (k == t || l->track[k].places == 0) continue;
        rank += l->zones[k] > l->zones[t] ||
                (l->zones[k] == l->zones[t] && strcmp(l->name[k], l->name[t]) < 0);
    }
    return rank;
}

static void write_labels(const copy *c, const track_list *l, bt_zone *zones)
{
    for (size_t k = 0; k < c->runs; k++) {
        const run_rows *r = &c->run[k];
        const char letter = (char)('A' + ('P' - 'A' + rank_of(l, r->track)) % 26);
        for (size_t i = r->first; i < r->first + r->n; i++) {
            bt_zone *zone = &zones[c->from[i]];
            if (isnan(zone->lap)) zone->lap = c->zone[i].lap;
            zone->place[0] = '\0';
            if (c->place[i] != BT_NO_PLACE)
                snprintf(zone->place, sizeof zone->place, "%c%02u", letter,
                         (unsigned)c->place[i] + 1);
        }
    }
}

bt_status bt_places_assign(bt_zone *zones, size_t n, bt_error *err)
{
    copy c;
    track_list l = {0};
    bt_status status = copy_new(&c, zones, n, err);
    for (size_t k = 0; status == BT_OK && k < c.runs; k++) {
        c.run[k].kind = bt_track_kind_of(rows_of(&c, &c.run[k]));
        status = fill_laps(&c, &c.run[k], err);
    }
    if (status == BT_OK) status = sort_into_tracks(&c, &l, err);
    if (status == BT_OK) status = place_zones(&c, &l, err);
    if (status == BT_OK) write_labels(&c, &l, zones);
    tracks_free(&l);
    copy_free(&c);
    return status;
}

int bt_place_order(const char *a, const char *b)
{
    const size_t na = strlen(a), nb = strlen(b);
    if (a[0] != b[0]) return a[0] < b[0] ? -1 : 1;
    return na != nb ? (na < nb ? -1 : 1) : strcmp(a, b);
}

static int by_label(const void *a, const void *b)
{
    return bt_place_order(*(const char *const *)a, *(const char *const *)b);
}

size_t bt_places_list(const bt_zone *zones, size_t n, const char **label)
{
    size_t labelled = 0, different = 0;
    for (size_t i = 0; i < n; i++)
        if (zones[i].place[0]) label[labelled++] = zones[i].place;
    qsort(label, labelled, sizeof *label, by_label);
    for (size_t i = 0; i < labelled; i++)
        if (different == 0 || strcmp(label[different - 1], label[i]) != 0)
            label[different++] = label[i];
    return different;
}
