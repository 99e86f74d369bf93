/* Places of all rows at once (METHODS 10), from the few figures of each that tell where it is: runs are sorted into tracks, each track's places are
 * found from all its runs, and labelled.  The order of the runs plays no part: the run with
 * the most zones founds a track, the others join it if they fit. */
#include "laps/places.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"
#include "base/grow.h"
#include "saved/saved.h"
#include "laps/track.h"

#define FITS 0.5 /* part of a run's zones that lie at a track's places, if it is that track */

typedef struct {
    const bt_places_run *of;
    bt_track_kind kind;
    size_t track;
    double mark; /* of the content: what to sort equal lengths by */
} run_rows;

typedef struct {
    bt_where *zone; /* the caller's, as is place */
    size_t *place;
    double *lap; /* room */
    size_t n;
    run_rows *run; /* in an order of their own */
    size_t runs;
} finder;

static void finder_free(finder *c)
{
    free(c->lap);
    free(c->run);
}

static bt_track_run rows_of(const finder *c, const run_rows *r)
{
    return (bt_track_run){c->zone + r->of->first, r->of->n};
}

static bt_status finder_new(finder *c, bt_where *zone, size_t n, const bt_places_run *run,
                            size_t runs, size_t *place, bt_error *err)
{
    *c = (finder){.zone = zone,
                  .place = place,
                  .n = n,
                  .runs = runs,
                  .lap = calloc(n + 1, sizeof *c->lap),
                  .run = calloc(runs + 1, sizeof *c->run)};
    if (!c->lap || !c->run) return bt_fail(err, BT_NOMEM, "no memory for %zu zones", n);
    for (size_t k = 0; k < runs; k++) {
        run_rows *r = &c->run[k];
        r->of = &run[k];
        for (size_t i = run[k].first; i < run[k].first + run[k].n; i++)
            r->mark += isnan(zone[i].entry) ? 0 : zone[i].entry;
    }
    for (size_t i = 0; i < n; i++) place[i] = BT_NO_PLACE;
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
static bt_status fill_laps(finder *c, size_t k, bt_error *err)
{
    const run_rows *r = &c->run[k];
    const bt_track_run run = rows_of(c, r);
    if (has_lap(run)) return BT_OK;
    bt_track own;
    double share;
    bt_status status = bt_track_find(&own, r->kind, &run, 1, err);
    if (status == BT_OK && own.places)
        status =
            bt_track_fit(&own, run, c->place + r->of->first, c->lap + r->of->first, &share, err);
    for (size_t i = 0; status == BT_OK && own.places && i < r->of->n; i++)
        c->zone[r->of->first + i].lap = c->lap[r->of->first + i];
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
    if (p->of->n != q->of->n) return p->of->n > q->of->n ? -1 : 1;
    if (p->mark < q->mark || p->mark > q->mark) return p->mark < q->mark ? -1 : 1;
    return strcmp(p->of->name, q->of->name);
}

/* The track that a run fits best; l->n if it fits none. */
static bt_status best_track(const finder *c, const track_list *l, const run_rows *r, size_t *best,
                            bt_error *err)
{
    double most = FITS;
    *best = l->n;
    for (size_t t = 0; t < l->n; t++) {
        double share;
        if (l->track[t].kind != r->kind || l->track[t].places == 0) continue;
        BT_TRY(
            bt_track_fit(&l->track[t], rows_of(c, r), c->place + r->of->first, NULL, &share, err));
        if (r->kind == BT_BY_STOPS) share = 1; /* all stops are one programme */
        if (!(share >= most)) continue;
        most = share;
        *best = t;
    }
    return BT_OK;
}

/* Found a track with the runs that have been sorted into it. */
static bt_status find_track(const finder *c, track_list *l, size_t t, bt_track_kind kind,
                            bt_error *err)
{
    size_t runs = 0;
    for (size_t k = 0; k < c->runs; k++)
        if (c->run[k].track == t) l->rows[runs++] = rows_of(c, &c->run[k]);
    bt_track_free(&l->track[t]);
    return bt_track_find(&l->track[t], kind, l->rows, runs, err);
}

static bt_status sort_into_tracks(finder *c, track_list *l, bt_error *err)
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
        l->zones[t] += r->of->n;
        if (!l->name[t] || strcmp(r->of->name, l->name[t]) < 0) l->name[t] = r->of->name;
    }
    return BT_OK;
}

static bt_status place_zones(finder *c, track_list *l, bt_error *err)
{
    for (size_t t = 0; t < l->n; t++) BT_TRY(find_track(c, l, t, l->track[t].kind, err));
    for (size_t k = 0; k < c->runs; k++) {
        const run_rows *r = &c->run[k];
        double share;
        for (size_t i = 0; i < r->of->n; i++) c->place[r->of->first + i] = BT_NO_PLACE;
        if (l->track[r->track].places == 0) continue;
        BT_TRY(bt_track_fit(&l->track[r->track], rows_of(c, r), c->place + r->of->first, NULL,
                            &share, err));
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

static char letter_of(const track_list *l, size_t t)
{
    return (char)('A' + ('P' - 'A' + rank_of(l, t)) % 26);
}

static bt_status find_places(finder *c, track_list *l, bt_places_run *run, bt_error *err)
{
    for (size_t k = 0; k < c->runs; k++) {
        c->run[k].kind = bt_track_kind_of(rows_of(c, &c->run[k]));
        BT_TRY(fill_laps(c, k, err));
    }
    BT_TRY(sort_into_tracks(c, l, err));
    BT_TRY(place_zones(c, l, err));
    for (size_t k = 0; k < c->runs; k++)
        run[c->run[k].of - run].letter = letter_of(l, c->run[k].track);
    return BT_OK;
}

bt_status bt_places_find(bt_where *zone, size_t n, bt_places_run *run, size_t runs, size_t *place,
                         bt_error *err)
{
    finder c;
    track_list l = {0};
    bt_status status = finder_new(&c, zone, n, run, runs, place, err);
    if (status == BT_OK) status = find_places(&c, &l, run, err);
    tracks_free(&l);
    finder_free(&c);
    return status;
}

void bt_place_label(char label[BT_LABEL_MAX], char letter, size_t place)
{
    label[0] = '\0';
    if (place != BT_NO_PLACE) snprintf(label, BT_LABEL_MAX, "%c%02u", letter, (unsigned)place + 1);
}

/* ---- rows ---- */

bt_where bt_where_of(const bt_zone *row)
{
    bt_zone z = *row;
    bt_zone_round(&z);
    return (bt_where){z.start, z.start_dist, z.distance, z.entry,
                      z.exit,  z.lap,        z.latitude, z.longitude};
}

/* The rows sorted into runs, which may lie in pieces.  Rounded as they are saved, so that saved rows give the
 * same places. */
typedef struct {
    bt_where *zone;
    size_t *from; /* row of the caller */
    size_t *place;
    bt_places_run *run;
    size_t runs, cap;
} sorted;

static void sorted_free(sorted *s)
{
    free(s->zone);
    free(s->from);
    free(s->place);
    free(s->run);
}

static bt_status find_runs(sorted *s, const bt_zone *zones, size_t n, bt_error *err)
{
    size_t r = 0;
    for (size_t i = 0; i < n; i++) {
        if (s->runs && strcmp(s->run[r].name, zones[i].run) == 0) { /* as the row before */
            s->run[r].n++;
            continue;
        }
        for (r = 0; r < s->runs && strcmp(s->run[r].name, zones[i].run) != 0;) r++;
        if (r == s->runs) {
            void *run = s->run;
            BT_TRY(bt_grow(&run, &s->cap, s->runs + 1, sizeof *s->run, "runs", err));
            s->run = run;
            s->run[s->runs++] = (bt_places_run){.name = zones[i].run};
        }
        s->run[r].n++;
    }
    for (size_t k = 1; k < s->runs; k++) s->run[k].first = s->run[k - 1].first + s->run[k - 1].n;
    return BT_OK;
}

static bt_status sorted_new(sorted *s, const bt_zone *zones, size_t n, bt_error *err)
{
    *s = (sorted){.zone = calloc(n + 1, sizeof *s->zone),
                  .from = calloc(n + 1, sizeof *s->from),
                  .place = calloc(n + 1, sizeof *s->place)};
    if (!s->zone || !s->from || !s->place)
        return bt_fail(err, BT_NOMEM, "no memory for %zu zones", n);
    BT_TRY(find_runs(s, zones, n, err));
    size_t at = 0;
    for (size_t k = 0; k < s->runs; k++)
        for (size_t i = 0; i < n; i++) {
            if (strcmp(zones[i].run, s->run[k].name) != 0) continue;
            s->zone[at] = bt_where_of(&zones[i]);
            s->from[at++] = i;
        }
    return BT_OK;
}

bt_status bt_places_assign(bt_zone *zones, size_t n, bt_error *err)
{
    sorted s;
    bt_status status = sorted_new(&s, zones, n, err);
    if (status == BT_OK) status = bt_places_find(s.zone, n, s.run, s.runs, s.place, err);
    for (size_t k = 0; status == BT_OK && k < s.runs; k++)
        for (size_t i = s.run[k].first; i < s.run[k].first + s.run[k].n; i++) {
            bt_zone *zone = &zones[s.from[i]];
            if (isnan(zone->lap)) zone->lap = s.zone[i].lap;
            bt_place_label(zone->place, s.run[k].letter, s.place[i]);
        }
    sorted_free(&s);
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
