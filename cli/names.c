/* Names of runs on one command line: day1/run1.csv and day2/run1.csv are two runs, and rows of one must
 * not pass for rows of the other. */
#include "cli.h"

#include <stdlib.h>
#include <string.h>

static bool taken(run_name *names, int n, const char *name)
{
    for (int i = 0; i < n; i++)
        if (strcmp(names[i], name) == 0) return true;
    return false;
}

run_name *names_new(int n, char **paths)
{
    run_name *names = calloc((size_t)n + 1, sizeof *names);
    if (!names) say("no memory for the names of %d logs", n);
    for (int i = 0; names && i < n; i++) {
        run_name own;
        bt_run_name(paths[i], own);
        memcpy(names[i], own, sizeof own);
        for (unsigned k = 2; taken(names, i, names[i]); k++) bt_run_name_again(own, k, names[i]);
    }
    return names;
}

void names_say(run_name *names, int n, char **paths)
{
    for (int i = 0; i < n; i++) {
        run_name own;
        bt_run_name(paths[i], own);
        if (strcmp(names[i], own) == 0) continue;
        say("%s: another log is named '%s' too; this one is '%s' in the tables", paths[i], own,
            names[i]);
    }
}

void names_give(bt_result *result, const run_name name)
{
    if (strcmp(result->run.run, name) == 0) return;
    memcpy(result->run.run, name, BT_NAME_MAX);
    for (size_t i = 0; i < result->n_zones; i++) memcpy(result->zones[i].run, name, BT_NAME_MAX);
    for (size_t i = 0; i < result->n_events; i++) memcpy(result->events[i].run, name, BT_NAME_MAX);
}
