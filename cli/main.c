/* The table of commands, and what happens before and after one runs. */
#include "cli.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const command commands[] = {
    {"inspect", "LOG", "one row per column of the log, and what it allows",
     "inspect --draft run3.csv > map.csv", 1, 1, inspect_options, cmd_inspect},
    {"zones", "LOG...", "one row per braking zone", "zones -c car.csv -m map.csv run3.csv.gz", 1, 0,
     zones_options, cmd_zones},
    {"events", "LOG...", "one row per event: fallbacks, lock-ups, sensor faults",
     "events -c car.csv -m map.csv run3.csv.gz", 1, 0, NULL, cmd_events},
    {"runs", "LOG...", "one row per log: the day sheet",
     "runs -c car.csv -m map.csv --update day.csv run*.csv.gz", 1, 0, runs_options, cmd_runs},
    {"drift", "LOG...", "how figures move from lap to lap at the same places",
     "drift -c car.csv -m map.csv --of balance_pct run*.csv.gz", 1, 0, drift_options, cmd_drift},
    {"compare", "A B", "two runs or groups of runs, place by place: B minus A",
     "compare -c car.csv -m map.csv run1.csv.gz run3.csv.gz", 2, 2, compare_options, cmd_compare},
    {"trace", "LOG", "time series of the derived quantities",
     "trace -c car.csv --from 610 --to 620 run3.csv.gz", 1, 1, trace_options, cmd_trace},
    {"bypass", "LOG", "could the car go on if the by-wire gave up now",
     "bypass -c car.csv -m map.csv --from-lap 5 --laps 10 run1.csv.gz", 1, 1, bypass_options,
     cmd_bypass},
    {"fit", "LOG...", "the car read off its logs, as rows of a car sheet",
     "fit -c car.csv -m map.csv run*.csv.gz > fitted.csv", 1, 0, NULL, cmd_fit},
    {"report", "LOG...", "one page with figures, plots and tables",
     "report -c car.csv -m map.csv run*.csv.gz -o day.html", 1, 0, report_options, cmd_report},
    {"columns", "TABLE", "name, unit and meaning of a table's columns", "columns zones", 1, 1,
     columns_options, cmd_columns},
    {0},
};

static int check_operands(const cli *c, int n, char **operands)
{
    const command *k = c->command;
    if (n < k->least && !c->draft_car) {
        say("%s: expected %s, found %s%s; 'braketally %s --help' tells more", k->name, k->operands,
            n ? "only " : "nothing", n ? operands[0] : "", k->name);
        return EXIT_USAGE;
    }
    if (k->most && n > k->most) {
        say("%s: expected one %s, found '%s' too", k->name, k->operands, operands[k->most]);
        return EXIT_USAGE;
    }
    int streams = 0;
    for (int i = 0; i < n; i++) streams += strcmp(operands[i], "-") == 0;
    if (streams < 2) return 0;
    say("expected standard input once, found '-' %d times", streams);
    return EXIT_USAGE;
}

static int check_style(const cli *c)
{
    if (c->svg && c->command->run != cmd_zones && c->command->run != cmd_trace &&
        c->command->run != cmd_drift) {
        say("--format svg: expected with zones, trace or drift, found %s", c->command->name);
        return EXIT_USAGE;
    }
    if (c->format_given && c->style.format == BT_FORMAT_JSON &&
        (c->style.delimiter || c->style.decimal_comma || c->style.bom)) {
        say("--delimiter, --decimal-comma and --bom: expected with csv, found json");
        return EXIT_USAGE;
    }
    return 0;
}

/* What is written must not take the place of what was read: a log is there once. */
static int check_output(const cli *c, int n, char **operands)
{
    const char *const written[] = {c->output_path, c->update_path};
    for (int w = 0; w < 2; w++) {
        const char *path = written[w], *read = NULL;
        for (int i = 0; i < n && !read; i++)
            if (same_file(path, operands[i])) read = operands[i];
        if (!read && same_file(path, c->car_path)) read = c->car_path;
        if (!read && same_file(path, c->map_path)) read = c->map_path;
        if (!read) continue;
        say("%s: expected a file that is not read too, found '%s'",
            w == 0 ? "--output" : "--update", read);
        return EXIT_USAGE;
    }
    return 0;
}

static int run(cli *c, int argc, char **argv)
{
    int n;
    int status = options_read(c, argc, argv, &n);
    if (status != 0) return status;
    if (c->version || c->help || c->completion) {
        if (c->completion)
            completion_print(c->commands, c->completion);
        else if (c->version)
            printf("braketally %s\n", bt_version());
        else if (c->command)
            help_command(c->command, stdout);
        else
            help_program(c->commands, stdout);
        status = output_open(c);
        return status ? status : output_close(c, true);
    }
    if (!c->command) {
        help_short(stderr);
        return EXIT_USAGE;
    }
    if ((status = check_operands(c, n, argv)) != 0) return status;
    if ((status = check_style(c)) != 0) return status;
    if ((status = check_output(c, n, argv)) != 0) return status;
    if ((status = setup_read(c)) != 0) return status;
    return c->command->run(c, n, argv);
}

int main(int argc, char **argv)
{
    cli c = {.commands = commands, .from = NAN, .to = NAN, .every = NAN};
    const int status = run(&c, argc, argv);
    setup_free(&c);
    free(c.sets);
    return status;
}
