/* Rows held back until no later value can change them, then handed on in blocks without copying.  Part of
 * samples. */
#ifndef BT_HELD_H
#define BT_HELD_H

#include "samples/lane.h"
#include "samples/samples.h"

/* A buffer of rows [first, n), newest last; buffer row 0 is row `origin` of those kept.  Owned by the
 * samples stage, who owns the lanes too, but for their x. */
typedef struct {
    bt_stage *next; /* NULL = none */
    bt_lane *lane;
    size_t lanes;
    double *t;   /* s */
    int64_t *ns; /* the same times */
    size_t first, n, cap;
    size_t check_at;  /* at so many rows some may be handed on */
    size_t unsettled; /* rows [unsettled, n) of the lanes are not settled */
    uint64_t origin;
    bool open; /* a stretch is under way */
} bt_held;

/* Memory for the first rows; x of all lanes, too.  Needs bt_held_free in any case.  BT_NOMEM. */
bt_status bt_held_init(bt_held *held, bt_lane *lane, size_t lanes, bt_stage *next,
                       bt_error *err) BT_MUST_USE;

/* One more row, later than the newest one; its lanes are not yet written.  Those before it are. */
bt_status bt_held_add(bt_held *held, int64_t ns, double t, bt_error *err) BT_MUST_USE;

/* Is there room for one more in a stretch under way, with nothing to hand on before?  Then
 * bt_held_append does, and the lanes of those before it may be written later. */
static inline bool bt_held_has_room(const bt_held *held)
{
    return held->open && held->n < held->check_at && held->n < held->cap;
}
static inline void bt_held_append(bt_held *held, int64_t ns, double t)
{
    held->ns[held->n] = ns;
    held->t[held->n++] = t;
}

/* Hand on all rows that nothing later can change, few as they may be.  The lanes of all are written. */
bt_status bt_held_flush(bt_held *held, bt_error *err) BT_MUST_USE;

/* The stretch is over: holes at its end stay holes; all rows are handed on, and the end. */
bt_status bt_held_end(bt_held *held, bt_error *err) BT_MUST_USE;

void bt_held_free(bt_held *held);

#endif
