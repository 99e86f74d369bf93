/* Fuzz target: any bytes as the head of a log, whole or cut.
 *
 * Whatever is told of it lies within it; a long layout's signals are found again by their names. */
#include "rows/dialect.h"

#include "rows/signals.h"
#include "support.h"

static void check_text(const char *text)
{
    must(text && bt_utf8_valid(text, strlen(text), false) == strlen(text));
}

static void check_dialect(const bt_dialect *d, size_t n)
{
    must(d->delimiter && strchr(",;\t", d->delimiter));
    must((d->decimal == '.' || d->decimal == ',') && d->decimal != d->delimiter);
    must(d->columns >= 1 && d->data_offset <= n);
    must(d->data_line > d->header_line && (!d->units_line || d->units_line > d->header_line));
    must(d->data_line > d->units_line);
    for (size_t c = 0; c < d->columns; c++) {
        check_text(d->column[c].text);
        check_text(d->column[c].name);
        check_text(d->column[c].unit);
    }
    if (d->layout != BT_LAYOUT_LONG) return;
    must(d->time_column < d->columns && d->signal_column < d->columns);
    must(d->value_column < d->columns);
    must(d->unit_column < d->columns || d->unit_column == BT_NO_COLUMN);
}

static void check_signals(const bt_dialect *d, const uint8_t *bytes, size_t n, bool at_end)
{
    bt_signals signals = {0};
    bt_error err = {0};
    const bt_status status = bt_signals_read(&signals, d, bytes, n, at_end, &err);
    must_explain(status, &err);
    for (size_t i = 0; i < signals.n; i++) {
        must(bt_signals_find(&signals, signals.raw[i].text, signals.raw[i].len) == i);
        check_text(signals.column[i].text);
        check_text(signals.column[i].unit);
    }
    bt_signals_free(&signals);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    if (n == 0) return 0;
    const char delimiter = "\0,;\t"[data[0] & 3];
    const bt_dialect_options options = {.delimiter = delimiter,
                                        .decimal =
                                            delimiter && delimiter != ',' && data[0] & 4 ? ',' : 0,
                                        .layout = (bt_layout)((data[0] >> 4 & 3) % 3)};
    for (int at_end = 0; at_end < 2; at_end++) {
        bt_dialect dialect;
        bt_error err = {0};
        uint8_t *exact = malloc(n);
        if (!exact) return 0;
        memcpy(exact, data + 1, n - 1);
        const bt_status status = bt_dialect_sniff(&dialect, exact, n - 1, at_end, &options, &err);
        must_explain(status, &err);
        if (status == BT_OK) check_dialect(&dialect, n - 1);
        if (status == BT_OK && dialect.layout == BT_LAYOUT_LONG)
            check_signals(&dialect, exact, n - 1, at_end);
        bt_dialect_free(&dialect);
        free(exact);
    }
    return 0;
}
