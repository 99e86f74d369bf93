/* Which columns of a text table are shown and how wide: what does not fit is left out by rank; a sentence
 * that would have too little room beside its row moves below it. */
#include "out/text_table.h"

#include <stdlib.h>
#include <string.h>

enum {
    CELL_MAX = 40, /* of a text that is not in the last column; at most a third of the line */
    GROWTH = 2,    /* spare digits where later rows may need them */
    TALLY_ROWS = 3 /* that are worth being compared by strokes */
};

/* ---- headings ---- */

static bool is_unit_word(const char *word)
{
    static const char *const words[] = {"s",    "m",   "kmh",   "mps",   "mps2",
                                        "mps3", "bar", "nm",    "pct",   "pctplap",
                                        "kj",   "c",   "barps", "pctps", "hz"};
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
        if (strcmp(word, words[i]) == 0) return true;
    return false;
}

void bt_text_heading(const bt_column *c, int line, char unit[BT_UNIT_LABEL_MAX], const char **s,
                     size_t *n)
{
    *s = bt_unit_label(c->unit, unit);
    *n = strlen(*s);
    if (line == BT_HEAD_UNIT) return;
    const char *last = strrchr(c->name, '_');
    const size_t whole =
        last && is_unit_word(last + 1) ? (size_t)(last - c->name) : strlen(c->name);
    const char *split = memchr(c->name, '_', whole);
    const size_t upper = split ? (size_t)(split - c->name) : 0;
    *s = line == BT_HEAD_UPPER || !split ? c->name : split + 1;
    *n = line == BT_HEAD_UPPER ? upper : split ? whole - upper - 1 : whole;
}

static size_t heading_width(const bt_column *c)
{
    size_t width = 0;
    for (int line = 0; line < BT_HEAD_LINES; line++) {
        char unit[BT_UNIT_LABEL_MAX];
        const char *s;
        size_t n;
        bt_text_heading(c, line, unit, &s, &n);
        const size_t w = bt_terminal_width(s, n, 0, NULL);
        if (w > width) width = w;
    }
    return width;
}

/* ---- which columns, how wide ---- */

size_t bt_text_last(const bt_writer *w, const bt_text_shape *shapes)
{
    size_t last = 0;
    for (size_t i = 0; i < w->n; i++)
        if (shapes[i].shown) last = i;
    return last;
}

static size_t third_of_line(const bt_writer *w)
{
    const size_t third = (size_t)w->style.width / 3;
    return third < BT_TEXT_LAST_MIN ? BT_TEXT_LAST_MIN : third;
}

static size_t cell_max(const bt_writer *w)
{
    const size_t third = third_of_line(w);
    return third < CELL_MAX ? third : CELL_MAX;
}

/* Width of the line if the last column takes at most `last_max`. */
static size_t total_width(const bt_writer *w, const bt_text_shape *shapes, size_t last_max)
{
    const size_t last = bt_text_last(w, shapes), cell = cell_max(w);
    size_t total = 0;
    for (size_t i = 0; i <= last; i++) {
        if (!shapes[i].shown) continue;
        const size_t most = i == last ? last_max : cell;
        const bool cut = shapes[i].width > most && !bt_cell_is_number(&w->columns[i]);
        total += (total ? BT_TEXT_GAP : 0) + (cut ? most : shapes[i].width) + shapes[i].tally;
    }
    return total;
}

static void hide_rank_0(const bt_writer *w, bt_text_shape *shapes)
{
    for (size_t i = 0; i < w->n; i++)
        if (w->columns[i].rank == 0) shapes[i].shown = false;
}

/* Hide the shown column that matters least, of rank `from` or beyond; false if there is none, or
 * it is the only one shown. */
static bool hide_one(const bt_writer *w, bt_text_shape *shapes, int from)
{
    size_t least = w->n, shown = 0;
    int rank = from;
    for (size_t i = 0; i < w->n; i++) {
        if (!shapes[i].shown) continue;
        shown++;
        if (w->columns[i].rank < rank) continue;
        rank = w->columns[i].rank;
        least = i;
    }
    if (shown < 2 || least == w->n) return false;
    shapes[least].shown = false;
    return true;
}

/* Is the last column that is shown one to read rather than to compare? */
static bool ends_in_sentence(const bt_writer *w, const bt_text_shape *shapes)
{
    const bt_column *last = &w->columns[bt_text_last(w, shapes)];
    return last->rank == 1 && !bt_cell_is_number(last);
}

/* A sentence has a third of the line at the cost of what matters less, or moves below its row, which
 * then keeps that. */
static void fit_sentence(const bt_writer *w, bt_text_shape *shapes, size_t width, size_t *under)
{
    const size_t room = third_of_line(w);
    for (size_t i = 0; i < w->n; i++) shapes[i].before = shapes[i].shown;
    while (total_width(w, shapes, room) > width && hide_one(w, shapes, 3)) continue;
    if (total_width(w, shapes, room) <= width) return;
    for (size_t i = 0; i < w->n; i++) shapes[i].shown = shapes[i].before;
    *under = bt_text_last(w, shapes);
    shapes[*under].shown = false;
    while (total_width(w, shapes, CELL_MAX) > width && hide_one(w, shapes, 1)) continue;
}

/* What matters most stays: first the rest goes, then the strokes, then the last text is cut shorter. */
static void fit(const bt_writer *w, bt_text_shape *shapes, size_t width, size_t *under)
{
    if (total_width(w, shapes, CELL_MAX) <= width) return;
    hide_rank_0(w, shapes);
    while (total_width(w, shapes, CELL_MAX) > width && hide_one(w, shapes, 11)) continue;
    if (total_width(w, shapes, CELL_MAX) > width)
        for (size_t i = 0; i < w->n; i++) shapes[i].tally = 0;
    if (ends_in_sentence(w, shapes)) {
        fit_sentence(w, shapes, width, under);
        return;
    }
    while (total_width(w, shapes, CELL_MAX) > width && hide_one(w, shapes, 2)) continue;
    while (total_width(w, shapes, BT_TEXT_LAST_MIN) > width && hide_one(w, shapes, 1)) continue;
}

void bt_text_lay_out(const bt_writer *w, bt_text_table *t, bool complete)
{
    for (size_t i = 0; i < w->n; i++) {
        bt_text_shape *s = &t->shapes[i];
        const bt_column *c = &w->columns[i];
        /* One log is the usual case: no column that says the same in each row. */
        const bool idle = c->rank > 1 && !s->varies && strcmp(c->name, "run") == 0;
        s->shown = !complete || t->rows == 0 || !(s->blank || idle);
        const size_t head = heading_width(c);
        if (!complete && bt_cell_is_number(c)) s->width += GROWTH;
        if (s->width < head) s->width = head;
        if (c->look == BT_LOOK_TALLY && s->varies && t->rows >= TALLY_ROWS)
            s->tally = BT_TEXT_STROKES + 1;
    }
    const size_t width = (size_t)w->style.width;
    fit(w, t->shapes, width, &t->under);
    const size_t last = bt_text_last(w, t->shapes);
    for (size_t i = 0; i < last; i++)
        if (t->shapes[i].width > cell_max(w) && !bt_cell_is_number(&w->columns[i]))
            t->shapes[i].width = cell_max(w);
    bt_text_shape *end = &t->shapes[last];
    const size_t all = end->width;
    end->width = 0;
    const size_t room = width - total_width(w, t->shapes, 0);
    end->width = all < room ? all : room;
}
