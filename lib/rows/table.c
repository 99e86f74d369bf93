/* Tables: see table.h.  Whole lines without quotes are cut where they lie; whatever else comes
 * (quotes, a line across two pushes or at the end of one, CR alone) goes through libcsv line by
 * line.  Both give the same rows, which tests/check_table.c and tests/fuzz/lanes.c hold them to. */
#include "rows/table.h"

#include "base/error.h"

#include <csv.h>
#include <stdlib.h>
#include <string.h>
#ifdef __SSE2__
#include <emmintrin.h>
#endif

enum { NOT_WANTED = -1, BUFFER_STEP = 4096 };
/* Plain lines are looked through in pieces of that many bytes, the last of which reaches beyond
 * the line. */
enum { PIECE = 64 };
_Static_assert(PIECE >= BT_CELL_SLACK, "a plain cell has its slack");

static const char nothing[BT_CELL_SLACK]; /* the cell that a row does not have */

struct bt_table {
    bt_row_fn take;
    void *user;
    struct csv_parser csv;
    size_t skip;    /* bytes before the data still to pass over */
    size_t columns; /* of the header */
    char delimiter;
    int *slot; /* of each column up to the last wanted one: its place in `got` */
    size_t slots;
    size_t *wanted_slot; /* of each wanted column */
    size_t *wanted_column;
    size_t wanted;
    size_t *
        start; /* plain lines: where each of the first `slots` fields begins, the last one's end + 1,
                  * and room for PIECE more */
    struct {
        size_t at, len; /* in `text` */
    } * got;
    size_t got_count;
    char *text; /* the wanted cells of the row under way */
    size_t used, room;
    bt_cell *cell; /* what is handed over, in the order wanted */
    uint64_t line; /* under way */
    uint64_t row_line;
    size_t fields;                  /* of the row under way; 0 = none */
    bool between;                   /* libcsv has seen whole lines only: a plain one may follow */
    bool after_cr;                  /* a line end CR was seen, so a LF now belongs to it */
    bool quotes;                    /* seen at all: only then can cells hold line ends */
    bool ending;                    /* the row that comes now has no line end */
    bool short_row, previous_whole; /* of the last row, and the one before it */
    bool truncated;
    bt_error fault;
};

static void *bounded_realloc(void *old, size_t n)
{
    return n > BT_CELL_BYTES_MAX ? NULL : realloc(old, n);
}

/* Column numbers to slots: a column wanted twice is kept once. */
static bool plan(bt_table *t, const size_t *wanted, size_t n)
{
    for (size_t i = 0; i < n; i++)
        if (wanted[i] >= t->slots) t->slots = wanted[i] + 1;
    t->wanted = n;
    t->slot = malloc((t->slots + 1) * sizeof *t->slot);
    t->start = malloc((t->slots + PIECE + 1) * sizeof *t->start);
    t->wanted_slot = malloc((n + 1) * sizeof *t->wanted_slot);
    t->wanted_column = malloc((n + 1) * sizeof *t->wanted_column);
    t->got = malloc((n + 1) * sizeof *t->got);
    t->cell = malloc((n + 1) * sizeof *t->cell);
    if (!t->slot || !t->start || !t->wanted_slot || !t->wanted_column || !t->got || !t->cell)
        return false;
    for (size_t i = 0; i < t->slots; i++) t->slot[i] = NOT_WANTED;
    for (size_t i = 0; i < n; i++) {
        int *slot = &t->slot[wanted[i]];
        /* NOLINTNEXTLINE: wanted[i] is below slots, so all of them are NOT_WANTED by now */
        if (*slot == NOT_WANTED) *slot = (int)t->got_count++;
        t->wanted_slot[i] = (size_t)*slot;
        t->wanted_column[i] = wanted[i];
    }
    return true;
}

bt_status bt_table_new(bt_table **out, const bt_dialect *dialect, const size_t *wanted,
                       size_t n_wanted, bt_row_fn take, void *user, bt_error *err)
{
    *out = NULL;
    bt_table *t = calloc(1, sizeof *t);
    if (!t || csv_init(&t->csv, CSV_REPALL_NL) != 0) {
        free(t);
        return bt_fail(err, BT_NOMEM, "no memory for a table");
    }
    csv_set_delim(&t->csv, (unsigned char)dialect->delimiter);
    csv_set_realloc_func(&t->csv, bounded_realloc);
    csv_set_blk_size(&t->csv, BUFFER_STEP);
    t->take = take;
    t->user = user;
    t->skip = dialect->data_offset;
    t->columns = dialect->columns;
    t->delimiter = dialect->delimiter;
    t->line = dialect->data_line;
    t->previous_whole = t->between = true;
    t->room = 4096;
    t->text = calloc(1, t->room + BT_CELL_SLACK);
    if (!plan(t, wanted, n_wanted) || !t->text) {
        bt_table_free(t);
        return bt_fail(err, BT_NOMEM, "no memory for a table");
    }
    *out = t;
    return BT_OK;
}

/* The row's cells lie one behind the other. */
static bool keep(bt_table *t, size_t slot, const char *field, size_t n)
{
    if (t->room - t->used < n) {
        const size_t room = 2 * (t->used + n); /* n has a ceiling, and so have the columns */
        char *larger = realloc(t->text, room + BT_CELL_SLACK);
        if (!larger) return false;
        t->text = larger;
        t->room = room;
    }
    if (n > 0) memcpy(t->text + t->used, field, n);
    t->got[slot].at = t->used;
    t->got[slot].len = n;
    t->used += n;
    return true;
}

static void begin_row(bt_table *t)
{
    t->row_line = t->line;
    t->used = 0;
    for (size_t i = 0; i < t->got_count; i++) t->got[i].at = t->got[i].len = 0;
}

static void take_field(void *field, size_t n, void *user)
{
    bt_table *t = user;
    if (t->fault.status != BT_OK) return;
    if (t->fields == 0) begin_row(t);
    const size_t column = t->fields++;
    t->after_cr = false;
    if (t->quotes)
        for (const char *p = field, *end = p + n; (p = memchr(p, '\n', (size_t)(end - p))); p++)
            t->line++;
    if (column < t->slots && t->slot[column] != NOT_WANTED &&
        !keep(t, (size_t)t->slot[column], field, n))
        bt_fail(&t->fault, BT_NOMEM, "no memory for a row");
}

/* t->cell is filled. */
static void hand_over(bt_table *t, uint64_t line, size_t fields)
{
    const bt_row row = {line, fields, t->cell};
    const bt_status status = t->take(t->user, &row, &t->fault);
    if (status != BT_OK) bt_fail(&t->fault, status, "%s", bt_status_meaning(status));
}

static void note_length(bt_table *t, size_t fields)
{
    t->previous_whole = !t->short_row;
    t->short_row = fields < t->columns;
}

static void take_row(int terminator, void *user)
{
    bt_table *t = user;
    if (t->fault.status != BT_OK) return;
    if (t->fields > 0) {
        note_length(t, t->fields);
        for (size_t i = 0; i < t->wanted; i++) {
            const size_t slot = t->wanted_slot[i];
            t->cell[i] = (bt_cell){t->text + t->got[slot].at, t->got[slot].len};
        }
        if (t->ending && t->short_row)
            t->truncated = true; /* its last cell may be cut: not handed over */
        else
            hand_over(t, t->row_line, t->fields);
    }
    if (!t->ending && !(terminator == '\n' && t->after_cr)) t->line++;
    t->after_cr = terminator == '\r';
    t->between = terminator == '\n';
    t->fields = 0;
}

static bool is_blank(const bt_table *t, char c)
{
    return c == ' ' || (c == '\t' && t->delimiter != '\t');
}

static bt_cell trimmed(const bt_table *t, const char *s, const char *end)
{
    while (s < end && is_blank(t, *s)) s++;
    while (s < end && is_blank(t, end[-1])) end--;
    return (bt_cell){s, (size_t)(end - s)};
}

/* No blank, which most cells and lines neither begin nor end with. */
static inline bool is_dark(char c)
{
    return (unsigned char)c > ' ';
}

/* A bit for each of s[0..PIECE) that is c. */
static uint64_t find_all(const char *s, char c)
{
    uint64_t found = 0;
#ifdef __SSE2__
    const __m128i wanted = _mm_set1_epi8(c);
    for (int i = 0; i < PIECE; i += 16) {
        const __m128i bytes = _mm_loadu_si128((const __m128i *)(const void *)(s + i));
        found |= (uint64_t)(unsigned)_mm_movemask_epi8(_mm_cmpeq_epi8(bytes, wanted)) << i;
    }
#else
    for (int i = 0; i < PIECE; i++) found |= (uint64_t)(s[i] == c) << i;
#endif
    return found;
}

static size_t lowest_bit(uint64_t bits)
{
#ifdef __GNUC__
    return (size_t)__builtin_ctzll(bits);
#else
    size_t at = 0;
    while (!(bits >> at & 1)) at++;
    return at;
#endif
}

/* Where the first t->slots fields of s[0..n) and the one behind them begin, to t->start; gives the number of
 * fields.  PIECE bytes behind s[n] can be read. */
static size_t split(const bt_table *t, const char *s, size_t n)
{
    size_t *start = t->start, fields = 0;
    start[0] = 0;
    for (size_t i = 0; i < n; i += PIECE) {
        uint64_t found = find_all(s + i, t->delimiter);
        if (n - i < PIECE) found &= ((uint64_t)1 << (n - i)) - 1;
        if (fields < t->slots)
            for (; found; found &= found - 1) start[++fields] = i + lowest_bit(found) + 1;
        else
            for (; found; found &= found - 1) fields++;
    }
    if (fields < t->slots) start[fields + 1] = n + 1;
    return fields + 1;
}

/* A line without quotes and without its end. */
static void take_plain_line(bt_table *t, const char *s, size_t n)
{
    const uint64_t line = t->line++;
    if (n == 0 || (!is_dark(*s) && trimmed(t, s, s + n).len == 0)) return;
    const size_t fields = split(t, s, n);
    const size_t *wanted = t->wanted_column, *start = t->start;
    bt_cell *cell = t->cell;
    for (size_t i = 0, count = t->wanted; i < count; i++) {
        const size_t column = wanted[i];
        if (column >= fields) {
            cell[i] = (bt_cell){nothing, 0};
            continue;
        }
        const char *from = s + start[column], *to = s + start[column + 1] - 1;
        if (from == to || (is_dark(*from) && is_dark(to[-1])))
            cell[i] = (bt_cell){from, (size_t)(to - from)};
        else
            cell[i] = trimmed(t, from, to);
    }
    note_length(t, fields);
    hand_over(t, line, fields);
}

/* What a push holds, and the first quote and CR in it that are not passed yet (its end if there is
 * none): looked for once, not line by line. */
typedef struct {
    const char *end, *quote, *cr;
} ahead;

static const char *find(const char *s, const char *end, char c)
{
    const char *at = memchr(s, c, (size_t)(end - s));
    return at ? at : end;
}

/* Plain lines from s on; gives where they end. */
static const char *take_plain_lines(bt_table *t, const char *s, ahead *a)
{
    if (a->quote < s) a->quote = find(s, a->end, '"');
    while (t->fault.status == BT_OK) {
        const char *end = find(s, a->end, '\n');
        if (a->end - end <= PIECE || a->quote < end) break;
        if (a->cr < s) a->cr = find(s, a->end, '\r');
        const size_t length = (size_t)(end - s);
        if (a->cr < end && a->cr != end - 1) break;
        take_plain_line(t, s, a->cr < end ? length - 1 : length);
        s = end + 1;
    }
    return s;
}

/* One line, or what there is of it, through libcsv; gives the bytes taken. */
static size_t take_line(bt_table *t, const char *s, size_t n)
{
    const char *end = memchr(s, '\n', n);
    if (end) n = (size_t)(end - s) + 1;
    t->between = false;
    t->quotes = t->quotes || memchr(s, '"', n) != NULL;
    if (csv_parse(&t->csv, s, n, take_field, take_row, t) == n || t->fault.status != BT_OK)
        return n;
    if (csv_get_buffer_size(&t->csv) + BUFFER_STEP <= BT_CELL_BYTES_MAX) {
        bt_fail(&t->fault, BT_NOMEM, "no memory for a cell");
    } else {
        bt_fail(&t->fault, BT_SYNTAX,
                "expected a cell of at most %zu bytes, found more: a quote left open?",
                BT_CELL_BYTES_MAX);
        bt_at(&t->fault, BT_SYNTAX, NULL, t->fields > 0 ? t->row_line : t->line, 0);
    }
    return n;
}

static bt_status tell(const bt_table *t, bt_error *err)
{
    if (t->fault.status == BT_OK) return BT_OK;
    bt_fail(err, t->fault.status, "%s", t->fault.message);
    return bt_at(err, t->fault.status, t->fault.file, t->fault.line, t->fault.column);
}

bt_status bt_table_push(bt_table *t, const void *bytes, size_t n, bt_error *err)
{
    const size_t skip = n < t->skip ? n : t->skip;
    if (n == skip) { /* the bytes of nothing may be NULL */
        t->skip -= skip;
        return tell(t, err);
    }
    const char *p = (const char *)bytes + skip;
    ahead a = {.end = (const char *)bytes + n};
    a.quote = find(p, a.end, '"');
    a.cr = find(p, a.end, '\r');
    t->skip -= skip;
    while (p < a.end && t->fault.status == BT_OK) {
        if (t->between && !t->after_cr) p = take_plain_lines(t, p, &a);
        if (p < a.end && t->fault.status == BT_OK) p += take_line(t, p, (size_t)(a.end - p));
    }
    return tell(t, err);
}

bt_status bt_table_end(bt_table *t, bt_error *err)
{
    if (t->fault.status != BT_OK) return tell(t, err);
    const bool whole_before = t->previous_whole, last_short = t->short_row;
    t->ending = true;
    /* Strict only here, where it tells a quote left open: all along it would refuse quotes
     * inside unquoted cells. */
    csv_set_opts(&t->csv, CSV_REPALL_NL | CSV_STRICT | CSV_STRICT_FINI);
    if (csv_fini(&t->csv, take_field, take_row, t) != 0)
        t->truncated = true;
    else if (!t->truncated)
        t->truncated = last_short && whole_before;
    return tell(t, err);
}

bool bt_table_truncated(const bt_table *t)
{
    return t->truncated;
}

void bt_table_free(bt_table *t)
{
    if (!t) return;
    csv_free(&t->csv);
    free(t->slot);
    free(t->start);
    free(t->wanted_slot);
    free(t->wanted_column);
    free(t->got);
    free(t->text);
    free(t->cell);
    free(t);
}
