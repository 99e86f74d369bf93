/* Rows held: see held.h. */
#include "samples/held.h"

#include "base/error.h"

#include <stdlib.h>
#include <string.h>

enum { ROWS_FIRST = 4096, CHECK_EVERY = 512 };

static bt_status grow_rows(bt_held *h, size_t cap, bt_error *err)
{
    double *t = realloc(h->t, cap * sizeof *t);
    if (t) h->t = t;
    int64_t *ns = realloc(h->ns, cap * sizeof *ns);
    if (ns) h->ns = ns;
    bool good = t && ns;
    for (size_t i = 0; good && i < h->lanes; i++) {
        double *x = realloc(h->lane[i].x, cap * sizeof *x);
        if (x) h->lane[i].x = x;
        good = x != NULL;
    }
    if (!good) return bt_fail(err, BT_NOMEM, "no memory for %zu samples", cap);
    h->cap = cap;
    return BT_OK;
}

bt_status bt_held_init(bt_held *h, bt_lane *lane, size_t lanes, bt_stage *next, bt_error *err)
{
    *h = (bt_held){.lane = lane, .lanes = lanes, .next = next, .check_at = BT_BLOCK_MAX + 1};
    return grow_rows(h, ROWS_FIRST, err);
}

void bt_held_free(bt_held *h)
{
    for (size_t i = 0; i < h->lanes; i++) free(h->lane[i].x);
    free(h->t);
    free(h->ns);
}

static void settle(bt_held *h, size_t upto)
{
    const bt_lane_rows rows = {h->t, h->ns, h->origin};
    for (size_t i = 0; i < h->lanes; i++) bt_lane_settle(&h->lane[i], &rows, h->unsettled, upto);
    h->unsettled = upto;
}

/* How many of the buffer's rows no later value can change. */
static size_t settled(bt_held *h)
{
    const size_t newest = h->n - 1; /* a row of the same time may still add to it */
    settle(h, newest);
    uint64_t open = 1;
    for (size_t i = 0; i < h->lanes; i++) {
        const uint64_t rows = bt_lane_open_rows(&h->lane[i], h->origin + newest, h->ns[newest]);
        if (rows > open) open = rows;
    }
    return h->n - (size_t)open;
}

static bt_status hand_on(bt_held *h, size_t n, bt_error *err)
{
    bt_block block = {.n = n, .t = h->t + h->first};
    for (size_t i = 0; i < h->lanes; i++) block.ch[h->lane[i].channel] = h->lane[i].x + h->first;
    h->first += n;
    return h->next ? h->next->push(h->next, &block, err) : BT_OK;
}

static bt_status hand_on_settled(bt_held *h, bt_error *err)
{
    const size_t upto = settled(h);
    while (h->first + BT_BLOCK_MAX <= upto) BT_TRY(hand_on(h, BT_BLOCK_MAX, err));
    h->check_at = h->n + CHECK_EVERY;
    return BT_OK;
}

bt_status bt_held_flush(bt_held *h, bt_error *err)
{
    const size_t upto = h->open ? settled(h) : 0;
    while (h->first < upto) {
        const size_t left = upto - h->first;
        BT_TRY(hand_on(h, left < BT_BLOCK_MAX ? left : BT_BLOCK_MAX, err));
    }
    return BT_OK;
}

bt_status bt_held_end(bt_held *h, bt_error *err)
{
    if (!h->open) return BT_OK;
    settle(h, h->n);
    while (h->first < h->n) {
        const size_t left = h->n - h->first;
        BT_TRY(hand_on(h, left < BT_BLOCK_MAX ? left : BT_BLOCK_MAX, err));
    }
    h->origin += h->n;
    h->first = h->n = h->unsettled = 0;
    h->check_at = BT_BLOCK_MAX + 1;
    h->open = false;
    for (size_t i = 0; i < h->lanes; i++)
        if (!h->lane[i].state) h->lane[i].has = false;
    return h->next ? h->next->end(h->next, err) : BT_OK;
}

/* Room for one more row: move what is held to the front, or take more memory. */
static bt_status make_room(bt_held *h, bt_error *err)
{
    if (h->first < h->cap / 2) return grow_rows(h, 2 * h->cap, err);
    const size_t held = h->n - h->first;
    memmove(h->t, h->t + h->first, held * sizeof *h->t);
    memmove(h->ns, h->ns + h->first, held * sizeof *h->ns);
    for (size_t i = 0; i < h->lanes; i++)
        memmove(h->lane[i].x, h->lane[i].x + h->first, held * sizeof *h->lane[i].x);
    h->check_at -= h->first;
    h->unsettled -= h->first;
    h->origin += h->first;
    h->n = held;
    h->first = 0;
    return BT_OK;
}

bt_status bt_held_add(bt_held *h, int64_t ns, double t, bt_error *err)
{
    if (h->open && h->n >= h->check_at) BT_TRY(hand_on_settled(h, err));
    if (h->n == h->cap) BT_TRY(make_room(h, err));
    h->open = true;
    bt_held_append(h, ns, t);
    return BT_OK;
}
