/* A bounded queue of equal slots between two threads: one fills, one takes, in order.  Knows nothing of
 * what is in a slot.  Used between source and table (blocks of bytes) and between samples and the
 * stages behind them (blocks of samples). */
#ifndef BT_RING_H
#define BT_RING_H

#include "braketally.h"

typedef struct bt_ring bt_ring;

/* `slots` of `bytes` each, aligned for anything, zeroed.  BT_NOMEM. */
bt_status bt_ring_new(bt_ring **out, size_t slots, size_t bytes, bt_error *err) BT_MUST_USE;

/* The filler: the next free slot, waited for; NULL = the taker wants no more.  Then hand it over.
 * bt_ring_close: nothing follows. */
void *bt_ring_free_slot(bt_ring *ring);
void bt_ring_filled(bt_ring *ring);
void bt_ring_close(bt_ring *ring);

/* The taker: the next filled slot, waited for; NULL = nothing follows.  Then give it back.
 * bt_ring_stop: wants no more. */
void *bt_ring_full_slot(bt_ring *ring);
void bt_ring_emptied(bt_ring *ring);
void bt_ring_stop(bt_ring *ring);

/* Neither thread may be at it any more. */
void bt_ring_free(bt_ring *ring);

/* Cores that this process may run on, at least 1. */
int bt_cores(void);

#endif
