/* Buckets of extremes: see decimate.h. */
#include "out/decimate.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define FIRST_WIDTH                                                                                \
    (1.0 / 1024)       /* s; a power of two, so that bucket ends stay exact when doubled */
#define HOLE       1.0 /* s, and HOLE_STEPS steps: no value between for longer is a gap */
#define HOLE_STEPS 5.0

/* One channel in one bucket. */
typedef struct {
    double t_min, min, t_max, max; /* NaN = no value in it */
    bool gap;                      /* before its first value */
} extreme;

struct bt_decimate {
    size_t buckets, channels;
    double first, last, step, width;
    size_t used, left_out;
    extreme *cell; /* bucket by bucket, channel by channel */
    bool *open;    /* per channel: nothing since the last value but a gap */
};

bt_status bt_decimate_new(bt_decimate **out, size_t buckets, size_t channels, bt_error *err)
{
    assert(buckets >= 2 && buckets % 2 == 0 && channels > 0);
    *out = NULL;
    bt_decimate *d = calloc(1, sizeof *d);
    if (d) {
        d->buckets = buckets;
        d->channels = channels;
        d->cell = malloc(buckets * channels * sizeof *d->cell);
        d->open = malloc(channels * sizeof *d->open);
    }
    if (!d || !d->cell || !d->open) {
        bt_decimate_free(d);
        return bt_fail(err, BT_NOMEM, "no memory for the points of a plot");
    }
    bt_decimate_reset(d);
    *out = d;
    return BT_OK;
}

void bt_decimate_free(bt_decimate *d)
{
    if (!d) return;
    free(d->cell);
    free(d->open);
    free(d);
}

void bt_decimate_reset(bt_decimate *d)
{
    d->first = d->last = d->step = NAN;
    d->width = FIRST_WIDTH;
    d->used = d->left_out = 0;
    for (size_t c = 0; c < d->channels; c++) d->open[c] = false;
}

static bool empty(const extreme *e)
{
    return isnan(e->min);
}

static void merge(extreme *into, const extreme *next)
{
    if (empty(next)) return;
    if (empty(into)) {
        *into = *next;
        return;
    }
    if (next->min < into->min) {
        into->min = next->min;
        into->t_min = next->t_min;
    }
    if (next->max > into->max) {
        into->max = next->max;
        into->t_max = next->t_max;
    }
}

/* Buckets of twice the width; the used ones are then at most half of all. */
static void double_width(bt_decimate *d)
{
    const size_t row = d->channels;
    for (size_t i = 0; i < d->used; i++) {
        extreme *from = d->cell + i * row, *to = d->cell + i / 2 * row;
        for (size_t c = 0; c < row; c++) {
            if (i % 2 == 0)
                to[c] = from[c];
            else
                merge(&to[c], &from[c]);
        }
    }
    d->used = (d->used + 1) / 2;
    d->width *= 2;
}

static extreme *bucket_at(bt_decimate *d, double t)
{
    while ((t - d->first) / d->width >= (double)d->buckets) double_width(d);
    const size_t i = (size_t)((t - d->first) / d->width);
    for (; d->used <= i; d->used++)
        for (size_t c = 0; c < d->channels; c++)
            d->cell[d->used * d->channels + c] = (extreme){NAN, NAN, NAN, NAN, false};
    return d->cell + i * d->channels;
}

void bt_decimate_push(bt_decimate *d, double t, const double *values)
{
    if (isnan(d->first) && isfinite(t)) d->first = t;
    if (!isfinite(t) || t <= d->last) {
        d->left_out++;
        return;
    }
    const double step = t - d->last;
    const bool hole = step > HOLE && step > HOLE_STEPS * d->step;
    if (!hole) d->step = step;
    d->last = t;
    extreme *cell = bucket_at(d, t);
    for (size_t c = 0; c < d->channels; c++) {
        const double v = values[c];
        if (hole || !isfinite(v)) d->open[c] = true;
        if (!isfinite(v)) continue;
        const extreme point = {t, v, t, v, d->open[c]};
        merge(&cell[c], &point);
        d->open[c] = false;
    }
}

bt_status bt_series_new(bt_series *out, size_t n, bt_error *err)
{
    *out = (bt_series){0};
    if (n == 0) return BT_OK;
    if (n <= SIZE_MAX / 2 / sizeof *out->t) out->t = malloc(2 * n * sizeof *out->t);
    if (!out->t) return bt_fail(err, BT_NOMEM, "no memory for %zu points of a plot", n);
    out->v = out->t + n;
    out->n = n;
    return BT_OK;
}

void bt_series_free(bt_series *series)
{
    free(series->t);
    *series = (bt_series){0};
}

/* The points of a bucket behind n others; with out = NULL they are only counted. */
static size_t points_of(const extreme *e, size_t n, bt_series *out)
{
    if (empty(e)) return n;
    const bool rising = e->t_min <= e->t_max, two = e->t_min < e->t_max || e->t_min > e->t_max;
    const double t0 = rising ? e->t_min : e->t_max, t1 = rising ? e->t_max : e->t_min;
    const size_t gap = e->gap && n ? 1 : 0;
    if (out) {
        if (gap) {
            out->t[n] = t0;
            out->v[n] = NAN;
        }
        out->t[n + gap] = t0;
        out->v[n + gap] = rising ? e->min : e->max;
        if (two) {
            out->t[n + gap + 1] = t1;
            out->v[n + gap + 1] = rising ? e->max : e->min;
        }
    }
    return n + gap + (two ? 2 : 1);
}

bt_status bt_decimate_series(const bt_decimate *d, size_t channel, bt_series *out, bt_error *err)
{
    size_t n = 0;
    for (size_t i = 0; i < d->used; i++)
        n = points_of(d->cell + i * d->channels + channel, n, NULL);
    BT_TRY(bt_series_new(out, n, err));
    n = 0;
    for (size_t i = 0; i < d->used; i++) n = points_of(d->cell + i * d->channels + channel, n, out);
    return BT_OK;
}

size_t bt_decimate_left_out(const bt_decimate *d)
{
    return d->left_out;
}
