/* zones: one row per braking zone, log after log. */
#include "cli.h"

static int emit(void *user, const bt_result *result, bool analysed)
{
    bt_error err = {0};
    /* Half a log must not pass for a whole one: a failed log has its row in `runs` alone. */
    for (size_t i = 0; analysed && i < result->n_zones; i++)
        if (bt_writer_row(user, &result->zones[i], &err) != BT_OK)
            return say_error(&err, NULL, EXIT_OUTPUT);
    return 0;
}

int cmd_zones(cli *c, int n, char **logs)
{
    bt_writer *w;
    const int status = output_table(c, BT_TABLE_ZONES, &w);
    return status ? status : output_finish(c, w, jobs_run(c, n, logs, emit, w), true);
}
