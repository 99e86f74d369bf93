/* The trace: derived time series, sample by sample (CONTRACT 9). */
#ifndef BT_TRACE_H
#define BT_TRACE_H

#include "verdict/fallback.h"
#include "signals/forces.h"
#include "samples/samples.h"

/* What a run of samples has in common. */
typedef struct {
    double zone;           /* NaN = between zones */
    const uint8_t *states; /* a bt_mode (fallback.h) for each sample; NULL = none */
    const double *zero;    /* Pa per channel still to be subtracted; NULL = done */
    const double *trim;    /* of the four wheels */
    const double *disc[2]; /* K, temperatures of front and rear discs */
    double offset;         /* s, to the log's own time */
} bt_trace_context;

/* Hands each sample to setup->trace.  car and setup are borrowed. */
typedef struct bt_tracer bt_tracer;
bt_status bt_tracer_new(bt_tracer **out, const bt_car *car, const bt_setup *setup,
                        bt_error *err) BT_MUST_USE;
/* Consecutive samples, any n; they carry BT_SIG_SPEED and BT_SIG_DECEL. */
bt_status bt_tracer_run(bt_tracer *tracer, const bt_block *run, const bt_trace_context *context,
                        bt_error *err) BT_MUST_USE;
void bt_tracer_free(bt_tracer *tracer);

#endif
