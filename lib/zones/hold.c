/* Samples held back, an array per channel.  See hold.h. */
#include "zones/hold.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define FIRST_ROOM ((size_t)1024)

bt_block bt_block_slice(const bt_block *in, size_t lo, size_t hi)
{
    assert(lo <= hi && hi <= in->n);
    bt_block out = {.n = hi - lo, .t = in->t + lo};
    for (int k = 0; k < BT_SIGNALS; k++)
        if (in->ch[k]) out.ch[k] = in->ch[k] + lo;
    return out;
}

void bt_hold_shape(bt_hold *h, const bt_block *like)
{
    assert(h->n == 0 && h->cap == 0);
    for (int k = 0; k < BT_SIGNALS; k++) h->has[k] = like->ch[k] != NULL;
}

static bool widen(double **array, size_t n)
{
    double *wider = realloc(*array, n * sizeof **array);
    if (wider) *array = wider;
    return wider != NULL;
}

bt_status bt_hold_room(bt_hold *h, size_t n, bt_error *err)
{
    if (n <= h->cap) return BT_OK;
    size_t cap = h->cap ? h->cap : FIRST_ROOM;
    while (cap < n && cap <= SIZE_MAX / 2 / sizeof(double)) cap *= 2;
    bool ok = cap >= n && widen(&h->t, cap);
    for (int k = 0; ok && k < BT_SIGNALS; k++)
        if (h->has[k]) ok = widen(&h->ch[k], cap);
    if (!ok) return bt_fail(err, BT_NOMEM, "no memory for %zu samples held back", n);
    h->cap = cap;
    return BT_OK;
}

bt_status bt_hold_add(bt_hold *h, const bt_block *in, size_t lo, size_t hi, bt_error *err)
{
    assert(lo <= hi && hi <= in->n);
    const size_t n = hi - lo;
    BT_TRY(bt_hold_room(h, h->n + n, err));
    memcpy(h->t + h->n, in->t + lo, n * sizeof *h->t);
    for (int k = 0; k < BT_SIGNALS; k++) {
        if (!h->has[k]) continue;
        double *to = h->ch[k] + h->n;
        if (in->ch[k])
            memcpy(to, in->ch[k] + lo, n * sizeof *to);
        else
            for (size_t i = 0; i < n; i++) to[i] = NAN;
    }
    h->n += n;
    return BT_OK;
}

void bt_hold_drop(bt_hold *h, size_t n)
{
    assert(n <= h->n);
    if (n == 0) return;
    h->n -= n;
    if (h->n == 0) return;
    memmove(h->t, h->t + n, h->n * sizeof *h->t);
    for (int k = 0; k < BT_SIGNALS; k++)
        if (h->has[k]) memmove(h->ch[k], h->ch[k] + n, h->n * sizeof *h->ch[k]);
}

bt_block bt_hold_view(const bt_hold *h, size_t lo, size_t hi)
{
    bt_block all = {.n = h->n, .t = h->t};
    for (int k = 0; k < BT_SIGNALS; k++) all.ch[k] = h->has[k] ? h->ch[k] : NULL;
    return bt_block_slice(&all, lo, hi);
}

bt_sample bt_hold_get(const bt_hold *h, size_t i)
{
    bt_sample s = {.t = h->t[i]};
    for (int k = 0; k < BT_SIGNALS; k++) s.v[k] = h->has[k] ? h->ch[k][i] : NAN;
    return s;
}

void bt_hold_set(bt_hold *h, size_t i, const bt_sample *s)
{
    assert(i < h->cap);
    h->t[i] = s->t;
    for (int k = 0; k < BT_SIGNALS; k++)
        if (h->has[k]) h->ch[k][i] = s->v[k];
}

bt_sample bt_sample_between(const bt_sample *a, const bt_sample *b, double t)
{
    const double part = (t - a->t) / (b->t - a->t);
    bt_sample s = {.t = t};
    for (int k = 0; k < BT_SIGNALS; k++) {
        const double x = a->v[k], y = b->v[k];
        const bool holds = (k < BT_CH_COUNT && bt_channel_is_state((bt_channel)k)) ||
                           (k == BT_CH_LAP_DISTANCE && y < x);
        s.v[k] = holds ? x : x + part * (y - x);
    }
    s.v[BT_SIG_UNSURE] = fmax(a->v[BT_SIG_UNSURE], b->v[BT_SIG_UNSURE]);
    return s;
}

static void move_sample(bt_hold *h, size_t to, size_t from)
{
    h->t[to] = h->t[from];
    for (int k = 0; k < BT_SIGNALS; k++)
        if (h->has[k]) h->ch[k][to] = h->ch[k][from];
}

size_t bt_hold_thin(bt_hold *h, size_t from, size_t n, size_t every)
{
    assert(from < n && n <= h->n && every > 0);
    size_t kept = from;
    for (size_t i = from; i < n; i++)
        if ((i - from) % every == 0 || i + 1 == n) move_sample(h, kept++, i);
    const size_t left_out = n - kept;
    for (size_t i = n; i < h->n; i++) move_sample(h, i - left_out, i);
    h->n -= left_out;
    return kept;
}

void bt_hold_free(bt_hold *h)
{
    free(h->t);
    for (int k = 0; k < BT_SIGNALS; k++) free(h->ch[k]);
    *h = (bt_hold){0};
}
