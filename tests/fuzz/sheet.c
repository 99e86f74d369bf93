/* Fuzz target: any bytes as a small sheet, as a car sheet, as a demand curve, and as an option --set.
 *
 * A sheet that is read has all its cells, as UTF-8, in rising lines; a car has no infinite value. */
#include "rows/sheet.h"

#include <math.h>

#include "samples/car.h"
#include "support.h"

static void check_text(const char *text)
{
    must(text && bt_utf8_valid(text, strlen(text), false) == strlen(text));
}

static void check_sheet(const bt_sheet *sheet)
{
    must(sheet->columns >= 1 && strchr(",;\t", sheet->delimiter));
    for (size_t c = 0; c < sheet->columns; c++) {
        check_text(bt_sheet_name(sheet, c));
        must(bt_sheet_find(sheet, bt_sheet_name(sheet, c)) <= c);
    }
    uint64_t line = sheet->header_line;
    for (size_t r = 0; r < sheet->rows; r++) {
        must(bt_sheet_line(sheet, r) > line);
        line = bt_sheet_line(sheet, r);
        for (size_t c = 0; c <= sheet->columns; c++) {
            bt_error err = {0};
            double x;
            check_text(bt_sheet_cell(sheet, r, c));
            const bt_status status = bt_sheet_number(sheet, r, c, &x, &err);
            must_explain(status, &err);
            if (status != BT_OK) must(err.line == line);
            if (status == BT_OK) must(!isinf(x));
        }
    }
    must(sheet->last_line >= line);
}

static void check_car(const bt_car *car)
{
    for (int q = 0; q < BT_CAR_COUNT; q++) {
        must(!isinf(car->value[q]) && !isinf(car->u[q]) && !(car->u[q] < 0));
        must(!car->given[q] || !isnan(car->value[q]));
    }
    for (size_t i = 0; i < car->curve_n; i++) {
        must(isfinite(car->curve_pedal[i]) && isfinite(car->curve_torque[i]));
        if (i > 0) must(car->curve_pedal[i] > car->curve_pedal[i - 1]);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    bt_error err = {0};
    bt_sheet sheet;
    const bt_status status = bt_sheet_memory(&sheet, "sheet.csv", data, n, &err);
    must_explain(status, &err);
    if (status == BT_OK) check_sheet(&sheet);
    bt_sheet_free(&sheet);

    static scratch file;
    bt_car *car;
    if (bt_car_new(&car, NULL) != BT_OK) return 0;
    err = (bt_error){0};
    scratch_fill(&file, data, n);
    must_explain(bt_car_read(car, file.path, &err), &err);
    check_car(car);

    char curve[64];
    snprintf(curve, sizeof curve, "demand_curve=%s", file.path);
    err = (bt_error){0};
    must_explain(bt_car_set(car, curve, &err), &err);
    check_car(car);

    char *assignment = malloc(n + 1);
    if (!assignment) abort();
    if (n > 0) memcpy(assignment, data, n);
    assignment[n] = '\0';
    err = (bt_error){0};
    must_explain(bt_car_set(car, assignment, &err), &err);
    check_car(car);
    free(assignment);
    bt_car_free(car);
    return 0;
}
