/* Arrays that grow: see grow.h. */
#include "base/grow.h"

#include "base/print.h"

#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

bt_status bt_grow(void **array, size_t *cap, size_t need, size_t size, const char *what,
                  bt_error *err)
{
    if (need <= *cap) return BT_OK;
    size_t want = *cap < 16 ? 16 : *cap;
    while (want < need && want <= SIZE_MAX / 2) want *= 2;
    void *grown = want < need || want > SIZE_MAX / size ? NULL : realloc(*array, want * size);
    if (!grown) return bt_fail(err, BT_NOMEM, "no memory for %zu %s", need, what);
    *array = grown;
    *cap = want;
    return BT_OK;
}

bt_status bt_notes_add(bt_notes *notes, bt_error *err, const char *fmt, ...)
{
    char text[512];
    va_list args;
    va_start(args, fmt);
    bt_vprint(text, sizeof text, fmt, args);
    va_end(args);
    for (size_t i = 0; i < notes->n; i++)
        if (strcmp(notes->line[i], text) == 0) return BT_OK;
    void *array = notes->line;
    BT_TRY(bt_grow(&array, &notes->cap, notes->n + 1, sizeof *notes->line, "notes", err));
    notes->line = array;
    char *copy = strdup(text);
    if (!copy) return bt_fail(err, BT_NOMEM, "no memory for a note");
    notes->line[notes->n++] = copy;
    return BT_OK;
}

void bt_notes_clear(bt_notes *notes)
{
    for (size_t i = 0; i < notes->n; i++) free(notes->line[i]);
    free(notes->line);
    *notes = (bt_notes){0};
}
