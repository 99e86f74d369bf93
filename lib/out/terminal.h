/* Text on a terminal: how wide it is, what of it fits, prose in lines.  All text is valid UTF-8; no
 * locale is asked. */
#ifndef BT_TERMINAL_H
#define BT_TERMINAL_H

#include "out/write.h"

/* Columns that s[0..n) takes.  *fits, if not NULL, gets the bytes that stay within `room`. */
size_t bt_terminal_width(const char *s, size_t n, size_t room, size_t *fits);

/* Add s[0..n) without what a terminal would obey: control characters become U+FFFD. */
void bt_terminal_clean(bt_bytes *b, const char *s, size_t n);

/* Bytes of s[0..n) that go on a line of `room`: up to the last blank that fits, else as many as fit, at
 * least a character. */
size_t bt_terminal_part(const char *s, size_t n, size_t room);

/* Add prose in lines of at most `width`, each behind so many blanks: the first line's, then the
 * others'.  Nothing for an empty text. */
void bt_terminal_prose(bt_bytes *b, const char *s, size_t width, size_t first, size_t others);

void bt_terminal_blanks(bt_bytes *b, size_t n);

#endif
