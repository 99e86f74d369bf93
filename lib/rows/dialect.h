/* How a log is written, found by looking at its head: encoding, delimiter, decimal
 * sign, free lines, header, units, wide or long.  CONTRACT 3. */
#ifndef BT_DIALECT_H
#define BT_DIALECT_H

#include "base/text.h"

/* As much of the log's start as is worth looking at; of a log of a hundred thousand columns, as much
 * as that many names and some rows below them take. */
#define BT_DIALECT_HEAD     ((size_t)256 * 1024)
#define BT_DIALECT_HEAD_MAX ((size_t)8 * 1024 * 1024)

/* What the user insists on; zeroed = find everything by looking. */
typedef struct {
    char delimiter;   /* ',', ';' or '\t'; 0 = look */
    char decimal;     /* '.' or ','; 0 = look */
    bt_layout layout; /* BT_LAYOUT_AUTO = look */
} bt_dialect_options;

/* One column of the log.  All texts are UTF-8, never NULL, owned by the dialect. */
typedef struct {
    const char *text; /* the header as written, without blanks and "# "; "" = none */
    const char *name; /* the same without its unit */
    const char *unit; /* from the units row or else from the name; "" = none given */
} bt_log_column;

#define BT_NO_COLUMN ((size_t)-1)

/* Columns count from 0 here (from 1 in messages and maps).  Lines count from 1. */
typedef struct {
    char delimiter;       /* ',', ';' or '\t' */
    char decimal;         /* '.' or ',' */
    bt_encoding encoding; /* of the log; the names below are UTF-8 already */
    bt_layout layout;     /* WIDE or LONG, as it looks or as told */
    uint64_t header_line; /* 0 = a log without header; its columns have no names */
    uint64_t units_line;  /* 0 = no units row */
    uint64_t data_line;   /* line of the first row of data */
    size_t data_offset;   /* bytes before that line, a byte order mark counted */
    size_t columns;       /* of the header, stray delimiters at its end left out; >= 1 */
    const bt_log_column *column;
    /* Long layout: which column is what; unit may be BT_NO_COLUMN. */
    size_t time_column, signal_column, value_column, unit_column;
    bt_arena arena; /* owns the above */
} bt_dialect;

/* The first n bytes of a log are too few to look at: its lines are so long that few would be seen. */
bool bt_dialect_wants_more(const void *bytes, size_t n);

/* Look at the first n bytes of a log; at_end = they are all of it.  n should reach
 * BT_DIALECT_HEAD, and further while it wants more, unless at_end.  options may be NULL.  BT_SYNTAX, with the line,
 * for an empty log, UTF-16, binary, no header with rows of numbers below it;
 * BT_NOMEM.  *out needs bt_dialect_free in any case. */
bt_status bt_dialect_sniff(bt_dialect *out, const void *bytes, size_t n, bool at_end,
                           const bt_dialect_options *options, bt_error *err) BT_MUST_USE;

/* Takes a zeroed or a freed one. */
void bt_dialect_free(bt_dialect *dialect);

#endif
