/* Channels that stand still while others move: see standing.h (METHODS 2.5). */
#include "verdict/standing.h"

#include <math.h>
#include <stdlib.h>

#include "verdict/glance.h"

#include "base/print.h"
#include "zones/sensors.h"

#define BAR    1e5
#define SMOOTH 0.3 /* s, time constant against noise and spikes */
#define SAME   1.0 /* Pa; subtracting a zero and adding it again rounds */

#define STUCK_TIME 2.0  /* s (METHODS 2.5) */
#define RISES      10e5 /* Pa of a sister, as in plausible.c */
#define SLOWS      2.0  /* m/s2 meanwhile: a sister that jumps by itself slows no car */
#define BRAKES     0.3  /* s of both */
/* Without a sister: what no motor brings, for so long, so many times; one lift of the foot is none, nor is one
 * braking that the sheet has wrong. */
#define SLOWS_HARD 5.0 /* m/s2 */
#define ALONE_TIME 0.5 /* s */
#define ALONE      3

#define FIRST BT_CH_PEDAL_FRONT
enum { WATCHED = BT_CH_LINE_REQUEST - BT_CH_PEDAL_FRONT + 1 };

/* A value, and since when. */
typedef struct {
    double value, t, zone, lap;
} stand;

/* A channel, and how it has stood. */
typedef struct {
    double smooth;
    stand newest, run;     /* its newest value; and where it stands, with what it may move by */
    bool dead, exact;      /* it is; and it has kept its very value */
    double off;            /* s, since when it has not, though it may be dead still; NaN = it has */
    double low[WATCHED];   /* Pa, the least of each other since the run began */
    double braked, asked;  /* s of the braking under way: by a sister, and without one */
    bool counted, noted;   /* it is in these: */
    size_t brakings, lone; /* by a sister; by the speed or the demand */
    size_t between;        /* those of the first kind, else of the second, that lie between zones */
    double moved;          /* s, when the first began */
    double most;           /* Pa that the sister rose by; without one m/s2, or Pa asked for */
    bt_channel sister;
    double told; /* s, until when it was told of */
    bool absent; /* it has no value; what its sisters do is counted all the same */
} channel;

struct bt_standing {
    bt_axle bywire_axle;
    channel of[WATCHED];
    double next, t;
    bt_channel pedal; /* that opens zones */
    size_t unseen;
};

bt_status bt_standing_new(bt_standing **out, bt_axle bywire_axle, bt_error *err)
{
    bt_standing *s = *out = calloc(1, sizeof *s);
    if (!s) return bt_fail(err, BT_NOMEM, "no memory for standing channels");
    s->bywire_axle = bywire_axle;
    s->next = -INFINITY;
    s->t = NAN;
    s->pedal = BT_CH_COUNT;
    for (int k = 0; k < WATCHED; k++)
        s->of[k] =
            (channel){.smooth = NAN, .newest.value = NAN, .run.value = NAN, .told = -INFINITY};
    return BT_OK;
}

void bt_standing_free(bt_standing *s)
{
    free(s);
}

/* ---- who is tied to whom ---- */

static bool on_wire(const bt_standing *s, bt_channel c)
{
    switch (c) {
    case BT_CH_LINE_FRONT:
    case BT_CH_LINE_FL:
    case BT_CH_LINE_FR:
        return s->bywire_axle == BT_FRONT;
    case BT_CH_LINE_REAR:
    case BT_CH_LINE_RL:
    case BT_CH_LINE_RR:
        return s->bywire_axle == BT_REAR;
    default:
        return c == BT_CH_LINE_REQUEST;
    }
}

static bool moves(const bt_standing *s, bt_channel mover, bt_channel tied)
{
    return mover != tied && bt_channel_is_pressure(mover) && on_wire(s, mover) == on_wire(s, tied);
}

/* What it may move by and still stand: of what opens a zone, as much as half of 3 bar. */
static double band(bt_channel c)
{
    if (c == BT_CH_PEDAL_FORCE) return 22.0 / 6;
    return c == BT_CH_PEDAL_TRAVEL ? 2e-3 / 6 : 3e5 / 6;
}

static bool stands(const bt_standing *s, bt_channel c, const channel *w)
{
    return on_wire(s, c) ? fabs(w->newest.value - w->run.value) <= SAME
                         : fabs(w->smooth - w->run.value) <= band(c);
}

/* ---- what was found ---- */

static bool alone(const channel *w)
{
    return w->brakings == 0 && w->lone >= ALONE;
}

/* One that keeps its very value is dead since it has it, whatever it did nearby before. */
static void call_dead(channel *w)
{
    w->dead = true;
    w->exact = w->newest.t <= w->moved;
    if (w->exact) w->run = w->newest;
}

static void level_in_words(bt_channel c, double level, char *out, size_t size)
{
    if (bt_channel_is_pressure(c))
        bt_print(out, size, "%.2f bar", level / BAR);
    else if (c == BT_CH_PEDAL_FORCE)
        bt_print(out, size, "%.0f N", level);
    else
        bt_print(out, size, "%.1f mm", 1e3 * level);
}

static void say_evidence(const bt_standing *s, bt_channel c, const channel *w, bt_event *e)
{
    char level[32];
    level_in_words(c, w->run.value, level, sizeof level);
    const char *name = bt_channel_name(c), *how = w->exact ? "stands at" : "stays near";
    if (w->brakings > 0)
        bt_event_say(e, "%s %s %s while %s rises by %.0f bar, in %zu braking%s", name, how, level,
                     bt_channel_name(w->sister), w->most / BAR, w->brakings,
                     w->brakings == 1 ? "" : "s");
    else if (!alone(w))
        bt_event_say(e, "%s %s %s while others move", name, how, level);
    else if (on_wire(s, c))
        bt_event_say(e,
                     "%s %s %s while demand less motor asks up to %.0f bar of it, in %zu brakings",
                     name, how, level, w->most / BAR, w->lone);
    else
        bt_event_say(e, "%s %s %s while the car slows by up to %.1f m/s², in %zu brakings", name,
                     how, level, w->most, w->lone);
}

static void say(const bt_standing *s, bt_channel c, const channel *w, bool to_end, bt_event *e)
{
    say_evidence(s, c, w, e);
    const size_t all = w->brakings > 0 ? w->brakings : w->lone;
    if (c == s->pedal && w->between == all && all > 0)
        bt_event_say(e, "none opened a zone");
    else if (c == s->pedal && w->between > 0)
        bt_event_say(e, "%zu opened no zone", w->between);
    bt_event_say(e, on_wire(s, c) ? "sensor or line dead" : "sensor dead or no pressure there");
    if (to_end) bt_event_say(e, "so to the end");
}

/* The run of one value is over at t, or the log is. */
static bt_status finish(bt_standing *s, bt_channel c, double t, bool to_end, bt_events *events,
                        bt_error *err)
{
    channel *w = &s->of[c - FIRST];
    if (!w->dead) return BT_OK;
    const bool vital = bt_channel_is_pressure(c) || c == s->pedal;
    const double end = isnan(w->off) ? t : w->off;
    bt_event *e;
    BT_TRY(bt_events_add(events, "sensor-stuck", vital ? BT_STOP : BT_WATCH, w->run.t,
                         end - w->run.t, &e, err));
    e->zone = w->run.zone;
    e->lap = w->run.lap;
    if (bt_channel_is_pressure(c)) bt_event_value(e, w->run.value / BAR, "bar");
    say(s, c, w, to_end && isnan(w->off), e);
    w->told = t;
    if (c == s->pedal) s->unseen += w->between;
    return BT_OK;
}

/* ---- samples ---- */

typedef struct {
    double t, dt, decel, lap;
    double asked; /* Pa that the by-wire line should carry; NaN = not known */
    const bt_standing_place *place;
} moment;

static void begin(bt_standing *s, bt_channel c, const moment *now)
{
    channel *w = &s->of[c - FIRST];
    w->run =
        (stand){on_wire(s, c) ? w->newest.value : w->smooth, now->t, now->place->zone, now->lap};
    for (int m = 0; m < WATCHED; m++) w->low[m] = s->of[m].smooth;
    w->dead = w->exact = w->counted = w->noted = false;
    w->braked = w->asked = w->most = 0;
    w->brakings = w->lone = w->between = 0;
    w->moved = w->off = NAN;
    w->sister = BT_CH_COUNT;
}

/* A braking through which the channel stood.  One by a sister counts for more than those without. */
static void count(channel *w, bool sister, double began, const moment *now)
{
    if (sister && w->brakings++ == 0) w->between = 0, w->moved = began;
    if (!sister && w->lone++ == 0 && w->brakings == 0) w->moved = began;
    if (sister || w->brakings == 0) w->between += isnan(now->place->zone) ? 1 : 0;
    w->off = NAN;
}

/* How the sisters move meanwhile; of several the nearest counts, as it stands in the list.  False = it has none. */
static bool watch_sisters(bt_standing *s, bt_channel c, const moment *now)
{
    channel *w = &s->of[c - FIRST];
    double most = 0;
    size_t up = 0, rest = 0; /* one that jumps by itself has those at rest against it */
    bt_channel nearest = BT_CH_COUNT;
    for (int m = 0; m < WATCHED; m++) {
        const double x = s->of[m].smooth;
        if (!moves(s, (bt_channel)(FIRST + m), c) || isnan(x)) continue;
        if (!(w->low[m] <= x)) w->low[m] = x;
        const double rise = x - w->low[m];
        if (rise > most) most = rise;
        rise >= 0.5 * RISES ? up++ : rest++;
        if (rise >= RISES && nearest == BT_CH_COUNT) nearest = (bt_channel)(FIRST + m);
        if (w->brakings > 0 && w->sister == (bt_channel)(FIRST + m)) w->most = fmax(w->most, rise);
    }
    if (most < 0.5 * RISES) w->counted = false, w->braked = 0;
    const bool any = up + rest > 0;
    if (nearest == BT_CH_COUNT || up < rest || !(now->decel >= SLOWS)) return any;
    w->braked += now->dt;
    if (w->counted || !(w->braked >= BRAKES)) return any;
    w->counted = true;
    if (w->brakings == 0) w->sister = nearest, w->most = RISES;
    count(w, true, now->t - w->braked, now);
    return any;
}

/* The same without a sister: `x` shows a braking from `high` on, and its end below `low`. */
static void watch_alone(channel *w, double x, double high, double low, const moment *now)
{
    if (x < low) w->noted = false, w->asked = 0;
    if (!(x >= high)) return;
    w->asked += now->dt;
    if (w->brakings == 0) w->most = fmax(w->most, x);
    if (w->noted || !(w->asked >= ALONE_TIME)) return;
    w->noted = true;
    count(w, false, now->t - w->asked, now);
}

static bt_status look(bt_standing *s, bt_channel c, const moment *now, bt_events *events,
                      bt_error *err)
{
    channel *w = &s->of[c - FIRST];
    if (!stands(s, c, w)) {
        BT_TRY(finish(s, c, now->t, false, events, err));
        begin(s, c, now);
        return BT_OK;
    }
    if (w->exact && isnan(w->off) && !(fabs(w->newest.value - w->run.value) <= SAME))
        w->off = now->t;
    const bool has_sister = watch_sisters(s, c, now);
    if (on_wire(s, c))
        watch_alone(w, now->asked, RISES, 0.5 * RISES, now);
    else if (!has_sister && c == now->place->pedal && isnan(now->place->zone))
        watch_alone(w, now->decel, SLOWS_HARD, SLOWS, now);
    if (!w->dead && (alone(w) || (w->brakings > 0 && now->t - w->moved >= STUCK_TIME)))
        call_dead(w);
    return BT_OK;
}

/* A pedal that says nothing opens no zone either; why it does is told by sensor-gap or sensor-range. */
static bt_status look_absent(bt_standing *s, const moment *now, bt_events *events, bt_error *err)
{
    const bt_channel pedal = now->place->pedal;
    channel *w = &s->of[pedal - FIRST];
    if (!w->absent) {
        BT_TRY(finish(s, pedal, now->t, false, events, err));
        begin(s, pedal, now);
        w->absent = true;
    }
    (void)watch_sisters(s, pedal, now);
    return BT_OK;
}

static void come_back(bt_standing *s, bt_channel c, const moment *now)
{
    channel *w = &s->of[c - FIRST];
    if (!w->absent) return;
    s->unseen += w->between;
    begin(s, c, now);
    w->absent = false;
}

static void take_value(channel *w, double x, const moment *now)
{
    const double share = now->dt / (SMOOTH + now->dt);
    w->smooth = isnan(w->smooth) ? x : w->smooth + share * (x - w->smooth);
    if (!(fabs(x - w->newest.value) <= SAME))
        w->newest = (stand){x, now->t, now->place->zone, now->lap};
}

static double asked_of_line(const bt_standing_place *place, size_t i)
{
    const bt_torques *q = place->torques;
    if (!q || !q->demand || !q->motor) return NAN;
    return (q->demand[i] - (q->motor_bywire ? q->motor[i] : 0)) / place->line_gain;
}

/* What no sensor reads is none, and sensor-range's to tell. */
static bool has_value(const bt_block *in, bt_channel c, size_t i)
{
    return in->ch[c] && !isnan(in->ch[c][i]) && bt_sensors_possible(c, &in->ch[c][i], 1);
}

bt_status bt_standing_take(bt_standing *s, const bt_block *in, const bt_standing_place *place,
                           bt_events *events, bt_error *err)
{
    const double *decel = in->ch[BT_SIG_DECEL], *lap = in->ch[BT_CH_LAP];
    s->pedal = place->pedal;
    for (size_t i = 0; i < in->n; i++) {
        const double t = in->t[i];
        const double dt = bt_glance(&s->next, s->t, t);
        if (!(dt > 0)) continue;
        const moment now = {
            t, dt, decel ? decel[i] : NAN, lap ? lap[i] : NAN, asked_of_line(place, i), place};
        s->t = t;
        for (int k = 0; k < WATCHED; k++) {
            const bt_channel c = (bt_channel)(FIRST + k);
            if (has_value(in, c, i))
                take_value(&s->of[k], in->ch[c][i] + (place->zero ? place->zero[c] : 0), &now);
            else
                s->of[k].newest = (stand){NAN, t, place->zone, now.lap};
        }
        for (int k = 0; k < WATCHED; k++) {
            const bt_channel c = (bt_channel)(FIRST + k);
            const bool known = has_value(in, c, i);
            if (!known && c == place->pedal) BT_TRY(look_absent(s, &now, events, err));
            if (!known || c == BT_CH_LINE_REQUEST) continue;
            come_back(s, c, &now);
            BT_TRY(look(s, c, &now, events, err));
        }
    }
    return BT_OK;
}

static channel *watched(bt_standing *s, bt_channel c)
{
    return c >= FIRST && c < FIRST + WATCHED ? &s->of[c - FIRST] : NULL;
}

bool bt_standing_dead(bt_standing *s, bt_channel c)
{
    const channel *w = watched(s, c);
    return w && w->dead;
}

bool bt_standing_told(bt_standing *s, bt_channel c, double t)
{
    const channel *w = watched(s, c);
    return w && (w->dead || w->told >= t);
}

bool bt_standing_still(bt_standing *s, bt_channel c, double time)
{
    const channel *w = watched(s, c);
    return w && s->t - w->newest.t >= time;
}

bool bt_standing_confirm(bt_standing *s, bt_channel c, double t)
{
    channel *w = watched(s, c);
    if (!w) return false;
    if (bt_standing_told(s, c, t)) return true;
    if (!bt_standing_still(s, c, STUCK_TIME)) return false;
    w->moved = s->t; /* it has kept its value up to here */
    call_dead(w);
    return true;
}

bt_status bt_standing_end(bt_standing *s, bt_events *events, bt_error *err)
{
    for (int k = 0; k < WATCHED; k++) {
        if (s->of[k].absent) s->unseen += s->of[k].between;
        BT_TRY(finish(s, (bt_channel)(FIRST + k), s->t, true, events, err));
    }
    return BT_OK;
}

size_t bt_standing_unseen(const bt_standing *s, bt_channel *pedal)
{
    *pedal = s->pedal;
    return s->unseen;
}
