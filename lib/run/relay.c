/* Relays: see relay.h. */
#include "run/relay.h"

#include <pthread.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"
#include "rows/ring.h"

enum { SLOTS = 8 };

/* A block that keeps its own samples; n = 0 stands for the end of a stretch. */
typedef struct {
    size_t n;
    bool has[BT_SIGNALS];
    double t[BT_BLOCK_MAX], ch[BT_SIGNALS][BT_BLOCK_MAX];
} parcel;

typedef struct {
    bt_stage stage;
    bt_ring *ring;
    pthread_t thread;
    bool running;
    bt_error fault; /* of the stages behind; read only when the thread has ended */
} relay;

static bt_status pass_on(bt_stage *next, const parcel *p, bt_error *err)
{
    if (p->n == 0) return next->end(next, err);
    bt_block block = {.n = p->n, .t = p->t};
    for (int k = 0; k < BT_SIGNALS; k++) block.ch[k] = p->has[k] ? p->ch[k] : NULL;
    return next->push(next, &block, err);
}

static void *run(void *user)
{
    relay *r = user;
    const parcel *p;
    while ((p = bt_ring_full_slot(r->ring))) {
        const bt_status status = pass_on(r->stage.next, p, &r->fault);
        if (status != BT_OK) {
            bt_fail(&r->fault, status, "%s", bt_status_meaning(status));
            bt_ring_stop(r->ring);
            break;
        }
        bt_ring_emptied(r->ring);
    }
    return NULL;
}

/* BT_WRITE stands for whatever the stages behind said: bt_relay_finish knows. */
static bt_status push(bt_stage *stage, const bt_block *in, bt_error *err)
{
    (void)err;
    relay *r = (relay *)stage;
    parcel *p = bt_ring_free_slot(r->ring);
    if (!p) return BT_WRITE;
    p->n = in->n;
    memcpy(p->t, in->t, in->n * sizeof *p->t);
    for (int k = 0; k < BT_SIGNALS; k++) {
        p->has[k] = in->ch[k] != NULL;
        if (p->has[k]) memcpy(p->ch[k], in->ch[k], in->n * sizeof *p->ch[k]);
    }
    bt_ring_filled(r->ring);
    return BT_OK;
}

static bt_status end(bt_stage *stage, bt_error *err)
{
    (void)err;
    relay *r = (relay *)stage;
    parcel *p = bt_ring_free_slot(r->ring);
    if (!p) return BT_WRITE;
    p->n = 0;
    bt_ring_filled(r->ring);
    return BT_OK;
}

bt_status bt_relay_new(bt_stage **out, bt_stage *next, bt_error *err)
{
    *out = NULL;
    relay *r = calloc(1, sizeof *r);
    if (!r) return bt_fail(err, BT_NOMEM, "no memory to hand samples on");
    r->stage = (bt_stage){.push = push, .end = end, .next = next};
    const bt_status status = bt_ring_new(&r->ring, SLOTS, sizeof(parcel), err);
    if (status != BT_OK) {
        free(r);
        return status;
    }
    r->running = pthread_create(&r->thread, NULL, run, r) == 0;
    if (!r->running) {
        bt_relay_free(&r->stage);
        return bt_fail(err, BT_NOMEM, "no thread to hand samples on to");
    }
    *out = &r->stage;
    return BT_OK;
}

bt_status bt_relay_finish(bt_stage *stage, bt_error *err)
{
    relay *r = (relay *)stage;
    if (r->running) {
        bt_ring_close(r->ring);
        pthread_join(r->thread, NULL);
        r->running = false;
    }
    if (r->fault.status != BT_OK && err) *err = r->fault;
    return r->fault.status;
}

void bt_relay_free(bt_stage *stage)
{
    if (!stage) return;
    relay *r = (relay *)stage;
    (void)!bt_relay_finish(stage, NULL);
    bt_ring_free(r->ring);
    free(r);
}
