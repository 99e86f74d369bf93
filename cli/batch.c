/* Everything that a batch of logs gave, in the order of the command line, with the places of all logs
 * together: what zones, events and runs print. */
#include "cli.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

typedef struct {
    bt_shelf *zones;
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
    if (status) return status;
    bt_error err = {0}; /* no zones in the result: they are on the shelf */
    if (bt_shelf_add(b->zones, result->zones, result->n_zones, &err) == BT_OK) return 0;
    return say_error(&err, result->run.run, EXIT_LOG);
}

/* The worst of the zones by itself, and what the events take from theirs. */
typedef struct {
    batch *of;
    bt_zone worst;
    bool any;
} look;

static bt_status look_at(void *user, const bt_zone *zone, bt_error *err)
{
    (void)err;
    look *l = user;
    bt_events_place(l->of->event, l->of->n_events, zone, 1);
    if (!l->any || zone->blend_rms > l->worst.blend_rms ||
        (isnan(l->worst.blend_rms) && !isnan(zone->blend_rms)))
        l->worst = *zone;
    l->any = true;
    return BT_OK;
}

/* Text begins with the worst. */
static bt_status say_headline(bt_writer *w, const batch *b, const look *l, bt_error *err)
{
    char line[1024];
    bt_headline(b->event, b->n_events, &l->worst, l->any ? 1 : 0, line, sizeof line);
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

static bt_status write_zone(void *user, const bt_zone *zone, bt_error *err)
{
    return bt_writer_row(user, zone, err);
}

static bt_status write_table(const batch *b, bt_table_kind table, bt_writer *w, bt_error *err)
{
    if (table == BT_TABLE_ZONES) return bt_shelf_each(b->zones, write_zone, w, err);
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

/* Places are those of all logs together. */
static int find_places(batch *b, look *l)
{
    bt_error err = {0};
    bt_status status = bt_shelf_places(b->zones, &err);
    if (status == BT_OK) status = bt_shelf_each(b->zones, look_at, l, &err);
    return status == BT_OK ? 0 : say_error(&err, NULL, EXIT_LOG);
}

static int print_all(cli *c, bt_writer *w, batch *b, bt_table_kind table, int status)
{
    bt_error err = {0};
    look l = {.of = b};
    if (find_places(b, &l) != 0) status = EXIT_LOG;
    if (c->day && add_day(b) != 0) status = EXIT_LOG;
    if (say_headline(w, b, &l, &err) != BT_OK || write_table(b, table, w, &err) != BT_OK)
        status = say_error(&err, NULL, EXIT_OUTPUT);
    return status;
}

int batch_print(cli *c, int n, char **logs, bt_table_kind table)
{
    bt_writer *w;
    int status = output_table(c, table, &w);
    if (status) return status;
    batch b = {0};
    bt_error err = {0};
    if (bt_shelf_new(&b.zones, &err) == BT_OK) {
        if (table != BT_TABLE_RUNS) c->shelf = b.zones; /* a run's drift takes its rows */
        status = print_all(c, w, &b, table, jobs_run(c, n, logs, add_log, &b));
    } else {
        status = say_error(&err, NULL, EXIT_LOG);
    }
    bt_shelf_free(b.zones);
    free(b.event);
    free(b.run);
    /* An empty table must not take the place of an old file. */
    const bool worth = b.any || table == BT_TABLE_RUNS || !c->output_path;
    return output_finish(c, w, status, worth);
}
