/* Samples: rows become blocks of consecutive samples on the log's own time grid, an array per
 * channel, holes filled (METHODS 2).  Here stands what travels down the line from then on: the
 * channels that a log may bring, the signals that we add, the block, and the stage that takes
 * blocks and hands blocks on. */
#ifndef BT_SAMPLES_H
#define BT_SAMPLES_H

#include "samples/channels.h"

/* Signals that we work out stand behind the channels in the same array of pointers. */
enum {
    BT_SIG_SPEED = BT_CH_COUNT, /* m/s, reference speed; smoothed from the smooth stage on */
    BT_SIG_DECEL,               /* m/s2, positive when slowing (smooth stage) */
    BT_SIG_DIST,                /* m, from the first row, integral of the reference speed */
    BT_SIG_UNSURE,              /* 1 where the speed is bridged (METHODS 3), else 0 */
    BT_SIGNALS
};

#define BT_BLOCK_MAX 1024

/* Consecutive samples of one stretch.  Borrowed: valid only inside the push() that hands it over. */
typedef struct {
    size_t n;                     /* 1..BT_BLOCK_MAX */
    const double *t;              /* s from the first row of the log, strictly rising, never NaN */
    const double *ch[BT_SIGNALS]; /* SI; NULL = not logged or not made yet; NaN = no value */
} bt_block;

/* A stage takes blocks and hands what it makes to the next one.  Where blocks are cut never changes
 * an answer, bit by bit.  A stage's struct begins with its bt_stage. */
typedef struct bt_stage bt_stage;
struct bt_stage {
    bt_status (*push)(bt_stage *self, const bt_block *in, bt_error *err);
    /* The stretch is over (a time fault, a hole of more than 5 s, the end of the log): emit what is
     * held, start afresh, and end the next stage. */
    bt_status (*end)(bt_stage *self, bt_error *err);
    bt_stage *next; /* not owned; NULL = last */
};

/* What the samples stage counted. */
typedef struct {
    uint64_t rows;      /* data rows read */
    uint64_t dropped;   /* for a repeated or slightly backward time, or an unreadable one */
    uint64_t gaps;      /* holes in time of more than 5 s, and jumps back of more than 1 s */
    uint64_t bad_cells; /* cells of used channels that are no number and no blank */
    uint64_t bad_line, bad_column; /* of the first of them; 0 = none */
    char bad_text[64];             /* what it said, for a note */
    bool truncated;                /* the last row has fewer fields than the header */
    double first, last;            /* s, time of the first and last sample kept; NaN = none */
} bt_sample_counts;

/* Rows in (from bt_table through bt_samples_row), blocks out to `next`.
 *
 * A hole in a continuous channel (lane.h) is filled if it is no longer than 1 s or 5 times the median of the
 * channel's last BT_INTERVALS intervals before the hole (1 s as long as there are none), and no more
 * than BT_HOLD_ROWS rows; so the answer needs no later rows than the fill itself.  Before a channel's
 * first value and after its last one in a stretch there is no value; states hold, over stretches too.
 * Two rows at one time are one sample if no channel has a value in both, else the second is dropped;
 * in the long layout the second value is. */
typedef struct bt_samples bt_samples;
bt_status bt_samples_new(bt_samples **out, const bt_channels *channels, bt_stage *next,
                         bt_error *err) BT_MUST_USE;
/* The table that hands the samples stage its rows; of the columns in use alone. */
bt_status bt_samples_table(bt_samples *s, bt_table **out, bt_error *err) BT_MUST_USE;
/* One row of the log (see table.h; `user` is the bt_samples): fits bt_table's callback. */
bt_status bt_samples_row(void *user, const bt_row *row, bt_error *err) BT_MUST_USE;
/* Rows together: the same as one by one. */
bt_status bt_samples_rows(void *user, const bt_rows *rows, bt_error *err) BT_MUST_USE;
/* One row that never was text: a number for each of the log's columns, NaN = no value, infinite ones
 * the same. */
bt_status bt_samples_values(bt_samples *s, const double *row, bt_error *err) BT_MUST_USE;
/* Emit all rows that nothing later can change, few as they may be: for who cannot wait for a block. */
bt_status bt_samples_flush(bt_samples *s, bt_error *err) BT_MUST_USE;
/* The log is over: emit the rest, end the stages.  BT_SYNTAX, with the place, if there were rows and
 * none had a time that can be read. */
bt_status bt_samples_end(bt_samples *s, bt_error *err) BT_MUST_USE;
const bt_sample_counts *bt_samples_counts(const bt_samples *s);
/* What to add to a sample's t for the log's own seconds (stamps.h); known after the first row. */
double bt_samples_offset(const bt_samples *s);
void bt_samples_free(bt_samples *s);

#endif
