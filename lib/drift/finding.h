/* Findings as sentences: the same words for drift and compare, and no locale in them. */
#ifndef BT_FINDING_H
#define BT_FINDING_H

#include "braketally.h"

/* A line being put together in the caller's buffer; what does not fit is cut. */
typedef struct {
    char *text;
    size_t cap, n;
} bt_line_text;

void bt_say(bt_line_text *line, const char *text);
/* x with `decimals`, and a + in front where `sign` asks for it. */
void bt_say_number(bt_line_text *line, double x, int decimals, bool sign);
/* "p < 0.001" or "p = 0.012". */
void bt_say_p(bt_line_text *line, double p);

/* Decimals that show two digits of x, 0..4. */
int bt_two_digits(double x);

/* "balance" for balance_pct, else the column's name. */
const char *bt_figure_words(const bt_column *figure);
/* " pp" for %, else the unit with a blank before it; differences of % are points, not parts. */
void bt_say_unit(bt_line_text *line, const bt_column *figure);
/* "forward" and "rearward" for the balance, "up" and "down" for the rest. */
const char *bt_direction(const bt_column *figure, double step);

#endif
