/* What goes to stderr: one line each, the program's name in front, no full stop. */
#include "cli.h"

#include <ctype.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

/* Names come from outside: what a terminal would obey, or would make two lines of one, is not printed. */
void say(const char *fmt, ...)
{
    char text[8192];
    va_list args;
    va_start(args, fmt);
    vsnprintf(text, sizeof text, fmt, args);
    va_end(args);
    for (char *p = text; *p; p++)
        if (iscntrl((unsigned char)*p)) *p = '?';
    progress_clear();
    fprintf(stderr, "braketally: %s\n", text);
}

const char *path_label(const char *path)
{
    return !*path ? "''" : strcmp(path, "-") == 0 ? "stdin" : path;
}

int say_error(const bt_error *err, const char *path, int status)
{
    char place[64] = "";
    if (err->line && err->column)
        snprintf(place, sizeof place, "%llu:%llu: ", (unsigned long long)err->line,
                 (unsigned long long)err->column);
    else if (err->line)
        snprintf(place, sizeof place, "%llu: ", (unsigned long long)err->line);
    const char *file = err->file[0] ? path_label(err->file) : path ? path_label(path) : "";
    const char *message = err->message[0] ? err->message : bt_status_meaning(err->status);
    say("%s%s%s%s", file, !*file ? "" : *place ? ":" : ": ", place, message);
    return status;
}

void say_unknown(const char *what, const char *word, const char *of, const char *const *names,
                 size_t n)
{
    enum { FEW = 12 };
    const char *near = bt_nearest(word, names, n);
    char rest[256] = "";
    size_t at = 0;
    if (near)
        snprintf(rest, sizeof rest, "; did you mean '%s'?", near);
    else if (n <= FEW)
        for (size_t i = 0; i < n && at < sizeof rest; i++)
            at += (size_t)snprintf(rest + at, sizeof rest - at, "%s%s",
                                   i ? ", " : "; expected one of ", names[i]);
    say("no %s '%s'%s%s%s", what, word, of ? " of " : "", of ? of : "", rest);
}

/* ---- notes ---- */

enum { SAID = 3 }; /* of one kind */

struct note_kind {
    char *shape; /* the note without its figures: what makes it the same kind */
    char *first; /* the first of them */
    size_t count;
};

static char *copy(const char *s)
{
    char *c = malloc(strlen(s) + 1);
    return c ? strcpy(c, s) : NULL;
}

static char *shape_of(const char *note)
{
    char *shape = copy(note), *to = shape;
    if (!shape) return NULL;
    for (const char *s = note; *s; s++)
        if (!isdigit((unsigned char)*s) && *s != '.') *to++ = *s;
    *to = '\0';
    return shape;
}

/* The kind of a note, made if it is new; NULL if memory runs out. */
static note_kind *kind_of(note_tally *tally, const char *note)
{
    char *shape = shape_of(note);
    if (!shape) return NULL;
    for (size_t i = 0; i < tally->n; i++)
        if (strcmp(tally->kinds[i].shape, shape) == 0) {
            free(shape);
            return &tally->kinds[i];
        }
    note_kind *grown = realloc(tally->kinds, (tally->n + 1) * sizeof *grown);
    if (grown) tally->kinds = grown;
    char *first = grown ? copy(note) : NULL;
    if (!first) {
        free(shape);
        return NULL;
    }
    tally->kinds[tally->n] = (note_kind){.shape = shape, .first = first};
    return &tally->kinds[tally->n++];
}

void note_say(note_tally *tally, const char *path, const char *note)
{
    note_kind *kind = kind_of(tally, note);
    if (!kind || kind->count++ < SAID) say("%s: %s", path_label(path), note);
}

void note_end(note_tally *tally)
{
    for (size_t i = 0; i < tally->n; i++) {
        note_kind *kind = &tally->kinds[i];
        if (kind->count > SAID) say("%zu more of this kind: %s", kind->count - SAID, kind->first);
        free(kind->shape);
        free(kind->first);
    }
    free(tally->kinds);
    *tally = (note_tally){0};
}
