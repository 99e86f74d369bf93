/* Cells to numbers and numbers to cells: the only place where either happens.
 * Locale plays no part: a host program that runs in a comma locale, or changes
 * its locale meanwhile, changes no figure and no table. */
#ifndef BT_NUMBER_H
#define BT_NUMBER_H

#include <float.h>
#include <string.h>

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

/* Room for what bt_number_quick reads. */
#define BT_NUMBER_SLACK 8

/* How the usual cells of a column are written: with that many digits behind the point, or without
 * one.  Private; made by bt_form_of. */
typedef struct {
    uint64_t mask, point;          /* where the point is, and that it is one */
    uint64_t before, behind, zero; /* what stands on either side, and the zero that comes in */
    size_t least;                  /* characters but for a sign; one more has a digit */
    double power[2];               /* of ten, to divide by; the same for what is below 0 */
} bt_form;

/* The form that the number in s[0..n) is of. */
bt_form bt_form_of(const char *s, size_t n, char decimal);

/* bt_number_parse for the usual cell, made to run in a loop over cells: 1 to 8 characters of the form
 * that is expected of the column, a sign - or none.  False = anything else, nothing is known of it
 * yet.  BT_NUMBER_SLACK bytes from s on can be read whatever n is.
 *
 * All eight bytes are worked on at once, so that neither lengths nor signs, which change from row
 * to row, are guessed wrong by the processor (pairs of digits to one number: Lemire, "Quickly
 * parsing eight digits", 2018).  The division is the one that bt_number_parse would make. */
static inline bool bt_number_quick(const char *s, size_t n, const bt_form *form, double *out)
{
#if defined(__GNUC__) && __BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__ && FLT_EVAL_METHOD == 0
    const uint64_t every = UINT64_C(0x0101010101010101), zeros = '0' * every;
    const uint64_t pair = UINT64_C(0x000000ff000000ff);
    if (n - 1 >= 8) return false;
    /* The cell at the right end of the eight bytes, zeros before it and in place of its sign. */
    uint64_t cell;
    memcpy(&cell, s, sizeof cell);
    const uint64_t spare = 64 - 8 * n, negative = *s == '-';
    cell = (cell << spare | (zeros >> 8) >> (56 - spare)) ^ negative * ('-' ^ '0') << spare;
    /* The point goes, what stands before it moves up: digits alone are left. */
    uint64_t w = (cell & form->behind) | (cell & form->before) << 8 | form->zero;
    w ^= zeros;
    const uint64_t odd = (w | (w + 6 * every)) & 0xf0 * every;
    if (odd | ((cell & form->mask) ^ form->point) || n - negative <= form->least) return false;
    w = w * 10 + (w >> 8);
    w = (w & pair) * (100 + (UINT64_C(1000000) << 32)) +
        (w >> 16 & pair) * (1 + (UINT64_C(10000) << 32));
    *out = (double)(int32_t)(w >> 32) / form->power[negative];
    return true;
#else
    (void)s, (void)n, (void)form, (void)out;
    return false;
#endif
}

/* Room for any double as text, with its NUL. */
#define BT_NUMBER_MAX 344

/* Write x with `decimals` (0..15) digits behind the point, rounded to nearest on
 * the exact binary value, ties to even; never an exponent, a thousands mark or
 * "-0.0".  Beyond 15 significant digits decimals are left off, and digits before
 * the point become 0.  NaN and infinity give "".  Returns the length; cap is at least
 * BT_NUMBER_MAX unless the caller knows better (what does not fit gives ""). */
size_t bt_number_format(char *out, size_t cap, double x, int decimals);

#endif
