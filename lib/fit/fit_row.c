/* Rows of a fit: see fitter.h. */
#include "fit/fitter.h"

#include "base/stats.h"
#include "base/number.h"
#include "base/print.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define CONFIDENCE   0.95
#define DECIMALS_MAX 9

double bt_fit_reach(double u, double df)
{
    return u * bt_t_quantile(0.5 + CONFIDENCE / 2, df);
}

/* That show two digits of x > 0. */
static int decimals_of(double x)
{
    const double decimals = 1 - floor(log10(x));
    return !(decimals > 0) ? 0 : decimals > DECIMALS_MAX ? DECIMALS_MAX : (int)decimals;
}

/* As it is printed. */
static double rounded(double x, int decimals)
{
    char text[BT_NUMBER_MAX];
    (void)bt_number_parse(text, bt_number_format(text, sizeof text, x, decimals), '.', &x);
    return x;
}

/* What a sheet takes: nothing below 0, no share above 1.  The interval says the rest. */
static double in_bounds(const char *quantity, double value)
{
    if (*quantity == '#') return value;
    const double most = strncmp(quantity, "disc_share_", 11) == 0 ? 1 : INFINITY;
    return fmin(fmax(value, 0), most);
}

bt_status bt_fitter_put(bt_fitter *f, const char *quantity, const char *unit, double scale,
                        const bt_estimate *e, const char *given)
{
    void *array = f->out->rows;
    BT_TRY(bt_grow(&array, &f->rows_cap, f->out->n_rows + 1, sizeof *f->out->rows, "fitted rows",
                   f->err));
    f->out->rows = array;
    bt_fit *row = &f->out->rows[f->out->n_rows++];
    bt_row_blank(BT_TABLE_FIT, row);
    snprintf(row->quantity, sizeof row->quantity, "%s", quantity);
    snprintf(row->unit, sizeof row->unit, "%s", unit);
    const int decimals = decimals_of(e->u * scale);
    row->value = rounded(in_bounds(quantity, e->value) * scale, decimals);
    row->tolerance = rounded(e->u * scale, decimals);
    row->low = (e->value - e->reach) * scale;
    row->high = (e->value + e->reach) * scale;
    bt_print(row->note, sizeof row->note, "95 %%: %.*f to %.*f; from %zu zones%s%s", decimals,
             row->low, decimals, row->high, e->n, *given ? "; given " : "", given);
    return BT_OK;
}
