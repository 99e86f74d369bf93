/* Smoothed speed and deceleration (METHODS 3).  The window's samples are a queue made of two piles: the
 * older pile keeps the sums from each of its samples to its top, the newer one a single sum.  So
 * nothing is ever subtracted from a sum, no error builds up along the log, and a wild value is
 * forgotten with its sample.
 *
 * Windows on an even grid with every value, nearly all there are, need less: their moments of time
 * depend on their shape alone, so that the quadratic is a fixed mixture of three sums over x.
 * Between speed and forces. */
#include "signals/smooth.h"

#include "signals/quadratic.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* A window reaches over no more samples than this to either side: 0.2 s at 40 kHz.  It bounds the
 * memory whatever the log's rate. */
#define REACH ((size_t)4096)
#define HELD  (4 * REACH + 2 * BT_BLOCK_MAX)
#define PILE  (2 * REACH + BT_BLOCK_MAX)
/* Times are decimals turned binary: without it the outermost samples of an even grid would fall in
 * and out of the window by chance. */
#define SLACK 1e-6
/* Of a step: by so much the next one may differ on an even grid.  Rounded stamps differ by less. */
#define UNEVEN 1e-7

/* Even windows of one shape, to be solved at once: their sums, and the time from the first of their samples
 * to the last.  A constant number, so that compilers take several at a time. */
#define PIECE ((size_t)64)
typedef struct {
    double x0[PIECE], x1[PIECE], x2[PIECE], time[PIECE];
} steady;

typedef struct {
    bt_stage stage;
    double window; /* s, whole width, slack included */
    double *buffer;

    /* The speed: samples [0, n), whose windows may reach back to 0. */
    double *t, *x;
    double *value, *decel; /* of the samples [0, next) that are done */
    size_t n, next;
    size_t past;  /* samples of this stretch that are held no more */
    double first; /* s, start of the stretch */

    /* The other channels: samples [next, n) wait at [waits, waits + n - next) of their own arrays. */
    double *ch[BT_SIGNALS]; /* filled only where the log has the channel */
    bool has[BT_SIGNALS];
    size_t waits;

    /* The queue: samples [lo, mid) are the older pile, [mid, hi) the newer.  The origin is sample
     * mid - 1; while the window is even u is counted in steps, and only x0, x1, x2 are summed. */
    size_t lo, mid, hi;
    bool even;
    bt_moments *older; /* older[k]: sum over samples mid - 1 - k .. mid - 1 */
    bt_moments newer;
    size_t even_from; /* samples [even_from, hi) are evenly spaced, and finite */
    bt_mixture mixture;
    steady steady;
} smoother;

static size_t least(size_t a, size_t b)
{
    return a < b ? a : b;
}

static size_t most(size_t a, size_t b)
{
    return a > b ? a : b;
}

/* a - b, but not below 0. */
static size_t less(size_t a, size_t b)
{
    return a > b ? a - b : 0;
}

/* ---- the queue ---- */

/* Of an even grid, whose x are all finite. */
static void add_even(bt_moments *m, double u, double x)
{
    const double ux = u * x;
    m->x0 += x;
    m->x1 += ux;
    m->x2 += u * ux;
}

/* The older pile is used up, or made of other sums: all samples become the older pile, about an origin
 * of its own.  The origin is a sample of the window from now until the next time, so that u stays small. */
static void turn_over(smoother *s)
{
    s->mid = s->hi;
    s->newer = (bt_moments){0};
    bt_moments sum = {0}, *older = s->older;
    const double *x = s->x + s->mid - 1, *t = s->t + s->mid - 1;
    const size_t n = s->mid - s->lo;
    for (size_t k = 0; s->even && k < n; k++) {
        add_even(&sum, -(double)k, *(x - k));
        older[k].x0 = sum.x0;
        older[k].x1 = sum.x1;
        older[k].x2 = sum.x2;
    }
    for (size_t k = 0; !s->even && k < n; k++) {
        bt_moments_add(&sum, *(t - k) - *t, *(x - k));
        older[k] = sum;
    }
}

/* Is finite sample i, the third or later of an even run, one too? */
static bool goes_on_evenly(const double *t, const double *x, size_t i)
{
    const double step = t[i] - t[i - 1], before = t[i - 1] - t[i - 2];
    return fabs(step - before) <= UNEVEN * step && isfinite(x[i]);
}

/* Take the next sample into the newer pile. */
static void add_next(smoother *s)
{
    const size_t i = s->hi++;
    const double *t = s->t, x = s->x[i];
    if (s->even)
        add_even(&s->newer, (double)(i + 1 - s->mid), x);
    else
        bt_moments_add(&s->newer, s->mid ? t[i] - t[s->mid - 1] : 0, x);
    if (!isfinite(x))
        s->even_from = i + 1;
    else if (i > s->even_from + 1 && !goes_on_evenly(t, s->x, i))
        s->even_from = i - 1;
}

/* Move the window to [lo, hi); neither end ever goes back. */
static void move_window(smoother *s, size_t lo, size_t hi)
{
    assert(lo >= s->lo && hi >= s->hi && lo < hi);
    while (s->hi < hi) add_next(s);
    s->lo = lo;
    const bool even = lo >= s->even_from;
    if (s->lo < s->mid && even == s->even) return;
    s->even = even;
    turn_over(s);
}

/* ---- one sample ---- */

static void smooth_even(smoother *s, size_t i)
{
    const bt_moments *a = &s->older[s->mid - 1 - s->lo], *b = &s->newer;
    bt_mixture *q = &s->mixture;
    if (i - s->lo != q->before || s->hi - s->lo != q->count)
        bt_mixture_set(q, i - s->lo, s->hi - s->lo);
    const double u = (double)i - (double)(s->mid - 1);
    const double x0 = a->x0 + b->x0, x1 = a->x1 + b->x1 - u * x0;
    const double x2 = a->x2 + b->x2 - u * (2 * x1 + u * x0);
    const double steps = (double)(q->count - 1), time = s->t[s->hi - 1] - s->t[s->lo];
    s->value[i] = q->value[0] * x0 + q->value[1] * x1 + q->value[2] * x2;
    s->decel[i] = -(q->slope[0] * x0 + q->slope[1] * x1 + q->slope[2] * x2) * steps / time;
}

/* Without a value of its own, a sample gets one only between neighbours: a quadratic led out of its
 * points goes anywhere. */
static bool has_both_sides(const smoother *s, size_t i)
{
    bool before = false, after = false;
    for (size_t j = i; !before && j-- > s->lo;) before = isfinite(s->x[j]);
    for (size_t j = i + 1; !after && j < s->hi; j++) after = isfinite(s->x[j]);
    return before && after;
}

static void smooth_uneven(smoother *s, size_t i)
{
    const bt_moments *a = &s->older[s->mid - 1 - s->lo], *b = &s->newer;
    const bt_moments m = {a->n + b->n,   a->u1 + b->u1, a->u2 + b->u2, a->u3 + b->u3,
                          a->u4 + b->u4, a->x0 + b->x0, a->x1 + b->x1, a->x2 + b->x2};
    double value, slope;
    bt_moments_solve(&m, s->t[i] - s->t[s->mid - 1], &value, &slope);
    if (!isfinite(s->x[i]) && m.n > 0 && !has_both_sides(s, i)) value = slope = NAN;
    s->value[i] = value;
    s->decel[i] = -slope;
}

void bt_smooth_at(const double *t, const double *x, size_t lo, size_t hi, size_t i, double *value,
                  double *slope)
{
    bt_moments m = {0};
    for (size_t j = lo; j <= hi; j++) bt_moments_add(&m, t[j] - t[i], x[j]);
    bt_moments_solve(&m, 0, value, slope);
}

/* The window of sample i, [*lo, *hi): half a window to either side, but at least its two neighbours,
 * as one sample a second is all that some logs have.  At the ends of a stretch it keeps its full
 * width and stands off centre (Gorry 1990).  False = its end is not here yet. */
static bool find_window(const smoother *s, size_t i, bool ended, size_t *lo, size_t *hi)
{
    const double half = 0.5 * s->window, end = s->t[s->n - 1];
    const bool early = s->t[i] < s->first + half, late = ended && s->t[i] > end - half;
    const double until = early ? s->first + s->window : s->t[i] + half;
    const double from = late ? end - s->window : s->t[i] - half;
    const size_t reach = most(i + 1 + REACH, less(2 * REACH, s->past));
    const size_t near = most(i + 2, less(3, s->past));
    size_t h = s->hi, l = s->lo;
    while (h < s->n && h < reach && (h < near || s->t[h] <= until)) h++;
    if (h == s->n && h < reach && !ended) return false;
    size_t back = less(i, REACH), keep = less(i, 1);
    if (ended) {
        back = least(back, less(s->n, 2 * REACH));
        keep = least(keep, less(s->n, 3));
    }
    while (l < back || (l < keep && s->t[l] < from)) l++;
    *lo = l;
    *hi = h;
    return true;
}

/* ---- samples one like the other ---- */

/* Does sample i's window, behind [lo, hi), lie one sample further, as on an even grid?  What find_window
 * would say in the usual case. */
static bool moves_by_one(const double *t, size_t i, size_t lo, size_t hi, double half)
{
    return t[hi] <= t[i] + half && t[hi + 1] > t[i] + half && t[lo] < t[i] - half &&
           t[lo + 1] >= t[i] - half;
}

/* Sums about the samples' own places, from sums about the origin: the first one is u steps behind it. */
static void solve_steady(smoother *s, double u, size_t n)
{
    const steady *p = &s->steady;
    const double *value = s->mixture.value, *slope = s->mixture.slope;
    const double steps = (double)(s->mixture.count - 1);
    double v[PIECE], d[PIECE];
    for (size_t k = 0; k < PIECE; k++) {
        const double w = u + (double)(int)k;
        const double x0 = p->x0[k], x1 = p->x1[k] - w * x0, x2 = p->x2[k] - w * (2 * x1 + w * x0);
        v[k] = value[0] * x0 + value[1] * x1 + value[2] * x2;
        d[k] = -(slope[0] * x0 + slope[1] * x1 + slope[2] * x2) * steps / p->time[k];
    }
    memcpy(s->value + s->next, v, n * sizeof *v);
    memcpy(s->decel + s->next, d, n * sizeof *d);
}

/* From one even window to the next of the same shape, as long as the older pile lasts, at most PIECE
 * times: the same as sample by sample, but in plain loops.  Gives the number of samples done. */
static size_t smooth_steady(smoother *s)
{
    const double *t = s->t, *x = s->x, half = 0.5 * s->window;
    const size_t i = s->next, lo = s->lo, hi = s->hi, before = i - 1 - lo, after = hi - i;
    const bool usual = s->even && i > 0 && s->mixture.before == before &&
                       s->mixture.count == hi - lo && before > 0 && after > 0 && before <= REACH &&
                       after <= REACH && hi + 1 < s->n && t[i] >= s->first + half;
    if (!usual) return 0;
    const size_t most_n = least(PIECE, least(s->n - 1 - hi, s->mid - 1 - lo));
    const bt_moments *older = &s->older[s->mid - 1 - lo];
    bt_moments newer = s->newer;
    steady *p = &s->steady;
    size_t n = 0;
    for (; n < most_n && moves_by_one(t, i + n, lo + n, hi + n, half); n++) {
        if (!goes_on_evenly(t, x, hi + n)) break;
        add_even(&newer, (double)(hi + n + 1 - s->mid), x[hi + n]);
        older--;
        p->x0[n] = older->x0 + newer.x0;
        p->x1[n] = older->x1 + newer.x1;
        p->x2[n] = older->x2 + newer.x2;
        p->time[n] = t[hi + n] - t[lo + n + 1];
    }
    s->newer = newer;
    s->lo += n;
    s->hi += n;
    solve_steady(s, (double)i - (double)(s->mid - 1), n);
    s->next += n;
    return n;
}

static void smooth_ready(smoother *s, bool ended)
{
    size_t lo, hi;
    while (s->next < s->n) {
        if (!ended && smooth_steady(s) == PIECE) continue;
        if (s->next == s->n || !find_window(s, s->next, ended, &lo, &hi)) break;
        move_window(s, lo, hi);
        if (s->even)
            smooth_even(s, s->next);
        else
            smooth_uneven(s, s->next);
        s->next++;
    }
}

/* ---- the stage ---- */

/* Hand on n samples from `from` on, their other channels being at `at` of ch[]. */
static bt_status hand_on(smoother *s, size_t from, size_t n, const double *const ch[BT_SIGNALS],
                         size_t at, bt_error *err)
{
    for (size_t done = 0; done < n; done += BT_BLOCK_MAX) {
        bt_block out = {.n = least(n - done, BT_BLOCK_MAX), .t = s->t + from + done};
        for (size_t c = 0; c < BT_SIGNALS; c++) out.ch[c] = s->has[c] ? ch[c] + at + done : NULL;
        out.ch[BT_SIG_SPEED] = s->value + from + done;
        out.ch[BT_SIG_DECEL] = s->decel + from + done;
        BT_TRY(s->stage.next->push(s->stage.next, &out, err));
    }
    return BT_OK;
}

/* Hand on what is ready of the samples that wait: those from `from` on. */
static bt_status hand_on_waiting(smoother *s, size_t from, size_t n, bt_error *err)
{
    const double *ch[BT_SIGNALS];
    for (size_t c = 0; c < BT_SIGNALS; c++) ch[c] = s->ch[c];
    BT_TRY(hand_on(s, from, n, ch, s->waits, err));
    s->waits += n;
    return BT_OK;
}

/* Samples [from, n) of a block will wait, behind `waiting` others. */
static void keep_waiting(smoother *s, const bt_block *in, size_t from, size_t waiting)
{
    const size_t n = in->n - from;
    const bool move = waiting == 0 || s->waits + waiting + n > HELD;
    for (size_t c = 0; c < BT_SIGNALS; c++) {
        if (!s->has[c]) continue;
        if (move) memmove(s->ch[c], s->ch[c] + s->waits, waiting * sizeof *s->ch[c]);
        memcpy(s->ch[c] + (move ? 0 : s->waits) + waiting, in->ch[c] + from, n * sizeof *s->ch[c]);
    }
    if (move) s->waits = 0;
}

/* Forget what no window needs any more: a full width stays, for the end of the stretch. */
static void forget(smoother *s)
{
    size_t keep = least(s->lo, less(s->n, 3));
    while (keep > 0 && s->n - keep < 2 * REACH && s->t[keep] >= s->t[s->n - 1] - s->window) keep--;
    if (keep < s->n - keep) return; /* later: moving less than is dropped keeps it cheap */
    const size_t left = s->n - keep;
    double *array[] = {s->t, s->x, s->value, s->decel};
    for (size_t k = 0; k < 4; k++) memmove(array[k], array[k] + keep, left * sizeof **array);
    s->n = left;
    s->past += keep;
    s->next -= keep;
    s->lo -= keep;
    s->mid -= keep;
    s->hi -= keep;
    s->even_from = less(s->even_from, keep);
}

static void take(smoother *s, const bt_block *in)
{
    if (s->n == 0) s->first = in->t[0];
    assert(s->n + in->n <= HELD);
    for (size_t c = 0; c < BT_SIGNALS; c++) {
        const bool has = in->ch[c] && c != BT_SIG_SPEED;
        assert(s->n == 0 || s->has[c] == has);
        s->has[c] = has;
    }
    memcpy(s->t + s->n, in->t, in->n * sizeof *s->t);
    memcpy(s->x + s->n, in->ch[BT_SIG_SPEED], in->n * sizeof *s->x);
    s->n += in->n;
}

static bt_status smooth_push(bt_stage *stage, const bt_block *in, bt_error *err)
{
    smoother *s = (smoother *)stage;
    assert(in->n > 0 && in->n <= BT_BLOCK_MAX && in->ch[BT_SIG_SPEED]);
    const size_t waiting = s->n - s->next, from = s->next;
    take(s, in);
    smooth_ready(s, false);
    const size_t ready = s->next - from, old = least(ready, waiting);
    BT_TRY(hand_on_waiting(s, from, old, err));
    BT_TRY(hand_on(s, from + old, ready - old, in->ch, 0, err));
    keep_waiting(s, in, ready - old, waiting - old);
    forget(s);
    return BT_OK;
}

static bt_status smooth_end(bt_stage *stage, bt_error *err)
{
    smoother *s = (smoother *)stage;
    const size_t from = s->next;
    smooth_ready(s, true);
    BT_TRY(hand_on_waiting(s, from, s->n - from, err));
    s->n = s->next = s->lo = s->mid = s->hi = s->even_from = 0;
    s->past = s->waits = 0;
    s->even = false;
    return s->stage.next->end(s->stage.next, err);
}

bt_status bt_smooth_new(bt_stage **out, double window, bt_stage *next, bt_error *err)
{
    *out = NULL;
    assert(next);
    if (!(window > 0 && window < INFINITY))
        return bt_fail(err, BT_RANGE, "smooth_window: expected more than 0 s, found %g", window);
    smoother *s = calloc(1, sizeof *s);
    if (s) {
        s->stage = (bt_stage){.push = smooth_push, .end = smooth_end, .next = next};
        s->buffer = malloc((BT_SIGNALS + 4) * HELD * sizeof *s->buffer);
        s->older = malloc(PILE * sizeof *s->older);
    }
    if (!s || !s->buffer || !s->older) {
        bt_smooth_free(s ? &s->stage : NULL);
        return bt_fail(err, BT_NOMEM, "no memory to smooth the speed");
    }
    double **array[] = {&s->t, &s->x, &s->value, &s->decel};
    for (size_t k = 0; k < 4; k++) *array[k] = s->buffer + (BT_SIGNALS + k) * HELD;
    for (size_t c = 0; c < BT_SIGNALS; c++) s->ch[c] = s->buffer + c * HELD;
    s->window = window * (1 + SLACK);
    *out = &s->stage;
    return BT_OK;
}

void bt_smooth_free(bt_stage *stage)
{
    smoother *s = (smoother *)stage;
    if (!s) return;
    free(s->buffer);
    free(s->older);
    free(s);
}
