/* By-wire or given up? (METHODS 8)  Evidence (evidence.h) feeds a CUSUM each way; the state that it
 * leads to lasts from zone to zone.  The flag `bywire_state` is compared with what the pressures say:
 * a fallback that it does not know of is silent, a flag without a fallback is false. */
#ifndef BT_FALLBACK_H
#define BT_FALLBACK_H

#include "samples/car.h"
#include "samples/channels.h"
#include "verdict/events.h"
#include "signals/forces.h"
#include "zones/segment.h"

/* Who is in charge, by sample or by zone. */
typedef enum {
    BT_MODE_NONE, /* not a by-wire car, as far as the log tells */
    BT_MODE_UNDETERMINED,
    BT_MODE_BYWIRE,
    BT_MODE_FALLBACK,
    BT_MODE_MIXED /* of zones only */
} bt_mode;
/* As tables have it; "" for none. */
const char *bt_mode_word(bt_mode mode);

typedef struct bt_fallback bt_fallback;
/* `channels` and `car` are borrowed. */
bt_status bt_fallback_new(bt_fallback **out, const bt_channels *channels, const bt_car *car,
                          bt_error *err) BT_MUST_USE;
/* A finished zone whose row has its figures: fills in row->mode.  *states, if not NULL, gets a bt_mode
 * for each sample, owned by the fallback and valid until the next zone.  Events are added as they end:
 * fallback, silent-fallback, false-flag. */
bt_status bt_fallback_zone(bt_fallback *f, const bt_braking *zone, const bt_torques *torques,
                           bt_zone *row, const uint8_t **states, bt_events *events,
                           bt_error *err) BT_MUST_USE;
/* What the last zone tells of those before it: their rows from number `zone` on (NaN = nothing) get this
 * mode.  MIXED: a fallback began in that one, and the rows behind it are FALLBACK; else what they had of a
 * fallback was none: chance, or a flag that the pressures deny. */
typedef struct {
    double zone;
    bt_mode mode;
} bt_revision;
bt_revision bt_fallback_revision(const bt_fallback *f);
/* Samples between zones: only the flag can tell something there. */
bt_status bt_fallback_free_run(bt_fallback *f, const bt_block *run, bt_events *events,
                               bt_error *err) BT_MUST_USE;
/* Adds the fallback that lasts, once, when it can no more be taken back: as it looks by now, its duration
 * NaN.  For who cannot wait for its end; `events` is not the run's list. */
bt_status bt_fallback_lasting(bt_fallback *f, bt_events *events, bt_error *err) BT_MUST_USE;
/* The log is over: what is open ends with the last sample; fallbacks, first_fallback, fallback_time and
 * silent_fallbacks of the run row are filled in, and stay NaN where nothing could ever tell. */
bt_status bt_fallback_end(bt_fallback *f, bt_run *run, bt_events *events,
                          bt_error *err) BT_MUST_USE;
void bt_fallback_free(bt_fallback *f);

#endif
