/* Rows as plain values: making them blank, and letting go of what a result holds.  What a row has is
 * read off the column table, so that a new column is blank by itself. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "braketally.h"

void bt_row_blank(bt_table_kind table, void *row)
{
    size_t n;
    const bt_column *column = bt_columns(table, &n);
    for (size_t i = 0; i < n; i++) {
        char *member = (char *)row + column[i].offset;
        switch (column[i].kind) {
        case BT_CELL_NUMBER:
            memcpy(member, &(double){NAN}, sizeof(double));
            break;
        case BT_CELL_TEXT:
            member[0] = '\0';
            break;
        case BT_CELL_FLAGS:
            memcpy(member, &(uint32_t){0}, sizeof(uint32_t));
            break;
        case BT_CELL_SEVERITY:
            memcpy(member, &(bt_severity){BT_NOTE}, sizeof(bt_severity));
            break;
        }
    }
}

/* A zone's row by run and number; NULL if it is not there. */
static const bt_zone *zone_of(const bt_event *event, const bt_zone *zones, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (!(zones[i].zone < event->zone) && !(zones[i].zone > event->zone) &&
            !isnan(event->zone) && strcmp(zones[i].run, event->run) == 0)
            return &zones[i];
    return NULL;
}

void bt_events_place(bt_event *events, size_t n, const bt_zone *zones, size_t n_zones)
{
    for (size_t i = 0; i < n; i++) {
        const bt_zone *zone = zone_of(&events[i], zones, n_zones);
        if (!zone) continue;
        memcpy(events[i].place, zone->place, sizeof events[i].place);
        events[i].lap = zone->lap;
    }
}

void bt_result_clear(bt_result *result)
{
    free(result->zones);
    free(result->events);
    for (size_t i = 0; i < result->n_notes; i++) free(result->notes[i]);
    free(result->notes);
    *result = (bt_result){0};
}
