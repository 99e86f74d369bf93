/* Zone rows put away small, one behind the other: of each number the digits of its cell, as the difference from the
 * row before, deflated page by page.  A row comes back as its saved cells would give it (bt_zone_round).  Of a
 * log with every figure it takes some 130 bytes, less than a sixth of itself. */
#ifndef BT_PACKED_H
#define BT_PACKED_H

#include "base/error.h"

typedef struct bt_packed_page bt_packed_page;
typedef struct bt_packed_coder bt_packed_coder;

/* Zeroed = empty. */
typedef struct {
    size_t rows;
    bt_packed_page *page; /* deflated */
    size_t pages, pages_cap;
    unsigned char *open; /* the page being filled */
    size_t open_n, open_cap, open_rows;
    bt_packed_coder *coder; /* what the next row is a difference from; NULL = a new page */
} bt_packed;

bt_status bt_packed_add(bt_packed *packed, const bt_zone *row, bt_error *err) BT_MUST_USE;
/* Close the open page: no row more for the time being. */
bt_status bt_packed_seal(bt_packed *packed, bt_error *err) BT_MUST_USE;
/* Put the rows of `from` behind; it is empty then.  Both sealed. */
bt_status bt_packed_join(bt_packed *packed, bt_packed *from, bt_error *err) BT_MUST_USE;
/* Hand each row over, with its number from 0, until `take` gives anything but BT_OK, which is returned.  Sealed. */
typedef bt_status (*bt_packed_take)(void *user, size_t i, bt_zone *row, bt_error *err);
bt_status bt_packed_each(const bt_packed *packed, bt_packed_take take, void *user,
                         bt_error *err) BT_MUST_USE;
void bt_packed_clear(bt_packed *packed);

#endif
