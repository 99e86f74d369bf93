/* The analysis of one log: wires the line from bytes to zone rows (DESIGN "One way through") and runs
 * it.  Nothing is computed here. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "run/analysis.h"
#include "rows/log.h"
#include "run/chain.h"
#include "run/relay.h"
#include "rows/table.h"

/* Everything of one line; zeroed = nothing there yet. */
typedef struct {
    const bt_setup *setup;
    const bt_zone_sink *sink;
    bt_log log;
    bt_chain chain;
    bt_table *table;
} line;

static void line_free(line *l)
{
    bt_chain_free(&l->chain); /* its threads first */
    bt_table_free(l->table);
    bt_log_close(&l->log);
}

/* The log's bytes down the line to their end.  A log that cannot be read to its end still gives what
 * came before: *broken says so, and err why. */
static bt_status feed(line *l, bt_status *broken, bt_error *err)
{
    while (l->log.n > 0 && *broken == BT_OK) {
        BT_TRY(bt_table_push(l->table, l->log.bytes, l->log.n, err));
        *broken = bt_log_next(&l->log, err);
    }
    bt_error later = {0}; /* the first error stays */
    bt_error *rest = *broken == BT_OK ? err : &later;
    if (*broken != BT_OK) BT_TRY(bt_table_push(l->table, l->log.bytes, l->log.n, rest));
    BT_TRY(bt_table_end(l->table, rest));
    return bt_samples_end(l->chain.samples, rest);
}

static bt_status finish_line(line *l, bt_status *broken, bt_result *result, bt_notes *notes,
                             bt_error *err)
{
    const bt_status fed = feed(l, broken, err);
    bt_error later = {0};
    bt_error *rest = *broken == BT_OK ? err : &later;
    if (l->chain.relay) BT_TRY(bt_relay_finish(l->chain.relay, rest));
    if (fed != BT_OK) return fed;
    if (bt_source_truncated(l->log.source) || bt_table_truncated(l->table))
        result->run.flags |= BT_FLAG_TRUNCATED;
    return bt_chain_finish(&l->chain, notes, rest);
}

static bt_status run_line(line *l, const char *path, bt_result *result, bt_notes *notes,
                          bt_error *err)
{
    BT_TRY(bt_log_open(&l->log, path, l->setup, err));
    BT_TRY(bt_chain_new(&l->chain, &l->log.dialect, &l->log.signals, l->setup, l->log.threads,
                        l->sink, result, err));
    BT_TRY(bt_samples_table(l->chain.samples, &l->table, err));
    bt_status broken = BT_OK;
    const bt_status status = finish_line(l, &broken, result, notes, err);
    return broken != BT_OK ? broken : status; /* the first error counts, as in err */
}

/* CONTRACT 6. */
void bt_run_name(const char *path, char name[BT_NAME_MAX])
{
    const char *slash = strrchr(path, '/');
    const char *base = strcmp(path, "-") == 0 ? "stdin" : slash ? slash + 1 : path;
    snprintf(name, BT_NAME_MAX, "%s", base);
    static const char *const endings[] = {".csv.gz", ".txt.gz", ".csv", ".txt"};
    for (size_t i = 0; i < sizeof endings / sizeof *endings; i++) {
        const size_t n = strlen(name), e = strlen(endings[i]);
        if (n <= e || strcmp(name + n - e, endings[i]) != 0) continue;
        name[n - e] = '\0';
        return;
    }
}

bt_status bt_analyse_into(const char *path, const bt_setup *setup, const bt_zone_sink *sink,
                          bt_result *result, bt_error *err)
{
    static const bt_setup defaults;
    bt_error own = {0};
    if (!err) err = &own;
    *result = (bt_result){0};
    bt_row_blank(BT_TABLE_RUNS, &result->run);
    bt_run_name(path, result->run.run);

    line l = {.setup = setup ? setup : &defaults, .sink = sink};
    bt_notes notes = {0};
    bt_status status = run_line(&l, path, result, &notes, err);
    line_free(&l);
    result->notes = notes.line;
    result->n_notes = notes.n;
    if (status != BT_OK) (void)bt_at(err, status, path, 0, 0);
    snprintf(result->run.status, sizeof result->run.status, "%s",
             status == BT_OK ? "ok" : err->message);
    return status;
}

bt_status bt_analyse(const char *path, const bt_setup *setup, bt_result *result, bt_error *err)
{
    return bt_analyse_into(path, setup, NULL, result, err);
}
