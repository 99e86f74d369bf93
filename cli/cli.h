/* The command line: what the command files share.  The program uses the library
 * through its public header alone. */
#ifndef BRAKETALLY_CLI_H
#define BRAKETALLY_CLI_H

#include "braketally.h"

#include <pthread.h>
#include <stdio.h>
#include <time.h>

/* Exit statuses (CONTRACT 2). */
enum {
    EXIT_ALL = 0,   /* all logs analysed */
    EXIT_LOG = 1,   /* at least one log could not be analysed */
    EXIT_USAGE = 2, /* wrong usage, unreadable car sheet or map */
    EXIT_OUTPUT = 3 /* output could not be written */
};

typedef struct cli cli;

typedef struct {
    char letter;                           /* 0 = long name only */
    const char *name, *arg;                /* arg NULL = a switch */
    const char *help;                      /* one line */
    int (*set)(cli *c, const char *value); /* 0, or EXIT_USAGE after saying what is wrong */
} option;

typedef struct {
    const char *name, *operands, *summary, *example;
    int least, most;   /* operands; most 0 = any number */
    const option *own; /* its own options, ended by a NULL name; NULL = none */
    int (*run)(cli *c, int n, char **operands); /* gives the exit status */
} command;

/* ---- output.c: where the result goes ---- */

/* Zeroed before the first use. */
typedef struct {
    const char *name; /* as the user spelled it, for messages */
    FILE *file;
    char *temporary, *target; /* NULL when written in place; owned */
} output;

/* ---- the whole ---- */

struct cli {
    const command *commands; /* the table, ended by a NULL name */
    const command *command;
    const char *car_path, *map_path, *output_path;
    const char **sets; /* --set, in their order; owned */
    int n_sets;
    bool format_given, quiet, draft, draft_car, csvw;
    bool help, version;
    bt_style style;
    long jobs;               /* 0 = as many as processors */
    double from, to, every;  /* trace, s; NaN = not given */
    const char *update_path; /* runs: the sheet to add to; NULL = print a new one */
    bool day;                /* runs: with the row over all logs */
    const char *of;          /* drift, compare: figures with commas between; NULL = the balance */
    bt_against against;
    bt_bypass_options bypass;
    double least;           /* drift per lap that matters; 0 = default */
    const char *completion; /* shell; NULL = not asked for */
    const char *title;      /* report; NULL = from the runs' names */
    bool with_plan;         /* report: with the bypass plan */
    bool svg;               /* zones, trace, drift: a picture, no table */
    bt_shelf
        *shelf; /* zones, events: gets the zones of all logs; NULL = they stay in the results */
    bt_sketch **sketches; /* report: one per log, which gets its samples; NULL = none wanted */
    bt_car *car;
    bt_map *map;
    bt_setup setup;
    output out;
};

/* ---- options.c ---- */

extern const option common_options[];
/* Reads the arguments into c; operands are moved to the front of argv, *n of them.
 * 0, or EXIT_USAGE after saying what is wrong. */
int options_read(cli *c, int argc, char **argv, int *n);

/* ---- help.c ---- */

void help_program(const command *commands, FILE *to);
void help_short(FILE *to);
void help_command(const command *k, FILE *to);

/* ---- completion.c ---- */

/* The script for "bash" or "zsh" to stdout. */
void completion_print(const command *commands, const char *shell);

/* ---- message.c: what goes to stderr ---- */

/* "braketally: ..." and a line end.  Takes the progress line away first. */
void say(const char *fmt, ...) BT_PRINTF(1, 2);
/* The error with its place; `path` stands in where the error names no file.  Returns `status`. */
int say_error(const bt_error *err, const char *path, int status);
/* "no option '--fro' of zones; did you mean '--from'?"  The nearest of names[0..n) is offered; if
 * none is near and they are few, all are named.  `of` may be NULL. */
void say_unknown(const char *what, const char *word, const char *of, const char *const *names,
                 size_t n);
/* A log's path for messages: "stdin" for "-", "''" for none. */
const char *path_label(const char *path);

/* Of notes of one kind three are said, then they are counted. */
typedef struct note_kind note_kind;
typedef struct {
    note_kind *kinds; /* owned */
    size_t n;
} note_tally;
void note_say(note_tally *tally, const char *path, const char *note);
void note_end(note_tally *tally); /* says the counts and frees */

/* ---- progress.c: one line on a terminal, after a second ---- */

void progress_start(int logs, bool quiet);
void progress_show(const char *path, uint64_t done, uint64_t total); /* from any thread */
void progress_log_done(void);
void progress_clear(void);

/* ---- output.c ---- */

/* Are both the same file, by whatever names ("-" as b: standard input)?  NULL and what is no regular file are none. */
bool same_file(const char *a, const char *b);
/* Opens -o's file by a temporary name, or stdout.  0 or EXIT_OUTPUT. */
int output_open(cli *c);
/* Flushes, closes, renames: 0, or EXIT_OUTPUT after saying why.  With keep = false the temporary
 * file goes away and nothing is said. */
int output_close(cli *c, bool keep);
/* A bt_write_fn; user is the output. */
bt_status output_write(void *user, const char *bytes, size_t n, bt_error *err);
/* Opens the output and a writer on it; 0, EXIT_USAGE or EXIT_OUTPUT. */
int output_table(cli *c, bt_table_kind table, bt_writer **w);
/* Ends and frees the writer (NULL = none), closes the output.  It is kept with status EXIT_ALL, with
 * EXIT_LOG only if `partial`; EXIT_OUTPUT has been said already.  Gives the exit status. */
int output_finish(cli *c, bt_writer *w, int status, bool partial);

/* ---- jobs.c: several logs, on several threads, in the order of the command line ---- */

/* Rows of one log's result; gets each log in its turn.  0 or EXIT_OUTPUT. */
typedef int (*jobs_emit)(void *user, const bt_result *result, bool analysed);
/* Analyses the logs, says notes and errors, emits.  Gives the exit status. */
int jobs_run(cli *c, int n, char **logs, jobs_emit emit, void *user);

/* ---- names.c ---- */

typedef char run_name[BT_NAME_MAX];
/* The names of the logs' runs, all different; to be freed.  NULL after saying that memory ran out. */
run_name *names_new(int n, char **paths);
/* Say which log has got another name than its own. */
void names_say(run_name *names, int n, char **paths);
/* Name all rows of a result so. */
void names_give(bt_result *result, const run_name name);

/* ---- update.c ---- */

/* Analyses the logs that the sheet lacks and writes it.  Gives the exit status. */
int update_runs(cli *c, int n, char **logs);

/* ---- svg.c: pictures instead of tables; each gives the exit status ---- */

int svg_zones(cli *c, int n, char **logs);
int svg_trace(cli *c, const char *path);
int svg_drift(cli *c, const bt_drift *rows, size_t n, int status);

/* ---- stream.c ---- */

/* Is it a saved zones table and no log?  As bt_zones_saved, but looks into standard input and /dev/fd/N
 * too; to be asked once. */
bool stream_saved(const char *path);

/* ---- pool.c ---- */

/* Adds the zones of logs and saved tables.  Gives the exit status. */
int pool_read(cli *c, int n, char **operands, bt_zones *zones);
/* A jobs_emit that adds a log's zones to a bt_zones. */
int pool_log(void *user, const bt_result *result, bool analysed);

/* ---- batch.c ---- */

/* Analyses the logs and prints their ZONES, EVENTS or RUNS.  Gives the exit status. */
int batch_print(cli *c, int n, char **logs, bt_table_kind table);
/* Sets option --of of the commands that work on the pool. */
int set_figures(cli *c, const char *value);

/* ---- setup.c ---- */

/* Car sheet, --set, map.  0 or EXIT_USAGE. */
int setup_read(cli *c);
void setup_free(cli *c);

/* ---- commands ---- */

int cmd_inspect(cli *c, int n, char **logs);
int cmd_zones(cli *c, int n, char **logs);
int cmd_events(cli *c, int n, char **logs);
int cmd_runs(cli *c, int n, char **logs);
int cmd_trace(cli *c, int n, char **logs);
int cmd_bypass(cli *c, int n, char **operands);
int cmd_fit(cli *c, int n, char **operands);
int cmd_report(cli *c, int n, char **logs);
int cmd_columns(cli *c, int n, char **tables);
/* What `columns` takes: the tables that have columns, and "flags".  Gives how many. */
enum { TABLES_MAX = BT_TABLE_COUNT + 1 };
size_t table_names(const char *names[TABLES_MAX]);
int cmd_drift(cli *c, int n, char **operands);
int cmd_compare(cli *c, int n, char **operands);
extern const option report_options[];
extern const option drift_options[], compare_options[], bypass_options[];
extern const option runs_options[];
extern const option inspect_options[], zones_options[], trace_options[], columns_options[];

#endif
