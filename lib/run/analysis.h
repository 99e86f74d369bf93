/* The analysis of one log, its rows put elsewhere than into the result.  bt_analyse is public (braketally.h). */
#ifndef BT_ANALYSIS_H
#define BT_ANALYSIS_H

#include "run/record.h"

/* As bt_analyse, but the zones go to the sink, and what takes all of them in the end is left to the caller: places, in
 * events too, laps where none is logged, and the drift.  sink NULL: bt_analyse itself. */
bt_status bt_analyse_into(const char *path, const bt_setup *setup, const bt_zone_sink *sink,
                          bt_result *result, bt_error *err) BT_MUST_USE;

#endif
