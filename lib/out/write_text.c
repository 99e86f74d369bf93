/* Tables for a terminal: aligned, with headings and a row of units, at most so many
 * columns wide.  The first BT_TEXT_HELD rows are held back and decide which columns
 * are shown and how wide; memory does not grow with the table.  What does not fit is
 * left out by rank, or cut with an ellipsis; only a text in the last column, which is
 * the sentence to read, goes on below itself, or stands below its row where there is
 * too little room beside it.  Sentences that come first are wrapped likewise. */
#include "base/number.h"
#include "base/text.h"
#include "out/text_table.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum {
    PROSE_MAX = 100, /* longer lines are hard to read on, however wide the terminal */
    UNDER = 4        /* blanks before a sentence below its row */
};

/* ---- lines ---- */

/* The size of a number as strokes, the largest's BT_TEXT_STROKES; what came later and is larger ends in +. */
static void add_tally(bt_bytes *line, const bt_text_shape *s, const char *cell, size_t n)
{
    double x;
    if (s->tally == 0) return;
    bt_number_parse(cell, n, memchr(cell, ',', n) ? ',' : '.', &x);
    const double part = BT_TEXT_STROKES * fabs(x) / s->top;
    size_t strokes = part >= 0.5 ? (size_t)fmin(part + 0.5, BT_TEXT_STROKES) : 0;
    const size_t rest = s->tally - 1 - strokes;
    bt_bytes_text(line, " ");
    if (part > BT_TEXT_STROKES + 0.5) strokes--;
    while (strokes--) bt_bytes_text(line, "|");
    if (part > BT_TEXT_STROKES + 0.5) bt_bytes_text(line, "+");
    bt_terminal_blanks(line, rest);
}

/* Both ends of a name tell it from others: it is cut in its middle, to `room` columns with the dots. */
static void add_cut(bt_bytes *line, const bt_column *c, size_t room, const char *s, size_t n)
{
    const size_t dots = 1, tail = c->kind == BT_CELL_TEXT ? (room - dots) / 2 : 0;
    size_t head_bytes, from = 0;
    bt_terminal_width(s, n, room - dots - tail, &head_bytes);
    while (bt_terminal_width(s + from, n - from, 0, NULL) > tail) from += bt_utf8_len(s + from, n);
    const size_t width = bt_terminal_width(s, head_bytes, 0, NULL) + dots +
                         bt_terminal_width(s + from, n - from, 0, NULL);
    bt_bytes_add(line, s, head_bytes);
    bt_bytes_text(line, "…");
    bt_bytes_add(line, s + from, n - from);
    bt_terminal_blanks(line, room - width);
}

static void add_cell(bt_bytes *line, const bt_column *c, size_t room, const char *s, size_t n)
{
    const size_t width = bt_terminal_width(s, n, 0, NULL);
    if (bt_cell_is_number(c)) { /* a number is never cut */
        if (width < room) bt_terminal_blanks(line, room - width);
        bt_bytes_add(line, s, n);
        return;
    }
    if (width > room) {
        add_cut(line, c, room, s, n);
        return;
    }
    bt_bytes_add(line, s, n);
    bt_terminal_blanks(line, room - width);
}

static bt_status put_line(bt_writer *w, bt_error *err)
{
    while (w->line.n && w->line.p[w->line.n - 1] == ' ') w->line.n--;
    bt_bytes_add(&w->line, "\n", 1);
    return bt_bytes_write(&w->line, w->write, w->user, err);
}

/* The last column's text, going on below itself. */
static bt_status put_last(bt_writer *w, const bt_column *c, size_t room, const char *s, size_t n,
                          bt_error *err)
{
    const size_t indent = bt_terminal_width(w->line.p, w->line.n, 0, NULL);
    for (size_t part; n > 0; s += part, n -= part) {
        part = bt_terminal_part(s, n, room);
        add_cell(&w->line, c, room, s, part);
        while (part < n && s[part] == ' ') part++;
        if (part == n) break;
        BT_TRY(put_line(w, err));
        bt_terminal_blanks(&w->line, indent);
    }
    return BT_OK;
}

static bt_status put_heading(bt_writer *w, const bt_text_table *t, bt_error *err)
{
    for (int part = 0; part < BT_HEAD_LINES; part++) {
        bool any = false;
        for (size_t i = 0, gap = 0; i < w->n; i++) {
            if (!t->shapes[i].shown) continue;
            char unit[BT_UNIT_LABEL_MAX];
            const char *s;
            size_t n;
            bt_text_heading(&w->columns[i], part, unit, &s, &n);
            any = any || n;
            bt_terminal_blanks(&w->line, gap);
            add_cell(&w->line, &w->columns[i], t->shapes[i].width, s, n);
            bt_terminal_blanks(&w->line, t->shapes[i].tally);
            gap = BT_TEXT_GAP;
        }
        if (any)
            BT_TRY(put_line(w, err));
        else
            w->line.n = 0;
    }
    return BT_OK;
}

/* A row, its cells one behind the other from `cell` on; gives where the next one's begin. */
static bt_status put_row(bt_writer *w, const bt_text_table *t, const char **cell, bt_error *err)
{
    const size_t last = bt_text_last(w, t->shapes);
    const char *sentence = "";
    for (size_t i = 0, gap = 0; i < w->n; i++) {
        const bt_column *c = &w->columns[i];
        const size_t n = strlen(*cell), room = t->shapes[i].width;
        if (t->shapes[i].shown) {
            bt_terminal_blanks(&w->line, gap);
            if (i == last && room >= BT_TEXT_LAST_MIN && !bt_cell_is_number(c))
                BT_TRY(put_last(w, c, room, *cell, n, err));
            else
                add_cell(&w->line, c, room, *cell, n);
            add_tally(&w->line, &t->shapes[i], *cell, n);
            gap = BT_TEXT_GAP;
        } else if (i == t->under) {
            sentence = *cell;
        }
        *cell += n + 1;
    }
    BT_TRY(put_line(w, err));
    if (!t->under) return BT_OK;
    bt_terminal_prose(&w->line, sentence, (size_t)w->style.width, UNDER, UNDER);
    return bt_bytes_write(&w->line, w->write, w->user, err);
}

/* Write the rows held back, header first, and forget them. */
static bt_status put_held(bt_writer *w, bt_text_table *t, bool complete, bt_error *err)
{
    if (!t->laid) {
        bt_text_lay_out(w, t, complete);
        t->laid = true;
        if (t->said && t->rows) BT_TRY(put_line(w, err));
        /* Where a sentence says that there is nothing, headings of nothing say no more. */
        if (!t->said || t->rows) BT_TRY(put_heading(w, t, err));
    }
    const char *cell = t->held.p;
    for (size_t row = 0; row < t->rows; row++) BT_TRY(put_row(w, t, &cell, err));
    t->held.n = t->rows = 0;
    return BT_OK;
}

/* ---- the writer's life ---- */

/* Does the column hold UCUM codes that people had rather read as units? */
static bool holds_codes(const bt_writer *w, const bt_column *c)
{
    return (w->table == BT_TABLE_DRIFT || w->table == BT_TABLE_COMPARE ||
            w->table == BT_TABLE_EVENTS) &&
           strcmp(c->name, "unit") == 0;
}

/* "<0.0001" for a chance that its decimals cannot show. */
static void floor_chance(bt_bytes *cell, int decimals)
{
    if (cell->n == 0 || decimals < 1) return;
    for (size_t i = 0; i < cell->n; i++)
        if (cell->p[i] >= '1' && cell->p[i] <= '9') return;
    cell->n = 0;
    bt_bytes_text(cell, "<0.");
    while (--decimals) bt_bytes_text(cell, "0");
    bt_bytes_text(cell, "1");
}

static void hold_cell(bt_writer *w, bt_bytes *held, const bt_column *c, const void *row)
{
    bt_bytes *cell = &w->cell;
    cell->n = 0;
    bt_cell_add(cell, c, row);
    if (c->look == BT_LOOK_CHANCE) floor_chance(cell, c->decimals);
    if (bt_cell_is_number(c)) {
        char *point = cell->n ? memchr(cell->p, '.', cell->n) : NULL;
        if (point && w->style.decimal_comma) *point = ',';
        bt_bytes_add(held, cell->p, cell->n);
    } else if (holds_codes(w, c)) {
        char unit[BT_UNIT_LABEL_MAX];
        bt_bytes_add(cell, "", 1);
        bt_unit_label(cell->failed ? "" : cell->p, unit);
        bt_terminal_clean(held, unit, strlen(unit));
    } else {
        bt_terminal_clean(held, cell->p, cell->n);
    }
    bt_bytes_add(held, "", 1);
}

static void drop(void *own)
{
    bt_text_table *t = own;
    if (!t) return;
    bt_bytes_free(&t->held);
    free(t->columns);
    free(t->shapes);
    free(t);
}

/* Whose rows they are is read first, wherever the table for programs has it. */
static void order_columns(bt_column *out, const bt_column *columns, size_t n)
{
    size_t run = 0;
    while (run < n && strcmp(columns[run].name, "run") != 0) run++;
    if (run == n) run = 0;
    for (size_t i = 0; i < n; i++) {
        out[i] = columns[i == 0 ? run : i <= run ? i - 1 : i];
        out[i].decimals -= out[i].fewer;
    }
}

static bt_status begin(bt_writer *w, bt_error *err)
{
    bt_text_table *t = calloc(1, sizeof *t);
    if (t) {
        t->shapes = calloc(w->n, sizeof *t->shapes);
        t->columns = malloc(w->n * sizeof *t->columns);
    }
    if (!t || !t->shapes || !t->columns) {
        drop(t);
        return bt_fail(err, BT_NOMEM, "no memory for a text table");
    }
    for (size_t i = 0; i < w->n; i++) t->shapes[i].blank = true;
    order_columns(t->columns, w->columns, w->n);
    w->columns = t->columns;
    w->own = t;
    return BT_OK;
}

static bt_status say(bt_writer *w, const char *sentence, bt_error *err)
{
    bt_text_table *t = w->own;
    const size_t width = (size_t)w->style.width;
    w->cell.n = 0;
    bt_terminal_clean(&w->cell, sentence, strlen(sentence));
    bt_bytes_add(&w->cell, "", 1);
    if (w->cell.failed) return bt_fail(err, BT_NOMEM, "no memory for a sentence");
    bt_terminal_prose(&w->line, w->cell.p, width < PROSE_MAX ? width : PROSE_MAX, 0, BT_TEXT_GAP);
    t->said = true;
    return bt_bytes_write(&w->line, w->write, w->user, err);
}

static void shape_cell(bt_text_shape *s, const bt_column *c, bool first, size_t at,
                       const bt_bytes *held)
{
    const char *cell = held->p + at;
    const size_t n = strlen(cell), width = bt_terminal_width(cell, n, 0, NULL);
    double x;
    if (first) s->first = at;
    if (width > s->width) s->width = width;
    if (width) s->blank = false;
    if (strcmp(cell, held->p + s->first) != 0) s->varies = true;
    if (c->look != BT_LOOK_TALLY) return;
    bt_number_parse(cell, n, memchr(cell, ',', n) ? ',' : '.', &x);
    if (fabs(x) > s->top) s->top = fabs(x);
}

static bt_status row(bt_writer *w, const void *data, bt_error *err)
{
    bt_text_table *t = w->own;
    for (size_t i = 0; i < w->n; i++) {
        const size_t at = t->held.n;
        hold_cell(w, &t->held, &w->columns[i], data);
        if (w->cell.failed || t->held.failed)
            return bt_fail(err, BT_NOMEM, "no memory for %zu rows of a text table", t->rows);
        if (!t->laid) shape_cell(&t->shapes[i], &w->columns[i], t->rows == 0, at, &t->held);
    }
    t->rows++;
    return t->laid || t->rows == BT_TEXT_HELD ? put_held(w, t, false, err) : BT_OK;
}

static bt_status end(bt_writer *w, bt_error *err)
{
    BT_TRY(put_held(w, w->own, true, err));
    if (w->table == BT_TABLE_INSPECT || w->table == BT_TABLE_COLUMNS) return BT_OK;
    bt_terminal_prose(&w->line, BT_CAUTION_SHORT, (size_t)w->style.width, 0, 0);
    return bt_bytes_write(&w->line, w->write, w->user, err);
}

const bt_writer_format bt_text_format = {
    .header = begin, .say = say, .row = row, .end = end, .drop = drop};
