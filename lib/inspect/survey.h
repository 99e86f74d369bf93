/* A look at every cell of a log: how much there is in each column, from where to where, and whether the
 * speeds agree.  All columns are converted here.  For `inspect`, which makes rows of it. */
#ifndef BT_SURVEY_H
#define BT_SURVEY_H

#include "samples/car.h"
#include "samples/channels.h"
#include "base/grow.h"
#include "rows/log.h"
#include "inspect/rolling.h"
#include "rows/stamps.h"

#define BT_SURVEY_HOLE 5.0 /* s; a longer step does not count for a column's rate (METHODS 2.3) */

typedef struct {
    uint64_t values, blanks, bad;
    double min, max;      /* in the log's own unit; NaN = no value */
    uint64_t steps;       /* between values, */
    double span;          /* s, and their sum */
    double last;          /* s, time of the last value */
    int role;             /* slot of rolling.h that it is compared as, or below */
    double factor, shift; /* to SI, for the role */
} bt_column_stat;
enum { BT_NO_ROLE = -1, BT_BRAKE_ROLE = BT_ROLL_SLOTS };

typedef struct {
    const bt_car *car;
    bt_log log;
    bt_channels channels; /* what serves; nothing, where the log cannot be bound yet */
    bt_column_stat *stat; /* of each column, or signal */
    size_t n;
    size_t
        time_column; /* bound, or else the likeliest; BT_NO_COLUMN = none, or the long layout's */
    uint64_t rows, back; /* back: rows that repeat a time or go back in it */
    double longest;      /* s, longest step of time */
    bool truncated;
    bt_rolling *rolling;
    bt_notes notes; /* what it looks like */
    bt_notes why;   /* it cannot be bound; empty = it is */
    /* private */
    bt_table *table;
    bt_stamps stamps;
    double time; /* s, of the row; NaN = none */
    size_t cap;
} bt_survey;

/* Read the whole log.  car is borrowed, setup for the call.  A log that cannot be bound (no time,
 * doubtful names, unknown units) is looked at all the same, the reason becomes a note; a faulty map is
 * an error.  *out needs bt_survey_free in any case. */
bt_status bt_survey_read(bt_survey *out, const char *path, const bt_setup *setup, const bt_car *car,
                         bt_error *err) BT_MUST_USE;
void bt_survey_free(bt_survey *survey);

#endif
