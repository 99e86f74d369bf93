/* Fuzz target: the two lanes of lib/rows/table.c give the same rows, line numbers and ends on any bytes.
 *
 * Pushed byte by byte, everything goes through libcsv; pushed in large pieces, whole lines without
 * quotes are cut where they lie.  The first byte chooses the delimiter and the columns wanted, the
 * second the size of the pieces; the rest is the log.  A few plain lines follow it, so that the
 * plain lane, which leaves the end of a push to the other, gets to see all of it. */
#include "rows/table.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n);

static const char tail[] =
    "\n1,2;3\t4\n 1,2;3\t4 \n1,2;3\t4\n1,2;3\t4\n1,2;3\t4\n1,2;3\t4\n1,2;3\t4\n"
    "1,2;3\t4\n1,2;3\t4\n1,2;3\t4\n1,2;3\t4\n1,2;3\t4\n1,2;3\t4";

enum { WANTED = 4 };

/* What a lane told: a hash over all rows (FNV-1a), and how it ended. */
typedef struct {
    uint64_t hash, rows;
    bt_status status;
    bool truncated;
    bt_error err;
} told;

static void add(told *t, const void *bytes, size_t n)
{
    const unsigned char *p = bytes;
    for (size_t i = 0; i < n; i++) t->hash = (t->hash ^ p[i]) * UINT64_C(1099511628211);
}

/* What is told, and the columns that are wanted. */
typedef struct {
    told told;
    const size_t *wanted;
} reading;

static bt_status take(void *user, const bt_row *row, bt_error *err)
{
    (void)err;
    told *t = &((reading *)user)->told;
    t->rows++;
    add(t, &row->line, sizeof row->line);
    add(t, &row->fields, sizeof row->fields);
    for (size_t i = 0; i < WANTED; i++) {
        char slack[BT_CELL_SLACK];
        memcpy(slack, row->cell[i].text - sizeof slack, sizeof slack); /* can be read */
        add(t, &row->cell[i].len, sizeof row->cell[i].len);
        add(t, row->cell[i].text, row->cell[i].len);
    }
    return BT_OK;
}

/* Rows together are told one by one. */
static bt_status take_rows(void *user, const bt_rows *rows, bt_error *err)
{
    const size_t *wanted = ((reading *)user)->wanted;
    bt_cell cell[WANTED];
    for (size_t r = 0; r < rows->n; r++) {
        for (size_t i = 0; i < WANTED; i++) {
            cell[i] = bt_rows_cell(rows, r, wanted[i]);
            if (wanted[i] >= rows->fields) continue;
            const bt_cells column = bt_rows_column(rows, r, wanted[i]);
            size_t n;
            const char *s = bt_cells_at(&column, 0, &n);
            if (cell[i].text < s || cell[i].text + cell[i].len > s + n) abort();
        }
        const bt_row row = {rows->line + r, rows->fields, cell};
        if (take(user, &row, err) != BT_OK) abort();
    }
    return BT_OK;
}

static told read_log(const bt_dialect *dialect, const size_t wanted[WANTED], const char *log,
                     size_t n, size_t piece, bool together)
{
    reading r = {{.hash = UINT64_C(14695981039346656037)}, wanted};
    told *t = &r.told;
    bt_table *table;
    t->status = bt_table_new(&table, dialect, wanted, WANTED, take, &r, &t->err);
    if (t->status != BT_OK) abort();
    if (together) bt_table_take_rows(table, take_rows);
    for (size_t at = 0; at < n && t->status == BT_OK; at += piece) {
        const size_t size = n - at < piece ? n - at : piece;
        char *exact = malloc(size); /* so that a sanitizer sees both ends of it */
        if (!exact) abort();
        memcpy(exact, log + at, size);
        t->status = bt_table_push(table, exact, size, &t->err);
        free(exact);
    }
    if (t->status == BT_OK) t->status = bt_table_end(table, &t->err);
    t->truncated = bt_table_truncated(table);
    bt_table_free(table);
    return *t;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    static const size_t columns[][WANTED] = {
        {0, 1, 2, 3}, {3, 0, 3, 9}, {1, 1, 0, 70}, {2, 2, 2, 2}};
    if (n < 2) return 0;
    const bt_dialect dialect = {
        .delimiter = ",;\t,"[data[0] & 3], .columns = 1 + (data[0] >> 4), .data_line = 2};
    const size_t *wanted = columns[data[0] >> 2 & 3];
    const size_t length = n - 2 + sizeof tail - 1;
    char *log = malloc(length);
    if (!log) return 0;
    memcpy(log, data + 2, n - 2);
    memcpy(log + n - 2, tail, sizeof tail - 1);
    const told one = read_log(&dialect, wanted, log, length, 1, false);
    const size_t pieces[] = {length, 65 + data[1]};
    for (size_t i = 0; i < 4; i++) {
        const told other = read_log(&dialect, wanted, log, length, pieces[i / 2], i % 2);
        if (one.hash != other.hash || one.rows != other.rows || one.status != other.status ||
            one.truncated != other.truncated || one.err.line != other.err.line ||
            strcmp(one.err.message, other.err.message) != 0) {
            fprintf(stderr, "lanes differ: %llu rows byte by byte, %llu in pieces of %zu\n",
                    (unsigned long long)one.rows, (unsigned long long)other.rows, pieces[i / 2]);
            abort();
        }
    }
    free(log);
    return 0;
}
