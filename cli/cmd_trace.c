/* trace: the time series of derived quantities, a row per sample or every so often. */
#include "cli.h"

#include <math.h>

typedef struct {
    const cli *c;
    const char *path;
    bt_writer *w;
    double first; /* s, of the first row printed; NaN = none yet */
    double steps; /* rows printed or passed over, in steps of --every */
    bool failed;  /* the output did */
} tracer;

/* Steps count from the first row, so that no error adds up; logs give times to the
 * microsecond at best, and a step may fall on one. */
static bool due(tracer *t, double time)
{
    if (isnan(t->c->every)) return true;
    if (isnan(t->first)) t->first = time;
    if (time < t->first + t->steps * t->c->every - 1e-6) return false;
    t->steps = floor((time - t->first + 1e-6) / t->c->every) + 1;
    return true;
}

static bt_status take(void *user, const bt_trace *sample, bt_error *err)
{
    tracer *t = user;
    if (sample->t < t->c->from) return BT_OK;
    if (sample->t > t->c->to) return BT_STOPPED;
    if (!due(t, sample->t)) return BT_OK;
    const bt_status status = bt_writer_row(t->w, sample, err);
    t->failed = status != BT_OK;
    return status;
}

static void show_progress(void *user, uint64_t done, uint64_t total)
{
    const tracer *t = user;
    progress_show(t->path, done, total);
}

int cmd_trace(cli *c, int n, char **logs)
{
    (void)n;
    if (c->to < c->from) {
        say("--to: expected a time behind --from, %g, found %g", c->from, c->to);
        return EXIT_USAGE;
    }
    if (c->svg) return svg_trace(c, logs[0]);
    bt_writer *w;
    int status = output_table(c, BT_TABLE_TRACE, &w);
    if (status != 0) return status;
    tracer t = {.c = c, .path = logs[0], .w = w, .first = NAN};
    bt_setup setup = c->setup;
    setup.trace = take;
    setup.progress = show_progress;
    setup.user = &t;
    bt_result result = {0};
    bt_error err = {0};
    progress_start(1, c->quiet);
    const bt_status analysed = bt_analyse(logs[0], &setup, &result, &err);
    progress_clear();
    note_tally tally = {0};
    for (size_t i = 0; i < result.n_notes && !c->quiet; i++)
        note_say(&tally, logs[0], result.notes[i]);
    note_end(&tally);
    if (analysed != BT_OK && analysed != BT_STOPPED)
        status = say_error(&err, logs[0], t.failed ? EXIT_OUTPUT : EXIT_LOG);
    bt_result_clear(&result);
    return output_finish(c, w, status, false);
}
