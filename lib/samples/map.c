/* The channel map: see map.h.  Which channels there are and whether one comes twice is for `channels`
 * to say. */
#include "samples/map.h"

#include "base/error.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const char *const headers[] = {"channel", "column",    "unit", "scale",
                                      "offset",  "tolerance", "note"};
#define FACTOR_MAX 1e15 /* so that no short cell becomes more than samples take */

enum {
    CHANNEL,
    COLUMN,
    UNIT,
    SCALE,
    OFFSET,
    TOLERANCE,
    HEADERS = sizeof headers / sizeof *headers
};

/* A misspelt "scale" would go unnoticed if unknown columns were passed over. */
static bt_status check_headers(const bt_sheet *sheet, bt_error *err)
{
    for (size_t c = 0; c < sheet->columns; c++) {
        const char *name = bt_sheet_name(sheet, c);
        bool known = *name == '\0';
        for (size_t h = 0; h < HEADERS && !known; h++) known = bt_name_alike(name, headers[h]);
        if (known) continue;
        char quoted[BT_QUOTE_MAX];
        const bt_status status = bt_fail(err, BT_SYNTAX,
                                         "expected channel, column, unit, scale, offset, tolerance "
                                         "or note as header, found '%s'",
                                         bt_quote(quoted, name, strlen(name)));
        return bt_at(err, status, sheet->file, sheet->header_line, c + 1);
    }
    return BT_OK;
}

static bt_status read_row(const bt_sheet *sheet, const size_t col[HEADERS], bt_map_row *row,
                          bt_error *err)
{
    if (*row->channel == '\0' || *row->column == '\0') {
        const size_t blank = *row->channel == '\0' ? CHANNEL : COLUMN;
        return bt_sheet_at(sheet, row->row, col[blank], err,
                           bt_fail(err, BT_SYNTAX, "expected %s, found nothing",
                                   blank == CHANNEL
                                       ? "a channel's name"
                                       : "a column's header, #n, or - for a channel not logged"));
    }
    BT_TRY(bt_sheet_number(sheet, row->row, col[SCALE], &row->scale, err));
    BT_TRY(bt_sheet_number(sheet, row->row, col[OFFSET], &row->offset, err));
    BT_TRY(bt_sheet_number(sheet, row->row, col[TOLERANCE], &row->tolerance, err));
    if (row->scale == 0)
        return bt_sheet_at(sheet, row->row, col[SCALE], err,
                           bt_fail(err, BT_RANGE, "scale: expected another number than 0"));
    const bool scaled = fabs(row->scale) > FACTOR_MAX;
    if (scaled || fabs(row->offset) > FACTOR_MAX)
        return bt_sheet_at(sheet, row->row, col[scaled ? SCALE : OFFSET], err,
                           bt_fail(err, BT_RANGE, "%s: expected at most %g",
                                   headers[scaled ? SCALE : OFFSET], FACTOR_MAX));
    if (row->tolerance < 0)
        return bt_sheet_at(
            sheet, row->row, col[TOLERANCE], err,
            bt_fail(err, BT_RANGE, "tolerance: expected 0 or more, found %g", row->tolerance));
    if (isnan(row->scale)) row->scale = 1;
    if (isnan(row->offset)) row->offset = 0;
    return BT_OK;
}

static bt_status take_sheet(bt_map *map, bt_error *err)
{
    const bt_sheet *sheet = &map->sheet;
    BT_TRY(check_headers(sheet, err));
    size_t col[HEADERS];
    for (size_t h = 0; h < HEADERS; h++) col[h] = bt_sheet_find(sheet, headers[h]);
    BT_TRY(bt_sheet_need(sheet, "channel", &col[CHANNEL], err));
    BT_TRY(bt_sheet_need(sheet, "column", &col[COLUMN], err));
    map->channel_column = col[CHANNEL];
    map->column_column = col[COLUMN];
    map->unit_column = col[UNIT];

    map->row = calloc(sheet->rows + 1, sizeof *map->row);
    if (!map->row) return bt_fail(err, BT_NOMEM, "no memory for %zu rows of a map", sheet->rows);
    for (size_t r = 0; r < sheet->rows; r++) {
        bt_map_row *row = &map->row[map->n];
        *row = (bt_map_row){.channel = bt_sheet_cell(sheet, r, col[CHANNEL]),
                            .column = bt_sheet_cell(sheet, r, col[COLUMN]),
                            .unit = bt_sheet_cell(sheet, r, col[UNIT]),
                            .row = r};
        BT_TRY(read_row(sheet, col, row, err));
        map->n++;
    }
    return BT_OK;
}

static bt_status finish(bt_map **out, bt_map *map, bt_status status, bt_error *err)
{
    if (status == BT_OK) status = take_sheet(map, err);
    if (status != BT_OK) {
        bt_map_free(map);
        return status;
    }
    *out = map;
    return BT_OK;
}

bt_status bt_map_read(bt_map **out, const char *path, bt_error *err)
{
    *out = NULL;
    bt_map *map = calloc(1, sizeof *map);
    if (!map) return bt_fail(err, BT_NOMEM, "no memory for a channel map");
    return finish(out, map, bt_sheet_read(&map->sheet, path, err), err);
}

bt_status bt_map_memory(bt_map **out, const char *file, const void *bytes, size_t n, bt_error *err)
{
    *out = NULL;
    bt_map *map = calloc(1, sizeof *map);
    if (!map) return bt_fail(err, BT_NOMEM, "no memory for a channel map");
    return finish(out, map, bt_sheet_memory(&map->sheet, file, bytes, n, err), err);
}

void bt_map_free(bt_map *map)
{
    if (!map) return;
    bt_sheet_free(&map->sheet);
    free(map->row);
    free(map);
}
