/* Printing apart from the locale: see print.h. */
#include "base/print.h"

#include "base/text.h"

#include <locale.h>
#include <stdio.h>
#include <string.h>

int bt_print(char *out, size_t cap, const char *fmt, ...)
{
    va_list args;
    va_start(args, fmt);
    const int n = bt_vprint(out, cap, fmt, args);
    va_end(args);
    return n;
}

/* What was cut loses the part of a character at its end. */
static void end_between_characters(char *out, size_t n)
{
    size_t tail = 0;
    while (tail < n && tail < 3 && ((unsigned char)out[n - 1 - tail] & 0xc0) == 0x80) tail++;
    if (tail == n) return;
    const size_t last = n - 1 - tail;
    if ((unsigned char)out[last] >= 0xc0 && bt_utf8_len(out + last, n - last) == 0)
        out[last] = '\0';
}

int bt_vprint(char *out, size_t cap, const char *fmt, va_list args)
{
    /* This thread's locale, and only meanwhile: setlocale would be seen by the host's other threads.  The
     * C locale is part of the C library and takes no memory that could run out. */
    const locale_t plain = newlocale(LC_ALL_MASK, "C", (locale_t)0);
    const locale_t before = plain ? uselocale(plain) : (locale_t)0;
    const int n = vsnprintf(out, cap, fmt, args);
    if (cap > 0 && n >= 0 && (size_t)n >= cap) end_between_characters(out, cap - 1);
    if (plain) {
        uselocale(before);
        freelocale(plain);
    }
    return n;
}
