/* A cause that lasts over several zones: one event from where it was first seen to where it was last seen. */
#ifndef BT_EPISODE_H
#define BT_EPISODE_H

#include "samples/channels.h"
#include "verdict/events.h"

/* Zeroed = nothing seen. */
typedef struct {
    bool open, seen; /* seen = in the zone under way */
    double start, end, zone, lap;
    double value, other; /* the worst so far, and what it is held against */
} bt_episode;

/* Seen in a zone from `start` to `end`.  True = it is the worst so far. */
bool bt_episode_see(bt_episode *e, const bt_zone *row, double start, double end, double value,
                    double other);
/* After a zone: is it over, as the zone did not show it, or as all is?  Asked once a zone. */
bool bt_episode_over(bt_episode *e, bool all);
/* Its event, without reason; value and unit as printed.  The episode is closed. */
bt_status bt_episode_emit(bt_episode *e, const char *kind, bt_severity severity, double value,
                          const char *unit, bt_events *events, bt_event **out,
                          bt_error *err) BT_MUST_USE;

/* Of a sensor's fault: BT_STOP for the brake pressures that a car must not go out without, else BT_WATCH. */
bt_severity bt_sensor_severity(bt_channel channel);

#endif
