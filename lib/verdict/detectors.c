/* Events of finished zones and of what lies between: see detectors.h (METHODS 8). */
#include "verdict/detectors.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "verdict/frozen.h"
#include "verdict/gaps.h"
#include "verdict/ranges.h"
#include "verdict/resting.h"
#include "verdict/stall.h"
#include "verdict/standing.h"

#define BAR         1e5
#define KELVIN      273.15
#define LOSS_TIME   0.3 /* s that a motor may take to answer */
#define LOSS_ASKED  0.1 /* of the demand: less asked for is no matter */
#define LOSS_GIVEN  0.2 /* of what is asked for: more given is no loss */
#define SIDES_APART 0.1 /* of the axle's mean pressure */
#define SIDES_LEAST 5e5 /* Pa, mean pressure below which sides are not compared */
#define REST_STILL  2.0 /* s of one and the same value at rest: no noise, no sensor */

/* Causes of the car. */
enum { MOTOR_LOSS, STALL, SIDES_FRONT, SIDES_REAR, DISC_FRONT, DISC_REAR, CAR_CAUSES };

struct bt_detectors {
    const bt_channels *channels;
    const bt_car *car;
    bt_episode of_car[CAR_CAUSES], stuck[BT_CH_COUNT];
    bool lively[BT_CH_COUNT]; /* it had noise at the last good rest */
    bt_resting resting;
    bt_ranges ranges;
    bt_gaps gaps;
    bt_standing *standing;
    bt_frozen *frozen;
    double zone_end; /* s, of the last zone; NaN = none yet */
};

bt_status bt_detectors_new(bt_detectors **out, const bt_channels *channels, const bt_car *car,
                           bt_error *err)
{
    bt_detectors *d = *out = calloc(1, sizeof *d);
    if (!d) return bt_fail(err, BT_NOMEM, "no memory for the detectors");
    d->channels = channels;
    d->car = car;
    d->zone_end = NAN;
    bt_ranges_init(&d->ranges);
    bt_gaps_init(&d->gaps);
    bt_resting_init(&d->resting, car->bywire_axle);
    bt_status status = bt_standing_new(&d->standing, car->bywire_axle, err);
    if (status == BT_OK) status = bt_frozen_new(&d->frozen, car->bywire_axle, err);
    if (status == BT_OK) return BT_OK;
    bt_detectors_free(d);
    *out = NULL;
    return status;
}

void bt_detectors_free(bt_detectors *d)
{
    if (!d) return;
    bt_standing_free(d->standing);
    bt_frozen_free(d->frozen);
    free(d);
}

/* ---- words ---- */

static const char *axle_word(int axle)
{
    return axle == BT_FRONT ? "front" : "rear";
}

static bt_channel side_of(int axle, bool left)
{
    if (axle == BT_FRONT) return left ? BT_CH_LINE_FL : BT_CH_LINE_FR;
    return left ? BT_CH_LINE_RL : BT_CH_LINE_RR;
}

static bt_status emit_car(bt_episode *e, int cause, bt_events *events, bt_error *err)
{
    bt_event *out;
    const int axle = (cause - SIDES_FRONT) % 2;
    switch (cause) {
    case MOTOR_LOSS:
        BT_TRY(bt_episode_emit(e, "motor-loss", BT_WATCH, e->other - e->value, "N.m", events, &out,
                               err));
        bt_event_say(out, "motor gone while asked for: %.0f N·m less than asked", e->value);
        return BT_OK;
    case STALL:
        BT_TRY(bt_episode_emit(e, "actuator-stall", BT_WATCH, e->value / BAR, "bar", events, &out,
                               err));
        bt_event_say(out, "by-wire line stands at %.1f bar, %.1f bar from its request",
                     e->other / BAR, fabs(e->value) / BAR);
        return BT_OK;
    case SIDES_FRONT:
    case SIDES_REAR:
        BT_TRY(bt_episode_emit(e, "left-right", BT_WATCH, 100 * e->value, "%", events, &out, err));
        bt_event_say(out, "%s is %.0f %% below %s, of their mean %.1f bar",
                     bt_channel_name(side_of(axle, e->value < 0)), 100 * fabs(e->value),
                     bt_channel_name(side_of(axle, e->value > 0)), e->other / BAR);
        return BT_OK;
    default:
        BT_TRY(
            bt_episode_emit(e, "disc-limit", BT_STOP, e->value - KELVIN, "Cel", events, &out, err));
        bt_event_say(out, "%s discs at %.0f °C, limit %.0f °C", axle_word(axle), e->value - KELVIN,
                     e->other - KELVIN);
        return BT_OK;
    }
}

static bt_status emit_stuck(bt_episode *e, bt_channel c, bt_events *events, bt_error *err)
{
    bt_event *out;
    BT_TRY(bt_episode_emit(e, "sensor-stuck", bt_sensor_severity(c), NAN, "", events, &out, err));
    bt_event_say(out, "%s stands still while others move", bt_channel_name(c));
    return BT_OK;
}

/* What was not seen in this zone is over; at the end of the log everything is. */
static bt_status settle(bt_detectors *d, bool all, bt_events *events, bt_error *err)
{
    for (int k = 0; k < CAR_CAUSES; k++) {
        bt_episode *e = &d->of_car[k];
        if (bt_episode_over(e, all)) BT_TRY(emit_car(e, k, events, err));
    }
    for (bt_channel c = 0; c < BT_CH_COUNT; c++)
        if (bt_episode_over(&d->stuck[c], all)) BT_TRY(emit_stuck(&d->stuck[c], c, events, err));
    BT_TRY(bt_ranges_settle(&d->ranges, all, events, err));
    return bt_resting_settle(&d->resting, all, events, err);
}

/* ---- what to see in a zone ---- */

static bool is_stuck(const bt_detectors *d, bt_channel c)
{
    return d->stuck[c].open || bt_standing_dead(d->standing, c);
}

static void motor_loss(bt_detectors *d, const bt_block *s, const bt_torques *q, const bt_zone *row)
{
    if (!q->req_motor || !q->motor || !q->demand) return;
    double since = NAN, missing = 0;
    for (size_t i = 0; i < s->n; i++) {
        const bool gone = q->req_motor[i] > LOSS_ASKED * q->demand[i] && q->req_motor[i] > 0 &&
                          q->demand[i] > 0 && q->motor[i] < LOSS_GIVEN * q->req_motor[i];
        if (!gone) {
            since = NAN;
            missing = 0;
            continue;
        }
        if (isnan(since)) since = s->t[i];
        missing = fmax(missing, q->req_motor[i] - q->motor[i]);
        if (s->t[i] - since >= LOSS_TIME)
            (void)bt_episode_see(&d->of_car[MOTOR_LOSS], row, since, s->t[i], missing, 0);
    }
}

static void stall(bt_detectors *d, const bt_block *s, const bt_zone *row)
{
    const double *left, *right, *request = s->ch[BT_CH_LINE_REQUEST];
    bt_line_pressure(s, d->car->bywire_axle, &left, &right);
    if (!request || !left) return;
    const bt_stall found = bt_stall_find(s->t, request, left, right, s->n);
    if (found.time > 0)
        (void)bt_episode_see(&d->of_car[STALL], row, found.start, found.start + found.time,
                             found.apart, found.line);
}

static void sides(bt_detectors *d, const bt_block *s, const bt_zone *row, bt_axle axle)
{
    const double *left, *right;
    bt_line_pressure(s, axle, &left, &right);
    if (!left || left == right) return;
    const bt_channel on_left = axle == BT_FRONT ? BT_CH_LINE_FL : BT_CH_LINE_RL;
    if (is_stuck(d, on_left) || is_stuck(d, on_left + 1)) return;
    double difference = 0, mean = 0, time = 0;
    for (size_t i = 1; i < s->n; i++) {
        const double dt = s->t[i] - s->t[i - 1];
        if (isnan(left[i] + right[i])) continue;
        difference += dt * (left[i] - right[i]);
        mean += dt * 0.5 * (left[i] + right[i]);
        time += dt;
    }
    if (mean > SIDES_LEAST * time && fabs(difference) > SIDES_APART * mean)
        (void)bt_episode_see(&d->of_car[SIDES_FRONT + (axle == BT_REAR)], row, s->t[0],
                             s->t[s->n - 1], difference / mean, mean / time);
}

static void discs(bt_detectors *d, const bt_block *s, const bt_zone *row)
{
    const double peak[2] = {row->disc_front, row->disc_rear};
    for (int axle = 0; axle < 2; axle++) {
        const double limit = bt_car_axle(d->car, BT_CAR_DISC_LIMIT_FRONT, (bt_axle)axle);
        if (peak[axle] > limit)
            (void)bt_episode_see(&d->of_car[DISC_FRONT + axle], row, s->t[0], s->t[s->n - 1],
                                 peak[axle], limit);
    }
}

/* The channel was seen to stand; what it does beyond the zone is told by standing.h. */
static void stuck(bt_detectors *d, bt_channel c, const bt_zone *row, double start, double end)
{
    if (!bt_standing_confirm(d->standing, c, start))
        (void)bt_episode_see(&d->stuck[c], row, start, end, 0, 0);
}

/* Pressures at rest before the zone.  What was left there without the noise it used to have is a sensor that does
 * not live; while the pedal was dead or out of range, nobody knows what rest is. */
static void rest(bt_detectors *d, const bt_braking *zone, const bt_zone *row,
                 const bool still[BT_CH_COUNT])
{
    const double t = zone->s.t[0], from = isnan(d->zone_end) ? t : d->zone_end;
    bool explained[BT_CH_COUNT];
    if (bt_standing_told(d->standing, zone->pedal, from)) return;
    if (zone->pedal < BT_CH_COUNT && d->ranges.of[zone->pedal].open) return;
    for (bt_channel c = 0; c < BT_CH_COUNT; c++) {
        const bool beyond = zone->rest.flag[c] != 0;
        if (beyond && still[c] && d->lively[c]) stuck(d, c, row, from, t);
        if (!beyond && !isnan(zone->rest.level[c])) d->lively[c] = !still[c];
        explained[c] = is_stuck(d, c) || bt_standing_told(d->standing, c, from) ||
                       d->ranges.of[c].open || (c != BT_CH_LINE_REQUEST && d->of_car[STALL].open);
    }
    bt_resting_zone(&d->resting, zone, row, from, explained);
}

static bt_status lock(const bt_detectors *d, const bt_slip *slip, const bt_zone *row,
                      bt_events *events, bt_error *err)
{
    if (!(slip->lock > 0)) return BT_OK;
    const bool front = slip->wheel == BT_CH_WHEEL_FL || slip->wheel == BT_CH_WHEEL_FR;
    bt_event *e;
    BT_TRY(bt_events_add(events, "wheel-lock", BT_WATCH, slip->first_lock, slip->lock, &e, err));
    e->zone = row->zone;
    e->lap = row->lap;
    const double most = 100 * (front ? slip->front : slip->rear);
    bt_event_value(e, most, "%");
    bt_event_say(e, "%s first beyond the slip limit of %.0f %%, up to %.1f %%",
                 slip->wheel < BT_CH_COUNT ? bt_channel_name(slip->wheel) : "wheel",
                 100 * d->car->value[BT_CAR_SLIP_LIMIT], most);
    if (slip->locks > 1)
        bt_event_say(e, "%.2f s in all, in %zu pieces", slip->lock, slip->locks);
    else
        bt_event_say(e, "%.2f s", slip->lock);
    return BT_OK;
}

bt_status bt_detectors_zone(bt_detectors *d, const bt_braking *zone, const bt_torques *torques,
                            const bt_slip *slip, const uint32_t which[BT_CH_COUNT],
                            const bt_zone *row, bt_events *events, bt_error *err)
{
    const bt_block *s = &zone->s;
    const bool given_up = strcmp(row->mode, "fallback") == 0 || strcmp(row->mode, "mixed") == 0;
    const bt_standing_place place = {zone->pedal, zone->zero, row->zone, torques,
                                     bt_friction_gain(d->car, d->car->bywire_axle)};
    bool still[BT_CH_COUNT];
    for (bt_channel c = 0; c < BT_CH_COUNT; c++)
        still[c] = bt_standing_still(d->standing, c, REST_STILL);
    BT_TRY(bt_standing_take(d->standing, s, &place, events, err));
    BT_TRY(bt_frozen_take(d->frozen, s, row->zone, events, err));
    bt_frozen_braking(d->frozen, s, strcmp(row->mode, "by-wire") == 0);
    const bt_channel line = d->car->bywire_axle == BT_FRONT ? BT_CH_LINE_FRONT : BT_CH_LINE_REAR;
    if (!given_up) {
        motor_loss(d, s, torques, row);
        if (!is_stuck(d, line)) stall(d, s, row);
    }
    rest(d, zone, row, still);
    bt_ranges_zone(&d->ranges, s, which, row);
    for (bt_channel c = 0; c < BT_CH_COUNT; c++)
        if (which[c] & BT_FLAG_SENSOR_STUCK) stuck(d, c, row, s->t[0], s->t[s->n - 1]);
    sides(d, s, row, BT_FRONT);
    sides(d, s, row, BT_REAR);
    discs(d, s, row);
    BT_TRY(settle(d, false, events, err));
    BT_TRY(lock(d, slip, row, events, err));
    d->zone_end = s->t[s->n - 1];
    return bt_gaps_take(&d->gaps, s, events, err);
}

bt_status bt_detectors_free_run(bt_detectors *d, const bt_block *run, bt_channel pedal,
                                bt_events *events, bt_error *err)
{
    const bt_standing_place place = {.pedal = pedal, .zone = NAN};
    BT_TRY(bt_standing_take(d->standing, run, &place, events, err));
    BT_TRY(bt_frozen_take(d->frozen, run, NAN, events, err));
    bt_ranges_between(&d->ranges, run);
    return bt_gaps_take(&d->gaps, run, events, err);
}

bt_status bt_detectors_end(bt_detectors *d, bt_events *events, bt_error *err)
{
    BT_TRY(settle(d, true, events, err));
    BT_TRY(bt_standing_end(d->standing, events, err));
    BT_TRY(bt_frozen_end(d->frozen, events, err));
    return bt_gaps_end(&d->gaps, events, err);
}

size_t bt_detectors_unseen(const bt_detectors *d, bt_channel *pedal)
{
    return bt_standing_unseen(d->standing, pedal);
}

double bt_detectors_speed_frozen(const bt_detectors *d)
{
    return bt_frozen_speed_time(d->frozen);
}
