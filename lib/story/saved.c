/* Saved zone tables: see saved.h.  Tables from several machines may stand one behind the
 * other, each with its header, its columns in any order; columns that are not known here
 * are passed over, so that newer tables can be read. */
#include "story/saved.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "base/columns.h"
#include "rows/dialect.h"
#include "rows/grid.h"
#include "base/grow.h"
#include "base/number.h"
#include "rows/source.h"

/* ---- cells ---- */

static double from_printed(const bt_column *column, double printed)
{
    return printed / column->factor + column->shift;
}

double bt_zone_printed(const bt_zone *row, const bt_column *column)
{
    double x, printed = NAN;
    char cell[BT_NUMBER_MAX];
    memcpy(&x, (const char *)row + column->offset, sizeof x);
    const size_t n =
        bt_number_format(cell, sizeof cell, (x - column->shift) * column->factor, column->decimals);
    (void)bt_number_parse(cell, n, '.', &printed);
    return printed;
}

void bt_zone_round(bt_zone *row)
{
    size_t n;
    const bt_column *column = bt_columns(BT_TABLE_ZONES, &n);
    for (size_t i = 0; i < n; i++) {
        if (column[i].kind != BT_CELL_NUMBER) continue;
        const double x = from_printed(&column[i], bt_zone_printed(row, &column[i]));
        memcpy((char *)row + column[i].offset, &x, sizeof x);
    }
}

const bt_column *bt_zone_column(const char *name)
{
    size_t n;
    const bt_column *column = bt_columns(BT_TABLE_ZONES, &n);
    for (size_t i = 0; i < n; i++)
        if (column[i].kind == BT_CELL_NUMBER && strcmp(column[i].name, name) == 0)
            return &column[i];
    return NULL;
}

bt_status bt_next_figure(const char **list, const bt_column **figure, bt_error *err)
{
    enum { NAMES = 128 };
    char name[64], quoted[BT_QUOTE_MAX];
    const char *names[NAMES];
    const size_t n = strcspn(*list, ",");
    snprintf(name, sizeof name, "%.*s", (int)(n < sizeof name ? n : sizeof name - 1), *list);
    *list = (*list)[n] == ',' ? *list + n + 1 : NULL;
    *figure = bt_zone_column(name);
    if (*figure) return BT_OK;
    size_t columns, known = 0;
    const bt_column *column = bt_columns(BT_TABLE_ZONES, &columns);
    for (size_t i = 0; i < columns && known < NAMES; i++)
        if (column[i].kind == BT_CELL_NUMBER) names[known++] = column[i].name;
    const char *near = bt_nearest(name, names, known);
    return bt_fail(err, BT_RANGE, "expected a number column of the zones table, found '%s'%s%s%s",
                   bt_quote(quoted, name, strlen(name)), near ? "; did you mean '" : "",
                   near ? near : "", near ? "'?" : "");
}

bt_status bt_figures_check(const char *of, bt_error *err)
{
    const bt_column *figure;
    while (of) BT_TRY(bt_next_figure(&of, &figure, err));
    return BT_OK;
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

static bt_status set_cell(bt_zone *row, const bt_column *column, const char *text, bool comma,
                          bt_error *err)
{
    char *member = (char *)row + column->offset;
    if (column->kind == BT_CELL_TEXT) {
        const char *from = without_guard(text);
        const size_t n = strlen(from), most = column->size - 1;
        memcpy(member, from, n < most ? n : most);
        member[n < most ? n : most] = '\0';
    } else if (column->kind == BT_CELL_FLAGS) {
        const uint32_t flags = flags_of(text);
        memcpy(member, &flags, sizeof flags);
    } else {
        double printed;
        char quoted[BT_QUOTE_MAX];
        const size_t n = strlen(text);
        bt_cell_result got = bt_number_parse(text, n, '.', &printed);
        /* Tables are written without thousands marks: a comma in a number is a decimal one. */
        if (got == BT_CELL_BAD && comma) got = bt_number_parse(text, n, ',', &printed);
        if (got == BT_CELL_BAD)
            return bt_fail(err, BT_SYNTAX, "%s: expected a number, found '%s'", column->name,
                           bt_quote(quoted, text, n));
        const double x = from_printed(column, printed);
        memcpy(member, &x, sizeof x);
    }
    return BT_OK;
}

/* ---- tables ---- */

/* Which column of the zones table each field of the current header is; NULL = passed over. */
typedef struct {
    const bt_column *column;
} header_field;
typedef struct {
    header_field *field;
    size_t n, cap;
} header_map;

static const char *without_mark(const char *text)
{
    return strncmp(text, "\xef\xbb\xbf", 3) == 0 ? text + 3 : text;
}

static const bt_column *column_named(const char *name)
{
    size_t n;
    const bt_column *column = bt_columns(BT_TABLE_ZONES, &n);
    for (size_t i = 0; i < n; i++)
        if (strcmp(column[i].name, name) == 0) return &column[i];
    return NULL;
}

/* No run, no zone and no log has these three words for values in one row. */
static bool is_header(const bt_grid *grid, size_t row)
{
    static const char *const words[] = {"run", "zone", "entry_kmh"};
    unsigned found = 0;
    for (size_t i = 0; i < grid->row[row].fields; i++)
        for (unsigned k = 0; k < 3; k++)
            if (strcmp(without_mark(bt_grid_cell(grid, row, i)), words[k]) == 0) found |= 1u << k;
    return found == 7;
}

static bt_status read_header(header_map *map, const bt_grid *grid, size_t row, bt_error *err)
{
    void *field = map->field;
    const size_t n = grid->row[row].fields;
    BT_TRY(bt_grow(&field, &map->cap, n, sizeof *map->field, "columns", err));
    map->field = field;
    map->n = n;
    for (size_t i = 0; i < n; i++) {
        map->field[i].column = column_named(without_mark(bt_grid_cell(grid, row, i)));
        for (size_t k = 0; k < i && map->field[i].column; k++)
            if (map->field[k].column == map->field[i].column) {
                bt_fail(err, BT_SYNTAX, "expected each column once, found '%s' twice",
                        map->field[i].column->name);
                return bt_at(err, BT_SYNTAX, NULL, grid->row[row].line, i + 1);
            }
    }
    return BT_OK;
}

static bt_status read_row(const header_map *map, const bt_grid *grid, size_t row, bool comma,
                          bt_zone *zone, bt_error *err)
{
    const bt_grid_row *line = &grid->row[row];
    bt_row_blank(BT_TABLE_ZONES, zone);
    zone->decel_sys = zone->decel_rnd = zone->balance_sys = zone->balance_rnd = NAN;
    zone->motor_share_u = zone->blend_u = zone->blend_sys = zone->blend_rnd = NAN;
    for (size_t i = 0; i < line->fields; i++) {
        const char *text = bt_grid_cell(grid, row, i);
        if (i >= map->n && text[0] != '\0') {
            bt_fail(err, BT_SYNTAX, "expected %zu cells as in the header, found %zu", map->n,
                    line->fields);
            return bt_at(err, BT_SYNTAX, NULL, line->line, 0);
        }
        if (i >= map->n || !map->field[i].column) continue;
        const bt_status status = set_cell(zone, map->field[i].column, text, comma, err);
        if (status != BT_OK) return bt_at(err, status, NULL, line->line, i + 1);
    }
    return BT_OK;
}

static bt_status add_rows(bt_zones *zones, const bt_grid *grid, bool comma, header_map *map,
                          bt_error *err)
{
    for (size_t row = 0; row < grid->rows; row++) {
        if (is_header(grid, row)) {
            BT_TRY(read_header(map, grid, row, err));
            continue;
        }
        if (map->n == 0) {
            bt_fail(err, BT_SYNTAX,
                    "expected a zones table, its header with run, zone and entry_kmh");
            return bt_at(err, BT_SYNTAX, NULL, grid->row[row].line, 0);
        }
        bt_zone zone;
        BT_TRY(read_row(map, grid, row, comma, &zone, err));
        BT_TRY(bt_zones_add(zones, &zone, 1, err));
    }
    return BT_OK;
}

/* ---- bytes ---- */

/* All bytes of a source, or the first `most`; *bytes is the caller's to free. */
static bt_status read_bytes(bt_source *source, size_t most, char **bytes, size_t *n, bt_error *err)
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

/* The delimiter that the first line has most of. */
static char delimiter_of(const char *bytes, size_t n)
{
    size_t count[3] = {0}, best = 0, i = 0;
    while (i < n && (bytes[i] == '\n' || bytes[i] == '\r')) i++;
    for (; i < n && bytes[i] != '\n' && bytes[i] != '\r'; i++)
        for (size_t k = 0; k < 3; k++) count[k] += bytes[i] == ",;\t"[k];
    for (size_t k = 1; k < 3; k++)
        if (count[k] > count[best]) best = k;
    return ",;\t"[best];
}

static bt_status parse(bt_zones *zones, const char *bytes, size_t n, bt_error *err)
{
    bt_grid grid = {0};
    header_map map = {0};
    const char delimiter = delimiter_of(bytes, n);
    bt_status status = bt_grid_read(&grid, bytes, n, 1, delimiter, false, SIZE_MAX, err);
    if (status == BT_OK && grid.open_quote)
        status = bt_fail(err, BT_SYNTAX, "expected a closing quote, found the end of the file");
    if (status == BT_OK) status = add_rows(zones, &grid, delimiter != ',', &map, err);
    if (status == BT_OK && map.n == 0)
        status = bt_fail(err, BT_SYNTAX, "expected a zones table, found nothing");
    free(map.field);
    bt_grid_free(&grid);
    return status;
}

bt_status bt_zones_read(bt_zones *zones, const char *path, bt_error *err)
{
    bt_error own = {0};
    if (!err) err = &own;
    bt_source *source;
    char *bytes = NULL;
    size_t n = 0;
    bt_status status = bt_source_open(&source, path, err);
    if (status == BT_OK) status = read_bytes(source, SIZE_MAX, &bytes, &n, err);
    if (status == BT_OK) status = parse(zones, bytes, n, err);
    bt_source_free(source);
    free(bytes);
    return status == BT_OK ? BT_OK : bt_at(err, status, path, 0, 0);
}

bool bt_zones_saved(const char *path)
{
    enum { HEAD = 65536 };
    struct stat there;
    if (strcmp(path, "-") == 0) return true;
    if (stat(path, &there) == 0 && S_ISFIFO(there.st_mode)) return true;
    bt_source *source;
    char *bytes = NULL;
    size_t n = 0;
    bt_error ignored = {0};
    bool saved = false;
    if (bt_source_open(&source, path, &ignored) == BT_OK) {
        bt_grid grid = {0};
        if (read_bytes(source, HEAD, &bytes, &n, &ignored) == BT_OK &&
            bt_grid_read(&grid, bytes, n, 1, delimiter_of(bytes, n), n >= HEAD, 1, &ignored) ==
                BT_OK)
            saved = grid.rows > 0 && is_header(&grid, 0);
        bt_grid_free(&grid);
    }
    bt_source_free(source);
    free(bytes);
    return saved;
}

/* ---- rows ---- */

bt_status bt_zones_add(bt_zones *zones, const bt_zone *rows, size_t n, bt_error *err)
{
    if (n == 0) return BT_OK;
    void *row = zones->row;
    BT_TRY(bt_grow(&row, &zones->cap, zones->n + n, sizeof *zones->row, "zones", err));
    zones->row = row;
    for (size_t i = 0; i < n; i++) {
        bt_zone *to = &zones->row[zones->n++];
        *to = rows[i];
        bt_zone_round(to);
    }
    return BT_OK;
}

void bt_zones_free(bt_zones *zones)
{
    free(zones->row);
    *zones = (bt_zones){0};
}
