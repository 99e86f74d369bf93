/* Fuzz target: any bytes as a channel map, laid over the columns of a fixed log.
 *
 * The map holds nothing but finite numbers, and every channel bound to a column has one of the log's. */
#include "samples/map.h"

#include <math.h>

#include "samples/channels.h"
#include "support.h"

static const char log_head[] =
    "time [s],speed [km/h],pedal_front (bar),Line rear [bar],Line rear,x,#7,state\n"
    "0,100,3,2,1,0,5,1\n0.01,99,3,2,1,0,5,1\n0.02,98,3,2,1,0,5,1\n";

static void check_map(const bt_map *map)
{
    for (size_t i = 0; i < map->n; i++) {
        const bt_map_row *row = &map->row[i];
        must(row->channel && row->channel[0] && row->column && row->column[0] && row->unit);
        must(isfinite(row->scale) && isfinite(row->offset) && row->scale * row->scale > 0);
        must(!(row->tolerance < 0) && !isinf(row->tolerance) && row->row < map->sheet.rows);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    bt_error err = {0};
    bt_map *map = NULL;
    const bt_status status = bt_map_memory(&map, "map.csv", data, n, &err);
    must_explain(status, &err);
    must((status == BT_OK) == (map != NULL));
    if (!map) return 0;
    check_map(map);

    bt_dialect dialect;
    bt_car *car;
    const bt_setup setup = {.map = map};
    must(bt_dialect_sniff(&dialect, log_head, sizeof log_head - 1, true, NULL, NULL) == BT_OK);
    if (bt_car_new(&car, NULL) != BT_OK) abort();
    bt_channels channels;
    must_explain(bt_channels_bind(&channels, &dialect, NULL, map, car, &setup, &err), &err);
    bt_car_free(car);
    bt_dialect_free(&dialect);
    bt_map_free(map);
    return 0;
}
