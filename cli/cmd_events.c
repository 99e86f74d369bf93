/* events: one row per event. */
#include "cli.h"

int cmd_events(cli *c, int n, char **logs)
{
    return batch_print(c, n, logs, BT_TABLE_EVENTS);
}
