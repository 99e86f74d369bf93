/* Wheel slip and lock-up under braking (METHODS 8).  A piece of lock-up runs between the times at which
 * the largest slip crosses the limit, on the straight line between samples, so that a slow log counts
 * the same time as a fast one.  After segment. */
#include "signals/slip.h"

#include <assert.h>
#include <math.h>

#define WHEELS     4
#define SLIP_SPEED 1.0  /* m/s; slower, the noise of the speed is all there is to slip */
#define LOCK_SPEED 5.0  /* m/s, for peaks and lock-up */
#define LOCK_TIME  0.05 /* s */
#define ROUNDING   1e-9 /* s, of times that were decimals */

static const bt_channel wheels[WHEELS] = {BT_CH_WHEEL_FL, BT_CH_WHEEL_FR, BT_CH_WHEEL_RL,
                                          BT_CH_WHEEL_RR};

static double slip_of(double wheel, double speed, double trim)
{
    return speed > SLIP_SPEED ? 1 - wheel * trim / speed : NAN;
}

void bt_slip_wheel(const double *wheel, const double *speed, size_t n, double trim, double *out)
{
    for (size_t i = 0; i < n; i++) out[i] = slip_of(wheel[i], speed[i], trim);
}

/* The wheel that slips most at sample i, if any has a slip worth looking at. */
typedef struct {
    double slip; /* NaN = none */
    bt_channel wheel;
} worst;

static worst take_sample(const bt_block *zone, const double trim[WHEELS], size_t i, bt_slip *out)
{
    worst w = {NAN, BT_CH_COUNT};
    const double v = zone->ch[BT_SIG_SPEED][i];
    if (!(v > LOCK_SPEED)) return w;
    for (size_t k = 0; k < WHEELS; k++) {
        const double *wheel = zone->ch[wheels[k]];
        const double slip = wheel ? slip_of(wheel[i], v, trim[k]) : NAN;
        double *axle = k < 2 ? &out->front : &out->rear;
        if (isnan(slip)) continue;
        if (!(slip <= *axle)) *axle = slip;
        if (!(slip <= w.slip)) w = (worst){slip, wheels[k]};
    }
    return w;
}

/* When x, on its way from x0 at t[-1] to x1 at t[0], passes the limit. */
static double crossing(const double *t, double x0, double x1, double limit)
{
    return t[-1] + (t[0] - t[-1]) * (limit - x0) / (x1 - x0);
}

static void close_piece(bt_slip *out, double from, double to, bt_channel wheel)
{
    if (to - from < LOCK_TIME - ROUNDING) return;
    if (out->locks++ == 0) {
        out->first_lock = from;
        out->wheel = wheel;
    }
    out->lock += to - from;
}

void bt_slip_zone(const bt_block *zone, const bt_car *car, const double trim[4], bt_slip *out)
{
    *out =
        (bt_slip){.front = NAN, .rear = NAN, .lock = NAN, .first_lock = NAN, .wheel = BT_CH_COUNT};
    for (int w = 0; w < WHEELS; w++)
        if (zone->ch[BT_CH_WHEEL_FL + w] && !isnan(trim[w])) out->lock = 0;
    assert(zone->ch[BT_SIG_SPEED]);
    const double limit = car->value[BT_CAR_SLIP_LIMIT], *t = zone->t;
    worst before = {NAN, BT_CH_COUNT};
    double from = NAN; /* NaN = no piece is open */
    bt_channel wheel = BT_CH_COUNT;
    for (size_t i = 0; i < zone->n; i++) {
        const worst now = take_sample(zone, trim, i, out);
        if (now.slip > limit && isnan(from)) {
            wheel = now.wheel;
            from = isnan(before.slip) ? t[i] : crossing(t + i, before.slip, now.slip, limit);
        } else if (!(now.slip > limit) && !isnan(from)) {
            const double to =
                isnan(now.slip) ? t[i - 1] : crossing(t + i, before.slip, now.slip, limit);
            close_piece(out, from, to, wheel);
            from = NAN;
        }
        before = now;
    }
    if (!isnan(from)) close_piece(out, from, t[zone->n - 1], wheel);
}
