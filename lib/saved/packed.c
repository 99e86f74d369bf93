/* Packed rows: see packed.h.  A page is a row of cells behind the other.  A cell's code is a number in groups of
 * seven bits, the lowest first, the eighth bit set in all but the last (LEB128):
 *   number  0 = blank; 1 = eight bytes of the double that is printed follow, where its digits are too many;
 *           else 2 + the difference of its digits from those of the column's last value, the sign in the lowest bit
 *   text    0 = as in the row before; else 1 + its length, and its bytes
 *   flags   the bits */
#include "saved/packed.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

#include "base/grow.h"
#include "saved/cells.h"

/* A page of these is inflated at once to be read. */
enum { PAGE_ROWS = 64, BLANK = 0, RAW = 1, DIGITS = 2 };
/* Each member's code is at most twice its size: ten bytes for a number, two and its own for a text. */
enum { ROW_MAX = 2 * sizeof(bt_zone), NUMBERS_MAX = sizeof(bt_zone) / sizeof(double) };
#define DIGITS_MOST 1e15

struct bt_packed_page {
    unsigned char *bytes;
    size_t n, full; /* deflated, inflated */
    size_t rows;
};

/* The row before, and the digits of each column's last value, by where it lies in a row. */
struct bt_packed_coder {
    bt_zone row;
    int64_t digits[NUMBERS_MAX];
};

static int64_t *digits_of(bt_packed_coder *c, const bt_column *column)
{
    return &c->digits[column->offset / sizeof(double)];
}

static void coder_init(bt_packed_coder *c)
{
    memset(c, 0, sizeof *c);
    bt_row_blank(BT_TABLE_ZONES, &c->row);
}

static double power_of_ten(int n)
{
    double power = 1; /* exact as far as columns have decimals */
    while (n-- > 0) power *= 10;
    return power;
}

/* A quotient of two exact doubles is the double nearest to it, as is what is read from a cell. */
static double from_digits(int64_t digits, const bt_column *column)
{
    return (double)digits / power_of_ten(column->decimals);
}

/* ---- to bytes ---- */

static unsigned char *put_code(unsigned char *to, uint64_t code)
{
    for (; code > 127; code >>= 7) *to++ = (unsigned char)(code | 128);
    *to++ = (unsigned char)code;
    return to;
}

static unsigned char *put_bytes(unsigned char *to, const void *bytes, size_t n)
{
    memcpy(to, bytes, n);
    return to + n;
}

static unsigned char *put_number(unsigned char *to, double printed, const bt_column *column,
                                 int64_t *last)
{
    if (isnan(printed)) return put_code(to, BLANK);
    const double scaled = round(printed * power_of_ten(column->decimals));
    const int64_t digits = fabs(scaled) < DIGITS_MOST ? (int64_t)scaled : 0;
    const double back = from_digits(digits, column);
    if (back < printed || back > printed)
        return put_bytes(put_code(to, RAW), &printed, sizeof printed);
    const int64_t by = digits - *last;
    *last = digits;
    return put_code(to, DIGITS + (by < 0 ? 2 * (uint64_t)-by - 1 : 2 * (uint64_t)by));
}

static unsigned char *put_text(unsigned char *to, const char *text, const char *before)
{
    const size_t n = strlen(text);
    if (strcmp(text, before) == 0) return put_code(to, 0);
    return put_bytes(put_code(to, n + 1), text, n);
}

static size_t put_row(bt_packed_coder *c, const bt_zone *row, unsigned char *bytes)
{
    size_t columns;
    const bt_column *column = bt_columns(BT_TABLE_ZONES, &columns);
    unsigned char *to = bytes;
    for (size_t k = 0; k < columns; k++) {
        const char *member = (const char *)row + column[k].offset;
        if (column[k].kind == BT_CELL_NUMBER)
            to = put_number(to, bt_cell_printed(&column[k], row), &column[k],
                            digits_of(c, &column[k]));
        else if (column[k].kind == BT_CELL_TEXT)
            to = put_text(to, member, (const char *)&c->row + column[k].offset);
        else
            to = put_code(to, row->flags);
    }
    c->row = *row;
    return (size_t)(to - bytes);
}

/* ---- and back ---- */

static uint64_t get_code(const unsigned char **from)
{
    uint64_t code = 0;
    for (unsigned shift = 0;; shift += 7) {
        const unsigned char byte = *(*from)++;
        code |= (uint64_t)(byte & 127) << shift;
        if (byte < 128) return code;
    }
}

static double get_number(const unsigned char **from, const bt_column *column, int64_t *last)
{
    const uint64_t code = get_code(from);
    double printed;
    if (code == BLANK) return NAN;
    if (code == RAW) {
        memcpy(&printed, *from, sizeof printed);
        *from += sizeof printed;
    } else {
        const uint64_t by = code - DIGITS;
        *last += by % 2 ? -(int64_t)(by / 2) - 1 : (int64_t)(by / 2);
        printed = from_digits(*last, column);
    }
    return bt_cell_from_printed(column, printed);
}

static void get_text(const unsigned char **from, char *text)
{
    const uint64_t code = get_code(from);
    if (code == 0) return;
    const size_t n = (size_t)code - 1;
    memcpy(text, *from, n);
    text[n] = '\0';
    *from += n;
}

/* The next row, into c->row. */
static void get_row(bt_packed_coder *c, const unsigned char **from)
{
    size_t columns;
    const bt_column *column = bt_columns(BT_TABLE_ZONES, &columns);
    for (size_t k = 0; k < columns; k++) {
        char *member = (char *)&c->row + column[k].offset;
        if (column[k].kind == BT_CELL_NUMBER) {
            const double x = get_number(from, &column[k], digits_of(c, &column[k]));
            memcpy(member, &x, sizeof x);
        } else if (column[k].kind == BT_CELL_TEXT) {
            get_text(from, member);
        } else {
            c->row.flags = (uint32_t)get_code(from);
        }
    }
}

/* ---- pages ---- */

static bt_status no_memory(const bt_packed *p, bt_error *err)
{
    return bt_fail(err, BT_NOMEM, "no memory for %zu zones", p->rows);
}

bt_status bt_packed_seal(bt_packed *p, bt_error *err)
{
    free(p->coder);
    p->coder = NULL;
    if (p->open_rows == 0) return BT_OK;
    void *pages = p->page;
    BT_TRY(bt_grow(&pages, &p->pages_cap, p->pages + 1, sizeof *p->page, "pages", err));
    p->page = pages;
    uLongf n = compressBound(p->open_n);
    unsigned char *bytes = malloc(n);
    if (!bytes || compress2(bytes, &n, p->open, p->open_n, Z_BEST_COMPRESSION) != Z_OK) {
        free(bytes);
        return no_memory(p, err);
    }
    unsigned char *fitting = realloc(bytes, n);
    p->page[p->pages++] = (bt_packed_page){fitting ? fitting : bytes, n, p->open_n, p->open_rows};
    free(p->open);
    p->open = NULL;
    p->open_n = p->open_cap = p->open_rows = 0;
    return BT_OK;
}

bt_status bt_packed_add(bt_packed *p, const bt_zone *row, bt_error *err)
{
    void *open = p->open;
    if (!p->coder) {
        p->coder = malloc(sizeof *p->coder);
        if (!p->coder) return no_memory(p, err);
        coder_init(p->coder);
    }
    BT_TRY(bt_grow(&open, &p->open_cap, p->open_n + ROW_MAX, 1, "bytes of zones", err));
    p->open = open;
    p->open_n += put_row(p->coder, row, p->open + p->open_n);
    p->open_rows++;
    p->rows++;
    return p->open_rows < PAGE_ROWS ? BT_OK : bt_packed_seal(p, err);
}

bt_status bt_packed_join(bt_packed *p, bt_packed *from, bt_error *err)
{
    void *pages = p->page;
    BT_TRY(bt_grow(&pages, &p->pages_cap, p->pages + from->pages, sizeof *p->page, "pages", err));
    p->page = pages;
    if (from->pages) memcpy(p->page + p->pages, from->page, from->pages * sizeof *p->page);
    p->pages += from->pages;
    p->rows += from->rows;
    from->pages = 0;
    bt_packed_clear(from);
    return BT_OK;
}

static bt_status read_page(const bt_packed *p, const bt_packed_page *page, unsigned char *bytes,
                           bt_packed_coder *c, size_t first, bt_packed_take take, void *user,
                           bt_error *err)
{
    uLongf n = page->full;
    if (uncompress(bytes, &n, page->bytes, page->n) != Z_OK) return no_memory(p, err);
    const unsigned char *from = bytes;
    coder_init(c);
    for (size_t i = 0; i < page->rows; i++) {
        get_row(c, &from);
        bt_zone row = c->row; /* the taker's to change */
        BT_TRY(take(user, first + i, &row, err));
    }
    return BT_OK;
}

bt_status bt_packed_each(const bt_packed *p, bt_packed_take take, void *user, bt_error *err)
{
    size_t most = 1, first = 0;
    for (size_t k = 0; k < p->pages; k++)
        if (p->page[k].full > most) most = p->page[k].full;
    unsigned char *bytes = malloc(most);
    bt_packed_coder *c = malloc(sizeof *c);
    bt_status status = bytes && c ? BT_OK : no_memory(p, err);
    for (size_t k = 0; status == BT_OK && k < p->pages; k++) {
        status = read_page(p, &p->page[k], bytes, c, first, take, user, err);
        first += p->page[k].rows;
    }
    free(bytes);
    free(c);
    return status;
}

void bt_packed_clear(bt_packed *p)
{
    for (size_t k = 0; k < p->pages; k++) free(p->page[k].bytes);
    free(p->page);
    free(p->open);
    free(p->coder);
    *p = (bt_packed){0};
}
