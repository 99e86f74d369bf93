/* Readings that cannot be right together: a unit mistaken, a sign turned round, a row of the car sheet
 * that is another car's.  No single one of them is impossible, so nothing is refused or corrected; it is
 * named, with what to look at.  Looks at ten samples a second and at the run's finished rows. */
#ifndef BT_DOUBTS_H
#define BT_DOUBTS_H

#include "samples/car.h"
#include "base/grow.h"
#include "run/tally.h"
#include "samples/samples.h"

typedef struct bt_doubts bt_doubts;
/* `channels` and `car` are borrowed. */
bt_status bt_doubts_new(bt_doubts **out, const bt_channels *channels, const bt_car *car,
                        bt_error *err) BT_MUST_USE;
/* The run's samples in their order, smoothed speed and deceleration among them. */
void bt_doubts_take(bt_doubts *d, const bt_block *s);
/* A finished zone, in its order. */
void bt_doubts_zone(bt_doubts *d, const bt_zone *row);
/* The log is over and the result has its figures: a note for each doubt, and BT_FLAG_IMPLAUSIBLE to the
 * run.  `tally` is of its zones; `pedal` opened the zones (BT_CH_COUNT: deceleration did). */
bt_status bt_doubts_tell(const bt_doubts *d, const bt_sample_counts *counts, bt_channel pedal,
                         const bt_tally *tally, bt_result *result, bt_notes *notes,
                         bt_error *err) BT_MUST_USE;
void bt_doubts_free(bt_doubts *d);

#endif
