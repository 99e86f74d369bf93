/* The record of one run: takes the pieces that the segment stage cuts (zones, and what lies between),
 * makes zone rows, the trace and the run's sums of them.  Between stages and tables. */
#ifndef BT_RECORD_H
#define BT_RECORD_H

#include "samples/car.h"
#include "samples/channels.h"
#include "base/grow.h"
#include "run/tally.h"
#include "samples/samples.h"
#include "zones/segment.h"

typedef struct bt_record bt_record;

/* Where finished rows go, one after the other.  A later zone may give zone i, from 0, another mode, as
 * bt_zone_give_mode does. */
typedef struct {
    void *user;
    bt_status (*add)(void *user, const bt_zone *row, bt_error *err);
    void (*amend)(void *user, size_t i, bt_mode mode);
} bt_zone_sink;

/* Rows go to `sink` (NULL = to result->zones), the rest to `result`, whose run name is copied into each row.
 * All that is handed in but the sink is borrowed for the record's life. */
bt_status bt_record_new(bt_record **out, const bt_channels *channels, const bt_car *car,
                        const bt_setup *setup, const bt_zone_sink *sink, bt_result *result,
                        bt_error *err) BT_MUST_USE;
/* Where to ask for the time offset, the wheels' trims and the speed's source; before the first row. */
void bt_record_attach(bt_record *record, const bt_samples *samples, const bt_stage *speed,
                      const bt_stage *segment);
bt_segment_sink bt_record_sink(bt_record *record);
/* The log is over: fill in the run row (not its status) and the notes on what is missing. */
bt_status bt_record_finish(bt_record *record, bt_notes *notes, bt_error *err) BT_MUST_USE;
void bt_record_free(bt_record *record);

#endif
