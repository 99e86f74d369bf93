/* zones: one row per braking zone. */
#include "cli.h"

int cmd_zones(cli *c, int n, char **logs)
{
    if (c->svg) return svg_zones(c, n, logs);
    return batch_print(c, n, logs, BT_TABLE_ZONES);
}
