/* A log that is open: see log.h. */
#include "rows/log.h"

#include <pthread.h>
#include <stdlib.h>
#include <string.h>

#include "base/error.h"

/* Smaller blocks cost inflate more copies of its window, larger ones leave the caches. */
#define BLOCK_BYTES ((size_t)1 << 18)
enum { SLOTS = 3 };

/* One block read ahead. */
typedef struct {
    bt_status status;
    bt_error err;
    size_t n;
    uint64_t done, total;
    unsigned char bytes[];
} block;

struct bt_reader {
    bt_source *source;
    size_t want;
    bt_ring *ring;
    pthread_t thread;
    bool running, holds; /* holds: the taker is at a block */
};

/* Fill bytes[0..want) up to the log's end: reads may come short. */
static bt_status fill(bt_source *source, unsigned char *bytes, size_t want, size_t *n,
                      bt_error *err)
{
    for (*n = 0; *n < want;) {
        size_t got;
        BT_TRY(bt_source_read(source, bytes + *n, want - *n, &got, err));
        if (got == 0) break;
        *n += got;
    }
    return BT_OK;
}

static void *read_ahead(void *user)
{
    bt_reader *r = user;
    block *b;
    bool more = true;
    while (more && (b = bt_ring_free_slot(r->ring))) {
        b->err = (bt_error){0};
        b->status = fill(r->source, b->bytes, r->want, &b->n, &b->err);
        bt_source_progress(r->source, &b->done, &b->total);
        more = b->status == BT_OK && b->n > 0;
        bt_ring_filled(r->ring);
    }
    bt_ring_close(r->ring);
    return NULL;
}

static void reader_free(bt_reader *r)
{
    if (!r) return;
    if (r->running) {
        bt_ring_stop(r->ring);
        pthread_join(r->thread, NULL);
    }
    bt_ring_free(r->ring);
    free(r);
}

static bt_status reader_new(bt_reader **out, bt_source *source, size_t want, bt_error *err)
{
    *out = NULL;
    bt_reader *r = calloc(1, sizeof *r);
    if (!r) return bt_fail(err, BT_NOMEM, "no memory to read ahead");
    r->source = source;
    r->want = want;
    bt_status status = bt_ring_new(&r->ring, SLOTS, sizeof(block) + want, err);
    if (status == BT_OK) {
        r->running = pthread_create(&r->thread, NULL, read_ahead, r) == 0;
        if (!r->running) status = bt_fail(err, BT_NOMEM, "no thread to read ahead");
    }
    if (status != BT_OK) {
        reader_free(r);
        return status;
    }
    *out = r;
    return BT_OK;
}

/* The head: larger for a log of many columns.  What could be read before *fault is in it. */
static bt_status read_head(bt_log *log, bt_error *fault, bt_error *err)
{
    size_t want = BT_DIALECT_HEAD, room = log->block > want ? log->block : want;
    log->whole = true;
    do {
        unsigned char *larger = realloc(log->own, room);
        if (!larger) return bt_fail(err, BT_NOMEM, "no memory for a block of %zu bytes", room);
        log->bytes = log->own = larger;
        size_t got;
        const bt_status status = fill(log->source, log->bytes + log->n, want - log->n, &got, fault);
        log->n += got;
        if (status != BT_OK || log->n < want) return BT_OK;
        want *= 2;
        if (room < want) room = want;
    } while (bt_dialect_wants_more(log->bytes, log->n));
    log->whole = false;
    return BT_OK;
}

/* Is it how the text begins, with any delimiter for the commas? */
static bool begins(const char *bytes, size_t n, const char *head)
{
    size_t i = 0;
    for (; i < n && head[i]; i++)
        if (bytes[i] != head[i] && !(head[i] == ',' && (bytes[i] == ';' || bytes[i] == '\t')))
            return false;
    return head[i] == '\0';
}

/* The other tables of a day at the track are easily given for a log. */
static bt_status refuse_tables(const bt_log *log, bt_error *err)
{
    static const struct {
        const char *head, *what;
    } tables[] = {{"quantity,value", "a car sheet"},
                  {"channel,column", "a channel map"},
                  {"pedal_bar,axle_nm", "a demand curve"},
                  {"run,zone,lap,place", "a saved table of zones"},
                  {"run,event,", "a saved table of events"},
                  {"run,status,duration_s", "a saved table of runs"}};
    const bool marked = log->n > 3 && memcmp(log->bytes, "\xef\xbb\xbf", 3) == 0;
    const size_t skip = marked ? 3 : 0;
    for (size_t i = 0; i < sizeof tables / sizeof *tables; i++)
        if (begins((const char *)log->bytes + skip, log->n - skip, tables[i].head))
            return bt_at(err, bt_fail(err, BT_SYNTAX, "expected a log, found %s", tables[i].what),
                         NULL, 1, 0);
    return BT_OK;
}

bt_status bt_log_open(bt_log *out, const char *path, const bt_setup *setup, bt_error *err)
{
    *out = (bt_log){.setup = setup};
    BT_TRY(bt_source_open(&out->source, path, err));
    out->block = setup->block_bytes ? setup->block_bytes : BLOCK_BYTES;
    /* A fault in the head is met again when the next block is asked for: what came before it counts. */
    bt_error fault = {0};
    BT_TRY(read_head(out, &fault, err));
    if (fault.status != BT_OK && out->n == 0) {
        if (err && err->status == BT_OK) *err = fault;
        return fault.status;
    }
    BT_TRY(refuse_tables(out, err));
    out->threads = !out->whole && (setup->threads ? setup->threads : bt_cores()) > 1;
    const bt_dialect_options look = {.layout = setup->layout};
    BT_TRY(bt_dialect_sniff(&out->dialect, out->bytes, out->n, out->whole, &look, err));
    if (out->dialect.layout != BT_LAYOUT_LONG) return BT_OK;
    return bt_signals_read(&out->signals, &out->dialect, out->bytes, out->n, out->whole, err);
}

static void tell_progress(const bt_log *log, uint64_t done, uint64_t total)
{
    if (log->setup->progress) log->setup->progress(log->setup->user, done, total);
}

/* The next block from the reader; behind the last one there are none. */
static bt_status next_ahead(bt_log *log, bt_error *err)
{
    bt_reader *r = log->reader;
    if (r->holds) bt_ring_emptied(r->ring);
    block *b = bt_ring_full_slot(r->ring);
    r->holds = b != NULL;
    log->n = b ? b->n : 0;
    if (!b) return BT_OK;
    log->bytes = b->bytes;
    tell_progress(log, b->done, b->total);
    if (b->status == BT_OK) return BT_OK;
    bt_fail(err, b->status, "%s", b->err.message);
    return bt_at(err, b->status, b->err.file, b->err.line, b->err.column);
}

bt_status bt_log_next(bt_log *log, bt_error *err)
{
    if (log->threads && !log->reader)
        BT_TRY(reader_new(&log->reader, log->source, log->block, err));
    if (log->reader) return next_ahead(log, err);
    const bt_status status = fill(log->source, log->bytes, log->block, &log->n, err);
    uint64_t done, total;
    bt_source_progress(log->source, &done, &total);
    tell_progress(log, done, total);
    return status;
}

void bt_log_close(bt_log *log)
{
    reader_free(log->reader);
    bt_signals_free(&log->signals);
    bt_dialect_free(&log->dialect);
    free(log->own);
    bt_source_free(log->source);
    *log = (bt_log){0};
}
