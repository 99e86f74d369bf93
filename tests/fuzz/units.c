/* Fuzz target: any text as a unit, and as a name that carries one.
 *
 * A unit found is of the dimension wanted, and what it calls itself finds it again. */
#include "base/units.h"

#include "support.h"

static void check_found(const char *text, size_t n, bt_dimension wanted)
{
    const bt_unit *unit = bt_unit_find(text, n, wanted);
    const char *near = bt_unit_nearest(text, n, wanted);
    if (near) must(bt_unit_find(near, strlen(near), wanted));
    if (!unit) return;
    must(wanted == BT_DIM_ANY || unit->dimension == wanted);
    must(unit->factor > 0 && unit->offset - unit->offset == 0);
    const bt_unit *again = bt_unit_find(unit->ucum, strlen(unit->ucum), unit->dimension);
    must(again && again->factor == unit->factor && again->offset == unit->offset);
    again = bt_unit_find(unit->label, strlen(unit->label), unit->dimension);
    must(again && again->factor == unit->factor && again->offset == unit->offset);
}

static void check_name(const char *text, size_t n)
{
    size_t name_len, unit_len;
    const char *unit = NULL;
    const bool has = bt_unit_in_name(text, n, &name_len, &unit, &unit_len);
    must(has ? name_len > 0 && name_len < n : name_len == n && unit_len == 0);
    if (!has) return;
    const bool within = unit >= text && unit + unit_len <= text + n;
    must(within || bt_unit_find(unit, unit_len, BT_DIM_ANY));
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    char *text = malloc(n ? n : 1); /* so that a sanitizer sees the end of it */
    if (!text) return 0;
    if (n > 0) memcpy(text, data, n);
    for (int d = 0; d <= BT_DIM_ANY; d++) check_found(text, n, (bt_dimension)d);
    check_name(text, n);
    free(text);
    char labels[64];
    must(strlen(bt_unit_labels(n ? data[0] % BT_DIM_COUNT : 0, labels, 1 + n % 64)) < 1 + n % 64);
    return 0;
}
