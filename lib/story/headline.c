/* The one line that an engineer reads first: the worst event, else the worst blend error.  From
 * finished rows. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "braketally.h"
#include "base/print.h"

/* Of what is equally severe: a by-wire that gave up, first where nobody was told, then a sensor that hides what was. */
static int rank(const bt_event *e)
{
    static const char *const kinds[] = {"sensor-stuck", "fallback", "silent-fallback"};
    int rank = 0;
    for (int i = 0; i < 3; i++)
        if (strcmp(e->kind, kinds[i]) == 0) rank = i + 1;
    return rank;
}

/* Worst first: what stops the car, then by rank, then what lasted longest. */
static bool worse(const bt_event *a, const bt_event *b)
{
    if (a->severity != b->severity) return a->severity > b->severity;
    const int rank_a = rank(a), rank_b = rank(b);
    return rank_a != rank_b ? rank_a > rank_b : a->duration > b->duration;
}

static size_t add(char *buf, size_t cap, size_t at, const char *text)
{
    const int n = at < cap ? snprintf(buf + at, cap - at, "%s", text) : 0;
    return at + (size_t)(n > 0 ? n : 0);
}

/* ", lap 5, zone 39, P03", of what is known. */
static size_t add_spot(char *buf, size_t cap, size_t at, double lap, double zone, const char *place)
{
    char part[96] = "";
    if (!isnan(lap)) bt_print(part, sizeof part, ", lap %.0f", lap);
    at = add(buf, cap, at, part);
    if (!isnan(zone)) {
        bt_print(part, sizeof part, ", zone %.0f", zone);
        at = add(buf, cap, at, part);
    }
    if (place[0] == '\0') return at;
    snprintf(part, sizeof part, ", %s", place);
    return add(buf, cap, at, part);
}

static void of_event(const bt_event *e, size_t others, char *buf, size_t cap)
{
    char part[300];
    bt_print(part, sizeof part, "%s: %s at %.3f s", e->run, e->kind, e->start);
    size_t at = add(buf, cap, 0, part);
    at = add_spot(buf, cap, at, e->lap, e->zone, e->place);
    snprintf(part, sizeof part, ": %s", e->reason);
    at = add(buf, cap, at, part);
    if (others == 0) return;
    snprintf(part, sizeof part, "; and %zu more %s", others, others > 1 ? "events" : "event");
    add(buf, cap, at, part);
}

static void of_zones(const bt_zone *zones, size_t n, char *buf, size_t cap)
{
    const bt_zone *worst = NULL;
    for (size_t i = 0; i < n; i++)
        if (!isnan(zones[i].blend_rms) && (!worst || zones[i].blend_rms > worst->blend_rms))
            worst = &zones[i];
    size_t at = add(buf, cap, 0, n ? "no event" : "no event and no braking zone");
    if (!worst) return;
    char part[300];
    bt_print(part, sizeof part, "; largest blend error %.0f N·m RMS in %s", worst->blend_rms,
             worst->run);
    at = add(buf, cap, at, part);
    at = add_spot(buf, cap, at, worst->lap, worst->zone, worst->place);
    if (isnan(worst->blend_delay)) return;
    bt_print(part, sizeof part, ", delivered %.0f ms late", 1000 * worst->blend_delay);
    add(buf, cap, at, part);
}

const char *bt_headline(const bt_event *events, size_t n_events, const bt_zone *zones,
                        size_t n_zones, char *buf, size_t cap)
{
    const bt_event *worst = NULL;
    for (size_t i = 0; i < n_events; i++)
        if (!worst || worse(&events[i], worst)) worst = &events[i];
    if (worst)
        of_event(worst, n_events - 1, buf, cap);
    else
        of_zones(zones, n_zones, buf, cap);
    return buf;
}
