/* A callback for each event of a log that somebody has to look at. */
#include <braketally.h>
#include <math.h>
#include <stdio.h>

static bt_status print(void *user, const bt_event *event, bt_error *err)
{
    (void)user, (void)err;
    if (event->severity < BT_WATCH) return BT_OK;
    const bool lasts = isnan(event->duration); /* a fallback that is certain and not over */
    printf("%.3f s %s%s: %s\n", event->start, event->kind, lasts ? " (lasts)" : "", event->reason);
    return BT_OK; /* BT_STOPPED would end the analysis here */
}

int main(int argc, char **argv)
{
    if (argc != 4) return 2; /* car sheet, channel map, log */
    bt_error err = {0};
    bt_car *car = NULL;
    bt_map *map = NULL;
    bt_status status = bt_car_new(&car, &err);
    if (status == BT_OK) status = bt_car_read(car, argv[1], &err);
    if (status == BT_OK) status = bt_map_read(&map, argv[2], &err);
    if (status == BT_OK) {
        const bt_setup setup = {.car = car, .map = map, .event = print};
        bt_result result;
        status = bt_analyse(argv[3], &setup, &result, &err);
        bt_result_clear(&result);
    }
    if (status != BT_OK) fprintf(stderr, "%s: %s\n", err.file, err.message);
    bt_map_free(map);
    bt_car_free(car);
    return status != BT_OK;
}
