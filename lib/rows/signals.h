/* The signals of a log in the long layout (`time,signal,value`, CONTRACT 3): each name stands for what
 * is a column elsewhere.  Found in the log's head, looked up row by row. */
#ifndef BT_SIGNALS_H
#define BT_SIGNALS_H

#include "rows/dialect.h"
#include "base/error.h"
#include "rows/table.h"

/* More different names are no signals: an error. */
#define BT_SIGNALS_LIMIT ((size_t)65536)

/* Zeroed = none.  Owned by the caller. */
typedef struct {
    size_t n;
    bt_log_column *column; /* UTF-8, owned by the arena; valid until the next add */
    /* private: the names' bytes as the log has them, and a hash of them */
    bt_cell *raw;
    size_t *slot, slots;
    bt_arena arena;
} bt_signals;

/* Signals in the first n bytes of a log of layout LONG (at_end = they are all of it), in order of
 * first sight; their units from the unit column if there is one, else from the name.  *out is zeroed or freed before; needs
 * bt_signals_free in any case. */
bt_status bt_signals_read(bt_signals *out, const bt_dialect *dialect, const void *bytes, size_t n,
                          bool at_end, bt_error *err) BT_MUST_USE;

/* The signal of that name, bytes as in the log; BT_NO_COLUMN if it was not seen. */
size_t bt_signals_find(const bt_signals *signals, const char *name, size_t len);

/* The same, added if it is new; name and unit in `encoding`. */
bt_status bt_signals_add(bt_signals *signals, bt_cell name, bt_cell unit, bt_encoding encoding,
                         size_t *index, bt_error *err) BT_MUST_USE;

void bt_signals_free(bt_signals *signals);

#endif
