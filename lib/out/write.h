/* Tables to bytes: what the three formats share.  A writer takes row structs and
 * the column table, and hands lines to its bt_write_fn (braketally.h). */
#ifndef BT_WRITE_H
#define BT_WRITE_H

#include "base/columns.h"

/* Bytes that grow.  Zeroed = empty.  A failed add leaves `failed` and adds no more, so that
 * a row is built without asking each time; bt_bytes_write tells. */
typedef struct {
    char *p;
    size_t n, cap;
    bool failed;
    bool
        fixed; /* p is the caller's and holds cap bytes: what does not fit is cut, and has failed */
} bt_bytes;

void bt_bytes_add(bt_bytes *b, const char *s, size_t n);
void bt_bytes_text(bt_bytes *b, const char *s);
/* Write and empty them; BT_NOMEM if an add had failed. */
bt_status bt_bytes_write(bt_bytes *b, bt_write_fn write, void *user, bt_error *err) BT_MUST_USE;
void bt_bytes_free(bt_bytes *b);

/* Add the cell of a row as plain text: numbers with a point and the column's decimals, no
 * value as nothing, words with blanks between, text as valid UTF-8 (what is none as U+FFFD). */
void bt_cell_add(bt_bytes *b, const bt_column *column, const void *row);
bool bt_cell_is_number(const bt_column *column);

/* The cell as CSV has it, before quoting: with the decimal comma asked for, and a ' before text that would run as a
 * formula.  `cell` is emptied first. */
void bt_csv_make_cell(bt_bytes *cell, const bt_column *column, const void *row, bool decimal_comma);
/* Add it to a line, quoted where needed. */
void bt_csv_cell(bt_bytes *line, const char *s, size_t n, char delimiter);

/* Text as a JSON string, quotes included. */
void bt_json_string(bt_bytes *b, const char *s, size_t n);

/* A format: the functions of a writer's life.  `header` comes once, before all others; `say` (valid
 * UTF-8) and `end` may be NULL, and so may `drop`, which frees `own`. */
typedef struct {
    bt_status (*header)(bt_writer *w, bt_error *err);
    bt_status (*say)(bt_writer *w, const char *sentence, bt_error *err);
    bt_status (*row)(bt_writer *w, const void *row, bt_error *err);
    bt_status (*end)(bt_writer *w, bt_error *err);
    void (*drop)(void *own);
} bt_writer_format;
extern const bt_writer_format bt_csv_format, bt_json_format, bt_text_format;

struct bt_writer {
    const bt_writer_format *format;
    bt_table_kind table;
    const bt_column *columns;
    size_t n;
    bt_style style; /* defaults filled in */
    bt_write_fn write;
    void *user;
    bool begun;
    bt_bytes line, cell; /* scratch */
    void *own;           /* of the format */
};

#endif
