/* Errors: see error.h. */
#include "base/error.h"
#include "base/text.h"
#include "base/print.h"

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

void bt_error_set(bt_error *err, bt_status status, const char *fmt, ...)
{
    if (!err || err->status != BT_OK) return;
    err->status = status;
    va_list args;
    va_start(args, fmt);
    bt_vprint(err->message, sizeof err->message, fmt, args);
    va_end(args);
}

bt_status bt_at(bt_error *err, bt_status status, const char *file, uint64_t line, uint64_t column)
{
    if (!err || status == BT_OK) return status;
    if (file && err->file[0] == '\0') snprintf(err->file, sizeof err->file, "%s", file);
    if (err->line == 0) err->line = line;
    if (err->column == 0) err->column = column;
    return status;
}

const char *bt_quote(char buf[BT_QUOTE_MAX], const char *text, size_t len)
{
    size_t at = 0, out = 0;
    while (at < len && at < 40) {
        const unsigned char *s = (const unsigned char *)text + at;
        size_t n = bt_utf8_len(text + at, len - at);
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

static size_t least_of(size_t a, size_t b)
{
    return a < b ? a : b;
}

static bool alike(char a, char b)
{
    return tolower((unsigned char)a) == tolower((unsigned char)b);
}

/* Edit distance, neighbours swapped counting as one; given up (returns cap) beyond words of 63 letters. */
static size_t distance(const char *a, const char *b, size_t cap)
{
    const size_t la = strlen(a), lb = strlen(b);
    size_t rows[3][64], *two_up = rows[0], *up = rows[1], *row = rows[2];
    if (la > 63 || lb > 63) return cap;
    for (size_t j = 0; j <= lb; j++) row[j] = j;
    for (size_t i = 1; i <= la; i++) {
        size_t *spare = two_up;
        two_up = up;
        up = row;
        row = spare;
        row[0] = i;
        for (size_t j = 1; j <= lb; j++) {
            row[j] =
                least_of(up[j - 1] + !alike(a[i - 1], b[j - 1]), least_of(up[j], row[j - 1]) + 1);
            if (i > 1 && j > 1 && alike(a[i - 1], b[j - 2]) && alike(a[i - 2], b[j - 1]))
                row[j] = least_of(row[j], two_up[j - 2] + 1);
        }
    }
    return row[lb];
}

/* Does a name of several words begin with this one, letters of either case alike? */
static bool begins(const char *name, const char *word, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (!alike(name[i], word[i])) return false;
    return n > 0 && name[n] == '_';
}

const char *bt_nearest(const char *word, const char *const *names, size_t n)
{
    const char *best = NULL;
    const size_t len = strlen(word);
    size_t least = len / 3 + 1;
    for (size_t i = 0; i < n; i++) {
        const size_t d = distance(word, names[i], least);
        if (d < least) {
            least = d;
            best = names[i];
        }
    }
    for (size_t i = 0; !best && i < n; i++)
        if (begins(names[i], word, len)) best = names[i];
    return best;
}
