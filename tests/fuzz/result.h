/* What holds of any result, for the targets that analyse. */
#ifndef BT_FUZZ_RESULT_H
#define BT_FUZZ_RESULT_H

#include <math.h>

#include "support.h"

/* Takes the samples and zones as they come. */
typedef struct {
    double t, low, high, zones;
    size_t samples;
    bool back;     /* there was one */
    uint64_t hash; /* FNV-1a over all that is printed of the samples */
    bt_sketch *sketch;
} watcher;

static inline void watch_bytes(watcher *w, const void *bytes, size_t n)
{
    const unsigned char *p = bytes;
    for (size_t i = 0; i < n; i++) w->hash = (w->hash ^ p[i]) * UINT64_C(1099511628211);
}

static inline bt_status watch_sample(void *user, const bt_trace *sample, bt_error *err)
{
    watcher *w = user;
    /* Times rise but for what is lost where the log's first second is added; a jump back by more
     * than 1 s begins a new stretch. */
    must(w->samples == 0 || sample->t >= w->t || sample->t < w->t - 1 + 1e-9);
    must(isfinite(sample->t));
    w->back = w->back || (w->samples > 0 && sample->t < w->t);
    must(!isinf(sample->speed));
    if (w->samples == 0 || sample->t < w->low) w->low = sample->t;
    if (w->samples++ == 0 || sample->t > w->high) w->high = sample->t;
    w->t = sample->t;
    watch_bytes(w, &sample->t, sizeof sample->t);
    watch_bytes(w, &sample->speed, sizeof sample->speed);
    watch_bytes(w, &sample->blend, sizeof sample->blend);
    return bt_sketch_take(w->sketch, sample, err);
}

static inline bt_status watch_zone(void *user, const bt_zone *zone, bt_error *err)
{
    (void)err;
    watcher *w = user;
    must(!(zone->zone != ++w->zones));
    return BT_OK;
}

static inline void check_result_zone(const bt_zone *z, const watcher *w)
{
    must(isfinite(z->start) && z->duration >= 0);
    if (w->samples > 0) must(z->start >= w->low - 1e-6);
    if (w->samples > 0) must(z->start + z->duration <= w->high * (1 + 1e-12) + 1e-6);
    must(!(z->distance < 0) && !(z->entry < 0) && !isinf(z->exit));
    must(!(z->lock < 0) && !(z->lock > z->duration + 1e-6));
    must(!(z->flagged < 0) && !(z->flagged > 1 + 1e-9));
    must(!(z->blend_inband < 0) && !(z->blend_inband > 1 + 1e-9));
}

static inline void check_result(const bt_result *r, const watcher *w)
{
    must(r->run.status[0] != '\0');
    for (size_t i = 0; i < r->n_zones; i++) {
        const bt_zone *z = &r->zones[i];
        check_result_zone(z, w);
        must(!(z->zone != (double)(i + 1)));
        if (i > 0 && !w->back) must(z->start >= z[-1].start + z[-1].duration - 1e-6);
    }
    for (size_t i = 0; i < r->n_events; i++) {
        const bt_event *e = &r->events[i];
        must(e->kind[0] && e->severity <= BT_STOP && !(e->duration < 0));
        for (const char *c = e->reason; *c; c++) must((unsigned char)*c >= ' ');
    }
    for (size_t i = 0; i < r->n_notes; i++) must(r->notes[i][0] != '\0');
}

/* The page of one run, with all that can be on it. */
static inline void check_page(const bt_result *r, const watcher *w, const bt_car *car)
{
    const bt_bypass_options bypass = {0};
    const bt_report_options options = {.car = car, .car_name = "car", .bypass = &bypass};
    bt_report *report;
    bt_error err = {0};
    must(bt_sketch_end(w->sketch, &err) == BT_OK);
    must(bt_report_new(&report, &options, &err) == BT_OK);
    must(bt_report_add(report, r, w->sketch, &err) == BT_OK);
    must(bt_report_write(report, ignore, NULL, &err) == BT_OK);
    bt_report_free(report);
}

/* Every table of the result, in every format. */
static inline void check_tables(const bt_result *r)
{
    for (int format = 0; format <= BT_FORMAT_TEXT; format++) {
        const bt_style style = {.format = (bt_format)format};
        bt_writer *w;
        must(bt_writer_new(&w, BT_TABLE_ZONES, &style, ignore, NULL, NULL) == BT_OK);
        for (size_t i = 0; i < r->n_zones; i++) must(bt_writer_row(w, &r->zones[i], NULL) == BT_OK);
        must(bt_writer_end(w, NULL) == BT_OK);
        bt_writer_free(w);
        must(bt_writer_new(&w, BT_TABLE_EVENTS, &style, ignore, NULL, NULL) == BT_OK);
        for (size_t i = 0; i < r->n_events; i++)
            must(bt_writer_row(w, &r->events[i], NULL) == BT_OK);
        must(bt_writer_end(w, NULL) == BT_OK);
        bt_writer_free(w);
        must(bt_writer_new(&w, BT_TABLE_RUNS, &style, ignore, NULL, NULL) == BT_OK);
        must(bt_writer_row(w, &r->run, NULL) == BT_OK);
        must(bt_writer_end(w, NULL) == BT_OK);
        bt_writer_free(w);
    }
}

#endif
