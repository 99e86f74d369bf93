/* Errors: see error.h.  At the bottom of everything, includes nothing else. */
#include "error.h"

#include <ctype.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

const char *bt_status_meaning(bt_status status)
{
    static const char *const meaning[] = {
#define X(name, text) text,
        BT_STATUS_LIST(X)
#undef X
    };
    return (unsigned)status < BT_STATUS_COUNT ? meaning[status] : "unknown status";
}

const char *bt_version(void)
{
    return BT_VERSION;
}

bt_status bt_fail(bt_error *err, bt_status status, const char *fmt, ...)
{
    if (!err) return status;
    if (err->status != BT_OK) return err->status;
    err->status = status;
    va_list args;
    va_start(args, fmt);
    vsnprintf(err->message, sizeof err->message, fmt, args);
    va_end(args);
    return status;
}

bt_status bt_at(bt_error *err, bt_status status, const char *file, uint64_t line, uint64_t column)
{
    if (!err || status == BT_OK) return status;
    if (file && err->file[0] == '\0') snprintf(err->file, sizeof err->file, "%s", file);
    if (err->line == 0) err->line = line;
    if (err->column == 0) err->column = column;
    return status;
}

/* Length of the valid UTF-8 sequence at s, 0 if there is none. */
static size_t utf8_len(const unsigned char *s, size_t left)
{
    size_t n = s[0] < 0x80                   ? 1
               : s[0] >= 0xc2 && s[0] < 0xe0 ? 2
               : s[0] >= 0xe0 && s[0] < 0xf0 ? 3
               : s[0] >= 0xf0 && s[0] < 0xf5 ? 4
                                             : 0;
    if (n == 0 || n > left) return 0;
    for (size_t i = 1; i < n; i++)
        if ((s[i] & 0xc0) != 0x80) return 0;
    return n;
}

const char *bt_quote(char buf[BT_QUOTE_MAX], const char *text, size_t len)
{
    size_t at = 0, out = 0;
    while (at < len && at < 40) {
        const unsigned char *s = (const unsigned char *)text + at;
        size_t n = utf8_len(s, len - at);
        if (n == 0 || (n == 1 && (*s < 0x20 || *s == 0x7f))) {
            out += (size_t)snprintf(buf + out, BT_QUOTE_MAX - out, "\\x%02x", *s);
            n = 1;
        } else {
            memcpy(buf + out, s, n);
            out += n;
        }
        at += n;
    }
    snprintf(buf + out, BT_QUOTE_MAX - out, "%s", at < len ? "..." : "");
    return buf;
}

/* Edit distance, given up (returns cap) beyond words of 63 letters. */
static size_t distance(const char *a, const char *b, size_t cap)
{
    size_t la = strlen(a), lb = strlen(b), row[64];
    if (la > 63 || lb > 63) return cap;
    for (size_t j = 0; j <= lb; j++) row[j] = j;
    for (size_t i = 1; i <= la; i++) {
        size_t diagonal = row[0];
        row[0] = i;
        for (size_t j = 1; j <= lb; j++) {
            const size_t up = row[j];
            size_t best =
                diagonal +
                (tolower((unsigned char)a[i - 1]) != tolower((unsigned char)b[j - 1]) ? 1 : 0);
            if (up + 1 < best) best = up + 1;
            if (row[j - 1] + 1 < best) best = row[j - 1] + 1;
            diagonal = up;
            row[j] = best;
        }
    }
    return row[lb];
}

const char *bt_nearest(const char *word, const char *const *names, size_t n)
{
    const char *best = NULL;
    size_t least = strlen(word) / 3 + 1;
    for (size_t i = 0; i < n; i++) {
        const size_t d = distance(word, names[i], least);
        if (d < least) {
            least = d;
            best = names[i];
        }
    }
    return best;
}
