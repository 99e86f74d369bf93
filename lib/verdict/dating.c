/* When a fallback began: see dating.h (METHODS 8). */
#include "verdict/dating.h"

#include <math.h>

#include "verdict/onset.h"

#define DROP_APART                                                                                 \
    0.05 /* s from where the line may have changed hands, for the motor to tell when */
#define AT_ONCE    0.05 /* s: a motor that is cut so near to the flag's rise was cut by the flag */
#define TAIL_TIME  0.1  /* s of release in which a line ... */
#define TAIL_LEAST 3e5  /* Pa, with so much of pedal pressure in them, ... */
#define TAIL_NEAR  1e5  /* Pa ... has to be so near to the bypass to be looked at more closely */
#define TAIL_SURE  20.0 /* nats; by-wire lines come by the bypass for a moment in many a release */

static const bt_moment none = {.since = -INFINITY, .t = NAN, .zone = NAN, .lap = NAN};

void bt_dating_init(bt_dating *d, const bt_car *car)
{
    *d = (bt_dating){.car = car, .early = none, .tail = none};
}

static bt_change_zone as_seen(bt_dating *d, const bt_dated *zone)
{
    const bt_evidence *e = zone->evidence;
    const bt_torques *q = zone->torques;
    const double *request = zone->s->ch[BT_CH_LINE_REQUEST];
    const double *motor = e->by[BT_BY_MEASURED] ? q->motor : q->req_motor;
    if (!d->started)
        bt_wire_init(&d->wire, bt_friction_gain(d->car, d->car->bywire_axle),
                     bt_friction_threshold(d->car, d->car->bywire_axle), e->gain_u, request);
    d->started = true;
    return (bt_change_zone){.n = zone->s->n,
                            .t = zone->s->t,
                            .line = e->line,
                            .pedal = e->pedal,
                            .asked = request ? request : q->demand,
                            .motor = !request && q->motor_bywire ? motor : NULL,
                            .delay = e->delay,
                            .line_u = e->line_u,
                            .pedal_u = e->pedal_u};
}

/* When the motor was cut off, if shortly before `high` and not by the flag; NaN = it was not. */
static double cut_off(const bt_dated *zone, double high)
{
    const double drop =
        bt_onset_drop(zone->s->t, zone->torques, zone->s->n, zone->evidence->delay, high);
    const bool by_flag = zone->flag->up && fabs(zone->flag->rise - drop) < AT_ONCE;
    return by_flag ? NAN : drop;
}

/* A motor that is cut off with the line tells to the sample what the line may tell less well. */
static double sharpened(const bt_dated *zone, const bt_change *change)
{
    const double *t = zone->s->t, high = t[change->high], drop = cut_off(zone, high);
    const bool near = drop >= t[change->low] - DROP_APART && drop <= high + DROP_APART;
    return near ? drop : t[change->first];
}

bt_moment bt_dating_moment(bt_dating *d, const bt_dated *zone, double since, size_t i)
{
    const double *t = zone->s->t;
    bt_moment m = {.since = since, .t = since, .zone = zone->zone, .lap = zone->lap};
    if (since < t[0]) return m;
    if (!(since <= t[i])) { /* the log's time jumped back since */
        m.t = t[0];
        m.doubt = true;
        return m;
    }
    const bt_change_zone seen = as_seen(d, zone);
    const double ratio = bt_change_ratio(&seen, bt_onset_index(t, seen.n, since), i + 1);
    const bt_change change = bt_change_find(&d->wire, &seen, i, ratio);
    if (change.first == i) return m; /* the evidence is all there is */
    if (change.first > 0) {
        m.t = sharpened(zone, &change);
    } else if (!isnan(d->tail.t)) {
        m = d->tail;
        m.since = since;
    } else {
        m.t = t[0];
        m.doubt = true;
    }
    return m;
}

/* Since when the line has followed the pedal in the zone's release, where that was too little to be found; NaN
 * = it does not.  A motor that was cut off there tells where the line alone cannot. */
static double tail_of(bt_dating *d, const bt_dated *zone)
{
    const bt_change_zone seen = as_seen(d, zone);
    const double ratio = d->car->value[BT_CAR_BYPASS_RATIO];
    size_t to = seen.n;
    while (to > 0 && !(seen.pedal[to - 1] >= TAIL_LEAST)) to--;
    if (to == 0) return NAN;
    const double cut = cut_off(zone, seen.t[to - 1]);
    const double since = fmax(seen.t[to - 1] - TAIL_TIME, cut); /* the cut, unless that is NaN */
    const size_t from = bt_onset_index(seen.t, to, since);
    double off = 0;
    for (size_t i = from; i < to; i++) off += seen.line[i] - ratio * seen.pedal[i];
    if (!(fabs(off) <= TAIL_NEAR * (double)(to - from))) return NAN;
    if (!isnan(cut)) return cut;
    const bt_change change = bt_change_find(&d->wire, &seen, to, ratio);
    return change.first > 0 && change.nats >= TAIL_SURE ? sharpened(zone, &change) : NAN;
}

void bt_dating_keep(bt_dating *d, const bt_dated *zone, double since)
{
    if (isnan(since)) {
        d->early = none;
    } else {
        const bt_moment m = bt_dating_moment(d, zone, since, zone->s->n - 1);
        if (m.since > d->early.since) d->early = m;
    }
    d->tail = (bt_moment){
        .since = -INFINITY, .t = tail_of(d, zone), .zone = zone->zone, .lap = zone->lap};
}

void bt_dating_learn(bt_dating *d, const bt_dated *zone)
{
    const bt_change_zone seen = as_seen(d, zone);
    bt_wire_learn(&d->wire, &seen);
}
