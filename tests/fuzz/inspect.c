/* Fuzz target: any bytes as a log to look into.
 *
 * The first byte chooses what is known beside it.  Its columns are told in order and within their ranges; the
 * draft made of them is a channel map, and the log can be looked into with it. */
#include <math.h>

#include "output.h"

static void check_line(const char *text)
{
    const size_t n = strlen(text);
    must(bt_utf8_valid(text, n, false) == n);
    for (size_t i = 0; i < n; i++) must((unsigned char)text[i] >= ' ');
}

static void check_columns(const bt_inspection *in)
{
    for (size_t i = 0; i < in->n_columns; i++) {
        const bt_inspect_column *c = &in->columns[i];
        must(!(c->column != (double)(i + 1)));
        must(!(c->sure < 0) && !(c->sure > 1) && !(c->blanks < 0) && !(c->blanks > 1));
        must(!(c->bad < 0) && !(c->rate < 0) && !(c->min > c->max));
        must(isnan(c->min) == isnan(c->max));
        must(bt_utf8_valid(c->remark, strlen(c->remark), false) == strlen(c->remark));
    }
    for (size_t i = 0; i < in->n_notes; i++) check_line(in->notes[i]);
    for (size_t i = 0; i < in->n_allowed; i++) check_line(in->allowed[i]);
}

static void check_draft(const bt_inspection *in, const char *path, bt_setup setup)
{
    output draft = {0};
    bt_map *map = NULL;
    bt_error err = {0};
    must(bt_inspect_draft(in, keep, &draft, NULL) == BT_OK);
    check_utf8(&draft);
    must_explain(bt_map_memory(&map, "draft", draft.p, draft.n, &err), &err);
    must(map || in->n_columns == 0);
    output_free(&draft);
    if (!map) return;
    bt_inspection with;
    setup.map = map;
    must_explain(bt_inspect(path, &setup, &with, &err), &err);
    check_columns(&with);
    bt_inspection_clear(&with);
    bt_map_free(map);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    static scratch file;
    static bt_car *car;
    if (n == 0) return 0;
    if (!car) car = full_car();
    scratch_fill(&file, data + 1, n - 1);
    const bt_setup setup = {.car = data[0] & 1 ? NULL : car,
                            .rate = data[0] & 2 ? 50 : 0,
                            .layout = (bt_layout)((data[0] >> 2 & 3) % 3),
                            .threads = 1};
    bt_inspection in;
    bt_error err = {0};
    const bt_status status = bt_inspect(file.path, &setup, &in, &err);
    must_explain(status, &err);
    check_columns(&in);
    if (status == BT_OK) check_draft(&in, file.path, setup);
    bt_inspection_clear(&in);
    return 0;
}
