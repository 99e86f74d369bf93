/* Text that outlives the bytes it came from: an arena for many small strings of
 * one life, UTF-8 checked or made from Latin-1, and the comparison of names. */
#ifndef BT_TEXT_H
#define BT_TEXT_H

#include "braketally.h"

typedef enum { BT_UTF8, BT_LATIN1 } bt_encoding;

/* Strings (and arrays) freed at once.  Start with `= {0}`; free takes it empty. */
typedef struct {
    struct bt_arena_block *head;
} bt_arena;

/* n bytes, zeroed, aligned for any type; NULL if memory runs out. */
void *bt_arena_new(bt_arena *arena, size_t n);

/* A NUL-terminated UTF-8 copy of s[0..n).  With BT_UTF8, bytes that are no UTF-8
 * are read as Latin-1; NUL bytes become blanks.  NULL if memory runs out. */
char *bt_arena_text(bt_arena *arena, const char *s, size_t n, bt_encoding encoding);

void bt_arena_free(bt_arena *arena);

/* Length of the valid UTF-8 sequence at s[0..left), 0 if there is none. */
size_t bt_utf8_len(const char *s, size_t left);

/* Bytes of s[0..n) that are valid UTF-8 from the start; n if all are.  With
 * `cut`, a sequence that the end cuts short counts as valid. */
size_t bt_utf8_valid(const char *s, size_t n, bool cut);

/* Bytes of s[0..n), a text that was cut there, without the part of a character at its end. */
size_t bt_utf8_whole(const char *s, size_t n);

/* Are two names the same, letters of either case alike and blanks, dashes and
 * underscores alike?  "Line rear" is "line_rear". */
bool bt_name_alike(const char *a, const char *b);

/* The same for texts without NUL. */
bool bt_name_alike_n(const char *a, size_t na, const char *b, size_t nb);

#endif
