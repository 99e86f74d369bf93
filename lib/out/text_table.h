/* A text table being laid out: which columns are shown, how wide, under which headings.  Shared by its
 * layout and its writer. */
#ifndef BT_TEXT_TABLE_H
#define BT_TEXT_TABLE_H

#include "base/units.h"
#include "out/terminal.h"

enum {
    BT_TEXT_GAP = 2,       /* blanks between columns */
    BT_TEXT_LAST_MIN = 12, /* of the last column's text, rather than losing what matters most */
    BT_TEXT_STROKES = 10   /* of the largest tally */
};

typedef struct {
    size_t width; /* widest cell so far, then as shown */
    size_t tally; /* columns behind the number for its strokes; 0 = none */
    double top;   /* largest size of the rows held: BT_TEXT_STROKES strokes */
    bool shown, blank, varies;
    bool before;  /* shown, before a sentence asked for room */
    size_t first; /* offset of the first row's cell in `held` */
} bt_text_shape;

typedef struct {
    bt_column *columns; /* the run first, decimals as people need them */
    bt_bytes held;      /* cells of the rows held back, each with its NUL */
    size_t rows;
    bool said, laid; /* a sentence, the header is out */
    size_t under;    /* column of the sentence that stands below its row; 0 = none */
    bt_text_shape *shapes;
} bt_text_table;

enum { BT_HEAD_UPPER, BT_HEAD_LOWER, BT_HEAD_UNIT, BT_HEAD_LINES };
/* One line of a column's heading: "decel", "mean" and "m/s²" of decel_mean_mps2.  *s is the column's
 * or `unit`, *n its bytes. */
void bt_text_heading(const bt_column *c, int line, char unit[BT_UNIT_LABEL_MAX], const char **s,
                     size_t *n);

/* Settle what is shown, from the rows held; `complete`: they are all there are. */
void bt_text_lay_out(const bt_writer *w, bt_text_table *t, bool complete);
/* The last column that is shown; 0 if none is. */
size_t bt_text_last(const bt_writer *w, const bt_text_shape *shapes);

#endif
