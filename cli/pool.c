/* Zones of many logs and saved tables in one pool, in the order of the command line. */
#include "cli.h"

#include <stdlib.h>
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

/* Tables made elsewhere may hold runs of one name. */
static int part(const cli *c, bt_zones *zones)
{
    run_name shared;
    bt_error err = {0};
    if (bt_zones_part(zones, shared, &err) != BT_OK) return say_error(&err, NULL, EXIT_LOG);
    if (shared[0] && !c->quiet)
        say("several runs are named '%s'; all but the first are numbered, as '%s (2)'", shared,
            shared);
    return 0;
}

/* In their order; logs that stand together share the threads. */
static int read_all(cli *c, int n, char **operands, const bool *saved, bt_zones *zones)
{
    int status = EXIT_ALL;
    for (int i = 0, next; i < n && status != EXIT_OUTPUT; i = next) {
        int added;
        next = i + 1;
        if (saved[i]) {
            added = add_table(zones, operands[i]);
        } else {
            while (next < n && !saved[next]) next++;
            added = jobs_run(c, next - i, operands + i, pool_log, zones);
        }
        if (added != 0) status = added;
    }
    return status;
}

int pool_read(cli *c, int n, char **operands, bt_zones *zones)
{
    bool *saved = calloc((size_t)n + 1, sizeof *saved);
    if (!saved) {
        say("no memory for %d operands", n);
        return EXIT_LOG;
    }
    for (int i = 0; i < n; i++) saved[i] = stream_saved(operands[i]);
    const int status = read_all(c, n, operands, saved, zones);
    free(saved);
    const int parted = part(c, zones);
    return parted ? parted : status;
}

int set_figures(cli *c, const char *value)
{
    bt_error err = {0};
    if (bt_figures_check(value, &err) != BT_OK) return say_error(&err, "--of", EXIT_USAGE);
    c->of = value;
    return 0;
}
