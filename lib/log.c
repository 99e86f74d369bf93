/* A log that is open: see log.h. */
#include "log.h"

#include <stdlib.h>

#include "error.h"

#define BLOCK_BYTES ((size_t)1 << 18)

/* Fill the buffer up to `want` or the log's end: reads may come short. */
static bt_status fill(bt_log *log, size_t want, bt_error *err)
{
    for (log->n = 0; log->n < want;) {
        size_t got;
        BT_TRY(bt_source_read(log->source, log->bytes + log->n, want - log->n, &got, err));
        if (got == 0) break;
        log->n += got;
    }
    return BT_OK;
}

bt_status bt_log_open(bt_log *out, const char *path, const bt_setup *setup, bt_error *err)
{
    *out = (bt_log){.setup = setup};
    BT_TRY(bt_source_open(&out->source, path, err));
    out->block = setup->block_bytes ? setup->block_bytes : BLOCK_BYTES;
    out->cap = out->block > BT_DIALECT_HEAD ? out->block : BT_DIALECT_HEAD;
    out->bytes = malloc(out->cap);
    if (!out->bytes) return bt_fail(err, BT_NOMEM, "no memory for a block of %zu bytes", out->cap);
    /* A fault in the head is met again when the next block is asked for: what came before it counts. */
    bt_error fault = {0};
    const bt_status status = fill(out, BT_DIALECT_HEAD, &fault);
    if (status != BT_OK && out->n == 0) {
        if (err && err->status == BT_OK) *err = fault;
        return status;
    }
    const bool at_end = out->n < BT_DIALECT_HEAD;
    const bt_dialect_options look = {.layout = setup->layout};
    BT_TRY(bt_dialect_sniff(&out->dialect, out->bytes, out->n, at_end, &look, err));
    if (out->dialect.layout != BT_LAYOUT_LONG) return BT_OK;
    return bt_signals_read(&out->signals, &out->dialect, out->bytes, out->n, at_end, err);
}

bt_status bt_log_next(bt_log *log, bt_error *err)
{
    const bt_status status = fill(log, log->block, err);
    if (log->setup->progress) {
        uint64_t done, total;
        bt_source_progress(log->source, &done, &total);
        log->setup->progress(log->setup->user, done, total);
    }
    return status;
}

void bt_log_close(bt_log *log)
{
    bt_signals_free(&log->signals);
    bt_dialect_free(&log->dialect);
    free(log->bytes);
    bt_source_free(log->source);
    *log = (bt_log){0};
}
