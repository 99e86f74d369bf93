/* Help, made from the tables of commands and options. */
#include "cli.h"

#include <string.h>

static void put_options(const option *o, FILE *to)
{
    for (; o && o->name; o++) {
        char left[64];
        snprintf(left, sizeof left, "%c%c%s --%s%s%s", o->letter ? '-' : ' ',
                 o->letter ? o->letter : ' ', o->letter ? "," : " ", o->name, o->arg ? " " : "",
                 o->arg ? o->arg : "");
        if (strlen(left) < 30)
            fprintf(to, "  %-30s %s\n", left, o->help);
        else
            fprintf(to, "  %s\n  %-30s %s\n", left, "", o->help);
    }
}

/* The caution, folded at blanks. */
static void put_caution(FILE *to)
{
    size_t at = 0;
    for (const char *s = BT_CAUTION; *s;) {
        const size_t word = strcspn(s, " ");
        if (at && at + 1 + word > 78) {
            fputc('\n', to);
            at = 0;
        }
        fprintf(to, "%s%.*s", at ? " " : "", (int)word, s);
        at += word + (at ? 1 : 0);
        s += word;
        s += *s == ' ';
    }
    fputc('\n', to);
}

void help_short(FILE *to)
{
    fputs("usage: braketally COMMAND [options] LOG...\n"
          "  braketally inspect run3.csv\n"
          "  braketally zones -c car.csv run3.csv\n"
          "'braketally --help' lists the commands\n",
          to);
}

void help_program(const command *commands, FILE *to)
{
    fputs("braketally: what happened at the brakes of a car whose rear brakes are by wire\n\n"
          "examples:\n",
          to);
    for (const command *k = commands; k->name; k++) fprintf(to, "  braketally %s\n", k->example);
    fputs("\nusage: braketally COMMAND [options] LOG...\n"
          "A LOG is text with delimiters, plain or gzip; '-' is standard input.\n\ncommands:\n",
          to);
    for (const command *k = commands; k->name; k++)
        fprintf(to, "  %-8s %-10s %s\n", k->name, k->operands, k->summary);
    fputs("\noptions of every command:\n", to);
    put_options(common_options, to);
    for (const command *k = commands; k->name; k++) {
        if (!k->own) continue;
        fprintf(to, "\noptions of %s:\n", k->name);
        put_options(k->own, to);
    }
    fputs("\nexit status: 0 all logs analysed, 1 at least one not, 2 wrong usage, unreadable\n"
          "car sheet or map, 3 output could not be written\n\n",
          to);
    put_caution(to);
}

void help_command(const command *k, FILE *to)
{
    fprintf(to,
            "braketally %s: %s\n\nexample:\n  braketally %s\n\n"
            "usage: braketally %s [options] %s\n\noptions:\n",
            k->name, k->summary, k->example, k->name, k->operands);
    put_options(k->own, to);
    put_options(common_options, to);
}
