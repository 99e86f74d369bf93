/* Widths and lines: see terminal.h. */
#include "out/terminal.h"

#include "base/text.h"

#include <string.h>

static uint32_t code_point(const char *s, size_t n)
{
    const unsigned char *u = (const unsigned char *)s;
    uint32_t c = n == 1 ? u[0] : u[0] & (0xffu >> (n + 1));
    for (size_t i = 1; i < n; i++) c = c << 6 | (u[i] & 0x3f);
    return c;
}

static bool is_control(uint32_t c)
{
    return c < 0x20 || (c >= 0x7f && c < 0xa0);
}

/* Columns that a terminal gives a character (Unicode Standard Annex 11, the blocks that are wide
 * throughout).  wcwidth() would ask the locale. */
static size_t char_width(uint32_t c)
{
    static const struct {
        uint32_t from, to;
        size_t width;
    } odd[] = {
        {0x300, 0x36f, 0},     {0x1100, 0x115f, 2}, {0x200b, 0x200f, 0}, {0x20d0, 0x20ff, 0},
        {0x2e80, 0xa4cf, 2},   {0xac00, 0xd7a3, 2}, {0xf900, 0xfaff, 2}, {0xfe00, 0xfe0f, 0},
        {0xfe30, 0xfe6f, 2},   {0xff00, 0xff60, 2}, {0xffe0, 0xffe6, 2}, {0x1f300, 0x1faff, 2},
        {0x20000, 0x3fffd, 2},
    };
    for (size_t i = 0; i < sizeof odd / sizeof odd[0]; i++)
        if (c >= odd[i].from && c <= odd[i].to) return odd[i].width;
    return 1;
}

size_t bt_terminal_width(const char *s, size_t n, size_t room, size_t *fits)
{
    size_t width = 0;
    if (fits) *fits = 0;
    for (size_t i = 0; i < n;) {
        const size_t len = bt_utf8_len(s + i, n - i);
        width += char_width(code_point(s + i, len));
        i += len;
        if (fits && width <= room) *fits = i;
    }
    return width;
}

void bt_terminal_clean(bt_bytes *b, const char *s, size_t n)
{
    for (size_t i = 0, len; i < n; i += len) {
        len = bt_utf8_len(s + i, n - i);
        if (is_control(code_point(s + i, len)))
            bt_bytes_text(b, "\xef\xbf\xbd");
        else
            bt_bytes_add(b, s + i, len);
    }
}

size_t bt_terminal_part(const char *s, size_t n, size_t room)
{
    size_t fits;
    if (bt_terminal_width(s, n, room, &fits) <= room) return n;
    size_t blank = fits;
    while (blank > 0 && s[blank] != ' ') blank--;
    return blank > 0 ? blank : fits > 0 ? fits : bt_utf8_len(s, n);
}

void bt_terminal_prose(bt_bytes *b, const char *s, size_t width, size_t first, size_t others)
{
    size_t n = strlen(s), indent = first;
    for (size_t part; n > 0; s += part, n -= part, indent = others) {
        part = bt_terminal_part(s, n, width - indent);
        bt_terminal_blanks(b, indent);
        bt_bytes_add(b, s, part);
        bt_bytes_text(b, "\n");
        while (part < n && s[part] == ' ') part++;
    }
}

void bt_terminal_blanks(bt_bytes *b, size_t n)
{
    while (n--) bt_bytes_add(b, " ", 1);
}
