/* What opens and closes braking zones: see trigger.h. */
#include "zones/trigger.h"

#include "samples/samples.h"

/* A pedal without pressure: the trigger of SAE J299 (22 N, 2 mm; CHECKS 3) opens, half of it
 * closes, as with the pressures. */
#define ON_FORCE  22.0 /* N */
#define ON_TRAVEL 2e-3 /* m */
#define OFF_SHARE 0.5

static bt_channel choose_pedal(const bt_channels *channels)
{
    static const bt_channel order[] = {BT_CH_PEDAL_FRONT, BT_CH_PEDAL_REAR, BT_CH_PEDAL_FORCE,
                                       BT_CH_PEDAL_TRAVEL, BT_CH_LINE_FRONT};
    for (size_t i = 0; i < sizeof order / sizeof *order; i++)
        if (bt_channels_has(channels, order[i])) return order[i];
    return BT_CH_COUNT;
}

/* A zone that closes above where it opens would never end. */
static bt_status check_levels(const bt_car *car, bt_error *err)
{
    static const struct {
        bt_car_quantity on, off;
        double unit;
        const char *label;
    } pair[] = {{BT_CAR_ZONE_ON, BT_CAR_ZONE_OFF, 1e5, "bar"},
                {BT_CAR_ZONE_ON_DECEL, BT_CAR_ZONE_OFF_DECEL, 1, "m/s2"}};
    for (size_t i = 0; i < sizeof pair / sizeof *pair; i++) {
        const double on = car->value[pair[i].on], off = car->value[pair[i].off];
        if (off <= on) continue;
        return bt_fail(err, BT_RANGE, "%s: expected at most %s, which is %g %s, found %g %s",
                       bt_car_quantity_name(pair[i].off), bt_car_quantity_name(pair[i].on),
                       on / pair[i].unit, pair[i].label, off / pair[i].unit, pair[i].label);
    }
    return BT_OK;
}

bt_status bt_trigger_set(bt_trigger *out, const bt_channels *channels, const bt_car *car,
                         bt_error *err)
{
    BT_TRY(check_levels(car, err));
    const bt_channel pedal = choose_pedal(channels);
    *out = (bt_trigger){.pedal = pedal, .signal = (int)pedal};
    if (pedal == BT_CH_COUNT) {
        out->signal = (int)BT_SIG_DECEL;
        out->on = car->value[BT_CAR_ZONE_ON_DECEL];
        out->off = car->value[BT_CAR_ZONE_OFF_DECEL];
    } else if (bt_channel_is_pressure(pedal)) {
        out->on = car->value[BT_CAR_ZONE_ON];
        out->off = car->value[BT_CAR_ZONE_OFF];
    } else {
        out->on = pedal == BT_CH_PEDAL_FORCE ? ON_FORCE : ON_TRAVEL;
        out->off = OFF_SHARE * out->on;
    }
    return BT_OK;
}
