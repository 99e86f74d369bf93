/* Cells to numbers and numbers to cells: the only place where either happens.
 * Locale plays no part: a host program that runs in a comma locale, or changes
 * its locale meanwhile, changes no figure and no table. */
#ifndef BT_NUMBER_H
#define BT_NUMBER_H

#include "braketally.h"

/* What a cell of a table holds. */
typedef enum {
    BT_CELL_VALUE, /* a number */
    BT_CELL_BLANK, /* no value, and says so: blank, NaN, -, N/A, NA (any case) */
    BT_CELL_BAD    /* something else */
} bt_cell_result;

/* Is the cell blank or one of the words that mean "no value"?  Blanks and tabs
 * around it do not count.  n = 0 is blank; s may be NULL then. */
bool bt_number_blank(const char *s, size_t n);

/* Read the cell s[0..n), not NUL-terminated: blanks around it, a sign, digits with
 * `decimal` ('.' or ',') among them, an exponent.  No hex, no "inf", no thousands
 * marks.  *out is the double nearest to what is written, ties to even, however
 * many digits; NaN unless BT_CELL_VALUE.  What is too large for a double is
 * BT_CELL_BAD, what is too small is 0. */
bt_cell_result bt_number_parse(const char *s, size_t n, char decimal, double *out);

/* Room for any double as text, with its NUL. */
#define BT_NUMBER_MAX 344

/* Write x with `decimals` (0..15) digits behind the point, rounded to nearest, and away from 0 what is
 * a tie or misses one by less than a millionth of the last digit: tables do not depend on rounding errors,
 * and 1.005 is 1.01 although its double lies below; never an exponent, a thousands mark or
 * "-0.0".  Beyond 15 significant digits decimals are left off, and digits before
 * the point become 0.  NaN and infinity give "".  Returns the length; cap is at least
 * BT_NUMBER_MAX unless the caller knows better (what does not fit gives ""). */
size_t bt_number_format(char *out, size_t cap, double x, int decimals);

#endif
