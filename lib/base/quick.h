/* Numbers the quick way: the usual cell of a column, eight bytes at once.  What a cell is and what it is
 * worth says number.h; here that is either found out at a fraction of the cost, to the last bit the
 * same, or nothing is said of the cell at all.
 *
 * Neither lengths nor signs, which change from row to row, are guessed by the processor: a cell is
 * taken at the right end of eight bytes, what stands before it is masked, and pairs of digits become
 * one number (Lemire, "Quickly parsing eight digits", 2018).  Where the processor has the registers,
 * four cells go through side by side. */
#ifndef BT_QUICK_H
#define BT_QUICK_H

#include <float.h>
#include <string.h>

#include "braketally.h"

/* The eight bytes up to a cell's end are read whatever its length is. */
#define BT_QUICK_SLACK 8

/* How the usual cells of a column are written: with that many digits behind the point, or without
 * one.  Private; made by bt_form_of. */
typedef struct {
    uint64_t pattern; /* eight bytes of zeros in that form */
    uint64_t limit;   /* what a cell's bytes may differ from it by: 9 in digits, 0 in the point */
    uint64_t need;    /* bytes that a cell must reach to */
    uint64_t before, behind; /* the bytes on either side of the point */
    double high, low;        /* add up to the power of ten that brings the digits to the value */
} bt_form;

/* The form that the number in s[0..n) is of. */
bt_form bt_form_of(const char *s, size_t n, char decimal);

/* The cells of one column, one below the other. */
typedef struct {
    const char *text;    /* BT_QUICK_SLACK bytes before it can be read */
    const uint32_t *end; /* cell i ends at text + end[i * stride] - tail and starts behind */
    size_t stride;       /* text + end[i * stride - 1] */
    uint32_t tail;
} bt_cells;

static inline const char *bt_cells_at(const bt_cells *cells, size_t i, size_t *n)
{
    const uint32_t *end = cells->end + i * cells->stride, start = end[-1] + 1;
    *n = end[0] - cells->tail - start;
    return cells->text + start;
}

/* The n bytes that end at `end` as a number of that form.  False = they are not of it. */
bool bt_number_quick(const char *end, size_t n, const bt_form *form, double *out);

/* Cells 0 to n - 1 as numbers of that form, times factor plus shift, to out[].  Stops where one is
 * not of it; gives how many cells were read, which may be a few less than it could be. */
size_t bt_numbers_quick(const bt_cells *cells, size_t n, const bt_form *form, double factor,
                        double shift, double *out);

#endif
