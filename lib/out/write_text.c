/* Tables for a terminal: aligned, with headings and a row of units, at most so many
 * columns wide.  The first BT_TEXT_HELD rows are held back and decide which columns
 * are shown and how wide; memory does not grow with the table.  What does not fit is
 * left out by rank, or cut with an ellipsis; only a text in the last column, which is
 * the sentence to read, goes on below itself. */
#include "out/write.h"

#include "base/text.h"

#include <stdlib.h>
#include <string.h>

enum {
    GAP = 2,       /* blanks between columns */
    CELL_MAX = 40, /* of a text that is not in the last column */
    LAST_MIN =
        12,    /* of the last column's text, rather than losing what matters most; less is cut */
    GROWTH = 2 /* spare digits where later rows may need them */
};

typedef struct {
    size_t width; /* widest cell so far, then as shown */
    bool shown, blank, varies;
    size_t first; /* offset of the first row's cell in `held` */
} shape;

typedef struct {
    bt_bytes held; /* cells of the rows held back, each with its NUL */
    size_t rows;
    bool laid; /* the header is out */
    shape *shapes;
} text_table;

/* ---- widths ---- */

static uint32_t code_point(const char *s, size_t n)
{
    const unsigned char *u = (const unsigned char *)s;
    uint32_t c = n == 1 ? u[0] : u[0] & (0xffu >> (n + 1));
    for (size_t i = 1; i < n; i++) c = c << 6 | (u[i] & 0x3f);
    return c;
}

static bool is_control(uint32_t c)
{
    return c < 0x20 || (c >= 0x7f && c < 0xa0);
}

/* Columns that a terminal gives a character (Unicode Standard Annex 11, the blocks that are wide
 * throughout).  wcwidth() would ask the locale. */
static size_t char_width(uint32_t c)
{
    static const struct {
        uint32_t from, to;
        size_t width;
    } odd[] = {
        {0x300, 0x36f, 0},     {0x1100, 0x115f, 2}, {0x200b, 0x200f, 0}, {0x20d0, 0x20ff, 0},
        {0x2e80, 0xa4cf, 2},   {0xac00, 0xd7a3, 2}, {0xf900, 0xfaff, 2}, {0xfe00, 0xfe0f, 0},
        {0xfe30, 0xfe6f, 2},   {0xff00, 0xff60, 2}, {0xffe0, 0xffe6, 2}, {0x1f300, 0x1faff, 2},
        {0x20000, 0x3fffd, 2},
    };
    for (size_t i = 0; i < sizeof odd / sizeof odd[0]; i++)
        if (c >= odd[i].from && c <= odd[i].to) return odd[i].width;
    return 1;
}

/* Width of s[0..n), valid UTF-8.  *fits gets the bytes that stay within `room`. */
static size_t text_width(const char *s, size_t n, size_t room, size_t *fits)
{
    size_t width = 0;
    if (fits) *fits = 0;
    for (size_t i = 0; i < n;) {
        const size_t len = bt_utf8_len(s + i, n - i);
        width += char_width(code_point(s + i, len));
        i += len;
        if (fits && width <= room) *fits = i;
    }
    return width;
}

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

static const char *unit_label(const char *ucum)
{
    static const char *const labels[][2] = {{"1", ""},           {"N.m", "N·m"},   {"Cel", "°C"},
                                            {"m/s2", "m/s²"},    {"m/s3", "m/s³"}, {"deg", "°"},
                                            {"%/{lap}", "%/lap"}};
    for (size_t i = 0; i < sizeof labels / sizeof labels[0]; i++)
        if (strcmp(ucum, labels[i][0]) == 0) return labels[i][1];
    return ucum;
}

enum { HEAD_UPPER, HEAD_LOWER, HEAD_UNIT, HEAD_LINES };

/* One line of a column's heading: "decel", "mean" and "m/s²" of decel_mean_mps2. */
static void heading(const bt_column *c, int line, const char **s, size_t *n)
{
    *s = unit_label(c->unit);
    *n = strlen(*s);
    if (line == HEAD_UNIT) return;
    const char *last = strrchr(c->name, '_');
    const size_t whole =
        last && is_unit_word(last + 1) ? (size_t)(last - c->name) : strlen(c->name);
    const char *split = memchr(c->name, '_', whole);
    const size_t upper = split ? (size_t)(split - c->name) : 0;
    *s = line == HEAD_UPPER || !split ? c->name : split + 1;
    *n = line == HEAD_UPPER ? upper : split ? whole - upper - 1 : whole;
}

static size_t heading_width(const bt_column *c)
{
    size_t width = 0;
    for (int line = 0; line < HEAD_LINES; line++) {
        const char *s;
        size_t n;
        heading(c, line, &s, &n);
        const size_t w = text_width(s, n, 0, NULL);
        if (w > width) width = w;
    }
    return width;
}

/* ---- which columns, how wide ---- */

static size_t last_shown(const bt_writer *w, const shape *shapes)
{
    size_t last = 0;
    for (size_t i = 0; i < w->n; i++)
        if (shapes[i].shown) last = i;
    return last;
}

/* Width of the line if texts take at most CELL_MAX, the last column at most `last_max`. */
static size_t total_width(const bt_writer *w, const shape *shapes, size_t last_max)
{
    const size_t last = last_shown(w, shapes);
    size_t total = 0;
    for (size_t i = 0; i <= last; i++) {
        if (!shapes[i].shown) continue;
        const size_t most = i < last || bt_cell_is_number(&w->columns[i]) ? CELL_MAX : last_max;
        total += (total ? GAP : 0) + (shapes[i].width > most ? most : shapes[i].width);
    }
    return total;
}

static void hide_rank_0(const bt_writer *w, shape *shapes)
{
    for (size_t i = 0; i < w->n; i++)
        if (w->columns[i].rank == 0) shapes[i].shown = false;
}

/* Hide the shown column that matters least, of rank `from` or beyond; false if there is none, or
 * it is the only one shown. */
static bool hide_one(const bt_writer *w, shape *shapes, int from)
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

/* What matters most stays: first the rest goes, then the last text is cut shorter. */
static void fit(const bt_writer *w, shape *shapes, size_t width)
{
    if (total_width(w, shapes, CELL_MAX) <= width) return;
    hide_rank_0(w, shapes);
    while (total_width(w, shapes, CELL_MAX) > width && hide_one(w, shapes, 2)) continue;
    while (total_width(w, shapes, LAST_MIN) > width && hide_one(w, shapes, 1)) continue;
}

static void lay_out(const bt_writer *w, text_table *t, bool complete)
{
    for (size_t i = 0; i < w->n; i++) {
        shape *s = &t->shapes[i];
        const bt_column *c = &w->columns[i];
        /* One log is the usual case: no column that says the same in each row. */
        const bool idle = c->rank > 1 && !s->varies && strcmp(c->name, "run") == 0;
        s->shown = !complete || t->rows == 0 || !(s->blank || idle);
        const size_t head = heading_width(c);
        if (!complete && bt_cell_is_number(c)) s->width += GROWTH;
        if (s->width < head) s->width = head;
    }
    const size_t width = (size_t)w->style.width;
    fit(w, t->shapes, width);
    const size_t last = last_shown(w, t->shapes);
    for (size_t i = 0; i < last; i++)
        if (t->shapes[i].width > CELL_MAX) t->shapes[i].width = CELL_MAX;
    shape *end = &t->shapes[last];
    const size_t all = end->width;
    end->width = 0;
    const size_t room = width - total_width(w, t->shapes, 0);
    end->width = all < room ? all : room;
}

/* ---- lines ---- */

static void pad(bt_bytes *line, size_t n)
{
    while (n--) bt_bytes_add(line, " ", 1);
}

static void add_cell(bt_bytes *line, const bt_column *c, size_t room, const char *s, size_t n)
{
    size_t fits, width = text_width(s, n, room, &fits);
    if (bt_cell_is_number(c)) { /* a number is never cut */
        if (width < room) pad(line, room - width);
        bt_bytes_add(line, s, n);
        return;
    }
    if (width > room) {
        text_width(s, n, room - 1, &fits);
        width = text_width(s, fits, 0, NULL) + 1;
        bt_bytes_add(line, s, fits);
        bt_bytes_text(line, "…");
    } else {
        bt_bytes_add(line, s, n);
    }
    pad(line, room - width);
}

static bt_status put_line(bt_writer *w, bt_error *err)
{
    while (w->line.n && w->line.p[w->line.n - 1] == ' ') w->line.n--;
    bt_bytes_add(&w->line, "\n", 1);
    return bt_bytes_write(&w->line, w->write, w->user, err);
}

/* Bytes of s[0..n) that go on a line of `room`: up to the last blank that fits, else as many as fit. */
static size_t line_part(const char *s, size_t n, size_t room)
{
    size_t fits;
    if (text_width(s, n, room, &fits) <= room) return n;
    size_t blank = fits;
    while (blank > 0 && s[blank] != ' ') blank--;
    return blank > 0 ? blank : fits > 0 ? fits : bt_utf8_len(s, n);
}

/* The last column's text, going on below itself. */
static bt_status put_last(bt_writer *w, const bt_column *c, size_t room, const char *s, size_t n,
                          bt_error *err)
{
    const size_t indent = text_width(w->line.p, w->line.n, 0, NULL);
    for (size_t part; n > 0; s += part, n -= part) {
        part = line_part(s, n, room);
        add_cell(&w->line, c, room, s, part);
        while (part < n && s[part] == ' ') part++;
        if (part == n) break;
        BT_TRY(put_line(w, err));
        pad(&w->line, indent);
    }
    return BT_OK;
}

static bt_status put_heading(bt_writer *w, const text_table *t, bt_error *err)
{
    for (int part = 0; part < HEAD_LINES; part++) {
        bool any = false;
        for (size_t i = 0, gap = 0; i < w->n; i++) {
            if (!t->shapes[i].shown) continue;
            const char *s;
            size_t n;
            heading(&w->columns[i], part, &s, &n);
            any = any || n;
            pad(&w->line, gap);
            add_cell(&w->line, &w->columns[i], t->shapes[i].width, s, n);
            gap = GAP;
        }
        if (any)
            BT_TRY(put_line(w, err));
        else
            w->line.n = 0;
    }
    return BT_OK;
}

/* Write the rows held back, header first, and forget them. */
static bt_status put_held(bt_writer *w, text_table *t, bool complete, bt_error *err)
{
    if (!t->laid) {
        lay_out(w, t, complete);
        t->laid = true;
        BT_TRY(put_heading(w, t, err));
    }
    const char *cell = t->held.p;
    const size_t last = last_shown(w, t->shapes);
    for (size_t row = 0; row < t->rows; row++) {
        for (size_t i = 0, gap = 0; i < w->n; i++) {
            const size_t n = strlen(cell);
            if (t->shapes[i].shown) {
                const size_t room = t->shapes[i].width;
                pad(&w->line, gap);
                if (i == last && room >= LAST_MIN && !bt_cell_is_number(&w->columns[i]))
                    BT_TRY(put_last(w, &w->columns[i], room, cell, n, err));
                else
                    add_cell(&w->line, &w->columns[i], room, cell, n);
                gap = GAP;
            }
            cell += n + 1;
        }
        BT_TRY(put_line(w, err));
    }
    t->held.n = t->rows = 0;
    return BT_OK;
}

/* ---- the writer's life ---- */

/* A terminal must not obey what stands in a log: controls become U+FFFD. */
static void hold_cell(bt_writer *w, bt_bytes *held, const bt_column *c)
{
    for (size_t i = 0, len; i < w->cell.n; i += len) {
        const char *s = w->cell.p + i;
        len = bt_utf8_len(s, w->cell.n - i);
        if (is_control(code_point(s, len)))
            bt_bytes_text(held, "\xef\xbf\xbd");
        else if (*s == '.' && w->style.decimal_comma && bt_cell_is_number(c))
            bt_bytes_add(held, ",", 1);
        else
            bt_bytes_add(held, s, len);
    }
    bt_bytes_add(held, "", 1);
}

static void drop(void *own)
{
    text_table *t = own;
    if (!t) return;
    bt_bytes_free(&t->held);
    free(t->shapes);
    free(t);
}

static bt_status begin(bt_writer *w, bt_error *err)
{
    text_table *t = calloc(1, sizeof *t);
    if (t) t->shapes = calloc(w->n, sizeof *t->shapes);
    if (!t || !t->shapes) {
        drop(t);
        return bt_fail(err, BT_NOMEM, "no memory for a text table");
    }
    for (size_t i = 0; i < w->n; i++) t->shapes[i].blank = true;
    w->own = t;
    return BT_OK;
}

static bt_status row(bt_writer *w, const void *data, bt_error *err)
{
    text_table *t = w->own;
    for (size_t i = 0; i < w->n; i++) {
        shape *s = &t->shapes[i];
        const size_t at = t->held.n;
        w->cell.n = 0;
        bt_cell_add(&w->cell, &w->columns[i], data);
        hold_cell(w, &t->held, &w->columns[i]);
        if (w->cell.failed || t->held.failed)
            return bt_fail(err, BT_NOMEM, "no memory for %zu rows of a text table", t->rows);
        if (t->laid) continue;
        const char *cell = t->held.p + at;
        if (t->rows == 0) s->first = at;
        const size_t width = text_width(cell, strlen(cell), 0, NULL);
        if (width > s->width) s->width = width;
        if (width) s->blank = false;
        if (strcmp(cell, t->held.p + s->first) != 0) s->varies = true;
    }
    t->rows++;
    return t->laid || t->rows == BT_TEXT_HELD ? put_held(w, t, false, err) : BT_OK;
}

static bt_status end(bt_writer *w, bt_error *err)
{
    BT_TRY(put_held(w, w->own, true, err));
    if (w->table == BT_TABLE_INSPECT || w->table == BT_TABLE_COLUMNS) return BT_OK;
    bt_bytes_text(&w->line, BT_CAUTION_SHORT "\n");
    return bt_bytes_write(&w->line, w->write, w->user, err);
}

const bt_writer_format bt_text_format = {.header = begin, .row = row, .end = end, .drop = drop};
