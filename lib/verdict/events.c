/* The list of a run's events: see events.h. */
#include "verdict/events.h"

#include "base/print.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

bt_status bt_events_add(bt_events *events, const char *kind, bt_severity severity, double start,
                        double duration, bt_event **out, bt_error *err)
{
    void *array = events->event;
    BT_TRY(bt_grow(&array, &events->cap, events->n + 1, sizeof **out, "events", err));
    events->event = array;
    bt_event *e = *out = &events->event[events->n++];
    bt_row_blank(BT_TABLE_EVENTS, e);
    memcpy(e->run, events->run, sizeof e->run);
    snprintf(e->kind, sizeof e->kind, "%s", kind);
    e->severity = severity;
    e->start = start + events->offset;
    e->duration = duration > 0 ? duration : 0;
    return BT_OK;
}

void bt_event_value(bt_event *event, double value, const char *unit)
{
    event->value = value;
    snprintf(event->unit, sizeof event->unit, "%s", unit);
}

void bt_event_say(bt_event *event, const char *fmt, ...)
{
    const size_t used = strlen(event->reason), room = sizeof event->reason - used;
    const char *between = used ? "; " : "";
    char piece[sizeof event->reason];
    va_list args;
    va_start(args, fmt);
    bt_vprint(piece, sizeof piece, fmt, args);
    va_end(args);
    if (strlen(between) + strlen(piece) < room) /* half a piece would say something else */
        snprintf(event->reason + used, room, "%s%s", between, piece);
}

/* Few and nearly in order already: an insertion sort keeps equal ones as they were. */
void bt_events_sort(bt_events *events)
{
    for (size_t i = 1; i < events->n; i++) {
        const bt_event moved = events->event[i];
        size_t j = i;
        for (; j > 0 && events->event[j - 1].start > moved.start; j--)
            events->event[j] = events->event[j - 1];
        events->event[j] = moved;
    }
}

void bt_events_clear(bt_events *events)
{
    free(events->event);
    *events = (bt_events){0};
}
