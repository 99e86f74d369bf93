/* Grids: see grid.h. */
#include "rows/grid.h"

#include "base/error.h"

#include <csv.h>
#include <stdlib.h>
#include <string.h>

enum { FIELD_MAX = 1 << 20, BUFFER_STEP = 1024 };

typedef struct {
    bt_grid *grid;
    bt_grid_row current; /* fields = 0: not begun */
    uint64_t line;       /* of the text being fed */
    size_t offset;
    bool row_ended, no_memory;
} reader;

/* Room for one more element behind `count` of them. */
static void *grown(void *array, size_t count, size_t *room, size_t size)
{
    if (count < *room) return array;
    const size_t more = *room ? *room * 2 : 256;
    if (more > SIZE_MAX / 2 / size) return NULL;
    void *larger = realloc(array, more * size);
    if (larger) *room = more;
    return larger;
}

static bool add_text(bt_grid *g, const char *s, size_t n)
{
    if (g->room - g->used <= n) {
        const size_t room = (g->room + n + 1024) * 2;
        char *larger = realloc(g->text, room);
        if (!larger) return false;
        g->text = larger;
        g->room = room;
    }
    memcpy(g->text + g->used, s, n);
    g->text[g->used + n] = '\0';
    g->used += n + 1;
    return true;
}

static void take_field(void *field, size_t n, void *user)
{
    reader *r = user;
    bt_grid *g = r->grid;
    if (r->no_memory) return;
    size_t *cell = grown(g->cell, g->cells, &g->cells_room, sizeof *cell);
    if (cell) g->cell = cell;
    const size_t at = g->used;
    if (!cell || !add_text(g, n ? field : "", n)) {
        r->no_memory = true;
        return;
    }
    g->cell[g->cells++] = at;
    r->current.fields++;
}

static void take_row(int terminator, void *user)
{
    (void)terminator;
    reader *r = user;
    bt_grid *g = r->grid;
    r->row_ended = true;
    if (r->no_memory || r->current.fields == 0) return; /* a blank line */
    bt_grid_row *row = grown(g->row, g->rows, &g->rows_room, sizeof *row);
    if (!row) {
        r->no_memory = true;
        return;
    }
    g->row = row;
    g->row[g->rows++] = r->current;
    r->current.fields = 0;
}

/* So that an unclosed quote ends in an error. */
static void *bounded_realloc(void *old, size_t n)
{
    return n > FIELD_MAX ? NULL : realloc(old, n);
}

/* Length of the line at s, its end included. */
static size_t line_length(const char *s, size_t n, bool *ended)
{
    size_t i = 0;
    while (i < n && s[i] != '\n' && s[i] != '\r') i++;
    *ended = i < n;
    if (i + 1 < n && s[i] == '\r' && s[i + 1] == '\n') return i + 2;
    return *ended ? i + 1 : n;
}

/* Feed line by line: so libcsv's rows get their lines and offsets. */
static bt_status feed(reader *r, struct csv_parser *p, const char *bytes, size_t n, bool cut,
                      size_t rows_max, bt_error *err)
{
    bt_grid *g = r->grid;
    r->current = (bt_grid_row){.line = r->line};
    while (r->offset < n && g->rows < rows_max && !r->no_memory) {
        bool ended;
        const size_t length = line_length(bytes + r->offset, n - r->offset, &ended);
        if (cut && !ended) return BT_OK;
        r->row_ended = false;
        const size_t taken = csv_parse(p, bytes + r->offset, length, take_field, take_row, r);
        if (taken != length && csv_get_buffer_size(p) + BUFFER_STEP > FIELD_MAX) {
            bt_fail(err, BT_SYNTAX,
                    "expected a field of at most %d bytes, found more: a quote left open?",
                    FIELD_MAX);
            return bt_at(err, BT_SYNTAX, NULL, r->current.line, 0);
        }
        r->no_memory = r->no_memory || taken != length;
        r->offset += length;
        r->line += ended;
        if (r->row_ended)
            r->current = (bt_grid_row){.line = r->line, .offset = r->offset, .first = g->cells};
    }
    if (!r->no_memory && g->rows < rows_max && !cut) {
        /* Only strict at the end, where it tells an open quote: all along it would refuse
         * quotes inside unquoted fields. */
        csv_set_opts(p, CSV_REPALL_NL | CSV_STRICT | CSV_STRICT_FINI);
        g->open_quote = csv_fini(p, take_field, take_row, r) != 0;
        csv_set_opts(p, CSV_REPALL_NL);
        if (g->open_quote) csv_fini(p, take_field, take_row, r);
    }
    return r->no_memory ? bt_fail(err, BT_NOMEM, "no memory for a table") : BT_OK;
}

bt_status bt_grid_read(bt_grid *out, const char *bytes, size_t n, uint64_t line, char delimiter,
                       bool cut, size_t rows_max, bt_error *err)
{
    *out = (bt_grid){0};
    struct csv_parser p;
    if (csv_init(&p, CSV_REPALL_NL) != 0) return bt_fail(err, BT_NOMEM, "no memory for a table");
    csv_set_delim(&p, (unsigned char)delimiter);
    csv_set_realloc_func(&p, bounded_realloc);
    csv_set_blk_size(&p, BUFFER_STEP);
    reader r = {.grid = out, .line = line};
    const bt_status status = feed(&r, &p, bytes, n, cut, rows_max, err);
    csv_free(&p);
    return status;
}

void bt_grid_free(bt_grid *grid)
{
    free(grid->row);
    free(grid->cell);
    free(grid->text);
    *grid = (bt_grid){0};
}

const char *bt_grid_cell(const bt_grid *grid, size_t row, size_t column)
{
    const bt_grid_row *r = &grid->row[row];
    return column < r->fields ? grid->text + grid->cell[r->first + column] : "";
}
