/* Do the places agree with the truth?  200 runs of the plant on tracks of six to ten corners, with brakes left out and
 * put in, in each of the three ways in which places are found: way along the lap, coordinates, and
 * nothing but the sequence of speeds and ways.  A run counts as right if every zone of a corner has that
 * corner's label and no other corner has it, the labels follow the track, and every extra brake has none.  Each
 * way gets its own rows, with nothing in them that the other ways use; in one run of four these are those of the whole
 * program too, from a log.  Ends in 1 unless
 * all are right.  Arguments: first seed, last seed; then wrong runs are told zone by zone. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "base/stats.h"
#include "samples/map.h"
#include "tests/plant/plant.h"

enum { RUNS = 200, LOG_EVERY = 4, ZONES_MAX = 400, EXTRA = 100 };
static const char *const ways[] = {"way along the lap", "coordinates", "sequence"};
enum { BY_WAY, BY_GROUND, BY_ORDER, WAYS };

typedef struct {
    const plant_track *track;
    plant_zone truth[ZONES_MAX];
    bool open[ZONES_MAX]; /* may have its corner's label or none */
    bt_zone row[ZONES_MAX];
    size_t n;
    size_t rows_seen;
    struct {
        double t, lap, way, latitude, longitude;
    } * seen; /* what the logger saw, row by row */
    size_t seen_cap;
} drive;

/* A brake put in so close to a corner that it became the corner's own ends where the corner is and as
 * slow: then it is that corner's. */
static int corner_of(const plant_track *t, const plant_zone *z)
{
    if (z->corner <= EXTRA) return z->corner;
    const double end = fmod(z->start_m + z->distance, t->lap_length);
    for (int c = 0; c < t->corners; c++)
        if (fabs(end - t->corner[c].apex) < 30 && fabs(z->exit - t->corner[c].speed) < 3)
            return c + 1;
    return z->corner;
}

static void take_zone(void *ctx, const plant_zone *z)
{
    drive *d = ctx;
    if (d->n == ZONES_MAX) exit(2);
    d->truth[d->n] = *z;
    d->truth[d->n++].corner = corner_of(d->track, z);
}

static void take_row(void *ctx, const plant_row *row)
{
    drive *d = ctx;
    if (isnan(row->value[PLANT_LATITUDE]) || isnan(row->value[PLANT_LAP_DISTANCE])) return;
    if (d->rows_seen == d->seen_cap) {
        d->seen_cap = d->seen_cap ? 2 * d->seen_cap : 65536;
        d->seen = realloc(d->seen, d->seen_cap * sizeof *d->seen);
        if (!d->seen) exit(2);
    }
    d->seen[d->rows_seen].t = row->truth->t;
    d->seen[d->rows_seen].lap = row->value[PLANT_LAP];
    d->seen[d->rows_seen].way = row->value[PLANT_LAP_DISTANCE];
    d->seen[d->rows_seen].latitude = row->value[PLANT_LATITUDE];
    d->seen[d->rows_seen++].longitude = row->value[PLANT_LONGITUDE];
}

static bool braked_else(const drive *d, size_t i, int corner)
{
    for (size_t k = 0; k < d->n; k++)
        if (k != i && d->truth[k].lap == d->truth[i].lap && d->truth[k].corner == corner)
            return true;
    return false;
}

/* A corner's brake let off well before it, and one put in right behind, on to the corner: one braking in two, of
 * which either may be called the corner's. */
static void find_parted(drive *d)
{
    const double well = 30, right = 30; /* m */
    for (size_t i = 0; i + 1 < d->n; i++) {
        const plant_zone *z = &d->truth[i];
        plant_zone *next = &d->truth[i + 1];
        if (z->corner > EXTRA || z->corner < 1 || next->corner <= EXTRA) continue;
        const double end = z->start_m + z->distance;
        const double short_of =
            d->track->corner[z->corner - 1].apex - fmod(end, d->track->lap_length);
        if (!(short_of > well) || !(next->start_m - end < right)) continue;
        next->corner = z->corner;
        d->open[i] = d->open[i + 1] = true;
    }
}

/* Two more kinds of zones are open questions: a brake put in where a corner's is, which slowed the car so far
 * that the driver did not brake again; and a corner's brake that neither begins nor ends where
 * that corner is, held on towards the next. */
static void find_open(drive *d)
{
    for (size_t i = 0; i < d->n; i++) {
        plant_zone *z = &d->truth[i];
        const double end = fmod(z->start_m + z->distance, d->track->lap_length);
        d->open[i] = false;
        for (int c = 0; c < d->track->corners; c++) {
            const plant_corner *corner = &d->track->corner[c];
            const double off = fabs(end - corner->apex), fast = z->exit - corner->speed;
            if (z->corner > EXTRA && off < 150 && fast < 8 && !braked_else(d, i, c + 1)) {
                z->corner = c + 1;
                d->open[i] = true;
            } else if (z->corner == c + 1 && off > 30 && fast < -5) {
                d->open[i] = true;
            }
        }
    }
}

static double uniform(bt_random *r)
{
    return ((double)(bt_random_next(r) >> 11) + 0.5) / 9007199254740992.0; /* 2^53 */
}

static double normal(bt_random *r)
{
    return sqrt(-2 * log(uniform(r))) * cos(6.283185307179586 * uniform(r));
}

/* Another track each time: corners moved, made slower or faster, one or two left out. */
static void change_track(plant_track *t, bt_random *r)
{
    for (int leave = (int)bt_random_below(r, 3); leave > 0; leave--) {
        const int gone = (int)bt_random_below(r, (uint64_t)t->corners);
        memmove(&t->corner[gone], &t->corner[gone + 1],
                (size_t)(t->corners - gone - 1) * sizeof t->corner[0]);
        t->corners--;
    }
    for (int i = 0; i < t->corners; i++) {
        t->corner[i].apex += 40 * (uniform(r) - 0.5);
        t->corner[i].speed *= 0.9 + 0.2 * uniform(r);
    }
}

static void add_faults(plant_config *cfg, bt_random *r)
{
    for (int k = (int)bt_random_below(r, 4); k > 0; k--) {
        plant_fault *f = plant_add_fault(cfg, PLANT_FAULT_MISSED);
        f->lap = 1 + (int)bt_random_below(r, (uint64_t)cfg->laps);
        f->corner = 1 + (int)bt_random_below(r, (uint64_t)cfg->track.corners);
    }
    for (int k = (int)bt_random_below(r, 4); k > 0; k--) {
        plant_fault *f = plant_add_fault(cfg, PLANT_FAULT_EXTRA);
        f->lap = 1 + (int)bt_random_below(r, (uint64_t)cfg->laps);
        f->value = cfg->track.lap_length * uniform(r);
        f->value2 = 4 + 6 * uniform(r);
    }
}

static void simulate(drive *d, plant_config *cfg, uint64_t seed, bt_random *r)
{
    plant_defaults(cfg);
    cfg->seed = seed;
    cfg->laps = 6 + (int)bt_random_below(r, 7);
    cfg->rate = 20;
    cfg->driver.scatter = 0.5 + uniform(r);
    change_track(&cfg->track, r);
    add_faults(cfg, r);
    d->n = d->rows_seen = 0;
    d->track = &cfg->track;
    const plant_sink sink = {.ctx = d, .zone = take_zone, .row = take_row};
    if (plant_run(cfg, &sink) != 0) exit(2);
    find_open(d);
    find_parted(d);
}

/* A row as the tool would have it: speeds to 0.3 m/s, a distance that is 0.4 % wrong and wanders. */
static void make_rows(drive *d, int way, bt_random *r)
{
    const double wrong = 1 + 0.004 * normal(r);
    double wander = 0;
    size_t at = 0;
    for (size_t i = 0; i < d->n; i++) {
        const plant_zone *z = &d->truth[i];
        bt_zone *row = &d->row[i];
        bt_row_blank(BT_TABLE_ZONES, row);
        snprintf(row->run, sizeof row->run, "run");
        row->zone = z->zone;
        row->start = z->start;
        row->duration = z->end - z->start;
        row->distance = z->distance;
        row->entry = z->entry + 0.3 * normal(r);
        row->exit = z->exit + 0.3 * normal(r);
        while (at + 1 < d->rows_seen && d->seen[at].t < z->start) at++;
        wander += 2 * normal(r);
        row->start_dist = wrong * z->start_m + wander;
        if (way == BY_WAY) {
            row->lap = d->seen[at].lap;
            row->start_dist = d->seen[at].way;
        } else if (way == BY_GROUND) {
            row->latitude = d->seen[at].latitude;
            row->longitude = d->seen[at].longitude;
        }
    }
}

/* ---- rows of the whole program, from a log that holds for each way what it uses ---- */

static const char *const left_out[WAYS] = {
    "channel,column\nlatitude,-\nlongitude,-\n",
    "channel,column\nlap,-\nlap_distance,-\n",
    "channel,column\nlap,-\nlap_distance,-\nlatitude,-\nlongitude,-\n",
};

static void write_log(const plant_config *cfg, const char *path)
{
    plant_config finer = *cfg;
    plant_log_options opt;
    finer.rate = 50; /* the physics stay what they are */
    plant_log_defaults(&opt, &finer);
    plant_log_choose(&opt, "time speed pedal_front lap lap_distance latitude longitude");
    if (plant_write_log(&finer, path, &opt) != 0) exit(2);
}

/* The rows of the log in the order of the truth; false unless each true zone has one and none is left over. */
static bool log_rows(drive *d, const char *path, int way)
{
    bt_error err = {0};
    bt_map *map;
    bt_result result;
    if (bt_map_memory(&map, "map", left_out[way], strlen(left_out[way]), &err) != BT_OK) exit(2);
    const bt_setup setup = {.map = map};
    if (bt_analyse(path, &setup, &result, &err) != BT_OK) {
        fprintf(stderr, "%s\n", err.message);
        exit(2);
    }
    size_t n = result.n_zones; /* the truth has only what was over when the log ended */
    if (n && result.zones[n - 1].flags & BT_FLAG_CUT_END) n--;
    bool same = n == d->n;
    for (size_t i = 0; i < d->n && same; i++) {
        d->row[i] = result.zones[i];
        same = fabs(d->row[i].start - d->truth[i].start) < 0.3;
    }
    bt_result_clear(&result);
    bt_map_free(map);
    return same;
}

/* ---- are they right? ---- */

/* Labels and corners match one to one, extra brakes have none. */
static bool one_to_one(const drive *d)
{
    for (size_t i = 0; i < d->n; i++) {
        if (d->open[i] && d->row[i].place[0] == '\0') continue;
        const bool extra = d->truth[i].corner > EXTRA;
        if (extra != (d->row[i].place[0] == '\0')) return false;
        for (size_t k = 0; k < i && !extra; k++) {
            if (d->truth[k].corner > EXTRA || (d->open[k] && d->row[k].place[0] == '\0')) continue;
            const bool same = d->truth[k].corner == d->truth[i].corner;
            if (same != (strcmp(d->row[k].place, d->row[i].place) == 0)) return false;
        }
    }
    return true;
}

/* Labels rise with the corners, but for the one place where a lap ends, and laps with them. */
static bool in_order(const drive *d, int way)
{
    char label[EXTRA + 1][BT_LABEL_MAX] = {""};
    int falls = 0;
    const char *before = NULL, *first = NULL;
    for (size_t i = 0; i < d->n; i++)
        if (d->truth[i].corner <= EXTRA && !d->open[i])
            memcpy(label[d->truth[i].corner], d->row[i].place, BT_LABEL_MAX);
    for (int c = 1; c <= EXTRA; c++) {
        if (label[c][0] == '\0') continue;
        falls += before && strcmp(label[c], before) < 0;
        before = label[c];
        if (!first) first = before;
    }
    falls += before && first && strcmp(first, before) < 0;
    for (size_t i = 1; i < d->n; i++)
        if (!(d->row[i].lap >= d->row[i - 1].lap)) return false;
    if (way == BY_WAY && first && strcmp(first, "P01") != 0) return false;
    return falls <= 1;
}

/* The label that most zones of a corner have. */
static const char *usual_label(const drive *d, int corner)
{
    const char *best = "";
    size_t most = 0;
    for (size_t i = 0; i < d->n; i++) {
        size_t count = 0;
        for (size_t k = 0; k < d->n; k++)
            count += d->truth[k].corner == corner && d->truth[i].corner == corner &&
                     strcmp(d->row[k].place, d->row[i].place) == 0;
        if (count <= most) continue;
        most = count;
        best = d->row[i].place;
    }
    return best;
}

static void tell(const drive *d)
{
    for (size_t i = 0; i < d->n; i++) {
        const int corner = d->truth[i].corner;
        const char *usual = corner > EXTRA ? "" : usual_label(d, corner);
        if (strcmp(usual, d->row[i].place) == 0 && *usual) continue;
        printf("  lap %d corner %3d '%s' for '%s', lap %g, at %.0f + %.0f, entry %.1f exit %.1f\n",
               d->truth[i].lap, corner, d->row[i].place, usual, d->row[i].lap, d->row[i].start_dist,
               d->row[i].distance, d->row[i].entry, d->row[i].exit);
    }
}

typedef struct {
    int runs, other, right[WAYS];
} tally;

static void judge(const drive *d, int way, bool same, tally *t, uint64_t seed, bool aloud)
{
    const bool good = same && one_to_one(d) && in_order(d, way);
    t->right[way] += good;
    if (good) return;
    printf("seed %llu, %s: %s\n", (unsigned long long)seed, ways[way],
           same ? "wrong" : "other zones than the true ones, which tests/accuracy/zones judges");
    if (aloud && same) tell(d);
}

static void assign(drive *d)
{
    bt_error err = {0};
    if (bt_places_assign(d->row, d->n, &err) == BT_OK) return;
    fprintf(stderr, "%s\n", err.message);
    exit(2);
}

static bool report(const char *what, const tally *t)
{
    bool good = true;
    for (int way = 0; way < WAYS; way++) {
        const int runs = t->runs - t->other;
        printf("%s, %s: %d of %d runs right\n", what, ways[way], t->right[way], runs);
        good = good && t->right[way] == runs;
    }
    return good;
}

int main(int argc, char **argv)
{
    static drive d;
    static plant_config cfg;
    const int first = argc > 1 ? atoi(argv[1]) : 1,
              last = argc > 2 ? atoi(argv[2]) : first + RUNS - 1;
    const bool aloud = argc > 1;
    char folder[] = "/tmp/places-XXXXXX", path[64];
    tally rows = {0}, logs = {0};
    size_t missed = 0, extra = 0, open = 0;
    if (!mkdtemp(folder)) return 2;
    snprintf(path, sizeof path, "%s/run.csv", folder);
    for (int seed = first; seed <= last; seed++, rows.runs++) {
        bt_random r = {(uint64_t)seed};
        simulate(&d, &cfg, (uint64_t)seed, &r);
        for (size_t i = 0; i < d.n; i++) open += d.open[i];
        for (size_t i = 0; i < d.n; i++) extra += d.truth[i].corner > EXTRA;
        for (size_t i = 1; i < d.n; i++)
            missed += d.truth[i].corner <= EXTRA && d.truth[i - 1].corner <= EXTRA &&
                      d.truth[i].corner > d.truth[i - 1].corner + 1;
        for (int way = 0; way < WAYS; way++) {
            make_rows(&d, way, &r);
            assign(&d);
            judge(&d, way, true, &rows, (uint64_t)seed, aloud);
        }
        if (seed % LOG_EVERY) continue;
        write_log(&cfg, path);
        logs.runs++;
        for (int way = 0; way < WAYS; way++) {
            const bool same = log_rows(&d, path, way);
            if (!same && way == 0) logs.other++;
            if (same) assign(&d);
            judge(&d, way, same, &logs, (uint64_t)seed, aloud);
        }
        remove(path);
    }
    rmdir(folder);
    free(d.seen);
    const bool good = report("rows made from the truth", &rows);
    const bool whole = report("logs through the whole program", &logs);
    printf("brakes left out: %zu, put in: %zu, open questions: %zu\n", missed, extra, open);
    return good && whole ? EXIT_SUCCESS : EXIT_FAILURE;
}
