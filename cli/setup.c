/* What stands beside the line: the car sheet, single quantities, the channel map. */
#include "cli.h"

int setup_read(cli *c)
{
    bt_error err = {0};
    bt_status status = bt_car_new(&c->car, &err);
    if (status == BT_OK && c->car_path) status = bt_car_read(c->car, c->car_path, &err);
    if (status != BT_OK) return say_error(&err, c->car_path, EXIT_USAGE);
    for (int i = 0; i < c->n_sets; i++)
        if (bt_car_set(c->car, c->sets[i], &err) != BT_OK)
            return say_error(&err, "--set", EXIT_USAGE);
    if (c->map_path && bt_map_read(&c->map, c->map_path, &err) != BT_OK)
        return say_error(&err, c->map_path, EXIT_USAGE);
    c->setup.car = c->car;
    c->setup.map = c->map;
    return 0;
}

void setup_free(cli *c)
{
    bt_car_free(c->car);
    bt_map_free(c->map);
    c->car = NULL;
    c->map = NULL;
}
