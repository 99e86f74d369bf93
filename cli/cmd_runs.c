/* runs: the day sheet, one row per log. */
#include "cli.h"

int cmd_runs(cli *c, int n, char **logs)
{
    return batch_print(c, n, logs, BT_TABLE_RUNS);
}
