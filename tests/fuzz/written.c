/* Fuzz target: rows with any numbers and any texts, through everything that writes.
 *
 * The first byte chooses the form.  The others are rows: which table, which of its members differ from the
 * row before, and what they are.  Whatever they say, each format keeps its rules (output.h), and zones
 * and runs read back are written as the same again. */
#include "base/columns.h"

#include <math.h>

#include "output.h"

enum { ROWS_MAX = 24, ROW_BYTES = 2048, MEMBERS = 8 };

typedef struct {
    const uint8_t *at, *end;
} cursor;

/* The rows of a table, one behind the other, each as long as its struct. */
typedef struct {
    _Alignas(max_align_t) char row[ROWS_MAX * ROW_BYTES];
    size_t n, size;
} rows;

static const size_t sizes[BT_TABLE_COUNT] = {[BT_TABLE_ZONES] = sizeof(bt_zone),
                                             [BT_TABLE_EVENTS] = sizeof(bt_event),
                                             [BT_TABLE_RUNS] = sizeof(bt_run),
                                             [BT_TABLE_TRACE] = sizeof(bt_trace),
                                             [BT_TABLE_DRIFT] = sizeof(bt_drift),
                                             [BT_TABLE_COMPARE] = sizeof(bt_compare),
                                             [BT_TABLE_BYPASS] = sizeof(bt_bypass),
                                             [BT_TABLE_FIT] = sizeof(bt_fit),
                                             [BT_TABLE_INSPECT] = sizeof(bt_inspect_column)};

static unsigned take_byte(cursor *c)
{
    return c->at < c->end ? *c->at++ : 0;
}

static double take_number(cursor *c)
{
    static const double odd[] = {NAN,  INFINITY, -INFINITY, 1e308, -1e308, 0,
                                 1e15, -1e15,    1e-308,    -0.0,  0.5,    1e9};
    const unsigned kind = take_byte(c), low = take_byte(c), high = take_byte(c);
    if (kind < sizeof odd / sizeof *odd) return odd[kind];
    return ((double)(high * 256 + low) - (kind & 1 ? 32768 : 0)) *
           pow(10, (int)(kind / 2 % 16) - 8);
}

static void take_text(cursor *c, char *out, size_t cap)
{
    size_t n = take_byte(c);
    const size_t left = (size_t)(c->end - c->at);
    if (n > left) n = left;
    const size_t kept = n < cap - 1 ? n : cap - 1;
    memcpy(out, c->at, kept);
    memset(out + kept, 0, cap - kept);
    c->at += n;
}

static void take_member(cursor *c, const bt_column *column, char *row)
{
    char *member = row + column->offset;
    if (column->kind == BT_CELL_NUMBER) {
        const double x = take_number(c);
        memcpy(member, &x, sizeof x);
    } else if (column->kind == BT_CELL_TEXT) {
        take_text(c, member, column->size);
    } else if (column->kind == BT_CELL_FLAGS) {
        const uint32_t flags = take_byte(c) | take_byte(c) << 8 | take_byte(c) << 16;
        memcpy(member, &flags, sizeof flags);
    } else {
        const bt_severity severity = (bt_severity)(take_byte(c) % 3);
        memcpy(member, &severity, sizeof severity);
    }
}

static void take_rows(cursor c, rows table[BT_TABLE_COUNT])
{
    for (int t = 0; t < BT_TABLE_COUNT; t++) {
        table[t].n = 0;
        table[t].size = sizes[t];
        must(sizes[t] <= ROW_BYTES);
    }
    while (c.at < c.end) {
        const bt_table_kind kind = (bt_table_kind)(take_byte(&c) % BT_TABLE_COUNT);
        rows *t = &table[kind];
        if (t->size == 0 || t->n == ROWS_MAX) continue;
        char *row = t->row + t->n * t->size;
        if (t->n > 0)
            memcpy(row, row - t->size, t->size);
        else
            bt_row_blank(kind, row);
        size_t columns;
        const bt_column *column = bt_columns(kind, &columns);
        for (unsigned changes = take_byte(&c) % MEMBERS; changes > 0; changes--)
            take_member(&c, &column[take_byte(&c) % columns], row);
        t->n++;
    }
}

static output written(bt_table_kind kind, const rows *t, const bt_style *style,
                      const char *sentence)
{
    output o = {0};
    bt_writer *w;
    must(bt_writer_new(&w, kind, style, keep, &o, NULL) == BT_OK);
    must(bt_writer_say(w, sentence, NULL) == BT_OK);
    for (size_t i = 0; i < t->n; i++) must(bt_writer_row(w, t->row + i * t->size, NULL) == BT_OK);
    must(bt_writer_end(w, NULL) == BT_OK);
    bt_writer_free(w);
    return o;
}

/* A saved sheet of runs read and written is the same to the byte. */
static void check_sheet_again(const output *o)
{
    static scratch file;
    output again = {0};
    bt_daysheet *sheet;
    scratch_fill(&file, o->p, o->n);
    must(bt_daysheet_read(&sheet, file.path, NULL, NULL) == BT_OK);
    must(bt_daysheet_write(sheet, keep, &again, NULL) == BT_OK);
    must(again.n == o->n && memcmp(again.p, o->p, o->n) == 0);
    bt_daysheet_free(sheet);
    output_free(&again);
}

/* Have all numbers fewer digits than a narrow terminal has columns? */
static bool is_tame(const rows *t, const bt_column *column, size_t columns)
{
    for (size_t i = 0; i < t->n; i++)
        for (size_t c = 0; c < columns; c++) {
            double x;
            if (column[c].kind != BT_CELL_NUMBER) continue;
            memcpy(&x, t->row + i * t->size + column[c].offset, sizeof x);
            if (fabs(x * column[c].factor) > 1e6) return false;
        }
    return true;
}

static void check_table(bt_table_kind kind, const rows *t, const bt_style *asked,
                        const char *sentence)
{
    size_t columns;
    const bt_column *column = bt_columns(kind, &columns);
    bt_style style = *asked;
    style.format = BT_FORMAT_CSV;
    output csv = written(kind, t, &style, sentence);
    check_csv(&csv, style.delimiter, column, columns);
    if (kind == BT_TABLE_RUNS) check_sheet_again(&csv);
    style.format = BT_FORMAT_JSON;
    output json = written(kind, t, &style, sentence);
    check_json(&json, columns);
    style.format = BT_FORMAT_TEXT;
    output text = written(kind, t, &style, sentence);
    check_lines(&text, is_tame(t, column, columns) ? (size_t)style.width : SIZE_MAX);
    output_free(&csv);
    output_free(&json);
    output_free(&text);
}

static void check_pictures(const rows *table, const bt_sketch *sketch, const char *name)
{
    output o = {0};
    if (bt_svg_zones((const bt_zone *)table[BT_TABLE_ZONES].row, table[BT_TABLE_ZONES].n, keep, &o,
                     NULL) == BT_OK)
        check_markup(&o);
    output_free(&o);
    if (bt_svg_drift((const bt_drift *)table[BT_TABLE_DRIFT].row, table[BT_TABLE_DRIFT].n, keep, &o,
                     NULL) == BT_OK)
        check_markup(&o);
    output_free(&o);
    if (bt_svg_trace(sketch, name, keep, &o, NULL) == BT_OK) check_markup(&o);
    output_free(&o);
}

/* The rows as results of two logs, the second without samples. */
static void check_page(rows *table, const bt_car *car, const char *title)
{
    char note[256];
    char *notes[] = {note};
    snprintf(note, sizeof note, "%s", title);
    bt_result r[2] = {{.zones = (bt_zone *)table[BT_TABLE_ZONES].row,
                       .n_zones = table[BT_TABLE_ZONES].n,
                       .events = (bt_event *)table[BT_TABLE_EVENTS].row,
                       .n_events = table[BT_TABLE_EVENTS].n,
                       .notes = notes,
                       .n_notes = 1}};
    for (size_t i = 0; i < 2; i++) {
        bt_row_blank(BT_TABLE_RUNS, &r[i].run);
        if (i < table[BT_TABLE_RUNS].n) r[i].run = ((bt_run *)table[BT_TABLE_RUNS].row)[i];
    }
    bt_sketch *sketch;
    must(bt_sketch_new(&sketch, car, NULL) == BT_OK);
    const bt_trace *sample = (const bt_trace *)table[BT_TABLE_TRACE].row;
    for (size_t i = 0; i < table[BT_TABLE_TRACE].n; i++)
        if (isfinite(sample[i].t) && (i == 0 || sample[i].t > sample[i - 1].t))
            must(bt_sketch_take(sketch, &sample[i], NULL) == BT_OK);
    must(bt_sketch_end(sketch, NULL) == BT_OK);

    output o = {0};
    bt_report *report;
    bt_error err = {0};
    const bt_bypass_options bypass = {0};
    const bt_report_options options = {.car = car,
                                       .car_name = title,
                                       .map_name = title,
                                       .title = *title ? title : NULL,
                                       .bypass = &bypass};
    must(bt_report_new(&report, &options, &err) == BT_OK);
    must(bt_report_add(report, &r[0], sketch, &err) == BT_OK);
    must(bt_report_add(report, &r[1], NULL, &err) == BT_OK);
    must(bt_report_write(report, keep, &o, &err) == BT_OK);
    check_markup(&o);
    bt_report_free(report);
    output_free(&o);
    check_pictures(table, sketch, title);
    bt_sketch_free(sketch);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    static rows table[BT_TABLE_COUNT];
    static bt_car *car;
    if (n == 0) return 0;
    if (!car) car = full_car();
    cursor c = {data, data + n};
    char title[100];
    const unsigned form = take_byte(&c);
    take_text(&c, title, sizeof title);
    take_rows(c, table);
    const char delimiter = ",;\t;"[form & 3];
    const bt_style style = {.delimiter = delimiter,
                            .decimal_comma = delimiter != ',' && form & 4,
                            .bom = false,
                            .width = 20 + (int)(form >> 4) * 12};
    for (int kind = 0; kind < BT_TABLE_COUNT; kind++)
        if (table[kind].n > 0) check_table((bt_table_kind)kind, &table[kind], &style, title);
    if (form & 8) check_page(table, form & 4 ? car : NULL, title);
    return 0;
}
