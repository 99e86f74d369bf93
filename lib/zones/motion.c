/* Kinematics of a braking zone: see motion.h. */
#include "zones/motion.h"

#include "zones/integral.h"

#include <math.h>

#define PHASE_PART  0.9          /* of the peak pedal (METHODS 4) */
#define JERK_WINDOW 0.1          /* s */
#define STANDSTILL  (0.5 + 1e-6) /* m/s (METHODS 4): a stop's last sample is interpolated to it */
#define MFDD_FROM   0.8          /* of the entry speed, UN R13 and R13-H (CHECKS 1.1) */
#define MFDD_TO     0.1
#define ROUNDING    1e-9 /* s, of window ends on an even grid */
#define ANCHOR      64   /* samples that sums move along by before they are made anew */

static double peak_of(const double *x, size_t n)
{
    double most = -INFINITY;
    for (size_t i = 0; i < n; i++) most = x[i] > most ? x[i] : most;
    return most > -INFINITY ? most : NAN;
}

void bt_phases(const double *pedal, size_t n, size_t *apply, size_t *release)
{
    const double enough = PHASE_PART * peak_of(pedal, n);
    *apply = *release = n;
    if (!(enough > 0)) return;
    for (*apply = 0; !(pedal[*apply] >= enough);) ++*apply;
    while (!(pedal[*release - 1] >= enough)) --*release;
}

/* Sums over a window that moves along, about an origin that is never far. */
typedef struct {
    double t0, x0;
    double t, x, tt, tx, used;
} slope_sums;

/* weight 1 = comes in, -1 = goes out. */
static void add_sample(slope_sums *s, double t, double x, double weight)
{
    if (isnan(x)) return;
    const double u = t - s->t0, y = x - s->x0;
    s->t += weight * u;
    s->x += weight * y;
    s->tt += weight * u * u;
    s->tx += weight * u * y;
    s->used += weight;
}

/* Least squares; plain sums do for a window of tenths of a second. */
static double slope_of(const slope_sums *s)
{
    const double spread = s->used * s->tt - s->t * s->t;
    return s->used > 1 && spread > 0 ? (s->used * s->tx - s->t * s->x) / spread : NAN;
}

double bt_steepest(const double *t, const double *x, size_t n, size_t end, double window)
{
    double most = NAN;
    slope_sums s = {0};
    for (size_t lo = 0, hi = 0; lo < end && lo < n; lo++) { /* the sums are over [lo, hi) */
        if (lo % ANCHOR == 0) {
            s = (slope_sums){.t0 = t[lo], .x0 = isnan(x[lo]) ? 0 : x[lo]};
            hi = lo;
        }
        for (; hi < n && (hi == lo || t[hi - 1] - t[lo] < window - ROUNDING); hi++)
            add_sample(&s, t[hi], x[hi], 1);
        if (!(t[hi - 1] - t[lo] >= window - ROUNDING))
            break; /* the samples end before the window */
        const double slope = slope_of(&s);
        if (!isnan(x[lo] + slope) && !(slope <= most)) most = slope;
        add_sample(&s, t[lo], x[lo], -1);
    }
    return most;
}

/* Distance from the zone's start to each sample: the log's own, or s = s + mean speed * dt as it goes. */
static double distance_step(const bt_block *s, size_t i)
{
    const double *dist = s->ch[BT_SIG_DIST], *v = s->ch[BT_SIG_SPEED];
    if (dist) return dist[i] - dist[i - 1];
    return 0.5 * (v[i - 1] + v[i]) * (s->t[i] - s->t[i - 1]);
}

/* Distance at which the speed first falls to `level`; between samples v^2 is a straight line over
 * distance, exact for a constant deceleration.  NaN = never, or a hole on the way. */
static double distance_at(const bt_block *s, double level)
{
    const double *v = s->ch[BT_SIG_SPEED];
    double at = 0;
    for (size_t i = 1; i < s->n; i++) {
        const double step = distance_step(s, i);
        if (v[i] <= level && v[i - 1] > level)
            return at + step * (v[i - 1] * v[i - 1] - level * level) /
                            (v[i - 1] * v[i - 1] - v[i] * v[i]);
        at += step;
    }
    return NAN;
}

static double mfdd(const bt_block *s, double entry)
{
    const double from = MFDD_FROM * entry, to = MFDD_TO * entry;
    const double way = distance_at(s, to) - distance_at(s, from);
    return way > 0 ? (from * from - to * to) / (2 * way) : NAN;
}

static double distance_of(const bt_block *s)
{
    const double *dist = s->ch[BT_SIG_DIST];
    if (dist) return dist[s->n - 1] - dist[0];
    return bt_integral_whole(s->t, s->ch[BT_SIG_SPEED], s->n);
}

static double jerk(const bt_block *s)
{
    const double *decel = s->ch[BT_SIG_DECEL];
    size_t apply, release;
    bt_phases(decel, s->n, &apply, &release);
    return apply < s->n ? bt_steepest(s->t, decel, s->n, apply, JERK_WINDOW) : NAN;
}

void bt_metrics_motion(const bt_block *s, double nominal, bt_zone *row)
{
    const double *v = s->ch[BT_SIG_SPEED], *decel = s->ch[BT_SIG_DECEL];
    row->duration = s->n ? s->t[s->n - 1] - s->t[0] : NAN;
    row->distance = row->entry = row->exit = row->decel_mean = row->decel_dist = NAN;
    row->mfdd = row->decel_peak = row->jerk = row->stop = row->stop_nominal = NAN;
    if (s->n < 2) return;
    if (decel && !isnan(bt_time_mean(s->t, decel, s->n))) {
        row->decel_peak = peak_of(decel, s->n);
        row->jerk = jerk(s);
    }
    if (!v || isnan(bt_time_mean(s->t, v, s->n))) return;
    const double in = v[0], out = v[s->n - 1];
    row->entry = in;
    row->exit = out;
    row->distance = distance_of(s);
    row->decel_mean = (in - out) / row->duration;
    row->decel_dist = row->distance > 0 ? (in * in - out * out) / (2 * row->distance) : NAN;
    row->mfdd = mfdd(s, in);
    if (!(out <= STANDSTILL)) return;
    row->stop = row->distance;
    if (nominal > 0) row->stop_nominal = row->stop * (nominal / in) * (nominal / in);
}
