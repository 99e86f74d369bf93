/* Text out: plain or gzip by the suffix of the path, numbers with a fixed number of decimals and
 * no locale.  The first failure is kept; text_close() tells. */
#ifndef PLANT_TEXT_H
#define PLANT_TEXT_H

#include <stdbool.h>
#include <stddef.h>

typedef struct text text;

text *text_open(const char *path); /* NULL with errno set */
void text_put(text *t, const char *s);
void text_char(text *t, char c);
/* NaN writes nothing.  |x| * 10^decimals stays below 2^63. */
void text_number(text *t, double x, int decimals, char point);
/* A whole number with at least `width` digits. */
void text_digits(text *t, long long x, int width);
int text_close(text *t); /* 0, or -1 with errno set */

#endif
