/* Channels out of their range: see ranges.h (METHODS 2.5, 8). */
#include "verdict/ranges.h"

#include <math.h>

#include "zones/sensors.h"

#define BAR        1e5
#define KELVIN     273.15
#define RANGE_TIME 0.5 /* s out of range with the pedal released: no spike */

void bt_ranges_init(bt_ranges *r)
{
    *r = (bt_ranges){0};
    for (int c = 0; c < BT_CH_COUNT; c++) r->since[c] = NAN;
}

/* Of n values that earned the flag: one that cannot be, else the largest, where it is pinned. */
static double out_of_range(bt_channel c, const double *x, size_t n)
{
    double most = NAN;
    for (size_t i = 0; i < n; i++) {
        if (!bt_sensors_possible(c, &x[i], 1)) return x[i];
        if (!(x[i] <= most) && !isnan(x[i])) most = x[i];
    }
    return most;
}

void bt_ranges_zone(bt_ranges *r, const bt_block *zone, const uint32_t which[BT_CH_COUNT],
                    const bt_zone *row)
{
    for (bt_channel c = 0; c < BT_CH_COUNT; c++)
        if (which[c] & BT_FLAG_SENSOR_RANGE)
            (void)bt_episode_see(&r->of[c], row, zone->t[0], zone->t[zone->n - 1],
                                 out_of_range(c, zone->ch[c], zone->n), 0);
}

static void between(bt_ranges *r, bt_channel c, const bt_block *run)
{
    static const bt_zone nowhere = {.zone = NAN, .lap = NAN};
    double *since = &r->since[c];
    const double *x = run->ch[c];
    if (bt_sensors_possible(c, x, run->n)) {
        *since = NAN;
        return;
    }
    for (size_t i = 0; i < run->n; i++) {
        if (isnan(x[i])) continue;
        if (bt_sensors_possible(c, &x[i], 1)) {
            *since = NAN;
            continue;
        }
        if (isnan(*since)) *since = run->t[i];
        if (run->t[i] - *since >= RANGE_TIME)
            (void)bt_episode_see(&r->of[c], &nowhere, *since, run->t[i], x[i], 0);
    }
}

void bt_ranges_between(bt_ranges *r, const bt_block *run)
{
    for (bt_channel c = 0; c < BT_CH_COUNT; c++)
        if (bt_channel_is_pressure(c) && run->ch[c]) between(r, c, run);
}

static bt_status emit(bt_episode *e, bt_channel c, bt_events *events, bt_error *err)
{
    static const struct {
        bt_channel first, last;
        double factor, shift; /* from SI */
        const char *unit, *ucum;
    } printed[] = {{BT_CH_WHEEL_FL, BT_CH_WHEEL_RR, 3.6, 0, "km/h", "km/h"},
                   {BT_CH_PEDAL_TRAVEL, BT_CH_PEDAL_TRAVEL, 1e3, 0, "mm", "mm"},
                   {BT_CH_PEDAL_FORCE, BT_CH_PEDAL_FORCE, 1, 0, "N", "N"},
                   {BT_CH_DISC_FL, BT_CH_DISC_RR, 1, -KELVIN, "°C", "Cel"}};
    const char *what = bt_sensors_possible(c, &e->value, 1) ? "pinned at its largest value"
                                                            : "no sensor reads that";
    double value = e->value / BAR;
    const char *unit = "bar", *ucum = "bar";
    for (size_t i = 0; i < sizeof printed / sizeof *printed; i++)
        if (c >= printed[i].first && c <= printed[i].last) {
            value = e->value * printed[i].factor + printed[i].shift;
            unit = printed[i].unit, ucum = printed[i].ucum;
        }
    bt_event *out;
    BT_TRY(
        bt_episode_emit(e, "sensor-range", bt_sensor_severity(c), value, ucum, events, &out, err));
    bt_event_say(out, "%s at %.1f %s: %s", bt_channel_name(c), value, unit, what);
    return BT_OK;
}

bt_status bt_ranges_settle(bt_ranges *r, bool all, bt_events *events, bt_error *err)
{
    for (bt_channel c = 0; c < BT_CH_COUNT; c++)
        if (bt_episode_over(&r->of[c], all)) BT_TRY(emit(&r->of[c], c, events, err));
    return BT_OK;
}
