/* What holds of anything that is written: it is UTF-8; CSV is a rectangle in which no text would run as a
 * formula, a line of JSON an object, and markup has its tags closed in turn and its texts escaped. */
#ifndef BT_FUZZ_OUTPUT_H
#define BT_FUZZ_OUTPUT_H

#include "base/text.h"
#include "out/terminal.h"
#include "rows/grid.h"

#include "support.h"

/* Bytes that were written, with a NUL behind them.  Zeroed = none. */
typedef struct {
    char *p;
    size_t n, room;
} output;

static inline bt_status keep(void *user, const char *bytes, size_t n, bt_error *err)
{
    (void)err;
    output *o = user;
    if (o->room - o->n < n + 1) {
        o->room = 2 * (o->n + n + 1);
        o->p = realloc(o->p, o->room);
        must(o->p);
    }
    memcpy(o->p + o->n, bytes, n);
    o->n += n;
    o->p[o->n] = '\0';
    return BT_OK;
}

static inline void output_free(output *o)
{
    free(o->p);
    *o = (output){0};
}

static inline void check_utf8(const output *o)
{
    must(o->n == 0 || strlen(o->p) == o->n);
    must(bt_utf8_valid(o->p, o->n, false) == o->n);
}

/* ---- tables ---- */

static inline void check_csv(const output *o, char delimiter, const bt_column *column,
                             size_t columns)
{
    bt_grid grid;
    check_utf8(o);
    must(bt_grid_read(&grid, o->p, o->n, 1, delimiter, false, SIZE_MAX, NULL) == BT_OK);
    must(grid.rows >= 1 && !grid.open_quote && o->p[o->n - 1] == '\n');
    for (size_t row = 0; row < grid.rows; row++) {
        must(grid.row[row].fields == columns);
        for (size_t c = 0; row > 0 && c < columns; c++) {
            const char *cell = bt_grid_cell(&grid, row, c);
            if (column[c].kind != BT_CELL_NUMBER) must(!*cell || !strchr("=+-@\t\r", *cell));
            if (column[c].kind == BT_CELL_NUMBER)
                must(strspn(cell, "-0123456789.,") == strlen(cell));
        }
    }
    bt_grid_free(&grid);
}

static inline const char *skip_string(const char *p)
{
    must(*p++ == '"');
    for (; *p != '"'; p++) {
        must((unsigned char)*p >= ' ');
        if (*p != '\\') continue;
        must(*++p && strchr("\"\\/bfnrtu", *p));
        if (*p == 'u') must(strspn(p + 1, "0123456789abcdef") >= 4);
    }
    return p + 1;
}

/* As JSON writes numbers: no needless nought in front, digits on both sides of a point. */
static inline const char *skip_number(const char *p)
{
    if (*p == '-') p++;
    const size_t whole = strspn(p, "0123456789");
    must(whole == 1 || (whole > 1 && *p != '0'));
    p += whole;
    if (*p != '.') return p;
    const size_t decimals = strspn(++p, "0123456789");
    must(decimals > 0);
    return p + decimals;
}

static inline void check_json(const output *o, size_t columns)
{
    check_utf8(o);
    for (const char *p = o->p; p && *p; p++) {
        must(*p++ == '{');
        for (size_t c = 0; c < columns; c++) {
            if (c > 0) must(*p++ == ',');
            p = skip_string(p);
            must(*p++ == ':');
            if (strncmp(p, "null", 4) == 0)
                p += 4;
            else
                p = *p == '"' ? skip_string(p) : skip_number(p);
        }
        must(*p++ == '}');
        must(*p == '\n');
    }
}

static inline void check_lines(const output *o, size_t width)
{
    check_utf8(o);
    for (const char *p = o->p; p && *p;) {
        const size_t n = strcspn(p, "\n");
        for (size_t i = 0; i < n; i++) must((unsigned char)p[i] >= ' ' && p[i] != 0x7f);
        must(bt_terminal_width(p, n, SIZE_MAX, NULL) <= width);
        p += n + (p[n] == '\n');
    }
}

/* ---- markup ---- */

enum { MARKUP_DEEP = 40 };

/* Text up to the next tag: nothing but entities begins with an ampersand. */
static inline const char *skip_text(const char *p)
{
    for (; *p && *p != '<'; p++) {
        must(*p != '>');
        if (*p == '&') must(strcspn(p, ";") < 8 && strcspn(p + 1, "&<> ") > strcspn(p, ";") - 1);
    }
    return p;
}

/* The attributes of a tag, up to its end; *closed tells whether it is its own end. */
static inline const char *skip_attributes(const char *p, bool *closed)
{
    while (*p != '>' && *p != '/') {
        must(*p++ == ' ');
        const size_t name = strcspn(p, " =>/<\"");
        must(name > 0);
        p += name;
        if (*p != '=') continue;
        must(*++p == '"');
        for (p++; *p != '"'; p++) must(*p && *p != '<' && *p != '>');
        p++;
    }
    *closed = *p == '/';
    p += *closed;
    must(*p == '>');
    return p + 1;
}

static inline bool is_void(const char *name, size_t n)
{
    static const char *const names[] = {"meta", "link", "br", "hr", "img", "col", "input"};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++)
        if (strlen(names[i]) == n && strncmp(name, names[i], n) == 0) return true;
    return false;
}

static inline void check_markup(const output *o)
{
    struct {
        const char *name;
        size_t n;
    } open[MARKUP_DEEP];
    size_t deep = 0;
    check_utf8(o);
    const char *p = o->p;
    if (strncmp(p, "<!", 2) == 0) p = strchr(p, '>') + 1;
    for (p = skip_text(p); *p; p = skip_text(p)) {
        const bool end = *++p == '/';
        p += end;
        const char *name = p;
        const size_t n = strcspn(p, " />");
        must(n > 0 && n < 20);
        p += n;
        if (end) {
            must(deep > 0 && open[deep - 1].n == n && strncmp(open[deep - 1].name, name, n) == 0);
            deep--;
            must(*p++ == '>');
            continue;
        }
        bool closed;
        p = skip_attributes(p, &closed);
        must(!(n == 6 && strncmp(name, "script", 6) == 0));
        if (n == 5 && strncmp(name, "style", 5) == 0) p = strstr(p, "</style>");
        must(p);
        if (closed || is_void(name, n)) continue;
        must(deep < MARKUP_DEEP);
        open[deep].name = name;
        open[deep++].n = n;
    }
    must(deep == 0);
}

#endif
