/* Inside the shelf: how rows get there while a log is analysed.  bt_shelf_* are public (braketally.h). */
#ifndef BT_SHELF_H
#define BT_SHELF_H

#include "run/record.h"

/* Puts rows on *shelf, which is made with the first of them.  Borrowed for the sink's life. */
bt_zone_sink bt_shelf_sink(bt_shelf **shelf);

#endif
