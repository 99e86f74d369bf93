/* Channels frozen at one value: see frozen.h (METHODS 2.5). */
#include "verdict/frozen.h"

#include <math.h>
#include <stdlib.h>

#include "verdict/glance.h"

#define SMOOTH   0.3 /* s, time constant of the accelerometer against noise and kerbs */
#define STANDS   2.0 /* s */
#define MOVES    3.0 /* m/s of a wheel */
#define PULLS    2.0 /* m/s2; no slope and no tilted sensor shows that while the speed stands */
#define ROLLS    5.0 /* m/s; a car at rest stands still rightly, whatever the accelerometer says */
#define BRAKINGS 3   /* one at a limit is none, nor is one that the log has wrong */
#define BAR      1e5
#define KMH      3.6

enum { WHEELS = BT_CH_WHEEL_RR - BT_CH_WHEEL_FL + 1 };
typedef enum { SPEED, TORQUE, REQUEST, LINE, WATCHED } watched;

static const struct {
    bt_channel channel;
    double factor, moves; /* from SI to `unit`; SI, what the sister has to move by */
    const char *unit, *ucum;
} about[WATCHED] = {{BT_CH_SPEED, KMH, MOVES, "km/h", "km/h"},
                    {BT_CH_MOTOR_TORQUE, 1, 20, "N·m", "N.m"},
                    {BT_CH_MOTOR_REQUEST, 1, 20, "N·m", "N.m"},
                    {BT_CH_LINE_REQUEST, 1 / BAR, 10 * BAR, "bar", "bar"}};

typedef struct {
    double low, high;
} span;

/* A value, and since when a channel stands at it. */
typedef struct {
    double value, since, zone, lap;
    size_t brakings;   /* through which its sister moved */
    bt_channel sister; /* that moved most, by: */
    double most;
    bool dead;
} stand;

struct bt_frozen {
    bt_axle bywire_axle;
    double next, t; /* s: the next look; the last one */
    stand of[WATCHED];
    /* While the speed stands: */
    span wheel[WHEELS];          /* m/s; NaN = not logged */
    double pull, pulled, strong; /* m/s2, smoothed; s beyond PULLS; m/s2, the most of it */
    double time;                 /* s, told so far */
};

bt_status bt_frozen_new(bt_frozen **out, bt_axle bywire_axle, bt_error *err)
{
    bt_frozen *f = *out = calloc(1, sizeof *f);
    if (!f) return bt_fail(err, BT_NOMEM, "no memory for frozen channels");
    f->bywire_axle = bywire_axle;
    f->next = -INFINITY;
    f->t = f->pull = NAN;
    for (int k = 0; k < WATCHED; k++) f->of[k].value = NAN;
    return BT_OK;
}

void bt_frozen_free(bt_frozen *f)
{
    free(f);
}

double bt_frozen_speed_time(const bt_frozen *f)
{
    return f->time;
}

/* ---- what was found ---- */

static bool speed_is_frozen(bt_frozen *f)
{
    stand *s = &f->of[SPEED];
    if (!(f->t - s->since >= STANDS)) return false;
    int logged = 0, moved = 0;
    for (int w = 0; w < WHEELS; w++) {
        const double by = f->wheel[w].high - f->wheel[w].low;
        if (isnan(by)) continue;
        logged++;
        moved += by >= MOVES;
        if (by > s->most) s->most = by, s->sister = (bt_channel)(BT_CH_WHEEL_FL + w);
    }
    return logged > 0 ? 2 * moved > logged : s->value > ROLLS && f->pulled >= STANDS;
}

static void say_speed(const bt_frozen *f, bt_event *e)
{
    const stand *s = &f->of[SPEED];
    if (s->most > 0) {
        const span *w = &f->wheel[s->sister - BT_CH_WHEEL_FL];
        bt_event_say(e, "speed stands at %.1f km/h while %s goes from %.0f to %.0f km/h",
                     KMH * s->value, bt_channel_name(s->sister), KMH * w->low, KMH * w->high);
    } else {
        bt_event_say(e, "speed stands at %.1f km/h while accel_long shows %.1f m/s²",
                     KMH * s->value, f->strong);
    }
}

static void say_other(const stand *s, watched k, bt_event *e)
{
    bt_event_say(
        e, "%s stands at %.1f %s through %zu brakings and all between, while %s moves by %.0f %s",
        bt_channel_name(about[k].channel), about[k].factor * s->value, about[k].unit, s->brakings,
        bt_channel_name(s->sister), about[k].factor * s->most, about[k].unit);
}

static bt_status finish(bt_frozen *f, watched k, bool to_end, bt_events *events, bt_error *err)
{
    const stand *s = &f->of[k];
    if (!s->dead) return BT_OK;
    bt_event *e;
    BT_TRY(bt_events_add(events, "sensor-stuck", BT_WATCH, s->since, f->t - s->since, &e, err));
    e->zone = s->zone;
    e->lap = s->lap;
    bt_event_value(e, about[k].factor * s->value, about[k].ucum);
    if (k == SPEED)
        say_speed(f, e), f->time += f->t - s->since;
    else
        say_other(s, k, e);
    if (to_end) bt_event_say(e, "so to the end");
    return BT_OK;
}

/* ---- samples ---- */

static double sample_of(const bt_block *in, bt_channel c, size_t i)
{
    return in->ch[c] ? in->ch[c][i] : NAN;
}

static void begin(bt_frozen *f, watched k, double value, double t, double zone, double lap)
{
    f->of[k] = (stand){.value = value, .since = t, .zone = zone, .lap = lap};
    if (k != SPEED) return;
    for (int w = 0; w < WHEELS; w++) f->wheel[w] = (span){NAN, NAN};
    f->pulled = f->strong = 0;
}

static void watch_motion(bt_frozen *f, const bt_block *in, size_t i, double dt)
{
    for (int w = 0; w < WHEELS; w++) {
        const double x = sample_of(in, (bt_channel)(BT_CH_WHEEL_FL + w), i);
        f->wheel[w] = (span){fmin(f->wheel[w].low, x), fmax(f->wheel[w].high, x)};
    }
    const double accel = sample_of(in, BT_CH_ACCEL_LONG, i), share = dt / (SMOOTH + dt);
    if (isnan(accel)) return;
    f->pull = isnan(f->pull) ? accel : f->pull + share * (accel - f->pull);
    f->pulled = fabs(f->pull) >= PULLS ? f->pulled + dt : 0;
    if (fabs(f->pull) > fabs(f->strong)) f->strong = f->pull;
}

bt_status bt_frozen_take(bt_frozen *f, const bt_block *in, double zone, bt_events *events,
                         bt_error *err)
{
    for (size_t i = 0; i < in->n; i++) {
        const double t = in->t[i];
        const double dt = bt_glance(&f->next, f->t, t);
        if (!(dt > 0)) continue;
        const bool hole = !(t - f->t < 1); /* what the speed did there is not known */
        for (watched k = 0; k < WATCHED; k++) {
            const double x = sample_of(in, about[k].channel, i), was = f->of[k].value;
            if (x >= was && x <= was && !(hole && k == SPEED)) continue;
            BT_TRY(finish(f, k, false, events, err));
            begin(f, k, x, t, zone, sample_of(in, BT_CH_LAP, i));
        }
        f->t = t;
        if (isnan(f->of[SPEED].value)) continue;
        watch_motion(f, in, i, dt);
        f->of[SPEED].dead = f->of[SPEED].dead || speed_is_frozen(f);
    }
    return BT_OK;
}

static double moved_by(const double *x, size_t n)
{
    span s = {NAN, NAN};
    for (size_t i = 0; i < n; i++) s = (span){fmin(s.low, x[i]), fmax(s.high, x[i])};
    return s.high - s.low;
}

static void count(bt_frozen *f, watched k, const bt_block *zone, bt_channel sister)
{
    stand *s = &f->of[k];
    if (!zone->ch[sister] || !(s->since <= zone->t[0])) return;
    const double by = moved_by(zone->ch[sister], zone->n);
    if (!(by >= about[k].moves)) return;
    if (by > s->most) s->most = by, s->sister = sister;
    s->dead = ++s->brakings >= BRAKINGS;
}

void bt_frozen_braking(bt_frozen *f, const bt_block *zone, bool by_wire)
{
    if (fabs(f->of[TORQUE].value) > 0) count(f, TORQUE, zone, BT_CH_MOTOR_REQUEST);
    count(f, REQUEST, zone, BT_CH_MOTOR_TORQUE);
    if (by_wire)
        count(f, LINE, zone, f->bywire_axle == BT_FRONT ? BT_CH_LINE_FRONT : BT_CH_LINE_REAR);
}

bt_status bt_frozen_end(bt_frozen *f, bt_events *events, bt_error *err)
{
    for (watched k = 0; k < WATCHED; k++) BT_TRY(finish(f, k, true, events, err));
    return BT_OK;
}
