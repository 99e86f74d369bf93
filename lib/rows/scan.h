/* Where the cells of plain text end: delimiters and line ends, found 64 bytes at a time. */
#ifndef BT_SCAN_H
#define BT_SCAN_H

#include "braketally.h"

/* Bytes behind the text that are read, too. */
#define BT_SCAN_SLACK ((size_t)64)
/* Entries of at[] beyond what it is sure to be used up to. */
#define BT_SCAN_SPARE ((size_t)64)

/* The delimiters and the LFs in s[0..n), n < 2^32, to at[0..room) in their order; gives how many, and
 * how many of them are LFs.  Stops when fewer than BT_SCAN_SPARE entries are left. */
size_t bt_scan(const char *s, size_t n, char delimiter, uint32_t *at, size_t room, size_t *lines);

#endif
