/* Recording an error, for every layer.  Low layers say what they expected and
 * found; the layer that knows file, line and field adds them on the way out. */
#ifndef BT_ERROR_H
#define BT_ERROR_H

#include "braketally.h"

/* Record and return: `return bt_fail(err, BT_SYNTAX, "expected ..., found ...")` gives
 * BT_SYNTAX.  err may be NULL.  If err already holds an error, it is kept: the first stays. */
#define bt_fail(err, status, ...)                                                                  \
    (bt_error_set((err), (status), __VA_ARGS__), bt_status_of((status)))
void bt_error_set(bt_error *err, bt_status status, const char *fmt, ...) BT_PRINTF(3, 4);
static inline bt_status bt_status_of(bt_status status)
{
    return status;
}

/* Add the place where it is not known yet: file "" or NULL, line 0 and column 0
 * leave what is there.  Returns `status`, so that `return bt_at(err, st, ...)`. */
bt_status bt_at(bt_error *err, bt_status status, const char *file, uint64_t line, uint64_t column);

/* Copy at most 40 bytes of `text` for a message, control and non-UTF-8 bytes as
 * \xNN, "..." behind what was cut.  Returns buf. */
#define BT_QUOTE_MAX 176
const char *bt_quote(char buf[BT_QUOTE_MAX], const char *text, size_t len);

#define BT_TRY(call)                                                                               \
    do {                                                                                           \
        bt_status st_ = (call);                                                                    \
        if (st_ != BT_OK) return st_;                                                              \
    } while (0)

#endif
