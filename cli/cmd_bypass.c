/* bypass: if the by-wire gave up, could this car go on?  From one log or its saved zones.  Text says first
 * what can be read out on the radio. */
#include "cli.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define SHARES_MAX 1000

static int set_whole(const char *name, const char *value, double *out)
{
    char *end;
    const long number = strtol(value, &end, 10);
    *out = (double)number;
    if (end != value && *end == '\0' && number >= 1 && number <= 100000) return 0;
    say("%s: expected a whole number from 1 to 100000, found '%s'", name, value);
    return EXIT_USAGE;
}

static int set_from_lap(cli *c, const char *value)
{
    return set_whole("--from-lap", value, &c->bypass.from_lap);
}

static int set_laps(cli *c, const char *value)
{
    return set_whole("--laps", value, &c->bypass.laps);
}

static int set_shares(cli *c, const char *value)
{
    double *const part[] = {&c->bypass.low, &c->bypass.high, &c->bypass.step};
    const char *at = value;
    bool good = true;
    for (int i = 0; i < 3 && good; i++) {
        char *end;
        *part[i] = strtod(at, &end) / 100;
        good = end != at && isfinite(*part[i]) && *part[i] > 0 && *end == (i < 2 ? ':' : '\0');
        at = end + 1;
    }
    if (!good) {
        say("--shares: expected LOW:HIGH:STEP in percent, found '%s'", value);
        return EXIT_USAGE;
    }
    const bt_bypass_options *o = &c->bypass;
    if (o->low <= o->high && o->high < 1 && (o->high - o->low) / o->step < SHARES_MAX) return 0;
    say("--shares: expected LOW up to HIGH below 100 and at most %d steps, found '%s'", SHARES_MAX,
        value);
    return EXIT_USAGE;
}

const option bypass_options[] = {
    {0, "from-lap", "N", "fallback at the start of lap N; default: first", set_from_lap},
    {0, "laps", "N", "laps to go on for; default: as the run has left", set_laps},
    {0, "shares", "LOW:HIGH:STEP", "front shares in %; default: 40:90:2", set_shares},
    {0},
};

static int print_plan(cli *c, const bt_plan *plan, int status)
{
    bt_writer *w;
    bt_error err = {0};
    const int opened = output_table(c, BT_TABLE_BYPASS, &w);
    if (opened != 0) return opened;
    bt_status written = bt_writer_say(w, plan->summary, &err);
    for (size_t i = 0; i < plan->n_rows && written == BT_OK; i++)
        written = bt_writer_row(w, &plan->rows[i], &err);
    if (written != BT_OK) status = say_error(&err, NULL, EXIT_OUTPUT);
    return output_finish(c, w, status, false);
}

int cmd_bypass(cli *c, int n, char **operands)
{
    bt_zones zones = {0};
    bt_plan plan = {0};
    bt_error err = {0};
    int status = pool_read(c, n, operands, &zones);
    if (status == EXIT_ALL) {
        if (bt_bypass_plan(zones.row, zones.n, c->car, &c->bypass, &plan, &err) == BT_OK)
            status = print_plan(c, &plan, status);
        else
            status = say_error(&err, operands[0], err.status == BT_RANGE ? EXIT_USAGE : EXIT_LOG);
        note_tally tally = {0};
        for (size_t i = 0; i < plan.n_notes && !c->quiet; i++)
            note_say(&tally, operands[0], plan.notes[i]);
        note_end(&tally);
    }
    bt_plan_clear(&plan);
    bt_zones_free(&zones);
    return status;
}
