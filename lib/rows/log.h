/* A log that is open: its bytes in blocks, and what a look at its head told of how it is written.
 * Between source and table; analysis and inspection both start from it.  Where there are cores for
 * it, a thread of its own reads and inflates ahead. */
#ifndef BT_LOG_H
#define BT_LOG_H

#include "rows/dialect.h"
#include "rows/ring.h"
#include "rows/signals.h"
#include "rows/source.h"

typedef struct bt_reader bt_reader;

typedef struct {
    bt_source *source;
    const bt_setup *setup;
    unsigned char *bytes; /* the block read last; the head after open */
    size_t n;             /* bytes in it; 0 = the log is over */
    size_t block;
    bool whole;        /* the head is the whole log */
    bool threads;      /* there are cores for more than one thread */
    bt_reader *reader; /* the thread that reads ahead, NULL = none */
    unsigned char *own;
    bt_dialect dialect;
    bt_signals signals; /* of the long layout */
} bt_log;

/* Open `path` ("-" = standard input) and look at its head, which is the first block.  setup is
 * borrowed.  *out needs bt_log_close in any case. */
bt_status bt_log_open(bt_log *out, const char *path, const bt_setup *setup,
                      bt_error *err) BT_MUST_USE;
/* The next block into bytes and n.  What came before a fault is in the block then, and BT_READ
 * returned.  Tells the setup's progress. */
bt_status bt_log_next(bt_log *log, bt_error *err) BT_MUST_USE;
void bt_log_close(bt_log *log);

#endif
