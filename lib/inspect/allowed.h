/* Which figures a mapping and a car sheet allow, and what is missing for the others (CONTRACT 2, 5). */
#ifndef BT_ALLOWED_H
#define BT_ALLOWED_H

#include "samples/car.h"
#include "samples/channels.h"
#include "base/grow.h"

/* One line with the figures that can be worked out, and one for each that cannot, with the channels and
 * sheet rows that would bring it. */
bt_status bt_allowed_notes(const bt_channels *channels, const bt_car *car, bt_notes *notes,
                           bt_error *err) BT_MUST_USE;

#endif
