/* events: one row per event, log after log. */
#include "cli.h"

static int emit(void *user, const bt_result *result, bool analysed)
{
    bt_error err = {0};
    for (size_t i = 0; analysed && i < result->n_events; i++)
        if (bt_writer_row(user, &result->events[i], &err) != BT_OK)
            return say_error(&err, NULL, EXIT_OUTPUT);
    return 0;
}

int cmd_events(cli *c, int n, char **logs)
{
    bt_writer *w;
    const int status = output_table(c, BT_TABLE_EVENTS, &w);
    return status ? status : output_finish(c, w, jobs_run(c, n, logs, emit, w), true);
}
