/* Wheel slip and lock-up under braking (METHODS 8).  A piece of lock-up runs between the times at which
 * the largest slip crosses the limit, on the straight line between samples, so that a slow log counts
 * the same time as a fast one.  After segment. */
#include "signals/slip.h"

#include <assert.h>
#include <math.h>

#define WHEELS     4
#define SLIP_SPEED 1.0           /* m/s; slower, the noise of the speed is all there is to slip */
#define LOCK_SPEED 5.0           /* m/s, for peaks and lock-up */
#define LOCK_TIME  0.05          /* s */
#define ROUNDING   1e-9          /* s, of times that were decimals */
#define NONE       (-INFINITY)   /* no slip */
#define PIECE      ((size_t)256) /* samples worked on at once */

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

/* The largest slip of any wheel at the n samples from `from` on, NONE where there is none to look at; out gets
 * the largest of each axle.  Wheel by wheel, without a branch. */
static void worst_of(const bt_block *zone, const double trim[WHEELS], size_t from, size_t n,
                     double *worst, bt_slip *out)
{
    const double *v = zone->ch[BT_SIG_SPEED] + from;
    double per_speed[PIECE];
    for (size_t i = 0; i < n; i++) {
        per_speed[i] = v[i] > LOCK_SPEED ? 1 / v[i] : NAN;
        worst[i] = NONE;
    }
    for (size_t k = 0; k < WHEELS; k++) {
        const double *wheel = zone->ch[wheels[k]];
        if (!wheel || isnan(trim[k])) continue;
        double *axle = k < 2 ? &out->front : &out->rear, most = isnan(*axle) ? NONE : *axle;
        for (size_t i = 0; i < n; i++) {
            const double slip = 1 - wheel[from + i] * trim[k] * per_speed[i];
            most = slip > most ? slip : most;
            worst[i] = slip > worst[i] ? slip : worst[i];
        }
        if (most > NONE) *axle = most;
    }
}

/* The first wheel with the largest slip at a sample. */
static bt_channel wheel_of(const bt_block *zone, const double trim[WHEELS], size_t i)
{
    bt_channel first = BT_CH_COUNT;
    double most = NONE;
    for (size_t k = 0; k < WHEELS; k++) {
        const double *wheel = zone->ch[wheels[k]];
        const double slip = wheel ? slip_of(wheel[i], zone->ch[BT_SIG_SPEED][i], trim[k]) : NAN;
        if (!(slip > most)) continue;
        most = slip;
        first = wheels[k];
    }
    return first;
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
    double before = NONE, from = NAN; /* NaN = no piece is open */
    bt_channel wheel = BT_CH_COUNT;
    for (size_t at = 0, n; at < zone->n; at += n) {
        double worst[PIECE];
        n = zone->n - at < PIECE ? zone->n - at : PIECE;
        worst_of(zone, trim, at, n, worst, out);
        for (size_t k = 0; k < n; before = worst[k++]) {
            const size_t i = at + k;
            const bool slips = worst[k] > limit;
            if (slips == !isnan(from)) continue;
            if (slips) {
                wheel = wheel_of(zone, trim, i);
                from = before > NONE ? crossing(t + i, before, worst[k], limit) : t[i];
                continue;
            }
            const double to = worst[k] > NONE ? crossing(t + i, before, worst[k], limit) : t[i - 1];
            close_piece(out, from, to, wheel);
            from = NAN;
        }
    }
    if (!isnan(from)) close_piece(out, from, t[zone->n - 1], wheel);
}
