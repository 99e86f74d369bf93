/* events: one row per event, log after log, with the places of all logs together. */
#include "cli.h"

#include <stdlib.h>
#include <string.h>

typedef struct {
    bt_zones zones;
    bt_event *event;
    size_t n;
} pool;

static int add_log(void *user, const bt_result *result, bool analysed)
{
    pool *p = user;
    if (!analysed) return 0;
    const int status = pool_log(&p->zones, result, analysed);
    if (status || result->n_events == 0) return status;
    bt_event *grown = realloc(p->event, (p->n + result->n_events) * sizeof *grown);
    if (!grown) {
        say("no memory for %zu events", p->n + result->n_events);
        return EXIT_LOG;
    }
    p->event = grown;
    memcpy(grown + p->n, result->events, result->n_events * sizeof *grown);
    p->n += result->n_events;
    return 0;
}

static int write_events(bt_writer *w, pool *p)
{
    bt_error err = {0};
    if (bt_places_assign(p->zones.row, p->zones.n, &err) != BT_OK)
        return say_error(&err, NULL, EXIT_LOG);
    bt_events_place(p->event, p->n, p->zones.row, p->zones.n);
    for (size_t i = 0; i < p->n; i++)
        if (bt_writer_row(w, &p->event[i], &err) != BT_OK)
            return say_error(&err, NULL, EXIT_OUTPUT);
    return 0;
}

int cmd_events(cli *c, int n, char **logs)
{
    bt_writer *w;
    int status = output_table(c, BT_TABLE_EVENTS, &w);
    if (status) return status;
    pool p = {0};
    status = jobs_run(c, n, logs, add_log, &p);
    const int written = write_events(w, &p);
    bt_zones_free(&p.zones);
    free(p.event);
    return output_finish(c, w, written ? written : status, true);
}
