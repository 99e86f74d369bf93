/* runs --update: the day sheet grows as runs come in.  A log is analysed unless the sheet has a good row of
 * its name, of the bytes that it still has, made with the same car sheet, map and options. */
#include "cli.h"

#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

/* The logs of the command line. */
typedef struct {
    bt_daysheet *sheet;
    run_name *name;
    char (*digest)[BT_LABEL_MAX]; /* "" = the log cannot be read */
    char made_with[BT_LABEL_MAX];
    char **path; /* the ones to analyse, in their order */
    int *which;  /* of the command line each of them is */
    int n, next; /* to analyse; whose turn it is */
    bool changed;
} update;

static void update_free(update *u)
{
    bt_daysheet_free(u->sheet);
    free(u->name);
    free(u->digest);
    free(u->path);
    free(u->which);
}

/* The row of that name; NULL if there is none. */
static const bt_run *row_of(const update *u, const char *name)
{
    size_t n;
    const bt_run *rows = bt_daysheet_rows(u->sheet, &n);
    for (size_t i = 0; i < n; i++)
        if (strcmp(rows[i].run, name) == 0 && strcmp(rows[i].digest, BT_DAY) != 0) return &rows[i];
    return NULL;
}

static bool is_known(const update *u, int i)
{
    const bt_run *row = row_of(u, u->name[i]);
    return row && strcmp(row->status, "ok") == 0 && u->digest[i][0] != '\0' &&
           strcmp(row->digest, u->digest[i]) == 0 && strcmp(row->made_with, u->made_with) == 0;
}

/* What was copied or renamed would count twice, and only the engineer knows. */
static void say_twin(const update *u, int i, const char *path)
{
    size_t n;
    const bt_run *rows = bt_daysheet_rows(u->sheet, &n);
    for (size_t k = 0; k < n; k++)
        if (u->digest[i][0] && strcmp(rows[k].digest, u->digest[i]) == 0 &&
            strcmp(rows[k].run, u->name[i]) != 0) {
            say("%s: the same bytes as those of run '%s', which has a row already", path,
                rows[k].run);
            return;
        }
}

/* What is no file can be read only once, and is gone when its digest is known. */
static int check_files(int n, char **logs)
{
    struct stat there;
    for (int i = 0; i < n; i++) {
        const bool found = stat(logs[i], &there) == 0;
        if (strcmp(logs[i], "-") != 0 && (!found || !(S_ISFIFO(there.st_mode)))) continue;
        say("%s: expected a file with --update, found a stream", path_label(logs[i]));
        return EXIT_USAGE;
    }
    return 0;
}

static int look(cli *c, update *u, int n, char **logs)
{
    bt_error err = {0};
    if (bt_daysheet_read(&u->sheet, c->update_path, &c->style, &err) != BT_OK)
        return say_error(&err, c->update_path, EXIT_USAGE);
    u->name = names_new(n, logs);
    u->digest = calloc((size_t)n, sizeof *u->digest);
    u->path = calloc((size_t)n, sizeof *u->path);
    u->which = calloc((size_t)n, sizeof *u->which);
    if (!u->name || !u->digest || !u->path || !u->which) return EXIT_LOG;
    bt_digest_setup(&c->setup, u->made_with);
    for (int i = 0; i < n; i++) {
        bt_error ignored = {0}; /* the analysis will say it */
        (void)!bt_digest_log(logs[i], u->digest[i], &ignored);
        if (is_known(u, i)) continue;
        if (!c->quiet) say_twin(u, i, logs[i]);
        u->which[u->n] = i;
        u->path[u->n++] = logs[i];
    }
    return 0;
}

static int put(update *u, const bt_run *row)
{
    bt_error err = {0};
    u->changed = true;
    if (bt_daysheet_put(u->sheet, row, &err) == BT_OK) return 0;
    return say_error(&err, NULL, EXIT_LOG);
}

/* A log that is not there any more does not take its row along. */
static int put_log(void *user, const bt_result *result, bool analysed)
{
    (void)analysed;
    update *u = user;
    const int i = u->which[u->next++];
    bt_run row = result->run;
    memcpy(row.run, u->name[i], sizeof row.run);
    memcpy(row.digest, u->digest[i], sizeof row.digest);
    memcpy(row.made_with, u->made_with, sizeof row.made_with);
    return u->digest[i][0] == '\0' && row_of(u, row.run) ? 0 : put(u, &row);
}

/* A sheet that has a row over all logs keeps having it. */
static int put_day(const cli *c, update *u)
{
    size_t n;
    bt_run day;
    const bt_run *rows = bt_daysheet_rows(u->sheet, &n);
    bool has = false;
    for (size_t i = 0; i < n; i++) has = has || strcmp(rows[i].digest, BT_DAY) == 0;
    if (!(c->day && !has) && !(has && u->changed)) return 0;
    bt_day_row(rows, n, &day);
    return put(u, &day);
}

static int write_sheet(cli *c, const update *u, int status)
{
    bt_error err = {0};
    if (!u->changed && !c->output_path) return status; /* its time too stays as it is */
    if (!c->output_path) c->output_path = c->update_path;
    const int opened = output_open(c);
    if (opened != 0) return opened;
    if (bt_daysheet_write(u->sheet, output_write, &c->out, &err) != BT_OK)
        status = say_error(&err, NULL, EXIT_OUTPUT);
    return output_finish(c, NULL, status, true);
}

int update_runs(cli *c, int n, char **logs)
{
    update u = {0};
    if (c->style.format != BT_FORMAT_CSV || c->svg) {
        say("--update: expected csv, which the sheet is, found another --format");
        return EXIT_USAGE;
    }
    int status = check_files(n, logs);
    if (status == 0) status = look(c, &u, n, logs);
    if (status == 0 && u.n) status = jobs_run(c, u.n, u.path, put_log, &u);
    if (status == EXIT_ALL || status == EXIT_LOG) {
        const int day = u.sheet ? put_day(c, &u) : EXIT_LOG;
        if (day != 0) status = day;
        if (u.sheet) status = write_sheet(c, &u, status);
        if (u.sheet && !c->quiet && status != EXIT_OUTPUT)
            say("%s: %d %s analysed, %d known", c->update_path, u.n, u.n == 1 ? "log" : "logs",
                n - u.n);
    }
    update_free(&u);
    return status;
}
