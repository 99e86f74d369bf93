/* Smoothed speed and deceleration (METHODS 3).  The quadratic is found from moments of time and of
 * x over time, the window's samples being a queue made of two piles: the older pile keeps the sums
 * from each of its samples to its top, the newer one a single sum.  So nothing is ever subtracted
 * from a sum, no error builds up along the log, and a wild value is forgotten with its sample.
 * Windows on an even grid with every value, nearly all there are, need less: their moments of time
 * depend on their shape alone, so that the quadratic is a fixed mixture of three sums over x.
 * Between speed and forces. */
#include "signals/smooth.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* A window reaches over no more samples than this to either side: 0.2 s at 40 kHz.  It bounds the
 * memory whatever the log's rate. */
#define REACH ((size_t)4096)
#define HELD  (4 * REACH + 2 * BT_BLOCK_MAX)
/* Times are decimals turned binary: without it the outermost samples of an even grid would fall in
 * and out of the window by chance. */
#define SLACK 1e-6
/* Below this share of what it is made of, a moment is rounding. */
#define SINGULAR 1e-12
/* Of a step: by so much the next one may differ on an even grid.  Rounded stamps differ by less. */
#define UNEVEN 1e-7

/* Sums over the points of u^k and of x u^k, u = time from an origin close by. */
typedef struct {
    double n, u1, u2, u3, u4, x0, x1, x2;
} moments;

/* What x0, x1, x2 give to value and slope, u counted in steps from the sample. */
typedef struct {
    size_t before, count; /* of the window's samples: before this one, and all */
    double value[3], slope[3];
} shape;

typedef struct {
    bt_stage stage;
    double window; /* s, whole width, slack included */
    double *buffer;
    double *t, *ch[BT_SIGNALS]; /* into buffer; ch[c] is filled only where the log has c */
    double *value, *decel;      /* of the samples that are done, same places as t */
    bool has[BT_SIGNALS];
    size_t n;     /* samples held */
    size_t next;  /* the first one not handed on yet */
    size_t past;  /* samples of this stretch that are held no more */
    double first; /* s, start of the stretch */
    /* The queue: samples [lo, mid) are the older pile, [mid, hi) the newer.  The origin is sample
     * mid - 1; while the window is even u is counted in steps, and only x0, x1, x2 are summed. */
    size_t lo, mid, hi;
    bool even;
    moments *older; /* older[k]: sum over samples mid - 1 - k .. mid - 1 */
    moments newer;
    size_t even_from; /* samples [even_from, hi) are evenly spaced, and finite */
    shape shape;
} smoother;

static void add_point(moments *m, double u, double x)
{
    if (!isfinite(x)) return;
    const double uu = u * u, ux = u * x;
    m->n += 1;
    m->u1 += u;
    m->u2 += uu;
    m->u3 += uu * u;
    m->u4 += uu * uu;
    m->x0 += x;
    m->x1 += ux;
    m->x2 += u * ux;
}

static moments add_moments(const moments *a, const moments *b)
{
    return (moments){a->n + b->n,   a->u1 + b->u1, a->u2 + b->u2, a->u3 + b->u3,
                     a->u4 + b->u4, a->x0 + b->x0, a->x1 + b->x1, a->x2 + b->x2};
}

/* Value and slope at u of the least-squares quadratic, by the polynomials 1, w, w^2 - g w - h
 * (w = u - mean) that are orthogonal over the points; what these cannot carry drops out. */
static void solve(const moments *m, double u, double *value, double *slope)
{
    *value = *slope = NAN;
    if (!(m->n > 0)) return;
    const double mean = m->u1 / m->n, x_mean = m->x0 / m->n;
    const double w2 = m->u2 - m->u1 * mean;
    *value = x_mean;
    if (!(m->n > 1 && w2 > SINGULAR * m->u2)) return;
    const double w3 = m->u3 - mean * (3 * m->u2 - 2 * m->u1 * mean);
    const double w4 = m->u4 - mean * (4 * m->u3 - mean * (6 * m->u2 - 3 * m->u1 * mean));
    const double x1 = m->x1 - mean * m->x0;
    const double x2 = m->x2 - mean * (2 * m->x1 - mean * m->x0) - w2 * x_mean;
    const double w = u - mean, g = w3 / w2, h = w2 / m->n, c1 = x1 / w2;
    const double norm = w4 - g * w3 - h * w2;
    *value += c1 * w;
    *slope = c1;
    if (!(m->n > 2 && norm > SINGULAR * m->u4)) return;
    const double c2 = (x2 - g * x1) / norm;
    *value += c2 * (w * w - g * w - h);
    *slope += c2 * (2 * w - g);
}

void bt_smooth_at(const double *t, const double *x, size_t lo, size_t hi, size_t i, double *value,
                  double *slope)
{
    moments m = {0};
    for (size_t j = lo; j <= hi; j++) add_point(&m, t[j] - t[i], x[j]);
    solve(&m, 0, value, slope);
}

/* Of an even grid, whose x are all finite. */
static void add_even(moments *m, double u, double x)
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
    const double *x = s->ch[BT_SIG_SPEED], *t = s->t;
    s->mid = s->hi;
    moments sum = {0};
    for (size_t j = s->mid; j-- > s->lo;) {
        const size_t k = s->mid - 1 - j;
        if (s->even)
            add_even(&sum, -(double)k, x[j]);
        else
            add_point(&sum, t[j] - t[s->mid - 1], x[j]);
        s->older[k] = sum;
    }
    s->newer = (moments){0};
}

/* Take the next sample into the newer pile. */
static void add_next(smoother *s)
{
    const size_t i = s->hi++;
    const double *t = s->t, x = s->ch[BT_SIG_SPEED][i];
    if (s->even)
        add_even(&s->newer, (double)(i + 1 - s->mid), x);
    else
        add_point(&s->newer, s->mid ? t[i] - t[s->mid - 1] : 0, x);
    if (!isfinite(x))
        s->even_from = i + 1;
    else if (i > s->even_from + 1) {
        const double step = t[i] - t[i - 1], before = t[i - 1] - t[i - 2];
        if (!(fabs(step - before) <= UNEVEN * step)) s->even_from = i - 1;
    }
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

/* By linearity: the quadratic of x that has one sum of 1 and the others 0. */
static void set_shape(shape *out, size_t before, size_t count)
{
    moments m = {0};
    for (size_t j = 0; j < count; j++) add_point(&m, (double)j - (double)before, 0);
    for (int k = 0; k < 3; k++) {
        m.x0 = k == 0;
        m.x1 = k == 1;
        m.x2 = k == 2;
        solve(&m, 0, &out->value[k], &out->slope[k]);
    }
    out->before = before;
    out->count = count;
}

/* Without a value of its own, a sample gets one only between neighbours: a quadratic led out of its
 * points goes anywhere. */
static bool has_both_sides(const smoother *s, size_t i)
{
    const double *x = s->ch[BT_SIG_SPEED];
    bool before = false, after = false;
    for (size_t j = i; !before && j-- > s->lo;) before = isfinite(x[j]);
    for (size_t j = i + 1; !after && j < s->hi; j++) after = isfinite(x[j]);
    return before && after;
}

static void smooth_even(smoother *s, size_t i)
{
    const moments *a = &s->older[s->mid - 1 - s->lo], *b = &s->newer;
    shape *q = &s->shape;
    if (i - s->lo != q->before || s->hi - s->lo != q->count) set_shape(q, i - s->lo, s->hi - s->lo);
    const double u = (double)i - (double)(s->mid - 1);
    const double x0 = a->x0 + b->x0, x1 = a->x1 + b->x1 - u * x0;
    const double x2 = a->x2 + b->x2 - u * (2 * x1 + u * x0);
    const double step = (s->t[s->hi - 1] - s->t[s->lo]) / (double)(q->count - 1);
    s->value[i] = q->value[0] * x0 + q->value[1] * x1 + q->value[2] * x2;
    s->decel[i] = -(q->slope[0] * x0 + q->slope[1] * x1 + q->slope[2] * x2) / step;
}

static void smooth_uneven(smoother *s, size_t i)
{
    const moments m = add_moments(&s->older[s->mid - 1 - s->lo], &s->newer);
    double value, slope;
    solve(&m, s->t[i] - s->t[s->mid - 1], &value, &slope);
    if (!isfinite(s->ch[BT_SIG_SPEED][i]) && m.n > 0 && !has_both_sides(s, i)) value = slope = NAN;
    s->value[i] = value;
    s->decel[i] = -slope;
}

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

/* Hand on samples [from, to). */
static bt_status hand_on(smoother *s, size_t from, size_t to, bt_error *err)
{
    while (from < to) {
        bt_block out = {.n = least(to - from, BT_BLOCK_MAX), .t = s->t + from};
        for (size_t c = 0; c < BT_SIGNALS; c++) out.ch[c] = s->has[c] ? s->ch[c] + from : NULL;
        out.ch[BT_SIG_SPEED] = s->value + from;
        out.ch[BT_SIG_DECEL] = s->decel + from;
        BT_TRY(s->stage.next->push(s->stage.next, &out, err));
        from += out.n;
    }
    return BT_OK;
}

static bt_status smooth_ready(smoother *s, bool ended, bt_error *err)
{
    const size_t from = s->next;
    size_t lo, hi;
    for (; s->next < s->n && find_window(s, s->next, ended, &lo, &hi); s->next++) {
        move_window(s, lo, hi);
        if (s->even)
            smooth_even(s, s->next);
        else
            smooth_uneven(s, s->next);
    }
    return hand_on(s, from, s->next, err);
}

/* Forget what no window needs any more: a full width stays, for the end of the stretch. */
static void forget(smoother *s)
{
    size_t keep = least(s->lo, less(s->n, 3));
    while (keep > 0 && s->n - keep < 2 * REACH && s->t[keep] >= s->t[s->n - 1] - s->window) keep--;
    if (keep < s->n - keep) return; /* later: moving less than is dropped keeps it cheap */
    const size_t left = s->n - keep;
    memmove(s->t, s->t + keep, left * sizeof *s->t);
    for (size_t c = 0; c < BT_SIGNALS; c++)
        if (s->has[c]) memmove(s->ch[c], s->ch[c] + keep, left * sizeof *s->ch[c]);
    s->n = left;
    s->past += keep;
    s->next -= keep;
    s->lo -= keep;
    s->mid -= keep;
    s->hi -= keep;
    s->even_from = less(s->even_from, keep);
}

static bt_status smooth_push(bt_stage *stage, const bt_block *in, bt_error *err)
{
    smoother *s = (smoother *)stage;
    assert(in->n > 0 && in->n <= BT_BLOCK_MAX && in->ch[BT_SIG_SPEED]);
    if (s->n == 0) s->first = in->t[0];
    assert(s->n + in->n <= HELD);
    memcpy(s->t + s->n, in->t, in->n * sizeof *s->t);
    for (size_t c = 0; c < BT_SIGNALS; c++) {
        assert(s->n == 0 || s->has[c] == (in->ch[c] != NULL));
        s->has[c] = in->ch[c] != NULL;
        if (s->has[c]) memcpy(s->ch[c] + s->n, in->ch[c], in->n * sizeof *s->ch[c]);
    }
    s->n += in->n;
    BT_TRY(smooth_ready(s, false, err));
    forget(s);
    return BT_OK;
}

static bt_status smooth_end(bt_stage *stage, bt_error *err)
{
    smoother *s = (smoother *)stage;
    if (s->n) BT_TRY(smooth_ready(s, true, err));
    s->n = s->next = s->lo = s->mid = s->hi = s->even_from = 0;
    s->even = false;
    s->past = 0;
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
        s->buffer = malloc((BT_SIGNALS + 3) * HELD * sizeof *s->buffer);
        s->older = malloc((2 * REACH + BT_BLOCK_MAX) * sizeof *s->older);
    }
    if (!s || !s->buffer || !s->older) {
        bt_smooth_free(s ? &s->stage : NULL);
        return bt_fail(err, BT_NOMEM, "no memory to smooth the speed");
    }
    double **array[3] = {&s->t, &s->value, &s->decel};
    for (size_t k = 0; k < 3; k++) *array[k] = s->buffer + (BT_SIGNALS + k) * HELD;
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
