/* compare: two groups of runs, place by place, B minus A.  Each operand is a log, a saved zones table,
 * or several of them with commas between. */
#include "cli.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

const option compare_options[] = {
    {0, "of", "FIGURE,...", "zones columns to compare; default: balance_pct", set_figures},
    {0},
};

/* A file may have a comma in its name: then it is one operand. */
static int read_group(cli *c, char *operand, bt_zones *zones)
{
    if (!strchr(operand, ',') || access(operand, F_OK) == 0)
        return pool_read(c, 1, &operand, zones);
    int n = 0, status;
    char *list = strdup(operand), **paths = calloc(strlen(operand) + 1, sizeof *paths);
    if (list && paths) {
        for (char *at = list, *comma; at; at = comma ? comma + 1 : NULL) {
            comma = strchr(at, ',');
            if (comma) *comma = '\0';
            paths[n++] = at;
        }
        status = pool_read(c, n, paths, zones);
    } else {
        say("no memory for '%s'", operand);
        status = EXIT_LOG;
    }
    free(list);
    free(paths);
    return status;
}

static int print_rows(cli *c, const bt_compare *row, size_t n, int status)
{
    bt_writer *w;
    bt_error err = {0};
    bt_status written = BT_OK;
    const int opened = output_table(c, BT_TABLE_COMPARE, &w);
    if (opened != 0) return opened;
    for (size_t i = 0; i < n && written == BT_OK; i++)
        if (strcmp(row[i].place, "all") == 0) written = bt_writer_say(w, row[i].finding, &err);
    for (size_t i = 0; i < n && written == BT_OK; i++) written = bt_writer_row(w, &row[i], &err);
    if (written != BT_OK) status = say_error(&err, NULL, EXIT_OUTPUT);
    return output_finish(c, w, status, true);
}

int cmd_compare(cli *c, int n, char **operands)
{
    (void)n;
    bt_zones a = {0}, b = {0};
    bt_compare *rows = NULL;
    size_t n_rows = 0;
    bt_error err = {0};
    int status = read_group(c, operands[0], &a);
    const int second = read_group(c, operands[1], &b);
    if (second != 0) status = second;
    if (bt_compare_find(&a, &b, c->of, &rows, &n_rows, &err) == BT_OK)
        status = print_rows(c, rows, n_rows, status);
    else
        status = say_error(&err, NULL, EXIT_LOG);
    free(rows);
    bt_zones_free(&a);
    bt_zones_free(&b);
    return status;
}
