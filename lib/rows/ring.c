/* Rings: see ring.h. */
#ifdef __linux__
#define _GNU_SOURCE /* sched_getaffinity: a process held to one core shall not think it has two */
#include <sched.h>
#endif

#include "rows/ring.h"

#include "base/error.h"

#include <pthread.h>
#include <stdalign.h>
#include <stdlib.h>
#include <unistd.h>

struct bt_ring {
    pthread_mutex_t lock;
    pthread_cond_t changed;
    size_t slots, bytes;
    size_t filled, taken; /* slots since the start */
    bool closed, stopped;
    unsigned char *store;
};

bt_status bt_ring_new(bt_ring **out, size_t slots, size_t bytes, bt_error *err)
{
    const size_t align = alignof(max_align_t), step = (bytes + align - 1) / align * align;
    *out = NULL;
    bt_ring *r = calloc(1, sizeof *r);
    if (r) r->store = calloc(slots, step);
    if (!r || !r->store) {
        free(r);
        return bt_fail(err, BT_NOMEM, "no memory for %zu blocks of %zu bytes", slots, bytes);
    }
    r->slots = slots;
    r->bytes = step;
    pthread_mutex_init(&r->lock, NULL);
    pthread_cond_init(&r->changed, NULL);
    *out = r;
    return BT_OK;
}

void bt_ring_free(bt_ring *r)
{
    if (!r) return;
    pthread_cond_destroy(&r->changed);
    pthread_mutex_destroy(&r->lock);
    free(r->store);
    free(r);
}

static void *slot(const bt_ring *r, size_t number)
{
    return r->store + number % r->slots * r->bytes;
}

void *bt_ring_free_slot(bt_ring *r)
{
    pthread_mutex_lock(&r->lock);
    while (!r->stopped && r->filled - r->taken == r->slots)
        pthread_cond_wait(&r->changed, &r->lock);
    void *s = r->stopped ? NULL : slot(r, r->filled);
    pthread_mutex_unlock(&r->lock);
    return s;
}

void *bt_ring_full_slot(bt_ring *r)
{
    pthread_mutex_lock(&r->lock);
    while (!r->closed && r->filled == r->taken) pthread_cond_wait(&r->changed, &r->lock);
    void *s = r->filled == r->taken ? NULL : slot(r, r->taken);
    pthread_mutex_unlock(&r->lock);
    return s;
}

/* Change a number or a word that the other thread may wait for. */
#define CHANGE(r, change)                                                                          \
    do {                                                                                           \
        pthread_mutex_lock(&(r)->lock);                                                            \
        change;                                                                                    \
        pthread_cond_signal(&(r)->changed);                                                        \
        pthread_mutex_unlock(&(r)->lock);                                                          \
    } while (0)

void bt_ring_filled(bt_ring *r)
{
    CHANGE(r, r->filled++);
}

void bt_ring_emptied(bt_ring *r)
{
    CHANGE(r, r->taken++);
}

void bt_ring_close(bt_ring *r)
{
    CHANGE(r, r->closed = true);
}

void bt_ring_stop(bt_ring *r)
{
    CHANGE(r, r->stopped = true);
}

int bt_cores(void)
{
#ifdef __linux__
    cpu_set_t set;
    if (sched_getaffinity(0, sizeof set, &set) == 0)
        return CPU_COUNT(&set) > 0 ? CPU_COUNT(&set) : 1;
#endif
    const long n = sysconf(_SC_NPROCESSORS_ONLN);
    return n > 1 ? (int)n : 1;
}
