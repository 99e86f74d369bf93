/* Time cells to whole nanoseconds after the first row.  Read as integers, never as
 * one double, so that epochs of 19 digits keep their last ones and a constant added
 * to all stamps changes nothing.  CONTRACT 3.
 *
 * Forms: a number (s, or as the unit says; without a unit told by magnitude),
 * hh:mm:ss, mm:ss, ISO 8601 date and time (blank or T between them, Z or offset),
 * each with a fraction.  Digits beyond the nanosecond are rounded. */
#ifndef BT_STAMPS_H
#define BT_STAMPS_H

#include "base/number.h"
#include "base/units.h"

typedef enum {
    BT_STAMP_NONE,    /* no stamp read yet */
    BT_STAMP_SECONDS, /* a plain number: the log's own seconds */
    BT_STAMP_EPOCH,   /* a number beyond 1e8 s: time since 1970 */
    BT_STAMP_CLOCK,   /* hh:mm:ss or mm:ss */
    BT_STAMP_DATE     /* ISO 8601 */
} bt_stamp_kind;

/* Owned by the caller, no free.  Members are private but for `kind`. */
typedef struct {
    bt_stamp_kind kind; /* fixed by the first stamp */
    char decimal;
    bool unit_known, hours; /* hours: hh:mm:ss, not mm:ss */
    int places;             /* decimal places of a number that make a ns: 9 for s, 6 for ms */
    int64_t multiple;       /* 1, or 60 and 3600 for minutes and hours */
    int64_t first, last;    /* ns since the form's own zero, as written */
    int64_t turns;          /* ns to add for a clock that started anew */
    int64_t period;         /* ns after which the clock starts anew; 0 = it does not */
} bt_stamps;

/* unit: a unit of BT_DIM_TIME, or NULL = none given.  decimal: '.' or ','; clock
 * times and dates take either. */
void bt_stamps_init(bt_stamps *stamps, const bt_unit *unit, char decimal);

/* One cell.  BT_CELL_VALUE: *ns is after the first stamp (which gives 0 and fixes the form;
 * later ones may lie before it).  BT_CELL_BLANK: no value.  BT_CELL_BAD: no
 * time, another form than the first, or beyond 292 years.  A clock that goes back by more
 * than half its period (24 h; 1 h for mm:ss that never shows 60 minutes) has
 * started anew.  *ns is left alone unless BT_CELL_VALUE. */
bt_cell_result bt_stamps_parse(bt_stamps *stamps, const char *cell, size_t len, int64_t *ns);

/* The same for a time that never was text: a number in the unit, or in s without one.  NaN is blank. */
bt_cell_result bt_stamps_number(bt_stamps *stamps, double time, int64_t *ns);

/* The log's own seconds at the first row: its number if it is BT_STAMP_SECONDS,
 * else 0.  Time to print = offset + ns * 1e-9. */
double bt_stamps_offset(const bt_stamps *stamps);

#endif
