/* zones: one row per braking zone. */
#include "cli.h"

int cmd_zones(cli *c, int n, char **logs)
{
    return batch_print(c, n, logs, BT_TABLE_ZONES);
}
