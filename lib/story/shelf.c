/* The shelf: zone rows of any number of runs, packed, and beside them what is said of a row when it is packed
 * already.  Public: bt_shelf_* in braketally.h. */
#include "story/shelf.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/grow.h"
#include "run/analysis.h"
#include "saved/packed.h"
#include "laps/places.h"

/* Of one row. */
typedef struct {
    double lap; /* where the row has none; NaN = nor is it known here */
    size_t place;
    uint8_t mode; /* a bt_mode */
    bool mixed;   /* was so called once: its fit is lost, whatever it is now */
} late;

typedef struct {
    char name[BT_NAME_MAX];
    size_t first, n;
    char letter;
} shelf_run;

struct bt_shelf {
    bt_packed rows;
    late *late;
    size_t n, cap;
    shelf_run *run; /* one behind the other */
    size_t runs, runs_cap;
};

/* ---- a shelf's life ---- */

bt_status bt_shelf_new(bt_shelf **out, bt_error *err)
{
    *out = calloc(1, sizeof **out);
    return *out ? BT_OK : bt_fail(err, BT_NOMEM, "no memory for zones");
}

void bt_shelf_free(bt_shelf *shelf)
{
    if (!shelf) return;
    bt_packed_clear(&shelf->rows);
    free(shelf->late);
    free(shelf->run);
    free(shelf);
}

static bt_status make_room(bt_shelf *s, size_t rows, size_t runs, bt_error *err)
{
    void *later = s->late, *run = s->run;
    BT_TRY(bt_grow(&later, &s->cap, s->n + rows, sizeof *s->late, "zones", err));
    s->late = later;
    BT_TRY(bt_grow(&run, &s->runs_cap, s->runs + runs, sizeof *s->run, "runs", err));
    s->run = run;
    return BT_OK;
}

/* ---- rows ---- */

static bt_status put(bt_shelf *s, const bt_zone *row, bt_error *err)
{
    BT_TRY(make_room(s, 1, 1, err));
    BT_TRY(bt_packed_add(&s->rows, row, err));
    if (s->runs == 0 || strcmp(s->run[s->runs - 1].name, row->run) != 0) {
        shelf_run *run = &s->run[s->runs++];
        *run = (shelf_run){.first = s->n};
        memcpy(run->name, row->run, sizeof run->name);
    }
    s->run[s->runs - 1].n++;
    s->late[s->n++] = (late){NAN, BT_NO_PLACE, (uint8_t)bt_zone_mode(row), false};
    return BT_OK;
}

bt_status bt_shelf_add(bt_shelf *shelf, const bt_zone *rows, size_t n, bt_error *err)
{
    for (size_t i = 0; i < n; i++) BT_TRY(put(shelf, &rows[i], err));
    return bt_packed_seal(&shelf->rows, err);
}

bt_status bt_shelf_join(bt_shelf *shelf, bt_shelf *from, bt_error *err)
{
    if (shelf->n == 0) { /* as they are */
        const bt_shelf empty = *shelf;
        *shelf = *from;
        *from = empty;
        return BT_OK;
    }
    BT_TRY(make_room(shelf, from->n, from->runs, err));
    BT_TRY(bt_packed_join(&shelf->rows, &from->rows, err));
    for (size_t k = 0; k < from->runs; k++) {
        shelf_run *run = &shelf->run[shelf->runs++];
        *run = from->run[k];
        run->first += shelf->n;
    }
    for (size_t i = 0; i < from->n; i++) shelf->late[shelf->n++] = from->late[i];
    from->n = from->runs = 0;
    return BT_OK;
}

void bt_shelf_name(bt_shelf *shelf, const char *run)
{
    for (size_t k = 0; k < shelf->runs; k++)
        snprintf(shelf->run[k].name, sizeof shelf->run[k].name, "%s", run);
}

size_t bt_shelf_count(const bt_shelf *shelf)
{
    return shelf->n;
}

/* ---- rows come back ---- */

typedef struct {
    const bt_shelf *shelf;
    bt_zone_fn take;
    void *user;
    size_t run;
} reading;

static bt_status hand_over(void *user, size_t i, bt_zone *row, bt_error *err)
{
    reading *r = user;
    const bt_shelf *s = r->shelf;
    while (i >= s->run[r->run].first + s->run[r->run].n) r->run++;
    memcpy(row->run, s->run[r->run].name, sizeof row->run);
    if (s->late[i].mixed) bt_zone_give_mode(row, BT_MODE_MIXED);
    bt_zone_give_mode(row, (bt_mode)s->late[i].mode);
    bt_place_label(row->place, s->run[r->run].letter, s->late[i].place);
    if (isnan(row->lap)) row->lap = s->late[i].lap;
    return r->take(r->user, row, err);
}

bt_status bt_shelf_each(const bt_shelf *shelf, bt_zone_fn take, void *user, bt_error *err)
{
    reading r = {shelf, take, user, 0};
    return bt_packed_each(&shelf->rows, hand_over, &r, err);
}

/* ---- places ---- */

typedef struct {
    bt_where *zone;
    size_t n;
} gathering;

static bt_status gather(void *user, const bt_zone *row, bt_error *err)
{
    (void)err;
    gathering *g = user;
    g->zone[g->n++] = bt_where_of(row);
    return BT_OK;
}

static bt_status find_places(bt_shelf *s, bt_where *where, bt_places_run *run, size_t *place,
                             bt_error *err)
{
    gathering g = {where, 0};
    for (size_t k = 0; k < s->runs; k++)
        run[k] = (bt_places_run){s->run[k].name, s->run[k].first, s->run[k].n, 0};
    BT_TRY(bt_shelf_each(s, gather, &g, err));
    BT_TRY(bt_places_find(where, s->n, run, s->runs, place, err));
    for (size_t k = 0; k < s->runs; k++) s->run[k].letter = run[k].letter;
    for (size_t i = 0; i < s->n; i++) {
        s->late[i].lap = where[i].lap;
        s->late[i].place = place[i];
    }
    return BT_OK;
}

bt_status bt_shelf_places(bt_shelf *s, bt_error *err)
{
    bt_where *where = calloc(s->n + 1, sizeof *where);
    bt_places_run *run = calloc(s->runs + 1, sizeof *run);
    size_t *place = calloc(s->n + 1, sizeof *place);
    const bt_status status = where && run && place
                                 ? find_places(s, where, run, place, err)
                                 : bt_fail(err, BT_NOMEM, "no memory for %zu zones", s->n);
    free(where);
    free(run);
    free(place);
    return status;
}

/* ---- a log's rows ---- */

/* The shelf comes with the first row: what fails then is told as any failure of the analysis. */
static bt_status take_row(void *user, const bt_zone *row, bt_error *err)
{
    bt_shelf **s = user;
    if (!*s) BT_TRY(bt_shelf_new(s, err));
    return put(*s, row, err);
}

static void amend_row(void *user, size_t i, bt_mode mode)
{
    late *zone = &(*(bt_shelf **)user)->late[i];
    zone->mode = (uint8_t)mode;
    zone->mixed = zone->mixed || mode == BT_MODE_MIXED;
}

bt_zone_sink bt_shelf_sink(bt_shelf **shelf)
{
    return (bt_zone_sink){shelf, take_row, amend_row};
}

/* What the run and its events take from the rows when their places are known. */
typedef struct {
    bt_result *result;
    bt_lap_count laps;
} last_look;

static bt_status look(void *user, const bt_zone *row, bt_error *err)
{
    (void)err;
    last_look *l = user;
    bt_lap_count_add(&l->laps, row->lap);
    bt_events_place(l->result->events, l->result->n_events, row, 1);
    return BT_OK;
}

/* What takes all zones of the run, but for the drift. */
static bt_status finish(bt_shelf **shelf, bt_result *result, bt_error *err)
{
    last_look l = {result, BT_NO_LAPS};
    if (!*shelf) BT_TRY(bt_shelf_new(shelf, err));
    BT_TRY(bt_packed_seal(&(*shelf)->rows, err));
    BT_TRY(bt_shelf_places(*shelf, err));
    BT_TRY(bt_shelf_each(*shelf, look, &l, err));
    if (isnan(result->run.laps)) result->run.laps = l.laps.n;
    return BT_OK;
}

bt_status bt_shelf_analyse(bt_shelf **out, const char *path, const bt_setup *setup,
                           bt_result *result, bt_error *err)
{
    const bt_zone_sink sink = bt_shelf_sink(out);
    bt_error own = {0};
    if (!err) err = &own;
    *out = NULL;
    bt_status status = bt_analyse_into(path, setup, &sink, result, err);
    if (status == BT_OK) {
        status = finish(out, result, err);
        if (status == BT_OK) return BT_OK;
        (void)bt_at(err, status, path, 0, 0);
        snprintf(result->run.status, sizeof result->run.status, "%s", err->message);
    }
    bt_shelf_free(*out);
    *out = NULL;
    return status;
}
