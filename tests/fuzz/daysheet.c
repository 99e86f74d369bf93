/* Fuzz target: any bytes as a saved day sheet that is added to.
 *
 * What is read and written again stays as it is from then on; a row that is put is found again under its
 * name, once, and the others keep their cells. */
#include <math.h>

#include "output.h"

static bt_daysheet *read_again(const output *o, bt_error *err)
{
    static scratch file;
    bt_daysheet *sheet;
    scratch_fill(&file, o->p, o->n);
    must_explain(bt_daysheet_read(&sheet, file.path, NULL, err), err);
    return sheet;
}

static output written(const bt_daysheet *sheet)
{
    output o = {0};
    must(bt_daysheet_write(sheet, keep, &o, NULL) == BT_OK);
    return o;
}

static size_t count(const bt_daysheet *sheet, const char *run)
{
    size_t n, found = 0;
    const bt_run *row = bt_daysheet_rows(sheet, &n);
    for (size_t i = 0; i < n; i++) found += strcmp(row[i].run, run) == 0;
    return found;
}

static void check_put(bt_daysheet *sheet, const char *name)
{
    bt_run run, day;
    bt_error err = {0};
    size_t n;
    const size_t before = count(sheet, name);
    bt_row_blank(BT_TABLE_RUNS, &run);
    snprintf(run.run, sizeof run.run, "%s", name);
    snprintf(run.status, sizeof run.status, "ok");
    run.zones = 3;
    run.duration = 12.5;
    must(bt_daysheet_put(sheet, &run, &err) == BT_OK);
    must(bt_daysheet_put(sheet, &run, &err) == BT_OK);
    must(count(sheet, name) >= 1 && count(sheet, name) <= before + 1);
    const bt_run *rows = bt_daysheet_rows(sheet, &n);
    bt_day_row(rows, n, &day);
    must(bt_daysheet_put(sheet, &day, &err) == BT_OK);
    output with = written(sheet);
    bt_daysheet *again = read_again(&with, &err);
    must(again);
    must(count(again, name) == count(sheet, name));
    size_t m;
    rows = bt_daysheet_rows(again, &m);
    (void)bt_daysheet_rows(sheet, &n);
    must(m == n);
    output same = written(again);
    must(same.n == with.n && memcmp(same.p, with.p, same.n) == 0);
    bt_daysheet_free(again);
    output_free(&with);
    output_free(&same);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    static scratch file;
    bt_daysheet *sheet;
    bt_error err = {0};
    scratch_fill(&file, data, n);
    must_explain(bt_daysheet_read(&sheet, file.path, NULL, &err), &err);
    must((err.status == BT_OK) == (sheet != NULL));
    if (!sheet) return 0;

    output once = written(sheet);
    bt_daysheet *again = read_again(&once, &err);
    must(again);
    output twice = written(again);
    must(once.n == twice.n && memcmp(once.p, twice.p, once.n) == 0);
    bt_daysheet_free(again);
    output_free(&once);
    output_free(&twice);
    check_put(sheet, "run1");
    check_put(sheet, "another, with \"all\" that is in names");
    bt_daysheet_free(sheet);
    return 0;
}
