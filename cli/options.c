/* The table of options and the reading of arguments.  Help, usage errors and the
 * test that holds the manual against the program come from the tables.  No
 * abbreviations: they would freeze the set. */
#include "cli.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* ---- values ---- */

/* A plain decimal number.  The program never leaves the C locale, so strtod reads points
 * whatever the user's language. */
static bool is_number(const char *text, double *out)
{
    char *end;
    *out = strtod(text, &end);
    const bool plain = text[0] != '\0' && text[strspn(text, "0123456789.+-eE")] == '\0';
    return plain && *end == '\0' && isfinite(*out);
}

static int set_number(const char *name, const char *text, double *out)
{
    if (is_number(text, out)) return 0;
    say("%s: expected a number, found '%s'", name, text);
    return EXIT_USAGE;
}

static int set_positive(const char *name, const char *text, double *out)
{
    if (is_number(text, out) && *out > 0) return 0;
    say("%s: expected a number above 0, found '%s'", name, text);
    return EXIT_USAGE;
}

static int set_once(const char *name, const char *value, const char **out)
{
    if (*out) {
        say("%s: expected once, found '%s' and '%s'", name, *out, value);
        return EXIT_USAGE;
    }
    *out = value;
    return 0;
}

/* The index of `value` among words[0..n), -1 after saying what was expected. */
static int one_of(const char *name, const char *value, const char *const *words, int n)
{
    for (int i = 0; i < n; i++)
        if (strcmp(value, words[i]) == 0) return i;
    char list[64] = "";
    for (int i = 0; i < n; i++) {
        strncat(list, i == 0 ? "" : i == n - 1 ? " or " : ", ", sizeof list - strlen(list) - 1);
        strncat(list, words[i], sizeof list - strlen(list) - 1);
    }
    say("%s: expected %s, found '%s'", name, list, value);
    return -1;
}

/* ---- the options ---- */

static int set_car(cli *c, const char *value)
{
    return set_once("--car", value, &c->car_path);
}

static int set_map(cli *c, const char *value)
{
    return set_once("--map", value, &c->map_path);
}

static int set_output(cli *c, const char *value)
{
    return set_once("--output", value, &c->output_path);
}

static int set_format(cli *c, const char *value)
{
    static const char *const words[] = {"csv", "json", "text", "svg"};
    static const bt_format formats[] = {BT_FORMAT_CSV, BT_FORMAT_JSON, BT_FORMAT_TEXT,
                                        BT_FORMAT_CSV};
    const int i = one_of("--format", value, words, 4);
    if (i < 0) return EXIT_USAGE;
    c->style.format = formats[i];
    c->svg = i == 3; /* no format of tables: some commands draw */
    c->format_given = true;
    return 0;
}

static int set_jobs(cli *c, const char *value)
{
    char *end;
    errno = 0;
    c->jobs = strtol(value, &end, 10);
    if (value[0] >= '0' && value[0] <= '9' && *end == '\0' && errno == 0 && c->jobs >= 1 &&
        c->jobs <= 1024)
        return 0;
    say("--jobs: expected a number from 1 to 1024, found '%s'", value);
    return EXIT_USAGE;
}

static int set_delimiter(cli *c, const char *value)
{
    static const char *const words[] = {"comma", "semicolon", "tab", ",", ";", "\t"};
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
        if (strcmp(value, words[i]) == 0) {
            c->style.delimiter = ",;\t"[i % 3];
            return 0;
        }
    return one_of("--delimiter", value, words, 3) < 0 ? EXIT_USAGE : 0;
}

static int set_decimal_comma(cli *c, const char *value)
{
    (void)value;
    c->style.decimal_comma = true;
    return 0;
}

static int set_bom(cli *c, const char *value)
{
    (void)value;
    c->style.bom = true;
    return 0;
}

static int set_set(cli *c, const char *value)
{
    const char *equals = strchr(value, '=');
    if (!equals || equals == value) {
        say("--set: expected NAME=VALUE, found '%s'", value);
        return EXIT_USAGE;
    }
    c->sets[c->n_sets++] = value;
    return 0;
}

static int set_layout(cli *c, const char *value)
{
    static const char *const words[] = {"wide", "long"};
    const int i = one_of("--layout", value, words, 2);
    if (i < 0) return EXIT_USAGE;
    c->setup.layout = i ? BT_LAYOUT_LONG : BT_LAYOUT_WIDE;
    return 0;
}

static int set_rate(cli *c, const char *value)
{
    return set_positive("--rate", value, &c->setup.rate);
}

static int set_quiet(cli *c, const char *value)
{
    (void)value;
    c->quiet = true;
    return 0;
}

static int set_completion(cli *c, const char *value)
{
    static const char *const words[] = {"bash", "zsh"};
    const int i = one_of("--completion", value, words, 2);
    if (i < 0) return EXIT_USAGE;
    c->completion = words[i];
    return 0;
}

static int set_help(cli *c, const char *value)
{
    (void)value;
    c->help = true;
    return 0;
}

static int set_version(cli *c, const char *value)
{
    (void)value;
    c->version = true;
    return 0;
}

const option common_options[] = {
    {'c', "car", "FILE", "car sheet, see braketally-car(5)", set_car},
    {'m', "map", "FILE", "channel map, see braketally-log(5)", set_map},
    {'o', "output", "FILE", "write to FILE, in place only when it is whole", set_output},
    {'f', "format", "csv|json|text|svg", "default: text on a terminal, else csv", set_format},
    {'j', "jobs", "N", "N logs at a time; default: one per processor", set_jobs},
    {0, "set", "NAME=VALUE", "one quantity of the car sheet; may be repeated", set_set},
    {0, "layout", "wide|long", "layout of the logs; default: by looking", set_layout},
    {0, "rate", "HZ", "rows per second of logs without a time column", set_rate},
    {0, "delimiter", "comma|semicolon|tab", "between the cells of csv", set_delimiter},
    {0, "decimal-comma", NULL, "decimal commas; csv then has semicolons", set_decimal_comma},
    {0, "bom", NULL, "byte order mark in front of csv", set_bom},
    {'q', "quiet", NULL, "no notes and no progress, only errors", set_quiet},
    {0, "completion", "bash|zsh", "completion script for that shell", set_completion},
    {'h', "help", NULL, "this help", set_help},
    {'V', "version", NULL, "the version", set_version},
    {0},
};

static int set_nominal(cli *c, const char *value)
{
    double kmh = 0;
    if (set_positive("--nominal", value, &kmh) != 0) return EXIT_USAGE;
    c->setup.nominal = kmh / 3.6;
    return 0;
}

const option zones_options[] = {
    {0, "nominal", "KMH", "correct stopping distances to this speed", set_nominal},
    {0},
};

static int set_draft(cli *c, const char *value)
{
    (void)value;
    c->draft = true;
    return 0;
}

static int set_draft_car(cli *c, const char *value)
{
    (void)value;
    c->draft_car = true;
    return 0;
}

const option inspect_options[] = {
    {0, "draft", NULL, "print a channel map to edit instead", set_draft},
    {0, "draft-car", NULL, "print a blank car sheet instead; needs no log", set_draft_car},
    {0},
};

static int set_from(cli *c, const char *value)
{
    return set_number("--from", value, &c->from);
}

static int set_to(cli *c, const char *value)
{
    return set_number("--to", value, &c->to);
}

static int set_every(cli *c, const char *value)
{
    return set_positive("--every", value, &c->every);
}

const option trace_options[] = {
    {0, "from", "S", "first time to print, in the log's seconds", set_from},
    {0, "to", "S", "last time to print", set_to},
    {0, "every", "S", "one row in S seconds; default: every row", set_every},
    {0},
};

static int set_csvw(cli *c, const char *value)
{
    (void)value;
    c->csvw = true;
    return 0;
}

const option columns_options[] = {
    {0, "csvw", NULL, "as W3C CSV-on-the-Web metadata", set_csvw},
    {0},
};

/* ---- arguments ---- */

static const option *find(const option *table, char letter, const char *name, size_t n)
{
    for (; table && table->name; table++)
        if (name ? strlen(table->name) == n && memcmp(table->name, name, n) == 0
                 : table->letter == letter)
            return table;
    return NULL;
}

static const option *find_any(const cli *c, char letter, const char *name, size_t n)
{
    const option *o = find(common_options, letter, name, n);
    return o || !c->command ? o : find(c->command->own, letter, name, n);
}

static int unknown_option(const cli *c, const char *name, size_t n)
{
    char word[64];
    snprintf(word, sizeof word, "--%.*s", (int)(n < 60 ? n : 60), name);
    char spelt[32][24];
    const char *names[32];
    size_t count = 0;
    const option *tables[] = {common_options, c->command ? c->command->own : NULL};
    for (size_t t = 0; t < 2; t++)
        for (const option *o = tables[t]; o && o->name && count < 32; o++, count++) {
            snprintf(spelt[count], sizeof spelt[count], "--%s", o->name);
            names[count] = spelt[count];
        }
    say_unknown("option", word, c->command ? c->command->name : NULL, names, count);
    return EXIT_USAGE;
}

/* --name, --name=value, --name value */
static int read_long(cli *c, char **argv, int argc, int *i)
{
    const char *name = argv[*i] + 2, *equals = strchr(name, '=');
    const size_t n = equals ? (size_t)(equals - name) : strlen(name);
    const option *o = find_any(c, 0, name, n);
    if (!o) return unknown_option(c, name, n);
    if (!o->arg && equals) {
        say("--%s: expected no value, found '%s'", o->name, equals + 1);
        return EXIT_USAGE;
    }
    if (!o->arg) return o->set(c, NULL);
    if (equals) return o->set(c, equals + 1);
    if (*i + 1 == argc) {
        say("--%s: expected %s, found nothing", o->name, o->arg);
        return EXIT_USAGE;
    }
    return o->set(c, argv[++*i]);
}

/* -q, -qV, -fcsv, -f csv */
static int read_letters(cli *c, char **argv, int argc, int *i)
{
    for (const char *s = argv[*i] + 1; *s; s++) {
        const option *o = find_any(c, *s, NULL, 0);
        if (!o) {
            say("no option '-%c'%s%s", *s, c->command ? " of " : "",
                c->command ? c->command->name : "");
            return EXIT_USAGE;
        }
        int status;
        if (o->arg && !s[1] && *i + 1 == argc) {
            say("-%c: expected %s, found nothing", *s, o->arg);
            return EXIT_USAGE;
        } else if (o->arg) {
            return o->set(c, s[1] ? s + 1 : argv[++*i]);
        } else if ((status = o->set(c, NULL)) != 0) {
            return status;
        }
    }
    return 0;
}

static int find_command(cli *c, const char *word)
{
    const char *names[32];
    size_t n = 0;
    for (const command *k = c->commands; k->name && n < 32; k++) {
        if (strcmp(word, k->name) == 0) {
            c->command = k;
            return 0;
        }
        names[n++] = k->name;
    }
    say_unknown("command", word, NULL, names, n);
    return EXIT_USAGE;
}

int options_read(cli *c, int argc, char **argv, int *n)
{
    bool only_operands = false;
    *n = 0;
    c->sets = calloc((size_t)argc + 1, sizeof *c->sets);
    if (!c->sets) {
        say("no memory for %d arguments", argc);
        return EXIT_USAGE;
    }
    for (int i = 1; i < argc; i++) {
        char *word = argv[i];
        int status = 0;
        if (only_operands || word[0] != '-' || word[1] == '\0') {
            if (c->command)
                argv[(*n)++] = word;
            else
                status = find_command(c, word);
        } else if (strcmp(word, "--") == 0) {
            only_operands = true;
        } else {
            status =
                word[1] == '-' ? read_long(c, argv, argc, &i) : read_letters(c, argv, argc, &i);
        }
        if (status != 0) return status;
    }
    return 0;
}
