/* zones: one row per braking zone, log after log.  Places are labelled over all logs together, so
 * rows come out when the last log is done. */
#include "cli.h"

static int write_zones(bt_writer *w, bt_zones *zones)
{
    bt_error err = {0};
    if (bt_places_assign(zones->row, zones->n, &err) != BT_OK)
        return say_error(&err, NULL, EXIT_LOG);
    for (size_t i = 0; i < zones->n; i++)
        if (bt_writer_row(w, &zones->row[i], &err) != BT_OK)
            return say_error(&err, NULL, EXIT_OUTPUT);
    return 0;
}

int cmd_zones(cli *c, int n, char **logs)
{
    bt_writer *w;
    int status = output_table(c, BT_TABLE_ZONES, &w);
    if (status) return status;
    bt_zones zones = {0};
    status = jobs_run(c, n, logs, pool_log, &zones);
    const int written = write_zones(w, &zones);
    bt_zones_free(&zones);
    return output_finish(c, w, written ? written : status, true);
}
