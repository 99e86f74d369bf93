/* Saved zone tables: see saved.h.  Tables from several machines may stand one behind the
 * other, each with its header, its columns in any order; columns that are not known here
 * are passed over, so that newer tables can be read. */
#include "saved/saved.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "base/error.h"
#include "base/grow.h"
#include "saved/cells.h"

/* ---- figures ---- */

double bt_zone_printed(const bt_zone *row, const bt_column *column)
{
    return bt_cell_printed(column, row);
}

void bt_zone_round(bt_zone *row)
{
    size_t n;
    const bt_column *column = bt_columns(BT_TABLE_ZONES, &n);
    for (size_t i = 0; i < n; i++) {
        if (column[i].kind != BT_CELL_NUMBER) continue;
        const double x = bt_cell_from_printed(&column[i], bt_cell_printed(&column[i], row));
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

/* ---- tables ---- */

/* The columns under the current header. */
typedef struct {
    const bt_column **column;
    size_t n;
} header_map;

/* No run, no zone and no log has these three words for values in one row. */
static bool is_header(const bt_grid *grid, size_t row)
{
    static const char *const words[] = {"run", "zone", "entry_kmh"};
    return bt_saved_header(grid, row, words, 3);
}

static bt_status read_header(header_map *map, const bt_grid *grid, size_t row, bt_error *err)
{
    free(map->column);
    map->n = grid->row[row].fields;
    return bt_saved_columns(BT_TABLE_ZONES, grid, row, &map->column, err);
}

static bt_status read_row(const header_map *map, const bt_grid *grid, size_t row, bool comma,
                          bt_zone *zone, bt_error *err)
{
    bt_row_blank(BT_TABLE_ZONES, zone);
    return bt_saved_row(zone, map->column, map->n, grid, row, comma, err);
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

static bt_status parse(bt_zones *zones, const char *bytes, size_t n, bt_error *err)
{
    bt_grid grid = {0};
    header_map map = {0};
    const char delimiter = bt_saved_delimiter(bytes, n);
    const size_t mark = bt_saved_mark(bytes, n);
    bt_status status =
        bt_grid_read(&grid, bytes + mark, n - mark, 1, delimiter, false, SIZE_MAX, err);
    if (status == BT_OK && grid.open_quote)
        status = bt_fail(err, BT_SYNTAX, "expected a closing quote, found the end of the file");
    if (status == BT_OK) status = add_rows(zones, &grid, delimiter != ',', &map, err);
    if (status == BT_OK && map.n == 0)
        status = bt_fail(err, BT_SYNTAX, "expected a zones table, found nothing");
    free(map.column);
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
    if (status == BT_OK) status = bt_saved_bytes(source, SIZE_MAX, &bytes, &n, err);
    if (status == BT_OK) status = parse(zones, bytes, n, err);
    bt_source_free(source);
    free(bytes);
    return status == BT_OK ? BT_OK : bt_at(err, status, path, 0, 0);
}

enum { HEAD = 65536 };

static bool head_is_table(bt_source *source)
{
    char *bytes = NULL;
    size_t n = 0;
    bt_error ignored = {0};
    bt_grid grid = {0};
    /* A member that the head cuts short has given what is in the head. */
    (void)!bt_saved_bytes(source, HEAD, &bytes, &n, &ignored);
    const size_t mark = bt_saved_mark(bytes, n);
    const bt_status status = bt_grid_read(&grid, bytes + mark, n - mark, 1,
                                          bt_saved_delimiter(bytes, n), n >= HEAD, 1, &ignored);
    const bool saved = status == BT_OK && grid.rows > 0 && is_header(&grid, 0);
    bt_grid_free(&grid);
    free(bytes);
    return saved;
}

bool bt_zones_saved_head(const void *bytes, size_t n)
{
    bt_source *source;
    bt_error ignored = {0};
    const bool saved =
        bt_source_memory(&source, bytes, n, 0, &ignored) == BT_OK && head_is_table(source);
    bt_source_free(source);
    return saved;
}

bool bt_zones_saved(const char *path)
{
    struct stat there;
    if (strcmp(path, "-") == 0) return true;
    if (stat(path, &there) == 0 && S_ISFIFO(there.st_mode)) return true;
    bt_source *source;
    bt_error ignored = {0};
    const bool saved = bt_source_open(&source, path, &ignored) == BT_OK && head_is_table(source);
    bt_source_free(source);
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
