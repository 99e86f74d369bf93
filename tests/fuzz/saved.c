/* Fuzz target: any bytes as a saved zones table, and all that is made of saved rows.
 *
 * Rows read, written and read again are the same text; figures over zones end in a status, whatever the
 * rows say. */
#include "saved/saved.h"

#include <math.h>

#include "output.h"

static output written(bt_table_kind table, const void *rows, size_t n, size_t size)
{
    output o = {0};
    bt_writer *w;
    must(bt_writer_new(&w, table, NULL, keep, &o, NULL) == BT_OK);
    for (size_t i = 0; i < n; i++)
        must(bt_writer_row(w, (const char *)rows + i * size, NULL) == BT_OK);
    must(bt_writer_end(w, NULL) == BT_OK);
    bt_writer_free(w);
    return o;
}

static void check_table(bt_table_kind table, const void *rows, size_t n, size_t size)
{
    size_t columns;
    const bt_column *column = bt_columns(table, &columns);
    output o = written(table, rows, n, size);
    check_csv(&o, ',', column, columns);
    output_free(&o);
}

static void check_round_trip(const bt_zones *zones)
{
    static scratch file;
    output once = written(BT_TABLE_ZONES, zones->row, zones->n, sizeof *zones->row);
    must(bt_zones_saved_head(once.p, once.n));
    scratch_fill(&file, once.p, once.n);
    bt_zones again = {0};
    bt_error err = {0};
    must_explain(bt_zones_read(&again, file.path, &err), &err);
    must(err.status == BT_OK && again.n == zones->n);
    output twice = written(BT_TABLE_ZONES, again.row, again.n, sizeof *again.row);
    must(once.n == twice.n && memcmp(once.p, twice.p, once.n) == 0);
    output_free(&once);
    output_free(&twice);
    bt_zones_free(&again);
}

static void check_halves(const bt_zones *zones)
{
    const size_t half = zones->n / 2;
    const bt_zones a = {zones->row, half, half};
    const bt_zones b = {zones->row + half, zones->n - half, zones->n - half};
    bt_error err = {0};
    bt_compare *rows;
    size_t n;
    must_explain(bt_compare_find(&a, &b, NULL, &rows, &n, &err), &err);
    if (err.status != BT_OK) return;
    check_table(BT_TABLE_COMPARE, rows, n, sizeof *rows);
    free(rows);
}

static void check_figures(bt_zones *zones, const bt_car *car)
{
    bt_error err = {0};
    bt_drift *drift;
    size_t n;
    const bt_drift_options options = {.of = "balance_pct,blend_rms_nm"};
    must_explain(bt_drift_find(zones->row, zones->n, &options, &drift, &n, &err), &err);
    for (size_t i = 0; i < n; i++) must(!(drift[i].p < 0) && !(drift[i].p > 1));
    if (err.status == BT_OK) {
        check_table(BT_TABLE_DRIFT, drift, n, sizeof *drift);
        (void)!bt_svg_drift(drift, n, ignore, NULL, NULL);
        free(drift);
    }

    err = (bt_error){0};
    bt_compare *compare;
    must_explain(bt_compare_find(zones, zones, NULL, &compare, &n, &err), &err);
    for (size_t i = 0; i < n; i++) must(!(fabs(compare[i].diff) > 0));
    if (err.status == BT_OK) free(compare);
    if (zones->n > 1) check_halves(zones);

    err = (bt_error){0};
    bt_plan plan;
    must_explain(bt_bypass_plan(zones->row, zones->n, car, NULL, &plan, &err), &err);
    check_table(BT_TABLE_BYPASS, plan.rows, plan.n_rows, sizeof *plan.rows);
    bt_plan_clear(&plan);

    err = (bt_error){0};
    bt_fitted fitted;
    must_explain(bt_fit_zones(zones->row, zones->n, car, &fitted, &err), &err);
    check_table(BT_TABLE_FIT, fitted.rows, fitted.n_rows, sizeof *fitted.rows);
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
    (void)bt_zones_saved_head(data, n);
    char shared[BT_NAME_MAX];
    must(bt_zones_part(&zones, shared, NULL) == BT_OK);
    bool ascii = true; /* a run's name cut within a letter is not the same the next time */
    for (size_t i = 0; i < n; i++) ascii = ascii && data[i] < 0x80;
    if (zones.n > 0 && ascii) check_round_trip(&zones);
    check_figures(&zones, car);
    bt_zones_free(&zones);
    return 0;
}
