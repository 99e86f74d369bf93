/* The chain of stages from samples to the record of a run, wired in one place for all who feed it: the
 * analysis of a log, and samples that come without one (DESIGN "One way through"). */
#ifndef BT_CHAIN_H
#define BT_CHAIN_H

#include "samples/car.h"
#include "samples/channels.h"
#include "base/grow.h"
#include "run/record.h"
#include "samples/samples.h"

/* Zeroed = nothing there yet. */
typedef struct {
    const bt_setup *setup; /* borrowed */
    const bt_car *car;     /* the setup's, else own_car */
    bt_car *own_car;
    bt_channels channels;
    bt_record *record;
    bt_stage *segment, *smooth, *speed;
    bt_stage *relay; /* between samples and speed; NULL = all on one thread */
    bt_samples *samples;
    bt_result *result; /* borrowed */
} bt_chain;

/* Bind the channels and build the stages.  threads: what comes behind the samples runs on a thread of
 * its own.  All is borrowed for the chain's life, which also must not move; rows go to `sink`, or if that is
 * NULL to `result`.
 * *out needs bt_chain_free in any case. */
bt_status bt_chain_new(bt_chain *out, const bt_dialect *dialect, bt_signals *signals,
                       const bt_setup *setup, bool threads, const bt_zone_sink *sink,
                       bt_result *result, bt_error *err) BT_MUST_USE;
/* The samples have come to their end, behind a relay too: the run's row, its notes and what takes all
 * zones of the run. */
bt_status bt_chain_finish(bt_chain *chain, bt_notes *notes, bt_error *err) BT_MUST_USE;
/* Takes a zeroed one. */
void bt_chain_free(bt_chain *chain);

#endif
