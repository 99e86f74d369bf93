/* Everything that a batch of logs gave, in the order of the command line, with the places of all logs
 * together: what zones, events and runs print. */
#include "cli.h"

#include <stdlib.h>
#include <string.h>

typedef struct {
    bt_zones zones;
    bt_event *event;
    bt_run *run;
    size_t n_events, n_runs;
    bool any; /* log that did not fail */
} batch;

/* Append n rows of `size` bytes to *array, which has *have. */
static int append(void **array, size_t *have, const void *rows, size_t n, size_t size)
{
    if (n == 0) return 0;
    char *grown = realloc(*array, (*have + n) * size);
    if (!grown) {
        say("no memory for %zu rows", *have + n);
        return EXIT_LOG;
    }
    memcpy(grown + *have * size, rows, n * size);
    *array = grown;
    *have += n;
    return 0;
}

/* A log that failed has its row in `runs`, with the reason in `status`; half a log must not pass for a
 * whole one elsewhere. */
static int add_log(void *user, const bt_result *result, bool analysed)
{
    batch *b = user;
    void *runs = b->run, *events = b->event;
    int status = append(&runs, &b->n_runs, &result->run, 1, sizeof *b->run);
    b->run = runs;
    if (status || !analysed) return status;
    b->any = true;
    status = append(&events, &b->n_events, result->events, result->n_events, sizeof *b->event);
    b->event = events;
    return status ? status : pool_log(&b->zones, result, analysed);
}

/* Text begins with the worst. */
static bt_status say_headline(bt_writer *w, const batch *b, bt_error *err)
{
    char line[1024];
    bt_headline(b->event, b->n_events, b->zones.row, b->zones.n, line, sizeof line);
    return bt_writer_say(w, line, err);
}

static bt_status write_rows(bt_writer *w, const void *rows, size_t n, size_t size, bt_error *err)
{
    for (size_t i = 0; i < n; i++) {
        const bt_status status = bt_writer_row(w, (const char *)rows + i * size, err);
        if (status != BT_OK) return status;
    }
    return BT_OK;
}

static bt_status write_table(const batch *b, bt_table_kind table, bt_writer *w, bt_error *err)
{
    if (table == BT_TABLE_ZONES)
        return write_rows(w, b->zones.row, b->zones.n, sizeof *b->zones.row, err);
    if (table == BT_TABLE_EVENTS)
        return write_rows(w, b->event, b->n_events, sizeof *b->event, err);
    return write_rows(w, b->run, b->n_runs, sizeof *b->run, err);
}

static int add_day(batch *b)
{
    bt_run day;
    void *runs = b->run;
    bt_day_row(b->run, b->n_runs, &day);
    const int status = append(&runs, &b->n_runs, &day, 1, sizeof day);
    b->run = runs;
    return status;
}

int batch_print(cli *c, int n, char **logs, bt_table_kind table)
{
    bt_writer *w;
    int status = output_table(c, table, &w);
    if (status) return status;
    batch b = {0};
    bt_error err = {0};
    status = jobs_run(c, n, logs, add_log, &b);
    if (bt_places_assign(b.zones.row, b.zones.n, &err) != BT_OK)
        status = say_error(&err, NULL, EXIT_LOG);
    if (c->day && add_day(&b) != 0) status = EXIT_LOG;
    bt_events_place(b.event, b.n_events, b.zones.row, b.zones.n);
    if (say_headline(w, &b, &err) != BT_OK || write_table(&b, table, w, &err) != BT_OK)
        status = say_error(&err, NULL, EXIT_OUTPUT);
    bt_zones_free(&b.zones);
    free(b.event);
    free(b.run);
    /* An empty table must not take the place of an old file. */
    const bool worth = b.any || table == BT_TABLE_RUNS || !c->output_path;
    return output_finish(c, w, status, worth);
}
