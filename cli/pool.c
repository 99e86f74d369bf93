/* Zones of many logs and saved tables in one pool, in the order of the command line. */
#include "cli.h"

#include <string.h>

int pool_log(void *user, const bt_result *result, bool analysed)
{
    bt_error err = {0};
    if (!analysed) return 0; /* half a log must not pass for a whole one */
    if (bt_zones_add(user, result->zones, result->n_zones, &err) == BT_OK) return 0;
    return say_error(&err, result->run.run, EXIT_LOG);
}

static int add_table(bt_zones *zones, const char *path)
{
    bt_error err = {0};
    const size_t before = zones->n;
    if (bt_zones_read(zones, path, &err) == BT_OK) return 0;
    zones->n = before; /* nor half a table */
    return say_error(&err, path, EXIT_LOG);
}

int pool_read(cli *c, int n, char **operands, bt_zones *zones)
{
    int status = EXIT_ALL;
    for (int i = 0, next; i < n && status != EXIT_OUTPUT; i = next) {
        int added;
        next = i + 1;
        if (bt_zones_saved(operands[i])) {
            added = add_table(zones, operands[i]);
        } else { /* logs that stand together share the threads */
            while (next < n && !bt_zones_saved(operands[next])) next++;
            added = jobs_run(c, next - i, operands + i, pool_log, zones);
        }
        if (added != 0) status = added;
    }
    return status;
}

int set_figures(cli *c, const char *value)
{
    bt_error err = {0};
    if (bt_figures_check(value, &err) != BT_OK) return say_error(&err, "--of", EXIT_USAGE);
    c->of = value;
    return 0;
}
