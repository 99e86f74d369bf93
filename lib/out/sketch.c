/* Samples to the few that are drawn: see sketch.h. */
#include "out/sketch.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define SPEED_BUCKETS 4096 /* columns of all rows of a long run */
#define DISC_BUCKETS  800
#define ZONE_BUCKETS  140
/* Which zones will be asked for is known only when the run is over: the worst, the one in the middle, those
 * with events.  Kept are half of KEPT by how conspicuous they were, the others spread over all
 * values of the blend error, so that one close to the median is among them. */
#define KEPT 160
#define SLIP 0.15 /* of a wheel: worth keeping */

struct bt_sketch {
    bt_axle axle; /* by-wire */
    bt_decimate *speed, *discs, *open;
    double zone;                  /* being gathered; NaN = none */
    double square, time;          /* integral of the squared error over so many s */
    double before, square_before; /* the sample before; NaN = none */
    bool conspicuous;
    bt_sketch_zone kept[KEPT + 1];
    size_t n;
};

bt_status bt_sketch_new(bt_sketch **out, const bt_car *car, bt_error *err)
{
    *out = NULL;
    bt_sketch *s = calloc(1, sizeof *s);
    if (!s) return bt_fail(err, BT_NOMEM, "no memory for a sketch");
    s->axle = car ? car->bywire_axle : BT_REAR;
    s->zone = s->before = NAN;
    bt_status status = bt_decimate_new(&s->speed, SPEED_BUCKETS, 1, err);
    if (status == BT_OK) status = bt_decimate_new(&s->discs, DISC_BUCKETS, 2, err);
    if (status == BT_OK) status = bt_decimate_new(&s->open, ZONE_BUCKETS, BT_SKETCH_SERIES, err);
    if (status != BT_OK) {
        bt_sketch_free(s);
        return status;
    }
    *out = s;
    return BT_OK;
}

static void drop(bt_sketch_zone *zone)
{
    for (size_t i = 0; i < BT_SKETCH_SERIES; i++) bt_series_free(&zone->series[i]);
}

void bt_sketch_free(bt_sketch *s)
{
    if (!s) return;
    bt_decimate_free(s->speed);
    bt_decimate_free(s->discs);
    bt_decimate_free(s->open);
    for (size_t i = 0; i < s->n; i++) drop(&s->kept[i]);
    free(s);
}

/* ---- which zones stay ---- */

static int by_blend(const void *a, const void *b)
{
    const bt_sketch_zone *p = a, *q = b;
    if (p->conspicuous != q->conspicuous) return p->conspicuous ? 1 : -1;
    if (p->blend < q->blend || p->blend > q->blend) return p->blend < q->blend ? -1 : 1;
    return p->zone < q->zone ? -1 : p->zone > q->zone;
}

/* One too many: of the less conspicuous half goes the one whose neighbours are closest to each other. */
static void make_room(bt_sketch *s)
{
    qsort(s->kept, s->n, sizeof *s->kept, by_blend);
    size_t least = 1;
    double closest = INFINITY;
    for (size_t i = 1; i < KEPT / 2; i++) {
        const double apart = s->kept[i + 1].blend - s->kept[i - 1].blend;
        if (!(fabs(apart) < closest)) continue;
        closest = fabs(apart);
        least = i;
    }
    drop(&s->kept[least]);
    s->n--;
    memmove(&s->kept[least], &s->kept[least + 1], (s->n - least) * sizeof *s->kept);
}

static bt_status keep_zone(bt_sketch *s, bt_error *err)
{
    if (isnan(s->zone)) return BT_OK;
    bt_sketch_zone zone = {.zone = s->zone, .conspicuous = s->conspicuous};
    if (s->time > 0) zone.blend = sqrt(s->square / s->time);
    s->zone = NAN;
    for (size_t i = 0; i < BT_SKETCH_SERIES; i++) {
        const bt_status status = bt_decimate_series(s->open, i, &zone.series[i], err);
        if (status == BT_OK) continue;
        drop(&zone);
        return status;
    }
    s->kept[s->n++] = zone;
    if (s->n > KEPT) make_room(s);
    return BT_OK;
}

/* ---- samples ---- */

static void begin_zone(bt_sketch *s, double zone)
{
    bt_decimate_reset(s->open);
    s->zone = zone;
    s->square = s->time = 0;
    s->before = NAN;
    s->conspicuous = false;
}

static void take_zone(bt_sketch *s, const bt_trace *x)
{
    const double friction = s->axle == BT_FRONT ? x->front : x->rear_friction;
    const double delivered =
        isnan(x->blend) ? friction + (isnan(x->motor) ? 0 : x->motor) : x->demand + x->blend;
    const double values[BT_SKETCH_SERIES] = {x->demand, friction, delivered, x->blend};
    bt_decimate_push(s->open, x->t, values);
    const double square = x->blend * x->blend, step = x->t - s->before;
    if (step > 0 && square >= 0 && s->square_before >= 0) {
        s->square += 0.5 * step * (square + s->square_before);
        s->time += step;
    }
    s->before = x->t;
    s->square_before = square;
    for (size_t w = 0; w < 4; w++)
        if (x->slip[w] > SLIP) s->conspicuous = true;
    if (x->mode[0] && strcmp(x->mode, "by-wire") != 0 && strcmp(x->mode, "undetermined") != 0)
        s->conspicuous = true;
}

bt_status bt_sketch_take(bt_sketch *s, const bt_trace *sample, bt_error *err)
{
    const double discs[] = {sample->disc_front, sample->disc_rear};
    bt_decimate_push(s->speed, sample->t, &sample->speed);
    bt_decimate_push(s->discs, sample->t, discs);
    const bool same = sample->zone >= s->zone && sample->zone <= s->zone;
    if (!same) {
        BT_TRY(keep_zone(s, err));
        if (!isnan(sample->zone)) begin_zone(s, sample->zone);
    }
    if (!isnan(s->zone)) take_zone(s, sample);
    return BT_OK;
}

bt_status bt_sketch_end(bt_sketch *s, bt_error *err)
{
    return keep_zone(s, err);
}

/* ---- what was kept ---- */

bt_status bt_sketch_course(const bt_sketch *s, size_t course, bt_series *out, bt_error *err)
{
    *out = (bt_series){0};
    if (!s) return BT_OK;
    if (course == BT_SKETCH_SPEED) return bt_decimate_series(s->speed, 0, out, err);
    return bt_decimate_series(s->discs, course - BT_SKETCH_DISC_FRONT, out, err);
}

const bt_sketch_zone *bt_sketch_find(const bt_sketch *s, double zone)
{
    for (size_t i = 0; s && i < s->n; i++)
        if (s->kept[i].zone >= zone && s->kept[i].zone <= zone) return &s->kept[i];
    return NULL;
}

size_t bt_sketch_left_out(const bt_sketch *s)
{
    return s ? bt_decimate_left_out(s->speed) : 0;
}
