/* Text: see text.h. */
#include "base/text.h"

#include <stdalign.h>
#include <stdlib.h>
#include <string.h>

/* Blocks in a list, the newest first, each filled from the front. */
struct bt_arena_block {
    struct bt_arena_block *next;
    size_t used, size;
    alignas(max_align_t) unsigned char bytes[];
};

enum { BLOCK_SIZE = 8192 };

void *bt_arena_new(bt_arena *arena, size_t n)
{
    const size_t align = alignof(max_align_t);
    if (n > SIZE_MAX / 2) return NULL;
    n = (n + align - 1) / align * align;
    struct bt_arena_block *b = arena->head;
    if (!b || b->size - b->used < n) {
        const size_t size = n > BLOCK_SIZE ? n : BLOCK_SIZE;
        b = calloc(1, sizeof *b + size);
        if (!b) return NULL;
        b->size = size;
        b->next = arena->head;
        arena->head = b;
    }
    void *p = b->bytes + b->used;
    b->used += n;
    return p;
}

void bt_arena_free(bt_arena *arena)
{
    while (arena->head) {
        struct bt_arena_block *b = arena->head;
        arena->head = b->next;
        free(b);
    }
}

size_t bt_utf8_len(const char *s, size_t left)
{
    if (left == 0) return 0;
    const unsigned char *u = (const unsigned char *)s;
    /* The first byte bounds the second, so that no overlong form, no surrogate and nothing beyond
     * U+10FFFF passes (Unicode 15, table 3-7). */
    size_t n;
    unsigned char low = 0x80, high = 0xbf;
    if (u[0] < 0x80) return 1;
    if (u[0] >= 0xc2 && u[0] <= 0xdf) {
        n = 2;
    } else if (u[0] >= 0xe0 && u[0] <= 0xef) {
        n = 3;
        if (u[0] == 0xe0) low = 0xa0;
        if (u[0] == 0xed) high = 0x9f;
    } else if (u[0] >= 0xf0 && u[0] <= 0xf4) {
        n = 4;
        if (u[0] == 0xf0) low = 0x90;
        if (u[0] == 0xf4) high = 0x8f;
    } else {
        return 0;
    }
    if (n > left || u[1] < low || u[1] > high) return 0;
    for (size_t i = 2; i < n; i++)
        if ((u[i] & 0xc0) != 0x80) return 0;
    return n;
}

/* May s[0..left), at most 3 bytes, be the start of a sequence that goes on? */
static bool could_go_on(const char *s, size_t left)
{
    static const char *const tails[] = {"\x80\x80\x80", "\xa0\x80\x80", "\x90\x80\x80"};
    char whole[4];
    for (size_t i = 0; left < 4 && i < sizeof tails / sizeof *tails; i++) {
        memcpy(whole, s, left);
        memcpy(whole + left, tails[i], 4 - left);
        if (bt_utf8_len(whole, 4) > left) return true;
    }
    return false;
}

size_t bt_utf8_valid(const char *s, size_t n, bool cut)
{
    size_t at = 0;
    while (at < n) {
        const size_t len = bt_utf8_len(s + at, n - at);
        if (len == 0) return cut && could_go_on(s + at, n - at) ? n : at;
        at += len;
    }
    return n;
}

size_t bt_utf8_whole(const char *s, size_t n)
{
    size_t tail = 0;
    while (tail < n && tail < 3 && ((unsigned char)s[n - 1 - tail] & 0xc0) == 0x80) tail++;
    if (tail == n) return n;
    const size_t last = n - 1 - tail;
    return (unsigned char)s[last] >= 0xc0 && bt_utf8_len(s + last, n - last) == 0 ? last : n;
}

char *bt_arena_text(bt_arena *arena, const char *s, size_t n, bt_encoding encoding)
{
    if (n > SIZE_MAX / 4) return NULL;
    const bool latin1 = encoding == BT_LATIN1 || bt_utf8_valid(s, n, false) < n;
    char *text = bt_arena_new(arena, (latin1 ? 2 * n : n) + 1);
    if (!text) return NULL;
    size_t length = 0;
    for (size_t i = 0; i < n; i++) {
        const unsigned char c = (unsigned char)s[i];
        if (latin1 && c >= 0x80) {
            text[length++] = (char)(0xc0 | c >> 6);
            text[length++] = (char)(0x80 | (c & 0x3f));
        } else {
            text[length++] = (char)(c == 0 ? ' ' : c);
        }
    }
    return text; /* zeroed, so ended */
}

/* What two letters must share to be alike. */
static char folded(char c)
{
    if (c >= 'A' && c <= 'Z') return (char)(c - 'A' + 'a');
    return c == ' ' || c == '-' ? '_' : c;
}

bool bt_name_alike_n(const char *a, size_t na, const char *b, size_t nb)
{
    if (na != nb) return false;
    for (size_t i = 0; i < na; i++)
        if (folded(a[i]) != folded(b[i])) return false;
    return true;
}

bool bt_name_alike(const char *a, const char *b)
{
    return bt_name_alike_n(a, strlen(a), b, strlen(b));
}
