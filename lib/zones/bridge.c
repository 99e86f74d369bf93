/* A straight line for a speed that cannot be believed.  See bridge.h; METHODS 3.
 *
 * A driven axle that locks takes every speed the log has with it: what the speed stage then lets
 * fall by the grip limit is a bound, no speed.  The speeds before and after the slip are known, and
 * the mean deceleration between them is the figure that the log can bear. */
#include "zones/bridge.h"

#include <math.h>

/* Samples [lo, hi) are unsure or too near to such ones. */
typedef struct {
    size_t lo, hi;
} span;

/* The next unsure span from `from` on that begins before n; false if there is none. */
static bool find_span(const bt_hold *h, size_t from, size_t n, size_t known, double half, span *s)
{
    const double *t = h->t, *unsure = h->ch[BT_SIG_UNSURE];
    size_t i = from;
    while (i < n && !(unsure[i] == 1)) i++;
    if (i == n) return false;
    s->lo = i;
    while (s->lo > from && t[s->lo - 1] > t[i] - half) s->lo--;
    double last = t[i];
    for (s->hi = i + 1; s->hi < known && (unsure[s->hi] == 1 || t[s->hi] < last + half); s->hi++)
        if (unsure[s->hi] == 1) last = t[s->hi];
    return true;
}

static void draw_line(bt_hold *h, size_t lo, size_t hi, bt_believed a, bt_believed b)
{
    const double slope = (b.v - a.v) / (b.t - a.t);
    for (size_t i = lo; i < hi; i++) {
        h->ch[BT_SIG_SPEED][i] = a.v + slope * (h->t[i] - a.t);
        if (h->has[BT_SIG_DECEL]) h->ch[BT_SIG_DECEL][i] = -slope;
    }
}

/* Distance from the new speeds over [lo, hi), and the rest of the n samples moved along. */
static void lay_distance(bt_hold *h, size_t lo, size_t hi, size_t n)
{
    if (!h->has[BT_SIG_DIST]) return;
    const double *t = h->t, *v = h->ch[BT_SIG_SPEED];
    double *d = h->ch[BT_SIG_DIST];
    const size_t first = lo > 0 ? lo : 1, end = hi < n ? hi + 1 : n;
    double moved = 0;
    for (size_t i = first; i < end; i++) {
        const double was = d[i];
        d[i] = d[i - 1] + 0.5 * (t[i] - t[i - 1]) * (v[i - 1] + v[i]);
        moved = d[i] - was;
    }
    for (size_t i = end; i < n; i++) d[i] += moved;
}

bool bt_bridge(bt_hold *h, size_t n, size_t known, bt_believed before, double half)
{
    if (!h->has[BT_SIG_UNSURE] || !h->has[BT_SIG_SPEED]) return false;
    bool any = false;
    span s;
    for (size_t from = 0; find_span(h, from, n, known, half, &s); from = s.hi) {
        any = true;
        const bt_believed a =
            s.lo > 0 ? (bt_believed){h->t[s.lo - 1], h->ch[BT_SIG_SPEED][s.lo - 1]} : before;
        if (s.hi >= known) break;
        const bt_believed b = {h->t[s.hi], h->ch[BT_SIG_SPEED][s.hi]};
        if (!isfinite(a.t) || !isfinite(a.v) || !isfinite(b.v)) continue;
        const size_t hi = s.hi < n ? s.hi : n;
        draw_line(h, s.lo, hi, a, b);
        lay_distance(h, s.lo, hi, n);
    }
    return any;
}
