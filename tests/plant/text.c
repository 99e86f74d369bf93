/* See text.h.  zlib writes both kinds: its transparent mode is a plain file.  Its gzip header
 * carries no time and no name, so equal logs are equal files. */
#include "text.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

#define BUFFER 65536

struct text {
    gzFile file;
    bool failed;
    size_t used;
    char buffer[BUFFER];
};

text *text_open(const char *path)
{
    const size_t n = strlen(path);
    const bool gz = n > 3 && strcmp(path + n - 3, ".gz") == 0;
    text *t = calloc(1, sizeof *t);
    if (!t) return NULL;
    t->file = gzopen(path, gz ? "wb" : "wbT");
    if (!t->file) {
        free(t);
        return NULL;
    }
    return t;
}

static void flush(text *t)
{
    if (t->used > 0 && gzwrite(t->file, t->buffer, (unsigned)t->used) != (int)t->used)
        t->failed = true;
    t->used = 0;
}

void text_char(text *t, char c)
{
    if (t->used == BUFFER) flush(t);
    t->buffer[t->used++] = c;
}

void text_put(text *t, const char *s)
{
    while (*s) text_char(t, *s++);
}

void text_digits(text *t, long long x, int width)
{
    char digits[24];
    int n = 0;
    do {
        digits[n++] = (char)('0' + x % 10);
        x /= 10;
    } while (x > 0);
    for (; width > n; width--) text_char(t, '0');
    while (n > 0) text_char(t, digits[--n]);
}

void text_number(text *t, double x, int decimals, char point)
{
    if (!(fabs(x) < 9e17)) return;
    long long scale = 1;
    for (int i = 0; i < decimals; i++) scale *= 10;
    const long long whole = llround(fabs(x) * (double)scale);
    if (x < 0 && whole != 0) text_char(t, '-');
    text_digits(t, whole / scale, 1);
    if (decimals == 0) return;
    text_char(t, point);
    text_digits(t, whole % scale, decimals);
}

int text_close(text *t)
{
    flush(t);
    bool failed = t->failed;
    if (gzclose(t->file) != Z_OK) failed = true;
    free(t);
    if (failed && errno == 0) errno = EIO;
    return failed ? -1 : 0;
}
