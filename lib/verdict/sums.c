/* Evidence summed each way: see sums.h (METHODS 8). */
#include "verdict/sums.h"

#include <math.h>

#define CEILING 80.0 /* nats: a longer chance must not outweigh what follows */
#define LEANS   0.5  /* nats */
#define LASTS   0.3  /* s: a shorter fallback within a zone may be chance */

void bt_sums_init(bt_sums *s)
{
    *s = (bt_sums){.wired = -INFINITY};
}

void bt_sum_add(bt_sum *s, double t, double evidence)
{
    if (!(s->sum > 0)) s->since = t;
    s->sum += evidence;
    if (!(s->sum > 0)) s->sum = 0;
    if (s->sum > CEILING) s->sum = CEILING;
}

void bt_sums_add(bt_sums *s, const bt_evidence *e, double t, size_t i)
{
    for (int k = 0; k < BT_BY_COUNT; k++)
        if (e->by[k]) bt_sum_add(&s->up[k], t, e->by[k][i]);
    bt_sum_add(&s->down, t, e->wire[i] - fmax(e->all[i], 0));
    if (e->wire[i] > 0 && s->down.sum >= BT_SUMS_TOLD) s->wired = t;
}

/* Is every variant behind the bypass by so much? */
static bool all_above(const bt_sums *s, const bt_evidence *e, double least)
{
    for (int k = 0; k < BT_BY_COUNT; k++)
        if (e->by[k] && !(s->up[k].sum >= least)) return false;
    return true;
}

bool bt_sums_bypass(const bt_sums *s, const bt_evidence *e)
{
    return all_above(s, e, BT_SUMS_THRESHOLD);
}

bool bt_sums_leans(const bt_sums *s, const bt_evidence *e)
{
    return all_above(s, e, LEANS);
}

bool bt_sums_wire(const bt_sums *s)
{
    return s->down.sum >= BT_SUMS_THRESHOLD;
}

double bt_sums_since(const bt_sums *s, const bt_evidence *e)
{
    double first = INFINITY, last = -INFINITY;
    for (int k = 0; k < BT_BY_COUNT; k++) {
        if (!e->by[k]) continue;
        last = fmax(last, s->up[k].since);
        if (s->up[k].since >= s->wired) first = fmin(first, s->up[k].since);
    }
    return first < INFINITY ? first : last;
}

bt_confidence bt_sums_confirm(const bt_sums *s, const bt_evidence *e, const double *t, size_t i)
{
    bt_sums ahead = *s;
    ahead.down.sum = 0;
    for (size_t j = i + 1; j < e->n; j++) {
        bt_sums_add(&ahead, e, t[j], j);
        if (bt_sums_wire(&ahead)) return ahead.down.since - t[i] >= LASTS ? BT_SURE : BT_CHANCE;
        if (!all_above(&ahead, e, BT_SUMS_TOLD)) return BT_CHANCE;
    }
    return t[e->n - 1] - t[i] >= LASTS ? BT_SURE : BT_EARLY;
}
