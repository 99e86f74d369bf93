/* Cells of saved tables: see cells.h. */
#include "saved/cells.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/columns.h"
#include "base/grow.h"
#include "base/number.h"

/* ---- bytes ---- */

bt_status bt_saved_bytes(bt_source *source, size_t most, char **bytes, size_t *n, bt_error *err)
{
    size_t cap = 0;
    for (*n = 0; *n < most;) {
        void *grown = *bytes;
        BT_TRY(bt_grow(&grown, &cap, *n + 65536, 1, "bytes", err));
        *bytes = grown;
        size_t got;
        BT_TRY(bt_source_read(source, *bytes + *n, cap - *n, &got, err));
        if (got == 0) break;
        *n += got;
    }
    if (bt_source_truncated(source) && *n < most)
        return bt_fail(err, BT_READ, "expected the whole table, found a gzip member cut short");
    return BT_OK;
}

size_t bt_saved_mark(const char *bytes, size_t n)
{
    return n >= 3 && memcmp(bytes, "\xef\xbb\xbf", 3) == 0 ? 3 : 0;
}

char bt_saved_delimiter(const char *bytes, size_t n)
{
    size_t count[3] = {0}, best = 0, i = 0;
    while (i < n && (bytes[i] == '\n' || bytes[i] == '\r')) i++;
    for (; i < n && bytes[i] != '\n' && bytes[i] != '\r'; i++)
        for (size_t k = 0; k < 3; k++) count[k] += bytes[i] == ",;\t"[k];
    for (size_t k = 1; k < 3; k++)
        if (count[k] > count[best]) best = k;
    return ",;\t"[best];
}

/* ---- headers ---- */

/* Where tables stand one behind the other, each may have its own. */
static const char *without_mark(const char *text)
{
    return text + bt_saved_mark(text, strlen(text));
}

bool bt_saved_header(const bt_grid *grid, size_t row, const char *const *words, unsigned n)
{
    uint32_t found = 0;
    for (size_t i = 0; i < grid->row[row].fields; i++)
        for (unsigned k = 0; k < n; k++)
            if (strcmp(without_mark(bt_grid_cell(grid, row, i)), words[k]) == 0) found |= 1u << k;
    return found == (1u << n) - 1;
}

static const bt_column *column_named(bt_table_kind table, const char *name)
{
    size_t n;
    const bt_column *column = bt_columns(table, &n);
    for (size_t i = 0; i < n; i++)
        if (strcmp(column[i].name, name) == 0) return &column[i];
    return NULL;
}

bt_status bt_saved_columns(bt_table_kind table, const bt_grid *grid, size_t row,
                           const bt_column ***out, bt_error *err)
{
    const size_t n = grid->row[row].fields;
    const bt_column **column = calloc(n + 1, sizeof(const bt_column *));
    *out = column;
    if (!column) return bt_fail(err, BT_NOMEM, "no memory for %zu columns", n);
    for (size_t i = 0; i < n; i++) {
        column[i] = column_named(table, without_mark(bt_grid_cell(grid, row, i)));
        for (size_t k = 0; k < i && column[i]; k++)
            if (column[k] == column[i]) {
                bt_fail(err, BT_SYNTAX, "expected each column once, found '%s' twice",
                        column[i]->name);
                return bt_at(err, BT_SYNTAX, NULL, grid->row[row].line, i + 1);
            }
    }
    return BT_OK;
}

/* ---- cells ---- */

double bt_cell_from_printed(const bt_column *column, double printed)
{
    return printed / column->factor + column->shift;
}

double bt_cell_printed(const bt_column *column, const void *row)
{
    double x, printed = NAN;
    char cell[BT_NUMBER_MAX];
    memcpy(&x, (const char *)row + column->offset, sizeof x);
    const size_t n =
        bt_number_format(cell, sizeof cell, (x - column->shift) * column->factor, column->decimals);
    (void)bt_number_parse(cell, n, '.', &printed);
    return printed;
}

/* The writer puts a ' before text that a spreadsheet would run as a formula. */
static const char *without_guard(const char *text)
{
    return text[0] == '\'' && text[1] && strchr("=+-@\t\r", text[1]) ? text + 1 : text;
}

static uint32_t flags_of(const char *words)
{
    uint32_t flags = 0;
    while (*words) {
        const size_t n = strcspn(words, " ");
        for (unsigned bit = 0; bit < BT_FLAG_COUNT; bit++)
            if (strlen(bt_flag_word(bit)) == n && memcmp(bt_flag_word(bit), words, n) == 0)
                flags |= (uint32_t)1 << bit;
        words += n;
        words += *words == ' ';
    }
    return flags;
}

static bt_status set_number(void *row, const bt_column *column, const char *text, bool comma,
                            bt_error *err)
{
    double printed;
    char quoted[BT_QUOTE_MAX];
    const size_t n = strlen(text);
    bt_cell_result got = bt_number_parse(text, n, '.', &printed);
    /* Tables are written without thousands marks: a comma in a number is a decimal one. */
    if (got == BT_CELL_BAD && comma) got = bt_number_parse(text, n, ',', &printed);
    if (got == BT_CELL_BAD)
        return bt_fail(err, BT_SYNTAX, "%s: expected a number, found '%s'", column->name,
                       bt_quote(quoted, text, n));
    const double x = bt_cell_from_printed(column, printed);
    memcpy((char *)row + column->offset, &x, sizeof x);
    return BT_OK;
}

static bt_status set_cell(void *row, const bt_column *column, const char *text, bool comma,
                          bt_error *err)
{
    char *member = (char *)row + column->offset;
    if (column->kind == BT_CELL_NUMBER) return set_number(row, column, text, comma, err);
    if (column->kind == BT_CELL_FLAGS) {
        const uint32_t flags = flags_of(text);
        memcpy(member, &flags, sizeof flags);
    } else if (column->kind == BT_CELL_TEXT) {
        const char *from = without_guard(text);
        const size_t n = strlen(from), most = column->size - 1;
        memcpy(member, from, n < most ? n : most);
        member[n < most ? n : most] = '\0';
    }
    return BT_OK;
}

bt_status bt_saved_row(void *row, const bt_column *const *column, size_t fields,
                       const bt_grid *grid, size_t at, bool comma, bt_error *err)
{
    const bt_grid_row *line = &grid->row[at];
    for (size_t i = 0; i < line->fields; i++) {
        const char *text = bt_grid_cell(grid, at, i);
        if (i >= fields && text[0] != '\0') {
            bt_fail(err, BT_SYNTAX, "expected %zu cells as in the header, found %zu", fields,
                    line->fields);
            return bt_at(err, BT_SYNTAX, NULL, line->line, 0);
        }
        if (i >= fields || !column[i]) continue;
        const bt_status status = set_cell(row, column[i], text, comma, err);
        if (status != BT_OK) return bt_at(err, status, NULL, line->line, i + 1);
    }
    return BT_OK;
}
