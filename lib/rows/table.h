/* Bytes of a log to rows of cells, through libcsv: RFC 4180 quoting, true line
 * numbers, constant memory.  Any split of the bytes gives the same rows. */
#ifndef BT_TABLE_H
#define BT_TABLE_H

#include "base/quick.h"
#include "rows/dialect.h"

/* A cell, quotes undone, blanks around unquoted text gone; not NUL-terminated, in
 * the log's own encoding (bt_arena_text makes UTF-8 of it where it is used as
 * text).  len = 0 also for a cell that the row does not have. */
typedef struct {
    const char *text; /* never NULL; of a row, BT_CELL_SLACK bytes before here can be read */
    size_t len;
} bt_cell;

#define BT_CELL_SLACK BT_QUICK_SLACK

/* One row of data.  Borrowed: valid only during the call that hands it over. */
typedef struct {
    uint64_t line;       /* where it starts, from 1, blank lines and free lines counted */
    size_t fields;       /* in the log's row; may be fewer or more than the header has */
    const bt_cell *cell; /* the wanted columns, in the order they were wanted */
} bt_row;

/* Takes a row; anything but BT_OK stops the table for good with that status. */
typedef bt_status (*bt_row_fn)(void *user, const bt_row *row, bt_error *err);

/* Rows of equal length, one line behind the other, as they lie in the log: without quotes, blanks not
 * taken off.  Borrowed like a row. */
typedef struct {
    uint64_t line;    /* of the first one */
    size_t n, fields; /* rows; of each, at least 2 */
    /* Cell c of row r ends at text + end[r * fields + c] and starts behind the cell before it; the
     * line end belongs to the last one if it is CR LF, without its LF.  Private: bt_rows_column. */
    const char *text;
    const uint32_t *end;
    bool crlf;
} bt_rows;

/* One of their columns, below `fields`, from a row on. */
static inline bt_cells bt_rows_column(const bt_rows *rows, size_t row, size_t column)
{
    return (bt_cells){.text = rows->text,
                      .end = rows->end + row * rows->fields + column,
                      .stride = rows->fields,
                      .tail = rows->crlf && column + 1 == rows->fields};
}
/* A cell of theirs, blanks gone; of no length where they have no such column. */
bt_cell bt_rows_cell(const bt_rows *rows, size_t row, size_t column);

/* Takes rows, as a bt_row_fn takes one. */
typedef bt_status (*bt_rows_fn)(void *user, const bt_rows *rows, bt_error *err);

typedef struct bt_table bt_table;

/* A longer cell in quotes (an unclosed quote, most likely) is an error. */
#define BT_CELL_BYTES_MAX ((size_t)1 << 20)

/* Rows of the columns wanted[0..n_wanted) (from 0, in any order, repeats allowed; n = 0
 * is allowed).  Both the dialect and the list are copied as far as needed. */
bt_status bt_table_new(bt_table **out, const bt_dialect *dialect, const size_t *wanted,
                       size_t n_wanted, bt_row_fn take, void *user, bt_error *err) BT_MUST_USE;

/* Hand over rows together where they lie evenly, to `take` with the same user; the others come one by
 * one in between. */
void bt_table_take_rows(bt_table *table, bt_rows_fn take);

/* The log's bytes in order, from its very first (what comes before the data is
 * passed over here).  BT_SYNTAX with the line for a cell that is too long, BT_NOMEM,
 * or what `take` said; after an error every call gives it again. */
bt_status bt_table_push(bt_table *table, const void *bytes, size_t n, bt_error *err) BT_MUST_USE;

/* No more bytes: a last row without line end is handed over if it is whole. */
bt_status bt_table_end(bt_table *table, bt_error *err) BT_MUST_USE;

/* After end: did the log stop in the middle of a row?  That is a last row without
 * line end that has fewer fields than the header or an open quote (it is not handed
 * over: its last cell may be cut), or with line end but shorter than the header
 * and the row before it (it is handed over). */
bool bt_table_truncated(const bt_table *table);

void bt_table_free(bt_table *table);

#endif
