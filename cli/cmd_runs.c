/* runs: the day sheet, one row per log. */
#include "cli.h"

static int set_update(cli *c, const char *value)
{
    if (c->update_path) {
        say("--update: expected once, found '%s' and '%s'", c->update_path, value);
        return EXIT_USAGE;
    }
    c->update_path = value;
    return 0;
}

static int set_day(cli *c, const char *value)
{
    (void)value;
    c->day = true;
    return 0;
}

const option runs_options[] = {
    {0, "update", "FILE", "add to this sheet the logs that it lacks", set_update},
    {0, "day", NULL, "with a last row over all logs", set_day},
    {0},
};

int cmd_runs(cli *c, int n, char **logs)
{
    return c->update_path ? update_runs(c, n, logs) : batch_print(c, n, logs, BT_TABLE_RUNS);
}
