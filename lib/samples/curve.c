/* Demand curves: see curve.h. */
#include "samples/curve.h"

#include "rows/sheet.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define BAR 1e5 /* Pa */

/* Into arrays that have room for the sheet's rows. */
static bt_status read_rows(const bt_sheet *sheet, double *pedal, double *torque, bt_error *err)
{
    size_t pedal_column, torque_column;
    BT_TRY(bt_sheet_need(sheet, "pedal_bar", &pedal_column, err));
    BT_TRY(bt_sheet_need(sheet, "axle_nm", &torque_column, err));
    if (sheet->rows < 2)
        return bt_at(err,
                     bt_fail(err, BT_SYNTAX,
                             "expected two or more rows of a demand curve, found %zu", sheet->rows),
                     sheet->file, sheet->header_line, 0);
    double before = -HUGE_VAL;
    for (size_t r = 0; r < sheet->rows; r++) {
        double bar;
        BT_TRY(bt_sheet_number(sheet, r, pedal_column, &bar, err));
        BT_TRY(bt_sheet_number(sheet, r, torque_column, &torque[r], err));
        if (!(bar >= 0) || !(bar > before))
            return bt_sheet_at(sheet, r, pedal_column, err,
                               bt_fail(err, BT_RANGE, "pedal_bar: expected %s %g, found '%.40s'",
                                       r > 0 ? "more than" : "at least", r > 0 ? before : 0,
                                       bt_sheet_cell(sheet, r, pedal_column)));
        if (!(torque[r] >= 0))
            return bt_sheet_at(sheet, r, torque_column, err,
                               bt_fail(err, BT_RANGE, "axle_nm: expected at least 0, found '%.40s'",
                                       bt_sheet_cell(sheet, r, torque_column)));
        pedal[r] = bar * BAR;
        before = bar;
    }
    return BT_OK;
}

/* The path as seen from the file beside it; to be freed. */
static char *path_beside(const char *path, const char *beside)
{
    const char *slash = beside && *path != '/' ? strrchr(beside, '/') : NULL;
    const size_t folder = slash ? (size_t)(slash - beside) + 1 : 0;
    const size_t length = strlen(path);
    char *joined = malloc(folder + length + 1);
    if (!joined) return NULL;
    if (folder) memcpy(joined, beside, folder);
    memcpy(joined + folder, path, length + 1);
    return joined;
}

bt_status bt_curve_read(const char *path, const char *beside, double **pedal, double **torque,
                        size_t *n, bt_error *err)
{
    *pedal = *torque = NULL;
    char *joined = path_beside(path, beside);
    if (!joined) return bt_fail(err, BT_NOMEM, "no memory for a path");
    bt_sheet sheet;
    bt_status status = bt_sheet_read(&sheet, joined, err);
    if (status == BT_OK) {
        *n = sheet.rows;
        *pedal = calloc(sheet.rows + 1, sizeof **pedal);
        *torque = calloc(sheet.rows + 1, sizeof **torque);
        status = *pedal && *torque ? read_rows(&sheet, *pedal, *torque, err)
                                   : bt_fail(err, BT_NOMEM, "no memory for a demand curve");
    }
    bt_sheet_free(&sheet);
    free(joined);
    if (status == BT_OK) return BT_OK;
    free(*pedal);
    free(*torque);
    *pedal = *torque = NULL;
    return status;
}
