/* Signals of a long log: see signals.h.  Names are kept in an open hash, since every row of the log
 * asks for one. */
#include "rows/signals.h"

#include "base/grow.h"
#include "base/units.h"

#include <stdlib.h>
#include <string.h>

/* FNV-1a, 64 bits (Fowler, Noll, Vo; IETF draft-eastlake-fnv). */
static uint64_t hash(const char *s, size_t n)
{
    uint64_t h = 14695981039346656037u;
    for (size_t i = 0; i < n; i++) h = (h ^ (unsigned char)s[i]) * 1099511628211u;
    return h;
}

/* The slot that holds the name, or the free one where it belongs.  slots is a power of two and more
 * than n. */
static size_t slot_of(const bt_signals *signals, const char *name, size_t len)
{
    size_t at = (size_t)hash(name, len) & (signals->slots - 1);
    while (signals->slot[at]) {
        const bt_cell raw = signals->raw[signals->slot[at] - 1];
        if (raw.len == len && memcmp(raw.text, name, len) == 0) break;
        at = (at + 1) & (signals->slots - 1);
    }
    return at;
}

size_t bt_signals_find(const bt_signals *signals, const char *name, size_t len)
{
    if (signals->n == 0) return BT_NO_COLUMN;
    return signals->slot[slot_of(signals, name, len)] - 1; /* 0 - 1 is BT_NO_COLUMN */
}

/* Room for one more, the hash at most half full. */
static bt_status make_room(bt_signals *signals, bt_error *err)
{
    if (signals->n >= BT_SIGNALS_LIMIT)
        return bt_fail(err, BT_SYNTAX, "expected at most %zu different signals in a long log",
                       BT_SIGNALS_LIMIT);
    if (2 * (signals->n + 1) <= signals->slots) return BT_OK;
    const size_t slots = signals->slots ? 2 * signals->slots : 64;
    bt_log_column *column = realloc(signals->column, slots / 2 * sizeof *column);
    if (column) signals->column = column;
    bt_cell *raw = realloc(signals->raw, slots / 2 * sizeof *raw);
    if (raw) signals->raw = raw;
    size_t *slot = calloc(slots, sizeof *slot);
    if (!column || !raw || !slot) {
        free(slot);
        return bt_fail(err, BT_NOMEM, "no memory for %zu signals", slots / 2);
    }
    free(signals->slot);
    signals->slot = slot;
    signals->slots = slots;
    for (size_t i = 0; i < signals->n; i++) slot[slot_of(signals, raw[i].text, raw[i].len)] = i + 1;
    return BT_OK;
}

bt_status bt_signals_add(bt_signals *signals, bt_cell name, bt_cell unit, bt_encoding encoding,
                         size_t *index, bt_error *err)
{
    *index = bt_signals_find(signals, name.text, name.len);
    if (*index != BT_NO_COLUMN) return BT_OK;
    BT_TRY(make_room(signals, err));

    char *raw = bt_arena_new(&signals->arena, name.len + 1);
    const char *text = bt_arena_text(&signals->arena, name.text, name.len, encoding);
    size_t name_len, unit_len;
    const char *in_name;
    const char *bare = NULL, *unit_text = NULL;
    if (raw && text) {
        bt_unit_in_name(text, strlen(text), &name_len, &in_name, &unit_len);
        bare = bt_arena_text(&signals->arena, text, name_len, BT_UTF8);
        unit_text = unit.len > 0 || unit_len == 0
                        ? bt_arena_text(&signals->arena, unit.text, unit.len, encoding)
                        : bt_arena_text(&signals->arena, in_name, unit_len, BT_UTF8);
    }
    if (!bare || !unit_text) return bt_fail(err, BT_NOMEM, "no memory for a signal's name");
    memcpy(raw, name.text, name.len);

    *index = signals->n;
    signals->raw[*index] = (bt_cell){.text = raw, .len = name.len};
    signals->slot[slot_of(signals, raw, name.len)] = *index + 1;
    signals->column[*index] = (bt_log_column){.text = text, .name = bare, .unit = unit_text};
    signals->n++;
    return BT_OK;
}

typedef struct {
    bt_signals *signals;
    bt_encoding encoding;
    bool has_unit;
} reader;

static bt_status read_row(void *user, const bt_row *row, bt_error *err)
{
    reader *r = user;
    size_t index;
    if (row->cell[0].len == 0) return BT_OK;
    const bt_cell unit = r->has_unit ? row->cell[1] : (bt_cell){.text = "", .len = 0};
    return bt_signals_add(r->signals, row->cell[0], unit, r->encoding, &index, err);
}

bt_status bt_signals_read(bt_signals *out, const bt_dialect *dialect, const void *bytes, size_t n,
                          bool at_end, bt_error *err)
{
    *out = (bt_signals){0};
    reader r = {.signals = out,
                .encoding = dialect->encoding,
                .has_unit = dialect->unit_column != BT_NO_COLUMN};
    const size_t wanted[] = {dialect->signal_column, dialect->unit_column};
    bt_table *table;
    BT_TRY(bt_table_new(&table, dialect, wanted, r.has_unit ? 2 : 1, read_row, &r, err));
    bt_status status = bt_table_push(table, bytes, n, err);
    /* A head may stop in the middle of a row, which is none yet. */
    if (status == BT_OK && at_end) status = bt_table_end(table, err);
    bt_table_free(table);
    return status;
}

void bt_signals_free(bt_signals *signals)
{
    free(signals->column);
    free(signals->raw);
    free(signals->slot);
    bt_arena_free(&signals->arena);
    *signals = (bt_signals){0};
}
