/* The braking zones of a log. */
#include <braketally.h>
#include <stdio.h>

static int fail(const bt_error *err)
{
    fprintf(stderr, "%s:%llu: %s\n", err->file, (unsigned long long)err->line, err->message);
    return 1;
}

int main(int argc, char **argv)
{
    if (argc != 4) return 2; /* car sheet, channel map, log */
    bt_error err = {0};
    bt_car *car = NULL;
    bt_map *map = NULL;
    if (bt_car_new(&car, &err) || bt_car_read(car, argv[1], &err)) return fail(&err);
    if (bt_map_read(&map, argv[2], &err)) return fail(&err);

    bt_result result;
    const bt_setup setup = {.car = car, .map = map};
    const bt_status status = bt_analyse(argv[3], &setup, &result, &err);
    for (size_t i = 0; i < result.n_zones; i++)
        printf("zone %.0f at %.3f s: %.2f m/s2, balance %.1f %%\n", result.zones[i].zone,
               result.zones[i].start, result.zones[i].decel_mean, 100 * result.zones[i].balance);
    bt_result_clear(&result);
    bt_map_free(map);
    bt_car_free(car);
    return status ? fail(&err) : 0;
}
