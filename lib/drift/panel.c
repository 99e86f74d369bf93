/* From zones to panels, and which force moved the balance: see drift.h. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "drift/drift.h"
#include "base/error.h"
#include "base/stats.h"

/* ---- panels ---- */

static int order(double a, double b)
{
    if (isnan(a) || isnan(b)) return isnan(b) - isnan(a);
    return (a > b) - (a < b);
}

static int by_column(const bt_sample *p, const bt_sample *q)
{
    const int place = strcmp(p->place, q->place);
    if (place) return place;
    if (p->run != q->run) return p->run < q->run ? -1 : 1;
    if (p->charge != q->charge) return p->charge < q->charge ? -1 : 1;
    return order(p->setting, q->setting);
}

static int column_first(const void *a, const void *b)
{
    const bt_sample *p = a, *q = b;
    int c = by_column(p, q);
    if (!c) c = order(p->x, q->x);
    return c ? c : order(p->value, q->value); /* so that the order of equal ones plays no part */
}

static int x_first(const void *a, const void *b)
{
    return order(*(const double *)a, *(const double *)b);
}

static size_t row_of(const double *x, size_t n, double wanted)
{
    size_t low = 0, high = n - 1;
    while (low < high) {
        const size_t mid = low + (high - low) / 2;
        if (x[mid] < wanted)
            low = mid + 1;
        else
            high = mid;
    }
    return low;
}

/* Different x in rising order; returns how many. */
static size_t rows_of(const bt_sample *sample, size_t n, double *x)
{
    size_t rows = 0;
    for (size_t i = 0; i < n; i++) x[i] = sample[i].x;
    qsort(x, n, sizeof *x, x_first);
    for (size_t i = 0; i < n; i++)
        if (rows == 0 || x[i] > x[rows - 1]) x[rows++] = x[i];
    return rows;
}

/* Every lap is compared with every other, at each place: in the hundreds of laps of a day that takes memory
 * and time by their square, and tells no more than their medians, some in a row taken together. */
enum { ROWS_MAX = 300 };

static size_t taken_together(size_t rows)
{
    return (rows + ROWS_MAX - 1) / ROWS_MAX;
}

/* The first x of each `together`; returns how many. */
static size_t thin(double *x, size_t rows, size_t together)
{
    size_t n = 0;
    for (size_t i = 0; i < rows; i += together) x[n++] = x[i];
    return n;
}

static void fill_cells(const bt_panel *panel, double *value, const bt_sample *sample, size_t n,
                       double *scratch)
{
    for (size_t i = 0; i < panel->laps * panel->places; i++) value[i] = NAN;
    for (size_t i = 0, next; i < n; i = next) {
        for (next = i; next < n && sample[next].column == sample[i].column &&
                       sample[next].row == sample[i].row;
             next++)
            scratch[next - i] = sample[next].value;
        value[sample[i].row * panel->places + sample[i].column] = bt_median(scratch, next - i);
    }
}

bt_status bt_panel_make(bt_panel *panel, bt_sample *sample, size_t n, bt_error *err)
{
    *panel = (bt_panel){0};
    if (n == 0) return BT_OK;
    double *x = calloc(2 * n, sizeof *x), *value = NULL;
    if (x) {
        qsort(sample, n, sizeof *sample, column_first);
        panel->x = x;
        const size_t rows = rows_of(sample, n, x), together = taken_together(rows);
        for (size_t i = 0; i < n; i++) {
            if (i > 0) panel->places += by_column(&sample[i - 1], &sample[i]) != 0;
            sample[i].column = panel->places;
            sample[i].row = row_of(x, rows, sample[i].x) / together;
        }
        panel->laps = thin(x, rows, together);
        panel->places++;
        if (panel->laps <= SIZE_MAX / panel->places)
            value = calloc(panel->laps * panel->places, sizeof *value);
    }
    if (!value) {
        free(x);
        *panel = (bt_panel){0};
        return bt_fail(err, BT_NOMEM, "no memory for the figures of %zu zones", n);
    }
    fill_cells(panel, value, sample, n, x + n);
    panel->value = value;
    return BT_OK;
}

void bt_panel_clear(bt_panel *panel)
{
    free((void *)panel->x);
    free((void *)panel->value);
    *panel = (bt_panel){0};
}

/* ---- forces ---- */

void bt_force_parts(const bt_zone *zone, bool motor_in_front, double part[3])
{
    const double b = zone->balance;
    const double beside = motor_in_front ? zone->front : zone->rear_friction;
    const double share = zone->motor == 0 ? 0 : zone->motor / (zone->motor + beside);
    part[0] = motor_in_front ? b * (1 - share) : b;
    part[1] = motor_in_front ? 1 - b : (1 - b) * (1 - share);
    part[2] = (motor_in_front ? b : 1 - b) * share;
}

bool bt_motor_in_front(const bt_zone *zones, size_t n)
{
    double off_front = 0, off_rear = 0;
    for (size_t i = 0; i < n; i++) {
        const bt_zone *z = &zones[i];
        const double axles = (1 - z->balance) / z->balance;
        const double front = fabs(log(axles * (z->front + z->motor) / z->rear_friction));
        const double rear = fabs(log(axles * z->front / (z->rear_friction + z->motor)));
        if (!(fabs(z->motor) > 0) || !isfinite(front) || !isfinite(rear)) continue;
        off_front += front;
        off_rear += rear;
    }
    return off_front < off_rear;
}

/* Level of the balance in the column that starts with sample i; *next is the column behind it. */
static double level_of(const bt_sample *sample, size_t n, size_t i, double *scratch, size_t *next)
{
    size_t k = i;
    for (; k < n && sample[k].column == sample[i].column; k++) scratch[k - i] = sample[k].value;
    *next = k;
    return bt_median(scratch, k - i) / 100;
}

/* Slope and width of the interval of term k alone, in %. */
static bt_status term_slope(const bt_panel *panel, const bt_sample *sample, bt_sample *term,
                            size_t n, size_t k, double *slope, double *width, bt_error *err)
{
    double *value = calloc(panel->laps * panel->places + 1, sizeof *value);
    double *scratch = calloc(n + 1, sizeof *scratch);
    if (!value || !scratch) {
        free(value);
        free(scratch);
        return bt_fail(err, BT_NOMEM, "no memory for %zu zones", n);
    }
    for (size_t i = 0, next; i < n; i = next) {
        const double level = level_of(sample, n, i, scratch, &next);
        for (size_t m = i; m < next; m++) {
            term[m] = sample[m];
            term[m].value = 100 * sample[m].part[k] * (k == 0 ? 1 - level : -level);
        }
    }
    bt_trend trend = {.slope = NAN};
    fill_cells(panel, value, term, n, scratch);
    const bt_panel of_term = {panel->laps, panel->places, panel->x, value};
    const bt_status status = bt_seasonal_trend(&of_term, 0.95, &trend, err);
    *slope = trend.slope;
    *width = trend.high - trend.low;
    free(value);
    free(scratch);
    return status;
}

bt_status bt_drift_split(const bt_panel *panel, bt_sample *sample, size_t n, double slope,
                         double by[3], bt_error *err)
{
    double width[3] = {0, 0, 0}, rest = slope, weights = 0;
    by[0] = by[1] = by[2] = NAN;
    for (size_t i = 0; i < n; i++)
        if (isnan(sample[i].part[0] + sample[i].part[1] + sample[i].part[2])) return BT_OK;
    if (isnan(slope)) return BT_OK;
    bt_sample *term = calloc(n + 1, sizeof *term);
    if (!term) return bt_fail(err, BT_NOMEM, "no memory for %zu zones", n);
    bt_status status = BT_OK;
    for (size_t k = 0; k < 3 && status == BT_OK; k++) {
        status = term_slope(panel, sample, term, n, k, &by[k], &width[k], err);
        rest -= by[k];
        weights += width[k] * width[k];
    }
    free(term);
    for (size_t k = 0; k < 3 && status == BT_OK; k++)
        by[k] += rest * (weights > 0 ? width[k] * width[k] / weights : 1.0 / 3);
    return status;
}
