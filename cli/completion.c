/* Completion for shells, made from the tables of commands and options.  A value that is one of several
 * words (csv|json|text) is completed with them, a FILE and a LOG with files. */
#include "cli.h"

#include <string.h>

/* ---- bash ---- */

static void put_words(const char *words)
{
    for (; *words; words++) putchar(*words == '|' ? ' ' : *words);
}

static void put_names(const option *o)
{
    for (; o && o->name; o++) printf(" --%s", o->name);
}

/* The options whose value is one of several words; `of` is their command, "*" = any. */
static void put_choices(const char *of, const option *o)
{
    for (; o && o->name; o++) {
        if (!o->arg || !strchr(o->arg, '|')) continue;
        printf("    %s' --%s'", of, o->name);
        if (o->letter) printf(" | %s' -%c'", of, o->letter);
        printf(") words='");
        put_words(o->arg);
        printf("' ;;\n");
    }
}

/* Files too are what an option with any other value gets. */
static void put_free(const char *of, const option *o)
{
    for (; o && o->name; o++) {
        if (!o->arg || strchr(o->arg, '|')) continue;
        printf("    %s' --%s'", of, o->name);
        if (o->letter) printf(" | %s' -%c'", of, o->letter);
        printf(") return ;;\n");
    }
}

static void put_commands(const command *commands, char between)
{
    for (const command *k = commands; k->name; k++)
        printf("%s%.*s", k->name, k[1].name ? 1 : 0, &between);
}

static void bash(const command *commands)
{
    printf(
        "# bash completion for braketally: braketally --completion bash\n"
        "_braketally()\n{\n"
        "    local cur=${COMP_WORDS[COMP_CWORD]} prev=${COMP_WORDS[COMP_CWORD-1]}\n"
        "    [ \"$prev\" = = ] && prev=${COMP_WORDS[COMP_CWORD-2]}\n" /* --name=val: three words */
        "    [ \"$cur\" = = ] && cur=''\n"
        "    local command='' word words=''\n"
        "    for word in \"${COMP_WORDS[@]:1:COMP_CWORD-1}\"; do\n"
        "        case $word in ");
    put_commands(commands, '|');
    printf(") command=$word; break ;; esac\n"
           "    done\n"
           "    COMPREPLY=()\n"
           "    case \"$command $prev\" in\n");
    put_choices("*", common_options);
    put_free("*", common_options);
    for (const command *k = commands; k->name; k++) {
        put_choices(k->name, k->own);
        put_free(k->name, k->own);
    }
    printf("    *)\n        case \"$command $cur\" in\n");
    for (const command *k = commands; k->name; k++) {
        if (!k->own) continue;
        printf("        %s' '-*) words='", k->name);
        put_names(k->own);
        put_names(common_options);
        printf("' ;;\n");
    }
    printf("        *' '-*) words='");
    put_names(common_options);
    printf("' ;;\n        columns*) words='");
    const char *names[TABLES_MAX];
    const size_t n = table_names(names);
    for (size_t i = 0; i < n; i++) printf(" %s", names[i]);
    printf("' ;;\n        ' '*) words='");
    put_commands(commands, ' ');
    printf("' ;;\n        esac ;;\n    esac\n"
           "    COMPREPLY=($(compgen -W \"$words\" -- \"$cur\"))\n"
           "}\n"
           "complete -o default -F _braketally braketally\n");
}

/* ---- zsh ---- */

/* Within single quotes, and within the brackets of a description. */
static void put_description(const char *text)
{
    for (; *text; text++) {
        if (*text == '\'')
            fputs("'\\''", stdout);
        else
            printf("%s%c", strchr("[]:\\", *text) ? "\\" : "", *text);
    }
}

static void put_value(const option *o)
{
    if (!o->arg) return;
    if (strchr(o->arg, '|')) {
        printf(":value:(");
        put_words(o->arg);
        printf(")");
    } else {
        printf(":");
        put_description(o->arg);
        printf(":%s", strcmp(o->arg, "FILE") == 0 ? "_files" : " ");
    }
}

static void put_specs(const option *o)
{
    for (; o && o->name; o++) {
        /* '--name=' takes its value behind the sign or in the next word, '-n+' at once or then. */
        printf("    '*--%s%s[", o->name, o->arg ? "=" : "");
        put_description(o->help);
        printf("]");
        put_value(o);
        printf("'\n");
        if (!o->letter) continue;
        printf("    '*-%c%s[", o->letter, o->arg ? "+" : "");
        put_description(o->help);
        printf("]");
        put_value(o);
        printf("'\n");
    }
}

static void zsh(const command *commands)
{
    printf("#compdef braketally\n"
           "# zsh completion for braketally: braketally --completion zsh\n"
           "local -a commands specs\n"
           "local word state operand=_files\n"
           "commands=(\n");
    for (const command *k = commands; k->name; k++) {
        printf("    '%s:", k->name);
        put_description(k->summary);
        printf("'\n");
    }
    printf(")\nspecs=(\n");
    put_specs(common_options);
    printf(")\nfor word in ${words[2,CURRENT-1]}; do\n    case $word in\n");
    for (const command *k = commands; k->name; k++) {
        printf("    %s)\n", k->name);
        if (strcmp(k->operands, "TABLE") == 0) {
            printf("    operand='(");
            const char *names[TABLES_MAX];
            const size_t n = table_names(names);
            for (size_t i = 0; i < n; i++) printf("%s%s", i ? " " : "", names[i]);
            printf(")'\n");
        }
        if (k->own) {
            printf("    specs+=(\n");
            put_specs(k->own);
            printf("    )\n");
        }
        printf("    break ;;\n");
    }
    printf("    esac\ndone\n"
           "_arguments -s $specs '1:command:->command' \"*:operand:$operand\" && return\n"
           "[[ $state == command ]] && _describe command commands\n");
}

void completion_print(const command *commands, const char *shell)
{
    if (strcmp(shell, "zsh") == 0)
        zsh(commands);
    else
        bash(commands);
}
