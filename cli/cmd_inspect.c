/* inspect: one row per column of the log, then what the mapping allows; or a channel map or a car sheet
 * to edit. */
#include "cli.h"

#include <string.h>

static int print_columns(cli *c, const bt_inspection *in)
{
    bt_writer *w;
    int status = output_table(c, BT_TABLE_INSPECT, &w);
    if (status != 0) return status;
    bt_error err = {0};
    for (size_t i = 0; i < in->n_columns && status == 0; i++)
        if (bt_writer_row(w, &in->columns[i], &err) != BT_OK)
            status = say_error(&err, NULL, EXIT_OUTPUT);
    return output_finish(c, w, status, false);
}

static int print_draft(cli *c, const bt_inspection *in)
{
    int status = output_open(c);
    if (status != 0) return status;
    bt_error err = {0};
    if (bt_inspect_draft(in, output_write, &c->out, &err) != BT_OK)
        status = say_error(&err, NULL, EXIT_OUTPUT);
    return output_finish(c, NULL, status, false);
}

/* What the mapping allows is a list by itself: the log is named in its last line. */
static void say_allowed(const char *path, const bt_inspection *in)
{
    for (size_t i = 0; i + 1 < in->n_allowed; i++) fprintf(stderr, "  %s\n", in->allowed[i]);
    if (in->n_allowed) say("%s: %s", path_label(path), in->allowed[in->n_allowed - 1]);
}

static void say_next(const char *path, const bt_inspection *in)
{
    bool time = false;
    for (size_t i = 0; i < in->n_columns; i++)
        time = time || !strcmp(in->columns[i].proposed, "time") ||
               !strcmp(in->columns[i].channel, "time");
    if (!time && in->n_columns && !in->n_notes)
        say("%s: no column looks like the time: name it in the map, or give --rate",
            path_label(path));
    say("rows that begin with # are unsure: read their notes, take the # away where they are "
        "right");
    say("then 'braketally inspect -m MAP -c CAR %s' tells what they allow; a blank CAR is printed "
        "by "
        "'braketally inspect --draft-car'",
        path);
}

static int print_car(cli *c)
{
    int status = output_open(c);
    if (status != 0) return status;
    bt_error err = {0};
    if (bt_car_draft(output_write, &c->out, &err) != BT_OK)
        status = say_error(&err, NULL, EXIT_OUTPUT);
    return output_finish(c, NULL, status, false);
}

static void show_progress(void *user, uint64_t done, uint64_t total)
{
    progress_show(user, done, total);
}

int cmd_inspect(cli *c, int n, char **logs)
{
    if (c->draft_car) return print_car(c);
    (void)n;
    bt_setup setup = c->setup;
    setup.progress = show_progress;
    setup.user = logs[0];
    bt_inspection in = {0};
    bt_error err = {0};
    progress_start(1, c->quiet);
    const bt_status inspected = bt_inspect(logs[0], &setup, &in, &err);
    progress_clear();
    int status;
    if (inspected != BT_OK)
        status = say_error(&err, logs[0], EXIT_LOG);
    else
        status = c->draft ? print_draft(c, &in) : print_columns(c, &in);
    for (size_t i = 0; status == 0 && i < in.n_notes && !c->quiet; i++)
        say("%s: %s", path_label(logs[0]), in.notes[i]);
    if (status == 0 && !c->quiet) (c->draft ? say_next : say_allowed)(logs[0], &in);
    bt_inspection_clear(&in);
    return status;
}
