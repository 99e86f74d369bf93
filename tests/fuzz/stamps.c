/* Fuzz target: time cells to nanoseconds.
 *
 * The first byte chooses the decimal sign and the unit; each line of the rest is a cell.  The first
 * time is nought and fixes the form; what is no value changes nothing; the same cells with a
 * whole number of seconds for every one give what subtraction gives. */
#include "rows/stamps.h"

#include "support.h"

static const bt_unit *unit_of(unsigned choice)
{
    static const char *const units[] = {"s", "ms", "us", "ns", "min", "h"};
    if (choice >= sizeof units / sizeof *units) return NULL;
    return bt_unit_find(units[choice], strlen(units[choice]), BT_DIM_TIME);
}

/* A plain number of up to eight digits, which without a unit means seconds; -1 for all else. */
static long seconds_of(const char *cell, size_t n)
{
    if (n == 0 || n > 8) return -1;
    long value = 0;
    for (size_t i = 0; i < n; i++) {
        if (cell[i] < '0' || cell[i] > '9') return -1;
        value = 10 * value + (cell[i] - '0');
    }
    return value;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    if (n == 0) return 0;
    const unsigned choice = data[0] >> 1 & 7;
    const bt_unit *unit = unit_of(choice);
    bt_stamps stamps;
    bt_stamps_init(&stamps, unit, data[0] & 1 ? ',' : '.');
    bool first = true;
    long start = -1;
    for (const uint8_t *at = data + 1, *end = data + n; at < end;) {
        const uint8_t *stop = memchr(at, '\n', (size_t)(end - at));
        const size_t len = (size_t)((stop ? stop : end) - at);
        char *cell = malloc(len ? len : 1);
        if (!cell) return 0;
        memcpy(cell, at, len);
        const bt_stamp_kind kind = stamps.kind;
        int64_t ns = -77;
        const bt_cell_result result = bt_stamps_parse(&stamps, cell, len, &ns);
        must((result == BT_CELL_BLANK) == bt_number_blank(cell, len));
        if (result != BT_CELL_VALUE) must(ns == -77 && stamps.kind == kind);
        if (result == BT_CELL_VALUE) {
            must(stamps.kind != BT_STAMP_NONE);
            const long now = seconds_of(cell, len);
            if (first) must(ns == 0);
            if (first) start = now;
            if (!unit && start >= 0 && now >= 0) must(ns == (now - start) * INT64_C(1000000000));
            first = false;
        }
        free(cell);
        at += len + 1;
    }
    must(bt_stamps_offset(&stamps) - bt_stamps_offset(&stamps) == 0); /* finite */
    return 0;
}
