/* The chain of stages: see chain.h.  Nothing is computed here. */
#include "run/chain.h"

#include <math.h>

#include "run/relay.h"
#include "zones/segment.h"
#include "signals/smooth.h"
#include "signals/speed.h"

/* Build the stages from the last to the first. */
static bt_status build(bt_chain *c, bool threads, const bt_zone_sink *sink, bt_error *err)
{
    BT_TRY(bt_record_new(&c->record, &c->channels, c->car, c->setup, sink, c->result, err));
    const bt_segment_sink pieces = bt_record_sink(c->record);
    BT_TRY(bt_segment_new(&c->segment, &c->channels, c->car, 0, &pieces, err));
    BT_TRY(bt_smooth_new(&c->smooth, c->car->value[BT_CAR_SMOOTH_WINDOW], c->segment, err));
    BT_TRY(bt_speed_new(&c->speed, &c->channels, c->car, c->smooth, err));
    if (threads) BT_TRY(bt_relay_new(&c->relay, c->speed, err));
    BT_TRY(bt_samples_new(&c->samples, &c->channels, c->relay ? c->relay : c->speed, err));
    bt_record_attach(c->record, c->samples, c->speed, c->segment);
    return BT_OK;
}

bt_status bt_chain_new(bt_chain *out, const bt_dialect *dialect, bt_signals *signals,
                       const bt_setup *setup, bool threads, const bt_zone_sink *sink,
                       bt_result *result, bt_error *err)
{
    *out = (bt_chain){.setup = setup, .car = setup->car, .result = result};
    if (!out->car) {
        BT_TRY(bt_car_new(&out->own_car, err));
        out->car = out->own_car;
    }
    BT_TRY(bt_channels_bind(&out->channels, dialect, signals, setup->map, out->car, setup, err));
    return build(out, threads, sink, err);
}

/* What takes all zones of the run: where they lie, and whether the balance moved. */
static bt_status tell_story(bt_result *result, bt_error *err)
{
    BT_TRY(bt_places_assign(result->zones, result->n_zones, err));
    bt_lap_count laps = BT_NO_LAPS;
    for (size_t i = 0; i < result->n_zones; i++) bt_lap_count_add(&laps, result->zones[i].lap);
    if (isnan(result->run.laps)) result->run.laps = laps.n;
    bt_events_place(result->events, result->n_events, result->zones, result->n_zones);
    return bt_drift_of_run(&result->run, result->zones, result->n_zones, err);
}

bt_status bt_chain_finish(bt_chain *chain, bt_notes *notes, bt_error *err)
{
    BT_TRY(bt_record_finish(chain->record, notes, err));
    return tell_story(chain->result, err);
}

void bt_chain_free(bt_chain *c)
{
    bt_relay_free(c->relay);
    bt_samples_free(c->samples);
    bt_speed_free(c->speed);
    bt_smooth_free(c->smooth);
    bt_segment_free(c->segment);
    bt_record_free(c->record);
    bt_car_free(c->own_car);
    *c = (bt_chain){0};
}
