/* Causes that last over zones: see episode.h. */
#include "verdict/episode.h"

#include <math.h>

bool bt_episode_see(bt_episode *e, const bt_zone *row, double start, double end, double value,
                    double other)
{
    if (!e->open)
        *e = (bt_episode){.open = true,
                          .start = start,
                          .zone = row->zone,
                          .lap = row->lap,
                          .value = NAN,
                          .other = NAN};
    const bool worst = !(fabs(e->value) >= fabs(value));
    if (worst) e->value = value, e->other = other;
    e->seen = true;
    e->end = end;
    return worst;
}

bool bt_episode_over(bt_episode *e, bool all)
{
    const bool over = e->open && (all || !e->seen);
    e->seen = false;
    return over;
}

bt_status bt_episode_emit(bt_episode *e, const char *kind, bt_severity severity, double value,
                          const char *unit, bt_events *events, bt_event **out, bt_error *err)
{
    BT_TRY(bt_events_add(events, kind, severity, e->start, e->end - e->start, out, err));
    (*out)->zone = e->zone;
    (*out)->lap = e->lap;
    bt_event_value(*out, value, unit);
    e->open = false;
    return BT_OK;
}

bt_severity bt_sensor_severity(bt_channel channel)
{
    return bt_channel_is_pressure(channel) && channel != BT_CH_LINE_REQUEST ? BT_STOP : BT_WATCH;
}
