/* bywire_state against the pressures: see bywire_flag.h. */
#include "verdict/bywire_flag.h"

bt_status bt_bywire_flag_close(bt_bywire_flag *flag, double end, bt_events *events,
                               bt_event **by_flag, bt_error *err)
{
    *by_flag = NULL;
    flag->up = false;
    if (flag->fallback) return BT_OK; /* the fallback's own event tells */
    const bool braked = flag->braking > 0, wrong = flag->denied >= BT_FLAG_DENIED;
    const bt_severity severity = !braked ? BT_NOTE : wrong ? BT_WATCH : BT_STOP;
    bt_event *e;
    BT_TRY(bt_events_add(events, braked && !wrong ? "fallback" : "false-flag", severity, flag->rise,
                         end - flag->rise, &e, err));
    e->zone = flag->zone;
    e->lap = flag->lap;
    bt_event_value(e, flag->braking, "s");
    if (!braked) {
        bt_event_say(e, "flag up for %.2f s without any braking that could tell", end - flag->rise);
    } else if (wrong) {
        bt_event_say(e, "flag says given up from %.2f s, pressures say by-wire", e->start);
        bt_event_say(e, "%.1f s of braking with the flag up", flag->braking);
    } else {
        bt_event_say(e, "flag says given up from %.2f s", e->start);
        bt_event_say(e, "pressures cannot tell in %.1f s of braking", flag->braking);
        *by_flag = e;
    }
    return BT_OK;
}
