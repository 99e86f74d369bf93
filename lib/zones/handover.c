/* Free runs and braking zones made ready and handed on.  See handover.h; METHODS 2.4, 3, 4. */
#include "zones/handover.h"

#include <assert.h>
#include <math.h>

/* The last speed in a piece that can be believed. */
static void note_believed(bt_handover *h, const bt_block *in)
{
    const double *v = in->ch[BT_SIG_SPEED], *unsure = in->ch[BT_SIG_UNSURE];
    for (size_t i = in->n; v && i-- > 0;) {
        if (isnan(v[i]) || (unsure && unsure[i] == 1)) continue;
        h->believed = (bt_believed){in->t[i], v[i]};
        return;
    }
}

bt_status bt_handover_free_run(bt_handover *h, const bt_block *run, bt_error *err)
{
    note_believed(h, run);
    for (size_t lo = 0; lo < run->n; lo += BT_BLOCK_MAX) {
        const size_t hi = run->n - lo > BT_BLOCK_MAX ? lo + BT_BLOCK_MAX : run->n;
        const bt_block part = bt_block_slice(run, lo, hi);
        BT_TRY(h->sink.free_run(h->sink.user, &part, err));
    }
    return BT_OK;
}

void bt_handover_released(bt_handover *h, const bt_block *in, size_t lo, size_t hi)
{
    bt_block b = *in; /* force and travel have a zero only where they open zones */
    if (h->pedal != BT_CH_PEDAL_FORCE) b.ch[BT_CH_PEDAL_FORCE] = NULL;
    if (h->pedal != BT_CH_PEDAL_TRAVEL) b.ch[BT_CH_PEDAL_TRAVEL] = NULL;
    bt_zeros_push(h->zeros, &b, lo, hi);
}

static void subtract_zeros(bt_handover *h, bt_hold *hold, size_t n, bt_braking *zone)
{
    bool any = false;
    for (bt_channel c = 0; c < BT_CH_COUNT; c++) {
        if (!hold->has[c]) continue;
        any = any || bt_channel_is_pressure(c) || c == h->pedal;
        if (zone->zero[c] == 0) continue;
        for (size_t i = 0; i < n; i++) hold->ch[c][i] -= zone->zero[c];
    }
    if (!any) zone->flags &= ~(uint32_t)BT_FLAG_NO_ZERO; /* nothing that could have one */
}

static bt_status hand_zone(bt_handover *h, bt_hold *hold, size_t n, uint32_t flags, bt_error *err)
{
    bt_braking zone = {.pedal = h->pedal, .flags = flags};
    bt_zeros_at(h->zeros, hold->t[0], zone.zero, &zone.rest, &zone.flags);
    subtract_zeros(h, hold, n, &zone);
    zone.s = bt_hold_view(hold, 0, n);
    note_believed(h, &zone.s);
    return h->sink.braking(h->sink.user, &zone, err);
}

/* From the first to the last speed known: a slow speed channel may begin and end inside the zone.
 */
static double speed_lost(const bt_hold *hold, size_t n)
{
    const double *v = hold->ch[BT_SIG_SPEED];
    size_t i = 0, j = n;
    while (i < n && isnan(v[i])) i++;
    while (j > i && isnan(v[j - 1])) j--;
    return j > i ? v[i] - v[j - 1] : NAN;
}

/* Put the interpolated last sample where the first one behind the zone is held; returns the zone's
 * size. */
static size_t make_end(bt_hold *hold, size_t end, double t)
{
    if (!(t > hold->t[end - 1] + BT_TIME_SLACK)) return end;
    const bt_sample a = bt_hold_get(hold, end - 1), b = bt_hold_get(hold, end);
    const bt_sample last = bt_sample_between(&a, &b, fmin(t, nextafter(b.t, a.t)));
    bt_hold_set(hold, end, &last);
    return end + 1;
}

bt_status bt_handover_zone(bt_handover *h, bt_hold *hold, const bt_held_zone *held, bt_error *err)
{
    const size_t end = held->end;
    assert(end > 0 && end <= held->known && held->known <= hold->n);
    const bool has_next = end < held->known;
    bt_sample next = {0};
    if (has_next) next = bt_hold_get(hold, end);

    uint32_t flags = held->flags;
    if (bt_bridge(hold, end + has_next, held->known, h->believed, h->half_window))
        flags |= BT_FLAG_SPEED_UNSURE;
    const size_t n = has_next ? make_end(hold, end, held->t_end) : end;

    bt_status status;
    if (hold->t[n - 1] - hold->t[0] >= h->min_time - BT_TIME_SLACK &&
        speed_lost(hold, n) >= h->min_drop) {
        status = hand_zone(h, hold, n, flags, err);
    } else {
        h->touches++;
        const bt_block run = bt_hold_view(hold, held->made_start, end);
        status = bt_handover_free_run(h, &run, err);
    }
    if (has_next) bt_hold_set(hold, end, &next);
    return status;
}
