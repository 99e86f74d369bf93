/* Channels without a value: see gaps.h (METHODS 8). */
#include "verdict/gaps.h"

#include <math.h>

#include "zones/integral.h"

#define GAP_LEAST 1.0 /* s; shorter ones are filled (METHODS 2.2) */

void bt_gaps_init(bt_gaps *g)
{
    *g = (bt_gaps){.t = NAN};
    for (int c = 0; c < BT_CH_COUNT; c++) g->since[c] = NAN;
}

static bt_status close_gap(bt_gaps *g, bt_channel c, double t, bt_events *events, bt_error *err)
{
    const double from = g->since[c];
    g->since[c] = NAN;
    if (!(t - from >= GAP_LEAST)) return BT_OK;
    bt_event *e;
    BT_TRY(bt_events_add(events, "sensor-gap", bt_sensor_severity(c), from, t - from, &e, err));
    bt_event_value(e, t - from, "s");
    bt_event_say(
        e, g->known[c] ? "%s has no value for %.2f s" : "%s has no value for the first %.2f s",
        bt_channel_name(c), t - from);
    return BT_OK;
}

/* The channels that torques, slip and speed come from, as in sensors.h. */
bt_status bt_gaps_take(bt_gaps *g, const bt_block *s, bt_events *events, bt_error *err)
{
    for (bt_channel c = BT_CH_SPEED; c <= BT_CH_MOTOR_TORQUE; c++) {
        if (!s->ch[c]) continue;
        if (isnan(g->since[c]) && bt_known_throughout(s->ch[c], s->n)) {
            g->known[c] = true;
            continue;
        }
        for (size_t i = 0; i < s->n; i++) {
            if (isnan(s->ch[c][i])) {
                if (isnan(g->since[c])) g->since[c] = s->t[i];
                continue;
            }
            if (!isnan(g->since[c])) BT_TRY(close_gap(g, c, s->t[i], events, err));
            g->known[c] = true;
        }
    }
    g->t = s->t[s->n - 1];
    return BT_OK;
}

bt_status bt_gaps_end(bt_gaps *g, bt_events *events, bt_error *err)
{
    for (bt_channel c = 0; c < BT_CH_COUNT; c++)
        if (!isnan(g->since[c])) BT_TRY(close_gap(g, c, g->t, events, err));
    return BT_OK;
}
