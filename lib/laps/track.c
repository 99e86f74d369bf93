/* The places of one track: see track.h. */
#include "laps/track.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"
#include "base/stats.h"

/* Braking points scatter by some 5 m in good hands, positions by satellite by some more; corners that
 * are braked for lie 60 m apart and more. */
#define CORE_METRES  18.0
#define REACH_METRES 50.0
/* A stop is driven to within 5 km/h of its speed, and test speeds lie 10 km/h apart and more. */
#define CORE_SPEED  1.4      /* m/s */
#define REACH_SPEED 2.8      /* m/s */
#define STANDSTILL  2.0      /* m/s; no corner is that slow */
#define DEGREE      111195.0 /* m of a meridian, mean radius 6371 km */
#define ENTRY_REACH 14.0     /* m/s: entry speeds at one place differ less, even on an out-lap, */
#define EXIT_REACH  6.0      /* m/s: and exit speeds far less */
#define EXIT_WEIGHT 4.0      /* m that 1 m/s of exit speed counts for */
#define NEW_LAP     100.0    /* m by which the way along the lap falls at the line, at least */

/* ---- what a run's rows allow ---- */

static bool new_lap(const bt_where *before, const bt_where *zone)
{
    return zone->start_dist < before->start_dist - NEW_LAP;
}

static bool way_begins_anew(bt_track_run run)
{
    for (size_t i = 1; i < run.n; i++)
        if (new_lap(&run.zone[i - 1], &run.zone[i])) return true;
    return false;
}

static bool one_lap(bt_track_run run)
{
    for (size_t i = 0; i < run.n; i++)
        if (!(run.zone[i].lap >= run.zone[0].lap && run.zone[i].lap <= run.zone[0].lap))
            return false;
    return run.n > 0;
}

bt_track_kind bt_track_kind_of(bt_track_run run)
{
    size_t stops = 0, placed = 0;
    for (size_t i = 0; i < run.n; i++) {
        stops += run.zone[i].exit < STANDSTILL;
        placed += !isnan(run.zone[i].latitude) && !isnan(run.zone[i].longitude);
    }
    if (way_begins_anew(run)) return BT_BY_WAY;
    if (4 * stops >= 3 * run.n) return BT_BY_STOPS;
    if (2 * placed > run.n) return BT_BY_GROUND;
    return one_lap(run) ? BT_BY_WAY : BT_BY_ORDER;
}

/* ---- spots ---- */

static double core_of(bt_track_kind kind)
{
    return kind == BT_BY_STOPS ? CORE_SPEED : CORE_METRES;
}

static double reach_of(bt_track_kind kind)
{
    return kind == BT_BY_STOPS ? REACH_SPEED : REACH_METRES;
}

static bt_point point_of(const bt_track *t, const bt_where *z)
{
    if (t->kind == BT_BY_STOPS) return (bt_point){z->entry, z->exit, 0};
    const double speed = EXIT_WEIGHT * z->exit;
    if (t->kind == BT_BY_WAY) return (bt_point){bt_zone_end(z), 0, speed};
    return (bt_point){z->longitude * DEGREE * t->shrink, z->latitude * DEGREE, speed};
}

static size_t spot_of(const bt_track *t, const bt_where *z, double *far)
{
    const bt_point point = point_of(t, z);
    const size_t own = bt_spots_nearest(t->spot, t->places, point, reach_of(t->kind));
    *far = own == BT_NO_SPOT ? INFINITY : bt_points_apart(t->spot[own].at, point);
    return own;
}

static bt_status gather(bt_track *t, const bt_track_run *run, size_t runs, bt_error *err)
{
    size_t n = 0, at = 0;
    double latitude = 0;
    for (size_t r = 0; r < runs; r++)
        for (size_t i = 0; i < run[r].n; i++, n++)
            if (!isnan(run[r].zone[i].latitude)) latitude = run[r].zone[i].latitude;
    t->shrink = cos(latitude * 3.141592653589793 / 180);
    bt_point *point = calloc(n + 1, sizeof *point);
    if (!point) return bt_fail(err, BT_NOMEM, "no memory for %zu braking zones", n);
    for (size_t r = 0; r < runs; r++)
        for (size_t i = 0; i < run[r].n; i++) point[at++] = point_of(t, &run[r].zone[i]);
    const bt_status status =
        bt_spots_find(point, n, core_of(t->kind), reach_of(t->kind), &t->spot, &t->places, err);
    free(point);
    return status;
}

/* count[r * places + p]: zones of run r at spot p. */
static void count_zones(const bt_track *t, const bt_track_run *run, size_t runs, size_t *count)
{
    double far;
    memset(count, 0, runs * t->places * sizeof *count);
    for (size_t r = 0; r < runs; r++)
        for (size_t i = 0; i < run[r].n; i++) {
            const size_t p = spot_of(t, &run[r].zone[i], &far);
            if (p != BT_NO_SPOT) count[r * t->places + p]++;
        }
}

/* A place is where the car brakes lap after lap: in BT_PLACE_LEAST of the laps of some run that has
 * enough of them to tell, or else of all laps.  The busiest spot of a run counts its laps. */
static bool is_place(const bt_track *t, const size_t *count, size_t runs, size_t p)
{
    enum { LAPS_TO_TELL = 3 };
    size_t all = 0, all_laps = 0;
    bool can_tell = false;
    for (size_t r = 0; r < runs; r++) {
        size_t laps = 0;
        const size_t *of = count + r * t->places;
        for (size_t q = 0; q < t->places; q++)
            if (of[q] > laps) laps = of[q];
        all += of[p];
        all_laps += laps;
        if (t->kind == BT_BY_STOPS || laps < LAPS_TO_TELL) continue;
        can_tell = true;
        if ((double)of[p] >= BT_PLACE_LEAST * (double)laps) return true;
    }
    if (t->kind == BT_BY_STOPS) return all > 1;
    return !can_tell && (double)all >= BT_PLACE_LEAST * (double)all_laps;
}

static bt_status drop_rare(bt_track *t, const bt_track_run *run, size_t runs, bt_error *err)
{
    size_t *count = calloc(runs * t->places + 1, sizeof *count), kept = 0;
    if (!count) return bt_fail(err, BT_NOMEM, "no memory for %zu places", t->places);
    count_zones(t, run, runs, count);
    for (size_t p = 0; p < t->places; p++)
        if (is_place(t, count, runs, p)) t->spot[kept++] = t->spot[p];
    t->places = kept;
    free(count);
    return BT_OK;
}

/* Times from one zone at spot p or q to the next one there, into gap[]; *n of them.  With p = q those of one
 * spot, else only those from one to the other. */
static void gaps_between(const bt_track *t, const bt_track_run *run, size_t runs, size_t p,
                         size_t q, double *gap, size_t *n)
{
    double far;
    *n = 0;
    for (size_t r = 0; r < runs; r++)
        for (size_t i = 0, last = BT_NO_SPOT, at = 0; i < run[r].n; i++) {
            const size_t now = spot_of(t, &run[r].zone[i], &far);
            if (now != p && now != q) continue;
            if (last != BT_NO_SPOT && (p == q || now != last))
                gap[(*n)++] = run[r].zone[i].start - run[r].zone[at].start;
            last = now;
            at = i;
        }
}

static size_t busiest_of(const bt_track *t)
{
    size_t best = 0;
    for (size_t p = 1; t->spot && p < t->places; p++)
        if (t->spot[p].n > t->spot[best].n) best = p;
    return best;
}

static void merge_spots(bt_track *t, size_t p, size_t q)
{
    bt_spot *a = &t->spot[p];
    const bt_spot *b = &t->spot[q];
    const double w = (double)b->n / (double)(a->n + b->n);
    a->at.x += w * (b->at.x - a->at.x);
    a->at.y += w * (b->at.y - a->at.y);
    a->at.z += w * (b->at.z - a->at.z);
    a->n += b->n;
    t->places--;
    memmove(&t->spot[q], &t->spot[q + 1], (t->places - q) * sizeof *t->spot);
}

/* Are both braked for within half a lap, `lap` seconds, in most of the laps? */
static bool are_two(const bt_track *t, const bt_track_run *run, size_t runs, size_t p, size_t q,
                    double lap, double *gap)
{
    const size_t fewer = t->spot[p].n < t->spot[q].n ? t->spot[p].n : t->spot[q].n;
    size_t n, together = 0;
    gaps_between(t, run, runs, p, q, gap, &n);
    for (size_t i = 0; i < n; i++) together += gap[i] < lap / 2;
    return 2 * together > fewer;
}

/* Where braking points stray farther than the core reaches, one place falls into two spots.  They lie
 * near each other and take turns lap by lap. */
static bt_status join_halves(bt_track *t, const bt_track_run *run, size_t runs, bt_error *err)
{
    size_t zones = 0, n;
    for (size_t r = 0; r < runs; r++) zones += run[r].n;
    double *gap = calloc(zones + 1, sizeof *gap);
    if (!gap) return bt_fail(err, BT_NOMEM, "no memory for %zu zones", zones);
    const size_t busiest = busiest_of(t);
    gaps_between(t, run, runs, busiest, busiest, gap, &n);
    const double lap = bt_median(gap, n);
    for (size_t p = 0; p < t->places && lap > 0; p++)
        for (size_t q = p + 1; q < t->places; q++) {
            const bt_spot *a = &t->spot[p], *b = &t->spot[q];
            if (a->n == 0 || b->n == 0 || !(bt_points_apart(a->at, b->at) <= reach_of(t->kind)) ||
                are_two(t, run, runs, p, q, lap, gap))
                continue;
            merge_spots(t, p, q);
            q = p; /* the spot has moved */
        }
    free(gap);
    return BT_OK;
}

static int by_way(const void *a, const void *b)
{
    const bt_point *p = &((const bt_spot *)a)->at, *q = &((const bt_spot *)b)->at;
    if (p->x < q->x || p->x > q->x) return p->x < q->x ? -1 : 1;
    return (p->y > q->y) - (p->y < q->y);
}

/* ---- one run on a track of spots ---- */

/* Of two zones in a row at one place the farther one is no brake for that place. */
static void drop_double(const bt_track *t, bt_track_run run, size_t *place)
{
    double far_last = 0, far;
    size_t last = BT_NO_PLACE;
    for (size_t i = 0; i < run.n && t->places > 1; i++) {
        if (place[i] == BT_NO_PLACE) continue;
        (void)spot_of(t, &run.zone[i], &far);
        if (last != BT_NO_PLACE && place[last] == place[i]) {
            const bool farther = far >= far_last;
            place[farther ? i : last] = BT_NO_PLACE;
            if (farther) continue;
        }
        last = i;
        far_last = far;
    }
}

/* Was the place passed by between the zones around zone i? */
static bool passed_by(const bt_track *t, bt_track_run run, const size_t *place, size_t i, size_t p)
{
    size_t before = i, behind = i + 1;
    while (before > 0 && place[before - 1] == BT_NO_PLACE) before--;
    while (behind < run.n && place[behind] == BT_NO_PLACE) behind++;
    if (before > 0 && behind < run.n) {
        const size_t from = place[before - 1], on = (p + t->places - from) % t->places;
        return on > 0 && on < (place[behind] + t->places - 1 - from) % t->places + 1;
    }
    return (before == 0 || place[before - 1] != p) && (behind == run.n || place[behind] != p);
}

/* Held on longer than usual, a brake gets slower and ends later than its place's others do. */
static bool held_on(const bt_track *t, const bt_where *z, size_t p)
{
    const bool slower = z->exit < t->exit[p] + EXIT_REACH;
    const bool from_start = fabs(z->entry - t->entry[p]) < ENTRY_REACH &&
                            fabs(z->start_dist - t->start[p]) < REACH_METRES;
    return slower && (from_start || fabs(bt_zone_end(z) - t->spot[p].at.x) < REACH_METRES);
}

static void fit_held_on(const bt_track *t, bt_track_run run, size_t *place)
{
    for (size_t i = 0; i < run.n; i++)
        for (size_t p = 0; p < t->places && place[i] == BT_NO_PLACE; p++)
            if (held_on(t, &run.zone[i], p) && passed_by(t, run, place, i, p)) place[i] = p;
}

static void fit_spots(const bt_track *t, bt_track_run run, size_t *place, double *share)
{
    size_t fit = 0;
    double far;
    for (size_t i = 0; i < run.n; i++) {
        place[i] = spot_of(t, &run.zone[i], &far);
        fit += place[i] != BT_NO_SPOT &&
               (!t->entry || fabs(t->entry[place[i]] - run.zone[i].entry) < ENTRY_REACH);
    }
    *share = run.n ? (double)fit / (double)run.n : 0;
    if (t->kind != BT_BY_STOPS) drop_double(t, run, place);
    if (t->kind == BT_BY_WAY && t->start) fit_held_on(t, run, place);
}

static void count_laps(const bt_track *t, bt_track_run run, const size_t *place, double *lap)
{
    double now = 1;
    size_t last = BT_NO_PLACE;
    for (size_t i = 0; i < run.n; i++) {
        if (t->kind == BT_BY_WAY) {
            now += i > 0 && new_lap(&run.zone[i - 1], &run.zone[i]);
        } else if (t->kind == BT_BY_STOPS) {
            now = 1;
            for (size_t k = 0; k < i; k++) now += place[i] == place[k];
        } else if (place[i] != BT_NO_PLACE) {
            now += last != BT_NO_PLACE && place[i] <= last;
            last = place[i];
        }
        lap[i] = now;
    }
}

/* ---- by the sequence ---- */

/* The zones that the alignment can use; index[] leads back.  *n of them. */
static void brakes_of(bt_track_run run, bt_brake *brake, size_t *index, size_t *n)
{
    const double usual = 40; /* m/s: only where no way is known, to make one from time */
    *n = 0;
    for (size_t i = 0; i < run.n; i++) {
        const bt_where *z = &run.zone[i];
        const double at = isnan(z->start_dist) ? usual * z->start : bt_zone_end(z);
        if (isnan(at) || isnan(z->entry) || isnan(z->exit)) continue;
        if (index) index[*n] = i;
        brake[(*n)++] = (bt_brake){at, isnan(z->distance) ? 0 : z->distance, z->entry, z->exit};
    }
}

static bt_status fit_form(const bt_track *t, bt_track_run run, size_t *place, double *lap,
                          double *share, bt_error *err)
{
    bt_brake *brake = calloc(run.n + 1, sizeof *brake);
    size_t *index = calloc(2 * run.n + 1, sizeof *index), n = 0;
    double cost;
    if (!brake || !index) {
        free(brake);
        free(index);
        return bt_fail(err, BT_NOMEM, "no memory to align %zu zones", run.n);
    }
    for (size_t i = 0; i < run.n; i++) place[i] = BT_NO_PLACE;
    brakes_of(run, brake, index, &n);
    const bt_status status =
        bt_lap_form_align(&t->form, (bt_brakes){brake, n}, index + run.n, share, &cost, err);
    for (size_t i = 0; status == BT_OK && i < n; i++) place[index[i]] = index[run.n + i];
    double now = 1;
    for (size_t i = 0; i < run.n; i++) {
        if (place[i] != BT_NO_PLACE) {
            const size_t laps = place[i] / t->places;
            now = 1 + (double)laps;
            place[i] %= t->places;
        }
        if (lap) lap[i] = now;
    }
    free(brake);
    free(index);
    return status;
}

static bt_status find_form(bt_track *t, const bt_track_run *run, size_t runs, bt_error *err)
{
    size_t n = 0, at = 0;
    for (size_t r = 0; r < runs; r++) n += run[r].n;
    bt_brake *brake = calloc(n + 1, sizeof *brake);
    bt_brakes *list = calloc(runs + 1, sizeof *list);
    if (!brake || !list) {
        free(brake);
        free(list);
        return bt_fail(err, BT_NOMEM, "no memory to align %zu zones", n);
    }
    for (size_t r = 0; r < runs; r++) {
        list[r].brake = brake + at;
        brakes_of(run[r], brake + at, NULL, &list[r].n);
        at += list[r].n;
    }
    bt_status status = bt_lap_form_find(&t->form, list[0], err);
    if (status == BT_OK && runs > 1 && t->form.n)
        status = bt_lap_form_refine(&t->form, list, runs, err);
    t->places = t->form.n;
    free(brake);
    free(list);
    return status;
}

/* ---- a track's life ---- */

static bt_status find_succession(bt_succession *s, const bt_track *t, const bt_track_run *run,
                                 size_t runs, bt_error *err)
{
    bt_status status = bt_succession_new(s, t->places, busiest_of(t), err);
    for (size_t r = 0; status == BT_OK && r < runs; r++) {
        double share;
        size_t *place = calloc(run[r].n + 1, sizeof *place);
        if (!place) return bt_fail(err, BT_NOMEM, "no memory for %zu zones", run[r].n);
        status = bt_track_fit(t, run[r], place, NULL, &share, err);
        if (status == BT_OK) status = bt_succession_add(s, run[r], place, err);
        free(place);
    }
    return status;
}

static bt_status sort_spots(bt_track *t, const bt_succession *s, bt_error *err)
{
    bt_spot *sorted = calloc(t->places + 1, sizeof *sorted);
    size_t *order = calloc(t->places + 1, sizeof *order);
    const bool room = sorted && order;
    if (room) {
        bt_succession_order(s, order);
        for (size_t p = 0; p < t->places; p++) sorted[p] = t->spot[order[p]];
        free(t->spot);
        t->spot = sorted;
    } else {
        free(sorted);
    }
    free(order);
    return room ? BT_OK : bt_fail(err, BT_NOMEM, "no memory for %zu places", t->places);
}

static bt_status find_order(bt_track *t, const bt_track_run *run, size_t runs, bt_error *err)
{
    bt_succession s = {0};
    bt_status status = find_succession(&s, t, run, runs, err);
    if (status == BT_OK && t->kind == BT_BY_ORDER)
        bt_lap_form_turn(&t->form, bt_succession_first(&s));
    else if (status == BT_OK)
        status = sort_spots(t, &s, err);
    bt_succession_free(&s);
    return status;
}

static bt_status find_means(bt_track *t, const bt_track_run *run, size_t runs, bt_error *err)
{
    double far, *entry = calloc(5 * t->places + 1, sizeof *entry);
    if (!entry) return bt_fail(err, BT_NOMEM, "no memory for %zu places", t->places);
    double *exit = entry + t->places, *start = exit + t->places, *length = start + t->places,
           *n = length + t->places;
    for (size_t r = 0; r < runs; r++)
        for (size_t i = 0; i < run[r].n; i++) {
            const bt_where *z = &run[r].zone[i];
            const size_t p = spot_of(t, z, &far);
            if (p == BT_NO_SPOT) continue;
            entry[p] += z->entry;
            exit[p] += z->exit;
            start[p] += z->start_dist;
            length[p] += z->distance;
            n[p]++;
        }
    for (size_t k = 0; k < 4 * t->places; k++) entry[k] /= n[k % t->places];
    t->entry = entry;
    t->exit = exit;
    t->start = start;
    t->length = length;
    return BT_OK;
}

/* The lap that the coordinates show, to align runs with: coordinates are those of the start, which moves
 * where a brake before was left out or put in.  None if not every place followed the one before. */
static bt_status find_lap_form(bt_track *t, const bt_track_run *run, size_t runs, bt_error *err)
{
    bt_succession s = {0};
    bt_brake *place = calloc(t->places, sizeof *place);
    if (!place) return bt_fail(err, BT_NOMEM, "no memory for %zu places", t->places);
    const bt_status status = find_succession(&s, t, run, runs, err);
    double way = 0;
    for (size_t p = 0; status == BT_OK && p < t->places; p++) {
        const size_t at = p * t->places + (p + 1) % t->places;
        place[p] = (bt_brake){way, t->length[p], t->entry[p], t->exit[p]};
        way += s.count[at] ? s.way[at] / (double)s.count[at] : NAN;
    }
    if (status == BT_OK && !isnan(way) && !isnan(place[0].length))
        t->form = (bt_lap_form){place, t->places, t->places, way};
    else
        free(place);
    bt_succession_free(&s);
    return status;
}

bt_status bt_track_find(bt_track *track, bt_track_kind kind, const bt_track_run *run, size_t runs,
                        bt_error *err)
{
    *track = (bt_track){.kind = kind};
    if (kind == BT_BY_ORDER) {
        BT_TRY(find_form(track, run, runs, err));
        return track->places ? find_order(track, run, runs, err) : BT_OK;
    }
    BT_TRY(gather(track, run, runs, err));
    if (kind != BT_BY_STOPS) BT_TRY(join_halves(track, run, runs, err));
    BT_TRY(drop_rare(track, run, runs, err));
    if (track->places == 0) return BT_OK;
    if (kind == BT_BY_GROUND)
        BT_TRY(find_order(track, run, runs, err));
    else
        qsort(track->spot, track->places, sizeof *track->spot, by_way);
    BT_TRY(find_means(track, run, runs, err));
    return kind == BT_BY_GROUND ? find_lap_form(track, run, runs, err) : BT_OK;
}

bt_status bt_track_fit(const bt_track *track, bt_track_run run, size_t *place, double *lap,
                       double *share, bt_error *err)
{
    if (track->form.n) return fit_form(track, run, place, lap, share, err);
    fit_spots(track, run, place, share);
    if (lap) count_laps(track, run, place, lap);
    return BT_OK;
}

void bt_track_free(bt_track *track)
{
    free(track->spot);
    free(track->entry); /* and what stands behind it */
    bt_lap_form_free(&track->form);
    *track = (bt_track){0};
}
