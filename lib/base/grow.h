/* Arrays that grow: doubled, with overflow refused.  Base, like error. */
#ifndef BT_GROW_H
#define BT_GROW_H

#include "base/error.h"

/* Room for at least `need` elements of `size` bytes in *array, which has *cap; both are changed only
 * when it succeeds.  `what` names the things for the message. */
bt_status bt_grow(void **array, size_t *cap, size_t need, size_t size, const char *what,
                  bt_error *err) BT_MUST_USE;

/* Lines of text for the user, each said once.  Zeroed = empty. */
typedef struct {
    char **line;
    size_t n, cap;
} bt_notes;
/* Add one formatted line unless it stands there already. */
bt_status bt_notes_add(bt_notes *notes, bt_error *err, const char *fmt, ...)
    BT_PRINTF(3, 4) BT_MUST_USE;
void bt_notes_clear(bt_notes *notes);

#endif
