/* An analysis that is fed with rows of numbers: the columns are named as in a log's header, and the rows
 * go into the same chain of stages as a log's, behind the reading of text. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "run/chain.h"

#define AT_MOST 0.1 /* s that samples wait to make a block */

struct bt_feed {
    bt_setup setup;
    bt_dialect dialect; /* of the log that these rows would make */
    bt_chain chain;
    double flushed; /* s, the newest sample then; NaN = not yet */
    bt_result result;
    bt_error err; /* the first error: after it nothing more is taken */
};

static bt_status name_column(bt_arena *arena, const char *header, bt_log_column *column,
                             bt_error *err)
{
    size_t name_len, unit_len;
    const char *unit;
    bt_unit_in_name(header, strlen(header), &name_len, &unit, &unit_len);
    column->text = bt_arena_text(arena, header, strlen(header), BT_UTF8);
    column->name = bt_arena_text(arena, header, name_len, BT_UTF8);
    column->unit = bt_arena_text(arena, unit_len ? unit : "", unit_len, BT_UTF8);
    if (column->text && column->name && column->unit) return BT_OK;
    return bt_fail(err, BT_NOMEM, "no memory for the names of columns");
}

static bt_status name_columns(bt_dialect *dialect, const char *const *columns, size_t n,
                              bt_error *err)
{
    *dialect = (bt_dialect){.decimal = '.', .layout = BT_LAYOUT_WIDE, .columns = n};
    bt_log_column *column = NULL;
    if (n <= SIZE_MAX / sizeof *column) column = bt_arena_new(&dialect->arena, n * sizeof *column);
    if (!column) return bt_fail(err, BT_NOMEM, "no memory for %zu columns", n);
    dialect->column = column;
    for (size_t i = 0; i < n; i++)
        BT_TRY(name_column(&dialect->arena, columns[i], &column[i], err));
    return BT_OK;
}

static bt_status set_up(bt_feed *f, const char *const *columns, size_t n, bt_error *err)
{
    if (n == 0) return bt_fail(err, BT_RANGE, "columns: expected at least one, found none");
    BT_TRY(name_columns(&f->dialect, columns, n, err));
    return bt_chain_new(&f->chain, &f->dialect, NULL, &f->setup, false, NULL, &f->result, err);
}

bt_status bt_feed_new(bt_feed **out, const char *run, const char *const *columns, size_t n,
                      const bt_setup *setup, bt_error *err)
{
    *out = NULL;
    bt_feed *f = calloc(1, sizeof *f);
    if (!f) return bt_fail(err, BT_NOMEM, "no memory for an analysis");
    if (setup) f->setup = *setup;
    f->flushed = NAN;
    bt_row_blank(BT_TABLE_RUNS, &f->result.run);
    snprintf(f->result.run.run, sizeof f->result.run.run, "%s", run);
    const bt_status status = set_up(f, columns, n, err);
    if (status != BT_OK) {
        bt_feed_free(f);
        return status;
    }
    *out = f;
    return BT_OK;
}

/* The feed's first error, told to the caller. */
static bt_status fail(const bt_feed *f, bt_error *err)
{
    if (f->err.status != BT_OK && err && err->status == BT_OK) *err = f->err;
    return f->err.status;
}

static bt_status take_row(bt_feed *f, const double *row)
{
    BT_TRY(bt_samples_values(f->chain.samples, row, &f->err));
    const double newest = bt_samples_counts(f->chain.samples)->last;
    if (fabs(newest - f->flushed) < AT_MOST) return BT_OK;
    f->flushed = newest;
    return bt_samples_flush(f->chain.samples, &f->err);
}

bt_status bt_feed_push(bt_feed *feed, const double *rows, size_t n, bt_error *err)
{
    for (size_t i = 0; i < n && feed->err.status == BT_OK; i++) {
        const double *row = rows + i * feed->dialect.columns;
        const bt_status status = take_row(feed, row);
        /* A caller's callback may give a status without filling in the error. */
        if (status != BT_OK) bt_fail(&feed->err, status, "%s", bt_status_meaning(status));
    }
    return fail(feed, err);
}

static bt_status finish(bt_feed *f, bt_notes *notes)
{
    BT_TRY(bt_samples_end(f->chain.samples, &f->err));
    return bt_chain_finish(&f->chain, notes, &f->err);
}

bt_status bt_feed_end(bt_feed *feed, bt_result *result, bt_error *err)
{
    bt_notes notes = {0};
    if (feed->err.status == BT_OK) {
        const bt_status status = finish(feed, &notes);
        if (status != BT_OK) bt_fail(&feed->err, status, "%s", bt_status_meaning(status));
    }
    *result = feed->result;
    feed->result = (bt_result){0};
    result->notes = notes.line;
    result->n_notes = notes.n;
    snprintf(result->run.status, sizeof result->run.status, "%s",
             feed->err.status == BT_OK ? "ok" : feed->err.message);
    return fail(feed, err);
}

void bt_feed_free(bt_feed *f)
{
    if (!f) return;
    bt_chain_free(&f->chain);
    bt_dialect_free(&f->dialect);
    bt_result_clear(&f->result);
    free(f);
}
