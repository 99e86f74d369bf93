/* A fallback under way: see given_up.h (METHODS 8). */
#include "verdict/given_up.h"

#include <math.h>

void bt_given_up_add(bt_given_up *g, const bt_dated *zone, size_t from, size_t to)
{
    const bt_torques *q = zone->torques;
    const bt_evidence *e = zone->evidence;
    const double *t = zone->s->t;
    for (size_t i = from; i < to; i++) {
        const bt_harm_sample s = {.dt = i ? t[i] - t[i - 1] : 0,
                                  .line = e->line ? e->line[i] : NAN,
                                  .pedal = e->pedal ? e->pedal[i] : NAN,
                                  .demand = q->demand ? q->demand[i] : NAN,
                                  .delivered = q->delivered ? q->delivered[i] : NAN,
                                  .motor = q->motor && q->motor_bywire ? q->motor[i] : 0};
        bt_harm_add(&g->harm, &s);
    }
}

static void say_flag(const bt_given_up *g, bt_event *e)
{
    const double late = g->flag_at - g->onset.t;
    if (isnan(g->flag_at))
        bt_event_say(e, "flag silent");
    else if (g->onset.doubt)
        bt_event_say(e, "flag up");
    else
        bt_event_say(e, "flag %.2f s %s", fabs(late), late < 0 ? "earlier" : "later");
}

bool bt_given_up_silent(const bt_given_up *g, bool flag_logged)
{
    return flag_logged && isnan(g->flag_at);
}

bt_status bt_given_up_event(const bt_given_up *g, double end, const bt_harm_before *before,
                            const bt_car *car, bool flag_logged, bt_events *events, bt_event **out,
                            bt_error *err)
{
    const bool silent = bt_given_up_silent(g, flag_logged);
    BT_TRY(bt_events_add(events, silent ? "silent-fallback" : "fallback", BT_STOP, g->onset.t,
                         end - g->onset.t, out, err));
    bt_event *e = *out;
    e->zone = g->onset.zone;
    e->lap = g->onset.lap;
    const double missed = bt_harm_missed(&g->harm);
    if (!isnan(missed)) bt_event_value(e, missed, "N.m");
    bt_event_say(e, "%s line followed the pedal (ratio %.2f) from %.2f s%s",
                 car->bywire_axle == BT_FRONT ? "front" : "rear", bt_harm_ratio(&g->harm), e->start,
                 g->onset.doubt ? " or since the braking before" : "");
    if (flag_logged) say_flag(g, e);
    bt_harm_say(&g->harm, before, car, e);
    return BT_OK;
}
