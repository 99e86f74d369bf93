/* drift: how zone figures move from lap to lap at the same places, from logs and saved zones tables
 * alike.  Text says the findings first. */
#include "cli.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static int set_against(cli *c, const char *value)
{
    static const char *const words[] = {"lap", "time", "run"};
    static const bt_against against[] = {BT_AGAINST_LAP, BT_AGAINST_TIME, BT_AGAINST_RUN};
    for (size_t i = 0; i < 3; i++)
        if (strcmp(value, words[i]) == 0) {
            c->against = against[i];
            return 0;
        }
    say("--against: expected lap, time or run, found '%s'", value);
    return EXIT_USAGE;
}

static int set_least(cli *c, const char *value)
{
    char *end;
    c->least = strtod(value, &end);
    if (end != value && *end == '\0' && isfinite(c->least) && c->least > 0) return 0;
    say("--least: expected a number above 0, found '%s'", value);
    return EXIT_USAGE;
}

const option drift_options[] = {
    {0, "of", "FIGURE,...", "zones columns to look at; default: balance_pct", set_figures},
    {0, "against", "lap|time|run", "what they move with; default: lap", set_against},
    {0, "least", "X", "least drift per lap to report; default: 0.05", set_least},
    {0},
};

static bt_status say_findings(bt_writer *w, const bt_drift *row, size_t n, bt_error *err)
{
    for (size_t i = 0; i < n; i++) {
        char line[sizeof row->run + sizeof row->finding + 2];
        if (strcmp(row[i].place, "all") != 0) continue;
        const bool several = strcmp(row[i].run, "all") == 0;
        snprintf(line, sizeof line, "%s%s%s", several ? "" : row[i].run, several ? "" : ": ",
                 row[i].finding);
        const bt_status status = bt_writer_say(w, line, err);
        if (status != BT_OK) return status;
    }
    return BT_OK;
}

static int print_rows(cli *c, const bt_drift *row, size_t n, int status)
{
    bt_writer *w;
    bt_error err = {0};
    const int opened = output_table(c, BT_TABLE_DRIFT, &w);
    if (opened != 0) return opened;
    bt_status written = say_findings(w, row, n, &err);
    for (size_t i = 0; i < n && written == BT_OK; i++) written = bt_writer_row(w, &row[i], &err);
    if (written != BT_OK) status = say_error(&err, NULL, EXIT_OUTPUT);
    return output_finish(c, w, status, true);
}

int cmd_drift(cli *c, int n, char **operands)
{
    bt_zones zones = {0};
    bt_drift *rows = NULL;
    size_t n_rows = 0;
    bt_error err = {0};
    const bt_drift_options options = {c->of, c->against, c->least};
    int status = pool_read(c, n, operands, &zones);
    if (bt_drift_find(zones.row, zones.n, &options, &rows, &n_rows, &err) == BT_OK)
        status = c->svg ? svg_drift(c, rows, n_rows, status) : print_rows(c, rows, n_rows, status);
    else
        status = say_error(&err, NULL, EXIT_LOG);
    free(rows);
    bt_zones_free(&zones);
    return status;
}
