/* Which figures a mapping and a car sheet allow, and what is missing for the others (CONTRACT 2, 5). */
#ifndef BT_ALLOWED_H
#define BT_ALLOWED_H

#include "samples/car.h"
#include "samples/channels.h"
#include "base/grow.h"

/* A line for each figure that cannot be worked out, with the channels and sheet rows that would bring it,
 * and a last one with those that can. */
bt_status bt_allowed_notes(const bt_channels *channels, const bt_car *car, bt_notes *notes,
                           bt_error *err) BT_MUST_USE;

#endif
