/* -f svg: what zones, trace and drift draw instead of a table. */
#include "cli.h"

static int collect(void *user, const bt_result *result, bool analysed)
{
    bt_error err = {0};
    if (!analysed || bt_zones_add(user, result->zones, result->n_zones, &err) == BT_OK) return 0;
    return say_error(&err, NULL, EXIT_LOG);
}

int svg_zones(cli *c, int n, char **logs)
{
    bt_zones zones = {0};
    bt_error err = {0};
    int status = jobs_run(c, n, logs, collect, &zones);
    const int opened = output_open(c);
    if (opened == 0) {
        if (bt_svg_zones(zones.row, zones.n, output_write, &c->out, &err) != BT_OK)
            status = say_error(&err, NULL, EXIT_OUTPUT);
        status = output_finish(c, NULL, status, true);
    }
    bt_zones_free(&zones);
    return opened ? opened : status;
}

int svg_drift(cli *c, const bt_drift *rows, size_t n, int status)
{
    bt_error err = {0};
    const int opened = output_open(c);
    if (opened != 0) return opened;
    if (bt_svg_drift(rows, n, output_write, &c->out, &err) != BT_OK)
        status = say_error(&err, NULL, EXIT_OUTPUT);
    return output_finish(c, NULL, status, true);
}

/* ---- trace ---- */

typedef struct {
    const cli *c;
    const char *path;
    bt_sketch *sketch;
} drawing;

static bt_status take(void *user, const bt_trace *sample, bt_error *err)
{
    const drawing *d = user;
    if (sample->t < d->c->from) return BT_OK;
    if (sample->t > d->c->to) return BT_STOPPED;
    bt_trace all = *sample;
    all.zone = 1; /* one picture of all samples, zones and what lies between */
    return bt_sketch_take(d->sketch, &all, err);
}

static void show_progress(void *user, uint64_t done, uint64_t total)
{
    const drawing *d = user;
    progress_show(d->path, done, total);
}

static int draw(cli *c, drawing *d)
{
    bt_setup setup = c->setup;
    setup.trace = take;
    setup.progress = show_progress;
    setup.user = d;
    bt_result result = {0};
    bt_error err = {0};
    progress_start(1, c->quiet);
    bt_status drawn = bt_analyse(d->path, &setup, &result, &err);
    progress_clear();
    bt_result_clear(&result);
    if (drawn != BT_OK && drawn != BT_STOPPED) return say_error(&err, d->path, EXIT_LOG);
    drawn = bt_sketch_end(d->sketch, &err);
    if (drawn != BT_OK) return say_error(&err, NULL, EXIT_LOG);
    const int opened = output_open(c);
    if (opened != 0) return opened;
    drawn = bt_svg_trace(d->sketch, path_label(d->path), output_write, &c->out, &err);
    return output_finish(c, NULL, drawn == BT_OK ? 0 : say_error(&err, NULL, EXIT_OUTPUT), false);
}

int svg_trace(cli *c, const char *path)
{
    bt_error err = {0};
    drawing d = {.c = c, .path = path};
    if (bt_sketch_new(&d.sketch, c->car, &err) != BT_OK) return say_error(&err, NULL, EXIT_LOG);
    const int status = draw(c, &d);
    bt_sketch_free(d.sketch);
    return status;
}
