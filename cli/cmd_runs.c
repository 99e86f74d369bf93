/* runs: the day sheet, one row per log; a log that failed has one too, with the
 * reason in `status`. */
#include "cli.h"

static int emit(void *user, const bt_result *result, bool analysed)
{
    (void)analysed;
    bt_error err = {0};
    return bt_writer_row(user, &result->run, &err) == BT_OK ? 0
                                                            : say_error(&err, NULL, EXIT_OUTPUT);
}

int cmd_runs(cli *c, int n, char **logs)
{
    bt_writer *w;
    const int status = output_table(c, BT_TABLE_RUNS, &w);
    return status ? status : output_finish(c, w, jobs_run(c, n, logs, emit, w), true);
}
