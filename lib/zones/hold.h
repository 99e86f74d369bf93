/* Samples held back: copies of parts of blocks in one run of arrays, which grows by doubling.
 * Between samples and segment. */
#ifndef BT_HOLD_H
#define BT_HOLD_H

#include "samples/samples.h"

/* Zeroed = empty and without a shape. */
typedef struct {
    size_t n, cap;
    bool has[BT_SIGNALS]; /* which channels are kept */
    double *t, *ch[BT_SIGNALS];
} bt_hold;

/* Samples [lo, hi) of a block, borrowed from it. */
bt_block bt_block_slice(const bt_block *in, size_t lo, size_t hi);

/* Keep the channels that this block has.  Only while empty. */
void bt_hold_shape(bt_hold *h, const bt_block *like);
/* Add samples [lo, hi) behind what is held; a kept channel that the block lacks gets NaN. */
bt_status bt_hold_add(bt_hold *h, const bt_block *in, size_t lo, size_t hi,
                      bt_error *err) BT_MUST_USE;
/* Room for n samples in all, so that a slot behind the last may be written. */
bt_status bt_hold_room(bt_hold *h, size_t n, bt_error *err) BT_MUST_USE;
/* Forget the first n samples. */
void bt_hold_drop(bt_hold *h, size_t n);
/* Borrowed: valid until the next add, room, drop or thin. */
bt_block bt_hold_view(const bt_hold *h, size_t lo, size_t hi);

/* One sample on its own. */
typedef struct {
    double t, v[BT_SIGNALS];
} bt_sample;
bt_sample bt_hold_get(const bt_hold *h, size_t i);
void bt_hold_set(bt_hold *h, size_t i, const bt_sample *s);
/* The sample at time t between two: continuous channels on the straight line, states (and a lap
 * distance that starts anew) as in `a`; unsure if either is. */
bt_sample bt_sample_between(const bt_sample *a, const bt_sample *b, double t);

/* Of samples [from, n) keep the first, every `every`-th from there, and the last.  Returns how many
 * of the n are left. */
size_t bt_hold_thin(bt_hold *h, size_t from, size_t n, size_t every);
void bt_hold_free(bt_hold *h);

#endif
