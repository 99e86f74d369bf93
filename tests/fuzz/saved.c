/* Fuzz target: any bytes as a saved zones table, and all that is made of saved rows.
 *
 * Rows read, written and read again are the same text; figures over zones end in a status, whatever the
 * rows say. */
#include "story/saved.h"

#include <math.h>

#include "support.h"

typedef struct {
    char *bytes;
    size_t n, room;
} text;

static bt_status keep(void *user, const char *bytes, size_t n, bt_error *err)
{
    (void)err;
    text *t = user;
    if (t->n + n > t->room) {
        t->room = 2 * (t->n + n);
        t->bytes = realloc(t->bytes, t->room);
        if (!t->bytes) abort();
    }
    memcpy(t->bytes + t->n, bytes, n);
    t->n += n;
    return BT_OK;
}

static text written(const bt_zones *zones)
{
    text t = {0};
    bt_writer *w;
    must(bt_writer_new(&w, BT_TABLE_ZONES, &(bt_style){0}, keep, &t, NULL) == BT_OK);
    for (size_t i = 0; i < zones->n; i++) must(bt_writer_row(w, &zones->row[i], NULL) == BT_OK);
    must(bt_writer_end(w, NULL) == BT_OK);
    bt_writer_free(w);
    return t;
}

static void check_round_trip(const bt_zones *zones)
{
    static scratch file;
    const text once = written(zones);
    scratch_fill(&file, once.bytes, once.n);
    bt_zones again = {0};
    bt_error err = {0};
    must_explain(bt_zones_read(&again, file.path, &err), &err);
    must(err.status == BT_OK && again.n == zones->n);
    const text twice = written(&again);
    must(once.n == twice.n && memcmp(once.bytes, twice.bytes, once.n) == 0);
    free(once.bytes);
    free(twice.bytes);
    bt_zones_free(&again);
}

static void check_figures(bt_zones *zones, const bt_car *car)
{
    bt_error err = {0};
    bt_drift *drift;
    size_t n;
    const bt_drift_options options = {.of = "balance_pct,blend_rms_nm"};
    must_explain(bt_drift_find(zones->row, zones->n, &options, &drift, &n, &err), &err);
    for (size_t i = 0; i < n; i++) must(!(drift[i].p < 0) && !(drift[i].p > 1));
    if (err.status == BT_OK) free(drift);

    err = (bt_error){0};
    bt_compare *compare;
    must_explain(bt_compare_find(zones, zones, NULL, &compare, &n, &err), &err);
    for (size_t i = 0; i < n; i++) must(!(fabs(compare[i].diff) > 0));
    if (err.status == BT_OK) free(compare);

    err = (bt_error){0};
    bt_plan plan;
    must_explain(bt_bypass_plan(zones->row, zones->n, car, NULL, &plan, &err), &err);
    bt_plan_clear(&plan);

    err = (bt_error){0};
    bt_fitted fitted;
    must_explain(bt_fit_zones(zones->row, zones->n, car, &fitted, &err), &err);
    bt_fitted_clear(&fitted);
    (void)!bt_svg_zones(zones->row, zones->n, ignore, NULL, NULL);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    static scratch file;
    static bt_car *car;
    if (!car) car = full_car();
    scratch_fill(&file, data, n);
    bt_zones zones = {0};
    bt_error err = {0};
    must_explain(bt_zones_read(&zones, file.path, &err), &err);
    bool ascii = true; /* a run's name cut within a letter is not the same the next time */
    for (size_t i = 0; i < n; i++) ascii = ascii && data[i] < 0x80;
    if (zones.n > 0 && ascii) check_round_trip(&zones);
    check_figures(&zones, car);
    bt_zones_free(&zones);
    return 0;
}
