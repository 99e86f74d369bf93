/* A callback for each event of a log that somebody has to look at. */
#include <braketally.h>
#include <stdio.h>

typedef void on_event(void *user, const bt_event *event);

static bt_status watch(const char *log, const bt_setup *setup, on_event *call, void *user,
                       bt_error *err)
{
    bt_result result;
    const bt_status status = bt_analyse(log, setup, &result, err);
    /* A cause that lasts is one event: how long is known at the end, so they come then, by time. */
    for (size_t i = 0; i < result.n_events; i++)
        if (result.events[i].severity >= BT_WATCH) call(user, &result.events[i]);
    bt_result_clear(&result);
    return status;
}

static void print(void *user, const bt_event *event)
{
    fprintf(user, "%.3f s %s: %s\n", event->start, event->kind, event->reason);
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
    const bt_setup setup = {.car = car, .map = map};
    if (status == BT_OK) status = watch(argv[3], &setup, print, stdout, &err);
    if (status != BT_OK) fprintf(stderr, "%s: %s\n", err.file, err.message);
    bt_map_free(map);
    bt_car_free(car);
    return status != BT_OK;
}
