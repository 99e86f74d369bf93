/* Printing apart from the locale: see print.h. */
#include "base/print.h"

#include "base/text.h"

#include <locale.h>
#include <stdio.h>

int bt_print(char *out, size_t cap, const char *fmt, ...)
{
    va_list args;
    va_start(args, fmt);
    const int n = bt_vprint(out, cap, fmt, args);
    va_end(args);
    return n;
}

int bt_vprint(char *out, size_t cap, const char *fmt, va_list args)
{
    /* This thread's locale, and only meanwhile: setlocale would be seen by the host's other threads.  The
     * C locale is part of the C library and takes no memory that could run out. */
    const locale_t plain = newlocale(LC_ALL_MASK, "C", (locale_t)0);
    const locale_t before = plain ? uselocale(plain) : (locale_t)0;
    const int n = vsnprintf(out, cap, fmt, args);
    if (cap > 0 && n >= 0 && (size_t)n >= cap) out[bt_utf8_whole(out, cap - 1)] = '\0';
    if (plain) {
        uselocale(before);
        freelocale(plain);
    }
    return n;
}
