/* Where bytes come from: a file, standard input, a pipe or memory, plain or gzip
 * (told by content, any number of members).  CONTRACT 3. */
#ifndef BT_SOURCE_H
#define BT_SOURCE_H

#include "braketally.h"

typedef struct bt_source bt_source;

/* Open `path`, "-" = standard input (not closed later).  Fails with BT_READ for what
 * cannot be opened or is a directory, BT_NOMEM; the error names the file.
 * *out is NULL then. */
bt_status bt_source_open(bt_source **out, const char *path, bt_error *err) BT_MUST_USE;

/* The same from memory, plain or gzip, handed out in reads of at most `chunk`
 * bytes (0 = no such limit).  The bytes are borrowed until free. */
bt_status bt_source_memory(bt_source **out, const void *bytes, size_t n, size_t chunk,
                           bt_error *err) BT_MUST_USE;

/* The next bytes, inflated: *n is 1..cap, or 0 at the end.  cap > 0.  What came before a
 * fault is delivered first; then BT_READ for what cannot be read, for damaged gzip
 * and for anything but zero bytes behind the last member.  After an error or the
 * end, more calls give the same again.  Not for two threads at once. */
bt_status bt_source_read(bt_source *source, void *buf, size_t cap, size_t *n,
                         bt_error *err) BT_MUST_USE;

/* Did a gzip member end early?  Known once read gave n = 0; all that could be
 * inflated was delivered. */
bool bt_source_truncated(const bt_source *source);

/* Bytes taken from the file so far (as stored, not inflated), and how many there
 * are in all, 0 = not known (a pipe).  Any thread may ask, for progress. */
void bt_source_progress(const bt_source *source, uint64_t *done, uint64_t *total);

void bt_source_free(bt_source *source);

#endif
