/* The writer's life and the cells that all formats share (CONTRACT 2, 6-10). */
#include "out/write.h"

#include "base/grow.h"
#include "base/number.h"
#include "base/text.h"

#include <stdlib.h>
#include <string.h>

void bt_bytes_add(bt_bytes *b, const char *s, size_t n)
{
    if (b->failed || n == 0) return;
    if (n > b->cap - b->n && b->fixed) {
        n = b->cap - b->n;
        b->failed = true;
    } else if (n > b->cap - b->n) {
        void *p = b->p;
        if (n > SIZE_MAX - b->n || bt_grow(&p, &b->cap, b->n + n, 1, "bytes", NULL) != BT_OK) {
            b->failed = true;
            return;
        }
        b->p = p;
    }
    memcpy(b->p + b->n, s, n);
    b->n += n;
}

void bt_bytes_text(bt_bytes *b, const char *s)
{
    bt_bytes_add(b, s, strlen(s));
}

bt_status bt_bytes_write(bt_bytes *b, bt_write_fn write, void *user, bt_error *err)
{
    if (b->failed) return bt_fail(err, BT_NOMEM, "no memory for a row of %zu bytes", b->n);
    const size_t n = b->n;
    b->n = 0;
    return n ? write(user, b->p, n, err) : BT_OK;
}

void bt_bytes_free(bt_bytes *b)
{
    free(b->p);
    *b = (bt_bytes){0};
}

/* Valid UTF-8, so that whoever reads the table need not guess: U+FFFD for what is none. */
static void add_utf8(bt_bytes *b, const char *s, size_t n)
{
    while (n) {
        const size_t good = bt_utf8_valid(s, n, false);
        bt_bytes_add(b, s, good);
        s += good;
        n -= good;
        if (n) {
            bt_bytes_text(b, "\xef\xbf\xbd");
            s++;
            n--;
        }
    }
}

static void add_flags(bt_bytes *b, uint32_t flags)
{
    const char *gap = "";
    for (unsigned bit = 0; bit < BT_FLAG_COUNT; bit++)
        if (flags >> bit & 1) {
            bt_bytes_text(b, gap);
            bt_bytes_text(b, bt_flag_word(bit));
            gap = " ";
        }
}

/* Zeros at the end of what stands behind the point say nothing. */
static size_t without_zeros(const char *digits, size_t n)
{
    while (n > 0 && digits[n - 1] == '0') n--;
    return n > 0 && digits[n - 1] == '.' ? n - 1 : n;
}

static void add_number(bt_bytes *b, double x, int decimals)
{
    enum { AS_IS_MOST = 9 };
    char digits[BT_NUMBER_MAX];
    const bool as_is = decimals == BT_DECIMALS_AS_IS;
    const size_t n = bt_number_format(digits, sizeof digits, x, as_is ? AS_IS_MOST : decimals);
    bt_bytes_add(b, digits, as_is ? without_zeros(digits, n) : n);
}

bool bt_cell_is_number(const bt_column *column)
{
    return column->kind == BT_CELL_NUMBER;
}

void bt_cell_add(bt_bytes *b, const bt_column *column, const void *row)
{
    const char *member = (const char *)row + column->offset;
    switch (column->kind) {
    case BT_CELL_NUMBER: {
        double x;
        memcpy(&x, member, sizeof x);
        add_number(b, (x - column->shift) * column->factor, column->decimals);
        break;
    }
    case BT_CELL_TEXT: {
        const char *text = member;
        if (column->size == 0) memcpy(&text, member, sizeof text);
        if (!text) break;
        const char *end = column->size ? memchr(text, 0, column->size) : text + strlen(text);
        add_utf8(b, text, end ? (size_t)(end - text) : column->size);
        break;
    }
    case BT_CELL_FLAGS: {
        uint32_t flags;
        memcpy(&flags, member, sizeof flags);
        add_flags(b, flags);
        break;
    }
    case BT_CELL_SEVERITY: {
        bt_severity severity;
        memcpy(&severity, member, sizeof severity);
        bt_bytes_text(b, bt_severity_word(severity));
        break;
    }
    }
}

static bt_status check_style(bt_style *style, bt_error *err)
{
    if (!style->delimiter) style->delimiter = style->decimal_comma ? ';' : ',';
    if (style->delimiter != ',' && style->delimiter != ';' && style->delimiter != '\t')
        return bt_fail(err, BT_RANGE, "delimiter: expected comma, semicolon or tab, found 0x%02x",
                       (unsigned char)style->delimiter);
    if (style->delimiter == ',' && style->decimal_comma)
        return bt_fail(err, BT_RANGE,
                       "delimiter: expected semicolon or tab with a decimal comma, found comma");
    if (style->width == 0) style->width = 100;
    if (style->width < 20) style->width = 20;
    return BT_OK;
}

bt_status bt_writer_new(bt_writer **out, bt_table_kind table, const bt_style *style,
                        bt_write_fn write, void *user, bt_error *err)
{
    static const bt_writer_format *const formats[] = {
        [BT_FORMAT_CSV] = &bt_csv_format,
        [BT_FORMAT_JSON] = &bt_json_format,
        [BT_FORMAT_TEXT] = &bt_text_format,
    };
    *out = NULL;
    bt_style s = style ? *style : (bt_style){0};
    BT_TRY(check_style(&s, err));
    size_t n;
    const bt_column *columns = bt_columns(table, &n);
    if (!columns) return bt_fail(err, BT_MISSING, "expected a table with columns, found none");
    bt_writer *w = calloc(1, sizeof *w);
    if (!w) return bt_fail(err, BT_NOMEM, "no memory for a writer");
    *w = (bt_writer){.format = formats[s.format],
                     .table = table,
                     .columns = columns,
                     .n = n,
                     .style = s,
                     .write = write,
                     .user = user};
    *out = w;
    return BT_OK;
}

static bt_status begin(bt_writer *w, bt_error *err)
{
    if (w->begun) return BT_OK;
    if (w->format->header) BT_TRY(w->format->header(w, err));
    w->begun = true;
    return BT_OK;
}

bt_status bt_writer_say(bt_writer *w, const char *sentence, bt_error *err)
{
    if (!w->format->say) return BT_OK;
    BT_TRY(begin(w, err));
    bt_bytes valid = {0};
    add_utf8(&valid, sentence, strlen(sentence));
    bt_bytes_add(&valid, "", 1);
    const bt_status status = valid.failed ? bt_fail(err, BT_NOMEM, "no memory for a sentence")
                                          : w->format->say(w, valid.p, err);
    bt_bytes_free(&valid);
    return status;
}

bt_status bt_writer_row(bt_writer *w, const void *row, bt_error *err)
{
    BT_TRY(begin(w, err));
    return w->format->row(w, row, err);
}

bt_status bt_writer_end(bt_writer *w, bt_error *err)
{
    BT_TRY(begin(w, err));
    return w->format->end ? w->format->end(w, err) : BT_OK;
}

void bt_writer_free(bt_writer *w)
{
    if (!w) return;
    if (w->format->drop) w->format->drop(w->own);
    bt_bytes_free(&w->line);
    bt_bytes_free(&w->cell);
    free(w);
}
