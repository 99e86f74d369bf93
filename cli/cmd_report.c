/* report: one page of all logs, for people who would rather look than read. */
#include "cli.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static int set_bypass(cli *c, const char *value)
{
    (void)value;
    c->with_plan = true;
    return 0;
}

static int set_title(cli *c, const char *value)
{
    c->title = value;
    return 0;
}

const option report_options[] = {
    {0, "title", "TEXT", "heading of the page; default: the runs' names", set_title},
    {0, "bypass", NULL, "with the bypass plan of each run", set_bypass},
    {0},
};

typedef struct {
    cli *c;
    bt_report *report;
    int next; /* the log whose turn it is */
} adding;

static int add(void *user, const bt_result *result, bool analysed)
{
    (void)analysed; /* a failed log has a section with the reason and what came before */
    adding *a = user;
    bt_error err = {0};
    bt_sketch *sketch = a->c->sketches[a->next++];
    bt_status status = sketch ? bt_sketch_end(sketch, &err) : BT_OK;
    if (status == BT_OK) status = bt_report_add(a->report, result, sketch, &err);
    return status == BT_OK ? 0 : say_error(&err, NULL, EXIT_LOG);
}

static bt_status make_sketches(cli *c, int n, bt_error *err)
{
    c->sketches = calloc((size_t)n, sizeof(bt_sketch *));
    bt_status status = c->sketches ? BT_OK : BT_NOMEM;
    for (int i = 0; i < n && status == BT_OK; i++)
        status = bt_sketch_new(&c->sketches[i], c->car, err);
    return status;
}

static int write_page(cli *c, bt_report *report, int status)
{
    bt_error err = {0};
    const int opened = output_open(c);
    if (opened != 0) return opened;
    if (bt_report_write(report, output_write, &c->out, &err) != BT_OK)
        status = say_error(&err, NULL, EXIT_OUTPUT);
    return output_finish(c, NULL, status, true);
}

int cmd_report(cli *c, int n, char **logs)
{
    const bt_report_options options = {.car = c->car,
                                       .car_name = c->car_path,
                                       .map_name = c->map_path,
                                       .title = c->title,
                                       .bypass = c->with_plan ? &c->bypass : NULL};
    adding a = {.c = c};
    bt_error err = {0};
    bt_status made = bt_report_new(&a.report, &options, &err);
    if (made == BT_OK) made = make_sketches(c, n, &err);
    int status;
    if (made == BT_OK) {
        status = jobs_run(c, n, logs, add, &a);
        status = write_page(c, a.report, status);
    } else {
        status = say_error(&err, NULL, EXIT_LOG);
    }
    bt_report_free(a.report);
    for (int i = 0; c->sketches && i < n; i++) bt_sketch_free(c->sketches[i]);
    free(c->sketches);
    return status;
}
