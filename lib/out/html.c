/* Markup: see html.h. */
#include "out/html.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "base/number.h"
#include "base/text.h"

static const char *entity(char c)
{
    switch (c) {
    case '&':
        return "&amp;";
    case '<':
        return "&lt;";
    case '>':
        return "&gt;";
    case '"':
        return "&quot;";
    case '\'':
        return "&#39;";
    default:
        return NULL;
    }
}

/* Characters that XML 1.0 has no place for, in any form: most controls, U+FFFE and U+FFFF. */
static bool outlawed(const char *s, size_t len)
{
    const unsigned char c = (unsigned char)s[0];
    if (len == 1) return (c < 0x20 && c != '\t' && c != '\n') || c == 0x7f;
    if (len == 2 && c == 0xc2) return (unsigned char)s[1] < 0xa0; /* C1 controls: HTML's ban */
    return len == 3 && memcmp(s, "\xef\xbf", 2) == 0 && (unsigned char)s[2] >= 0xbe;
}

void bt_html_text(bt_bytes *b, const char *s)
{
    for (size_t left = strlen(s); left > 0;) {
        const size_t len = bt_utf8_len(s, left);
        const char *as = len == 1 ? entity(*s) : NULL;
        if (as)
            bt_bytes_text(b, as);
        else if (len == 0 || outlawed(s, len))
            bt_bytes_text(b, "\xef\xbf\xbd");
        else
            bt_bytes_add(b, s, len);
        s += len ? len : 1;
        left -= len ? len : 1;
    }
}

static void add_reading(bt_bytes *b, double x, int decimals, bool sign)
{
    char text[BT_NUMBER_MAX];
    if (bt_number_format(text, sizeof text, x, decimals) == 0) {
        bt_bytes_text(b, "–");
        return;
    }
    const bool negative = text[0] == '-', zero = strpbrk(text, "123456789") == NULL;
    if (negative || (sign && !zero)) bt_bytes_text(b, negative ? "−" : "+");
    bt_bytes_text(b, text + negative);
}

static void add_coordinate(bt_bytes *b, double x, int decimals)
{
    char text[BT_NUMBER_MAX];
    size_t n = bt_number_format(text, sizeof text, x, decimals);
    if (n == 0) {
        bt_bytes_text(b, "0"); /* no caller draws what has no value; a page must stay valid */
        return;
    }
    if (strchr(text, '.')) {
        while (text[n - 1] == '0') n--;
        if (text[n - 1] == '.') n--;
    }
    bt_bytes_add(b, text, n);
}

static void add_int(bt_bytes *b, unsigned long long x, bool negative)
{
    char text[32];
    snprintf(text, sizeof text, "%s%llu", negative ? "-" : "", x);
    bt_bytes_text(b, text);
}

static void add_form(bt_bytes *b, bool escape, const char *form, va_list args)
{
    for (;;) {
        const size_t plain = strcspn(form, "%");
        bt_bytes_add(b, form, plain);
        form += plain;
        if (*form == '\0') return;
        const bool sign = *++form == '+';
        form += sign;
        int decimals = 0, d;
        if (*form >= '0' && *form <= '9') decimals = *form++ - '0';
        const char what = *form ? *form++ : '%';
        switch (what) {
        case 's':
        case 'r':
            if (escape && what == 's')
                bt_html_text(b, va_arg(args, const char *));
            else
                bt_bytes_text(b, va_arg(args, const char *));
            break;
        case 'f':
            add_reading(b, va_arg(args, double), decimals, sign);
            break;
        case 'c':
            add_coordinate(b, va_arg(args, double), decimals);
            break;
        case 'd':
            d = va_arg(args, int);
            add_int(b, d < 0 ? 0ull - (unsigned long long)d : (unsigned long long)d, d < 0);
            break;
        case 'z':
            add_int(b, va_arg(args, size_t), false);
            break;
        default:
            bt_bytes_text(b, "%");
            break;
        }
    }
}

void bt_html(bt_bytes *b, const char *form, ...)
{
    va_list args;
    va_start(args, form);
    add_form(b, true, form, args);
    va_end(args);
}

void bt_html_plain(char *out, size_t cap, const char *form, ...)
{
    bt_bytes b = {.p = out, .cap = cap - 1, .fixed = true};
    va_list args;
    va_start(args, form);
    add_form(&b, false, form, args);
    va_end(args);
    out[b.failed ? bt_utf8_whole(out, b.n) : b.n] = '\0';
}
