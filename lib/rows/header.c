/* Headers: see header.h. */
#include "rows/header.h"

#include "base/number.h"
#include "base/units.h"

#include <string.h>

enum { LOOK_AT = 20, DECIMAL_ROWS = 1000 };

typedef enum { BLANK, NUMBER, TIME, NAME } kind;

/* A clock time, a date or both: digits with two dashes or a colon. */
static bool is_time(const char *s)
{
    const char *const colon = strchr(s, ':'), *const dash = strchr(s, '-');
    return *s >= '0' && *s <= '9' && s[strspn(s, "0123456789:.,-+/TZ ")] == '\0' &&
           (colon || (dash && strchr(dash + 1, '-')));
}

static bool is_number(const char *s, char decimal)
{
    double x;
    return bt_number_parse(s, strlen(s), decimal, &x) == BT_CELL_VALUE;
}

static kind kind_of(const char *s, char decimal)
{
    if (bt_number_blank(s, strlen(s))) return BLANK;
    if (decimal ? is_number(s, decimal) : is_number(s, '.') || is_number(s, ',')) return NUMBER;
    return is_time(s) ? TIME : NAME;
}

typedef struct {
    size_t blanks, values, names; /* values: numbers and times */
    size_t fields;                /* up to the last that is not empty */
} census;

static census count(const bt_grid *g, size_t row, char decimal)
{
    census c = {0};
    for (size_t i = 0; i < g->row[row].fields; i++) {
        const char *cell = bt_grid_cell(g, row, i);
        const kind k = kind_of(cell, decimal);
        if (*cell) c.fields = i + 1;
        if (k == BLANK)
            c.blanks++;
        else if (k == NAME)
            c.names++;
        else
            c.values++;
    }
    return c;
}

/* How strictly to look. */
typedef struct {
    char decimal;
    bool all;   /* every row must be data, not just 4 in 5 */
    bool texts; /* rows that are mostly text will do if they have a number (time,state,gear) */
} rules;

static bool is_data(const census *c, const rules *how)
{
    return c->values > 0 && (how->texts || c->names <= c->values + c->blanks);
}

/* A row of units: most of what it says are known units or stands in brackets, and it is
 * not just numbers (a 1 is a unit too). */
static bool is_units(const bt_grid *g, size_t row)
{
    size_t units = 0, others = 0;
    bool letters = false;
    for (size_t i = 0; i < g->row[row].fields; i++) {
        const char *s = bt_grid_cell(g, row, i);
        const size_t n = strlen(s);
        if (n == 0) continue;
        const bool bracket =
            n >= 2 && ((s[0] == '[' && s[n - 1] == ']') || (s[0] == '(' && s[n - 1] == ')'));
        if (bracket || bt_unit_find(s, n, BT_DIM_ANY))
            units++;
        else if (is_number(s, '.') || is_number(s, ','))
            return false;
        else
            others++;
        letters = letters || s[strspn(s, "-0123456789.,")] != '\0';
    }
    return letters && units > others;
}

/* Are the rows from `row` on (LOOK_AT at most) data of at most `columns` columns?  The
 * first must be.  *values = cells with a value in them. */
static bool data_from(const bt_grid *g, size_t row, size_t columns, const rules *how,
                      size_t *values)
{
    size_t good = 0, looked = 0;
    *values = 0;
    for (size_t i = row; i < g->rows && looked < LOOK_AT; i++, looked++) {
        const census c = count(g, i, how->decimal);
        if (is_data(&c, how) && c.fields <= columns) {
            good++;
            *values += c.values;
        } else if (i == row || how->all) {
            return false;
        }
    }
    return good > 0 && good * 5 >= looked * 4;
}

static bool header_at(const bt_grid *g, size_t h, const rules *how, bt_header *out)
{
    const census c = count(g, h, how->decimal);
    if (c.names <= c.values || (how->texts && c.values > 0)) return false;
    const size_t fields = g->row[h].fields;
    size_t values, values_behind;
    const bool below = data_from(g, h + 1, fields, how, &values);
    const bool behind = data_from(g, h + 2, fields, how, &values_behind);
    if (!below && !behind) return false; /* before units are looked up, which takes long */
    const bool units = is_units(g, h + 1);
    if (!(units ? behind : below)) return false;
    *out = units ? (bt_header){true, h, h + 1, h + 2, c.fields, values_behind, h + 2}
                 : (bt_header){true, h, BT_NO_ROW, h + 1, c.fields, values, h + 1};
    return true;
}

/* A log without header: numbers from the first row on, but for lines that start with #. */
static bool headerless(const bt_grid *g, const rules *how, bt_header *out)
{
    size_t row = 0, values;
    while (row < g->rows && bt_grid_cell(g, row, 0)[0] == '#') row++;
    if (row == g->rows || !data_from(g, row, g->row[row].fields, how, &values)) return false;
    const census first = count(g, row, how->decimal);
    *out = (bt_header){true, BT_NO_ROW, BT_NO_ROW, row, first.fields, values, row};
    return true;
}

bt_header bt_header_find(const bt_grid *g, char decimal)
{
    bt_header found = {.header = BT_NO_ROW, .numbers = BT_NO_ROW};
    /* The strictest first: free lines such as "Run,3" look like data, but names follow. */
    const rules looks[] = {{decimal, true, false}, {decimal, true, true}, {decimal, false, false}};
    for (size_t i = 0; i < sizeof looks / sizeof *looks; i++)
        for (size_t h = 0; h + 1 < g->rows; h++)
            if (header_at(g, h, &looks[i], &found)) return found;
    if (headerless(g, &looks[2], &found)) return found;
    for (size_t row = 0; row < g->rows && found.numbers == BT_NO_ROW; row++) {
        size_t values;
        if (data_from(g, row, SIZE_MAX, &looks[0], &values)) found.numbers = row;
    }
    return found;
}

char bt_header_decimal(const bt_grid *g, size_t data)
{
    size_t points = 0, commas = 0;
    for (size_t row = data; row < g->rows && row < data + DECIMAL_ROWS; row++)
        for (size_t i = 0; i < g->row[row].fields; i++) {
            const char *cell = bt_grid_cell(g, row, i);
            const bool point = is_number(cell, '.'), comma = is_number(cell, ',');
            points += point && !comma;
            commas += comma && !point;
        }
    return commas > points ? ',' : '.';
}

bool bt_header_text_column(const bt_grid *g, size_t data, size_t column)
{
    size_t looked = 0, names = 0;
    for (size_t row = data; row < g->rows && looked < LOOK_AT; row++, looked++)
        names += kind_of(bt_grid_cell(g, row, column), 0) == NAME;
    return names * 2 > looked;
}
