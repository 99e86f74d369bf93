/* The list of a run's events (CONTRACT 7): growing, with reasons put together from pieces. */
#ifndef BT_EVENTS_H
#define BT_EVENTS_H

#include "base/grow.h"

/* Zeroed = empty; set run and offset first.  Events are owned by the list until it is cleared. */
typedef struct {
    bt_event *event;
    size_t n, cap;
    char run[BT_NAME_MAX]; /* copied into each event */
    double offset;         /* added to each start: the log's own seconds */
} bt_events;

/* Add an event that begins at `start` (s from the first row); below 0, as after a jump back of the log's
 * time, its duration is 0.  Zone, lap and value are NaN and the
 * texts empty; the caller fills them in through *out, which is valid until the next add. */
bt_status bt_events_add(bt_events *events, const char *kind, bt_severity severity, double start,
                        double duration, bt_event **out, bt_error *err) BT_MUST_USE;
/* Value and unit as printed. */
void bt_event_value(bt_event *event, double value, const char *unit);
/* Append a piece to the reason, "; " between them; one that does not fit whole is left out. */
void bt_event_say(bt_event *event, const char *fmt, ...) BT_PRINTF(2, 3);
/* By start, those of equal start as they were added. */
void bt_events_sort(bt_events *events);
void bt_events_clear(bt_events *events);

#endif
