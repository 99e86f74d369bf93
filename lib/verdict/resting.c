/* Offsets and drag: see resting.h (METHODS 2.4, 8).
 *
 * Three causes lift a pressure at rest.  A foot lifts all that hangs on it; pressure that stays in the lines lifts all
 * lines of an axle; a sensor's zero lifts its own channel.  Zeros are medians of half a second, good to 0.05 bar
 * with 0.25 bar of noise: not noise bounds what is told, but what a sound sensor does when it gets warm. */
#include "verdict/resting.h"

#include <math.h>

#include "zones/sensors.h"

#define BAR        1e5
#define ZERO_MOVED 1e5 /* Pa that a zero may move by through a run; warmth does less */
#define LIFTED     0.5e5 /* Pa, as in zones/sensors.c: more than a zero wanders between two brakings */

enum { LINES = 3 };
static const bt_channel lines[2][LINES] = {{BT_CH_LINE_FL, BT_CH_LINE_FR, BT_CH_LINE_FRONT},
                                           {BT_CH_LINE_RL, BT_CH_LINE_RR, BT_CH_LINE_REAR}};

void bt_resting_init(bt_resting *r, bt_axle bywire_axle)
{
    *r = (bt_resting){.bywire_axle = bywire_axle};
    for (int c = 0; c < BT_CH_COUNT; c++) r->first[c] = NAN;
}

/* By how much more than at first it reads; NaN = not known. */
static double lift(const bt_resting *r, const bt_rest *rest, bt_channel c)
{
    return rest->level[c] - r->first[c];
}

/* Does all that hangs on the foot read more than at first?  One sensor alone cannot tell. */
static bool foot_rests(const bt_resting *r, const bt_rest *rest)
{
    const bt_channel *own = lines[r->bywire_axle == BT_FRONT ? BT_REAR : BT_FRONT];
    const bt_channel hang[] = {BT_CH_PEDAL_FRONT, BT_CH_PEDAL_REAR, own[0], own[1], own[2]};
    size_t known = 0;
    for (size_t i = 0; i < sizeof hang / sizeof *hang; i++) {
        const double x = lift(r, rest, hang[i]);
        if (isnan(x)) continue;
        if (!(x > LIFTED)) return false;
        known++;
    }
    return known > 1;
}

/* Pressure in the lines of an axle: beyond a zero, or, as large as a zero may be, in all of them. */
static bool drags(const bt_resting *r, const bt_rest *rest, const bt_channel line[LINES])
{
    size_t known = 0, lifted = 0;
    for (int k = 0; k < LINES; k++) {
        const double x = lift(r, rest, line[k]);
        if (rest->flag[line[k]] & BT_FLAG_DRAG) return true;
        known += isnan(x) ? 0 : 1;
        lifted += x > ZERO_MOVED;
    }
    return known > 1 && lifted == known;
}

static void note_drag(bt_resting *r, const bt_braking *zone, const bt_zone *row, double from,
                      bt_axle axle, bool told[BT_CH_COUNT])
{
    const bt_rest *rest = &zone->rest;
    const bt_channel *line = lines[axle];
    bt_drag now = {.line = {BT_CH_COUNT, BT_CH_COUNT}, .alone = true};
    size_t n = 0;
    double most = 0;
    for (int k = 0; k < LINES; k++) {
        const double x = lift(r, rest, line[k]);
        if (isnan(x)) continue;
        if (k < 2 && !(x > LIFTED)) now.twin_rests = true;
        if (!(x > ZERO_MOVED) || told[line[k]]) continue;
        told[line[k]] = true; /* one cause, one event */
        now.alone =
            k == 2 && n == 0 && isnan(lift(r, rest, line[0])) && isnan(lift(r, rest, line[1]));
        if (n == 2 || (k == 2 && n > 0)) continue;
        now.line[n] = line[k];
        now.left[n++] = x;
        most = fmax(most, x);
    }
    if (n == 0) return;
    bt_drag *d = &r->drag[axle];
    if (!bt_episode_see(&d->episode, row, from, zone->s.t[0], most, 0)) return;
    now.episode = d->episode;
    *d = now;
}

static void note_offset(bt_resting *r, const bt_braking *zone, const bt_zone *row, bt_channel c)
{
    const double level = zone->rest.level[c], start = zone->s.t[0], end = zone->s.t[zone->s.n - 1];
    if (zone->rest.flag[c] & BT_FLAG_ZERO_OFFSET)
        r->lone[c] = false;
    else if (!isnan(level) && !(fabs(level) <= BT_ZERO_MAX))
        r->lone[c] = true; /* taken for a resting foot, with none beside it to confirm that */
    else if (!(fabs(lift(r, &zone->rest, c)) > ZERO_MOVED))
        return;
    (void)bt_episode_see(&r->offset[c], row, start, end, level, r->first[c]);
}

void bt_resting_zone(bt_resting *r, const bt_braking *zone, const bt_zone *row, double from,
                     const bool explained[BT_CH_COUNT])
{
    if (zone->flags & BT_FLAG_NO_ZERO) return;
    bool told[BT_CH_COUNT];
    for (bt_channel c = 0; c < BT_CH_COUNT; c++) {
        told[c] = explained[c] || !bt_channel_is_pressure(c);
        const double level = zone->rest.level[c];
        if (isnan(r->first[c]) && fabs(level) <= BT_ZERO_MAX) r->first[c] = level;
    }
    for (int axle = 0; axle < 2; axle++)
        if ((axle == (int)r->bywire_axle || !foot_rests(r, &zone->rest)) &&
            drags(r, &zone->rest, lines[axle]))
            note_drag(r, zone, row, from, (bt_axle)axle, told);
    if (foot_rests(r, &zone->rest)) return;
    for (bt_channel c = 0; c < BT_CH_COUNT; c++)
        if (!told[c]) note_offset(r, zone, row, c);
}

/* ---- words ---- */

static bt_status emit_offset(bt_episode *e, bt_channel c, bool lone, bt_events *events,
                             bt_error *err)
{
    const bool beyond = !(fabs(e->value) <= BT_ZERO_MAX);
    const double moved = e->value - e->other;
    bt_event *out;
    BT_TRY(bt_episode_emit(e, "sensor-offset",
                           beyond && !lone && c != BT_CH_LINE_REQUEST ? BT_STOP : BT_WATCH,
                           (beyond ? e->value : moved) / BAR, "bar", events, &out, err));
    if (lone)
        bt_event_say(out,
                     "%s reads %+.2f bar between brakings, %+.2f bar at first; its zero moved or a "
                     "foot rests: no other sensor on the pedal tells",
                     bt_channel_name(c), e->value / BAR, e->other / BAR);
    else if (!beyond)
        bt_event_say(
            out, "%s: zero moved by %+.2f bar since the first braking, to %+.2f bar; subtracted",
            bt_channel_name(c), moved / BAR, e->value / BAR);
    else if (isnan(e->other))
        bt_event_say(out, "%s reads %+.2f bar with the pedal released; nothing is subtracted",
                     bt_channel_name(c), e->value / BAR);
    else
        bt_event_say(out,
                     "%s reads %+.2f bar with the pedal released, %+.2f bar at first; nothing is "
                     "subtracted",
                     bt_channel_name(c), e->value / BAR, e->other / BAR);
    return BT_OK;
}

static bt_status emit_drag(bt_drag *d, bt_events *events, bt_error *err)
{
    bt_event *out;
    BT_TRY(bt_episode_emit(&d->episode, "drag", BT_WATCH, d->episode.value / BAR, "bar", events,
                           &out, err));
    if (d->line[1] != BT_CH_COUNT)
        bt_event_say(out, "%.1f bar in %s and %.1f bar in %s left with the pedal released",
                     d->left[0] / BAR, bt_channel_name(d->line[0]), d->left[1] / BAR,
                     bt_channel_name(d->line[1]));
    else
        bt_event_say(out, "%.1f bar in %s left with the pedal released", d->left[0] / BAR,
                     bt_channel_name(d->line[0]));
    if (d->twin_rests) bt_event_say(out, "the other side is free");
    if (d->alone) bt_event_say(out, "or its sensor's zero moved: no other line is logged to tell");
    return BT_OK;
}

bt_status bt_resting_settle(bt_resting *r, bool all, bt_events *events, bt_error *err)
{
    for (int axle = 0; axle < 2; axle++)
        if (bt_episode_over(&r->drag[axle].episode, all))
            BT_TRY(emit_drag(&r->drag[axle], events, err));
    for (bt_channel c = 0; c < BT_CH_COUNT; c++)
        if (bt_episode_over(&r->offset[c], all))
            BT_TRY(emit_offset(&r->offset[c], c, r->lone[c], events, err));
    return BT_OK;
}
