/* Wheel speeds to one car speed (METHODS 3).  What is learned, trims and doubts, is learned from means
 * over ticks while the car rolls freely, when every wheel turns as fast as the road passes.  Before
 * the speed stage's test of what a car can do. */
#include "signals/wheels.h"

#include <math.h>
#include <string.h>

#define TICK       0.2  /* s */
#define ROLL_SPEED 5.0  /* m/s; free rolling is faster */
#define ROLL_ACCEL 1.0  /* m/s2, and steadier: tyres slip by some 0.2 % at most then */
#define DEAD_SPEED 2.0  /* m/s; a slower wheel on a rolling car says nothing */
#define ALIKE      0.10 /* share; wheels farther apart contradict each other */
/* Doubt that leaves a wheel out, and where doubt stops growing; at none it is let in again. */
#define DOUBT_OUT 1.0
#define DOUBT_MAX 4.0
/* Trims: ratios 1 - SPAN .. 1 + SPAN in bins, used after some rolling and brought in slowly, since a
 * step in the radius would look like braking. */
#define BIN        0.0005
#define SPAN       (0.5 * BIN * BT_WHEEL_TRIM_BINS)
#define TRIM_AFTER 2.0   /* s of free rolling */
#define TRIM_RATE  0.005 /* 1/s of free rolling */
#define TRIM_AGE   120.0 /* s of free rolling, then the past counts half */
/* A wheel within GATE + share of what is expected is a candidate; slip reaches down, spin not up. */
#define GATE      0.5 /* m/s */
#define GATE_SLIP 0.15
#define GATE_SPIN 0.01
/* The fastest of four noisy wheels is too fast by their noise: a little smoothing takes that away. */
#define WHEEL_CONSTANT 0.015 /* s */
#define LEAP           1.0   /* m/s */

void bt_track_add(bt_track *k, double dt, double x, double constant)
{
    if (!k->started) {
        *k = (bt_track){.started = true, .value = x};
        return;
    }
    const double keep = constant / (constant + dt), lose = 1 - keep;
    const double ahead = k->value + k->slope * dt, off = x - ahead;
    k->value = ahead + (1 - keep * keep) * off;
    k->slope += lose * lose / dt * off;
}

double bt_braking_weight(double accel)
{
    const double w = (-accel - 0.5) / 1.5;
    return w > 1 ? 1 : w > 0 ? w : 0;
}

void bt_wheels_init(bt_wheels *w, const bt_car *car)
{
    /* A driven wheel spins and drags its axle along, so the other axle is asked first. */
    static const size_t front[] = {0, 1, 2, 3}, rear[] = {2, 3, 0, 1};
    *w = (bt_wheels){0};
    memcpy(w->order, car->motor_axle == BT_REAR ? front : rear, sizeof w->order);
    for (size_t i = 0; i < BT_WHEELS; i++) w->wheel[i].trim = w->wheel[i].needed = 1;
    bt_wheels_restart(w);
}

static void start_tick(bt_wheels *w, double t)
{
    w->tick_start = t;
    w->n = 0;
    w->ref_sum = 0;
    for (size_t i = 0; i < BT_WHEELS; i++) {
        w->wheel[i].sum = 0;
        w->wheel[i].n = 0;
    }
}

void bt_wheels_restart(bt_wheels *w)
{
    start_tick(w, NAN);
    w->cluster = NAN;
    w->members = 0;
    for (size_t i = 0; i < BT_WHEELS; i++) w->wheel[i].track.started = false;
}

/* ---- ticks: learning while the car rolls freely ---- */

static void close_means(bt_wheels *w)
{
    for (size_t i = 0; i < BT_WHEELS; i++) {
        bt_wheel *k = &w->wheel[i];
        k->mean = 2 * k->n > w->n ? k->sum / (double)k->n : NAN;
    }
    w->ref = w->ref_sum / (double)w->n;
}

static bool alike(double a, double b)
{
    return fabs(a - b) <= ALIKE * fmax(a, b);
}

/* The wheels that agree with the reference, or else the largest company of wheels that agree: bits. */
static unsigned find_members(const bt_wheels *w)
{
    unsigned best = 0;
    int best_n = 0;
    for (size_t k = 0; k < BT_WHEELS; k++) {
        const double centre = isnan(w->ref) ? w->wheel[w->order[k]].mean : w->ref;
        if (!(centre > DEAD_SPEED)) continue;
        unsigned members = 0;
        int n = 0;
        for (size_t j = 0; j < BT_WHEELS; j++) {
            if (!alike(w->wheel[j].mean, centre)) continue;
            members |= 1u << j;
            n++;
        }
        if (n > best_n) {
            best = members;
            best_n = n;
        }
    }
    return best;
}

/* The middle of v[0..n), sorted rising. */
static double middle(const double *v, size_t n)
{
    return n ? 0.5 * (v[(n - 1) / 2] + v[n / 2]) : NAN;
}

static size_t insert_sorted(double *v, size_t n, double x)
{
    size_t at = n;
    for (; at > 0 && v[at - 1] > x; at--) v[at] = v[at - 1];
    v[at] = x;
    return n + 1;
}

static double members_middle(const bt_wheels *w, unsigned members, size_t *n)
{
    double sorted[BT_WHEELS];
    *n = 0;
    for (size_t i = 0; i < BT_WHEELS; i++)
        if (members & 1u << i) *n = insert_sorted(sorted, *n, w->wheel[i].mean);
    return middle(sorted, *n);
}

static void doubt(bt_wheel *k, bool agrees, double dt)
{
    k->doubt += agrees ? -dt : dt;
    if (k->doubt > DOUBT_MAX) k->doubt = DOUBT_MAX;
    if (k->doubt < 0) k->doubt = 0;
    if (k->doubt >= DOUBT_OUT) k->left_out = true;
    if (k->doubt == 0) k->left_out = false;
}

static double bins_median(const bt_wheel *k)
{
    double sum = 0;
    size_t i = 0;
    while (i + 1 < BT_WHEEL_TRIM_BINS && sum + k->bin[i] < 0.5 * k->total) sum += k->bin[i++];
    return 1 - SPAN + BIN * ((double)i + (0.5 * k->total - sum) / k->bin[i]);
}

static void learn_trim(bt_wheel *k, double ratio, double dt)
{
    const double place = (ratio - 1 + SPAN) / BIN;
    if (!(place >= 0 && place < BT_WHEEL_TRIM_BINS)) return;
    k->bin[(size_t)place] += dt;
    k->total += dt;
    if (k->total > TRIM_AGE) {
        k->total *= 0.5;
        for (size_t i = 0; i < BT_WHEEL_TRIM_BINS; i++) k->bin[i] *= 0.5;
    }
    if (k->total < TRIM_AFTER) return;
    k->needed = bins_median(k);
    const double target = fmin(fmax(k->needed, 1 - BT_TRIM_MAX), 1 + BT_TRIM_MAX);
    const double step = TRIM_RATE * dt;
    k->trim += fmin(fmax(target - k->trim, -step), step);
}

static void learn(bt_wheels *w, double t)
{
    const double dt = t - w->tick_start, mid = w->tick_start + 0.5 * dt, before = w->cluster;
    const unsigned members = find_members(w);
    size_t n;
    const double centre = members_middle(w, members, &n);
    const double speed = isnan(w->ref) ? centre : w->ref;
    const bool same = members == w->members || !isnan(w->ref);
    const double accel = (speed - before) / (mid - w->tick_mid);
    w->cluster = speed;
    w->members = members;
    w->tick_mid = mid;
    if (!(same && speed > ROLL_SPEED && fabs(accel) < ROLL_ACCEL)) return;
    const bool told = !isnan(w->ref) || n > 1; /* one wheel against another tells nothing */
    for (size_t i = 0; i < BT_WHEELS; i++) {
        bt_wheel *k = &w->wheel[i];
        const bool agrees = (members & 1u << i) != 0;
        if (isnan(k->mean)) continue;
        if (told || !(k->mean > DEAD_SPEED)) doubt(k, agrees, dt);
        if (told && agrees) learn_trim(k, speed / k->mean, dt);
    }
}

static void add_wheel(bt_wheel *k, const double *v, size_t n)
{
    double sum = k->sum;
    for (size_t i = 0; i < n; i++) sum += v[i];
    if (isfinite(sum)) {
        k->sum = sum;
        k->n += n;
        return;
    }
    for (size_t i = 0; i < n; i++) {
        if (!isfinite(v[i])) continue;
        k->sum += v[i];
        k->n++;
    }
}

/* The usual case, all wheels and the reference with every value: five sums side by side, as each waits for
 * itself.  False = it is not that, nothing is added. */
static bool add_all(bt_wheels *w, const double *const v[BT_WHEELS], const double *reference,
                    size_t from, size_t to)
{
    if (!v[0] || !v[1] || !v[2] || !v[3] || !reference) return false;
    double a = w->wheel[0].sum, b = w->wheel[1].sum, c = w->wheel[2].sum, d = w->wheel[3].sum;
    double r = w->ref_sum;
    for (size_t i = from; i < to; i++) {
        a += v[0][i];
        b += v[1][i];
        c += v[2][i];
        d += v[3][i];
        r += reference[i];
    }
    if (!isfinite(a + b + c + d + r)) return false;
    const double sum[BT_WHEELS] = {a, b, c, d};
    w->ref_sum = r;
    for (size_t k = 0; k < BT_WHEELS; k++) {
        w->wheel[k].sum = sum[k];
        w->wheel[k].n += to - from;
    }
    return true;
}

/* Samples [from, to) belong to the tick under way. */
static void add_samples(bt_wheels *w, const double *const v[BT_WHEELS], const double *reference,
                        size_t from, size_t to)
{
    w->n += to - from;
    if (add_all(w, v, reference, from, to)) return;
    if (!reference) w->ref_sum = NAN;
    for (size_t i = from; reference && i < to; i++) w->ref_sum += reference[i];
    for (size_t k = 0; k < BT_WHEELS; k++)
        if (v[k]) add_wheel(&w->wheel[k], v[k] + from, to - from);
}

void bt_wheels_watch(bt_wheels *w, const double *t, const double *const v[BT_WHEELS],
                     const double *reference, size_t n)
{
    for (size_t from = 0, to; from < n; from = to) {
        if (!(t[from] - w->tick_start < TICK)) {
            if (w->n) {
                close_means(w);
                learn(w, t[from]);
            }
            start_tick(w, t[from]);
        }
        to = from + 1;
        while (to < n && t[to] - w->tick_start < TICK) to++;
        add_samples(w, v, reference, from, to);
    }
}

/* ---- the leading wheel ---- */

static double follow(bt_wheel *k, double dt, double v)
{
    if (!isfinite(v)) {
        k->track.started = false;
        return NAN;
    }
    const double x = v * k->trim;
    if (!(dt > 0)) k->track.started = false;
    k->since += dt;
    /* A slow sensor in a fast log holds its value: only a new one is news. */
    if (k->track.started && v == k->last) return k->track.value;
    /* A lock is no noise: start again from there. */
    const double ahead = k->track.value + k->track.slope * k->since;
    if (fabs(x - ahead) > LEAP) k->track.started = false;
    bt_track_add(&k->track, k->since, x, WHEEL_CONSTANT);
    k->last = v;
    k->since = 0;
    return k->track.value;
}

double bt_wheels_fuse(bt_wheels *w, double dt, const double v[BT_WHEELS], double expected,
                      double reach, double accel)
{
    const double low = expected - GATE - GATE_SLIP * expected - reach;
    const double braking = bt_braking_weight(accel), driving = bt_braking_weight(-accel);
    const double high = expected + GATE + GATE_SPIN * expected + (1 - braking) * reach;
    double all[BT_WHEELS], fit[BT_WHEELS];
    size_t n_all = 0, n = 0;
    bool moved = false;
    for (size_t i = 0; i < BT_WHEELS; i++) moved = moved || w->wheel[i].moved;
    for (size_t i = 0; i < BT_WHEELS; i++) {
        bt_wheel *k = &w->wheel[i];
        const double x = follow(k, dt, v[i]);
        if (x > DEAD_SPEED) k->moved = true;
        if (isnan(x) || k->left_out || (moved && !k->moved)) continue;
        n_all = insert_sorted(all, n_all, x);
    }
    /* Wheels that spin are a few; where more than half are too fast it is the car. */
    const bool spins = n_all > 0 && all[(n_all - 1) / 2] <= high;
    for (size_t i = 0; i < n_all; i++)
        if (all[i] >= low && !(spins && all[i] > high)) fit[n++] = all[i];
    if (!n) {
        memcpy(fit, all, sizeof fit);
        n = n_all;
    }
    if (!n) return NAN;
    const double mid = middle(fit, n);
    return mid + braking * (fit[n - 1] - mid) + driving * (fit[(n - 1) / 2] - mid);
}
