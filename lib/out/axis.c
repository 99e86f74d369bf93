/* Round axes: see axis.h. */
#include "out/axis.h"

#include <math.h>

#define SLACK    1e-9  /* of a step: a tick that the range ends on belongs to it */
#define FARTHEST 1e300 /* a range between two of them still has a width */

void bt_range_add(bt_range *range, double x)
{
    if (!(fabs(x) <= FARTHEST)) return;
    if (!(range->low <= x)) range->low = x;
    if (!(range->high >= x)) range->high = x;
}

void bt_range_cover(bt_range *range, const double *x, size_t n)
{
    for (size_t i = 0; i < n; i++) bt_range_add(range, x[i]);
}

/* The smallest of 1, 2, 5 times a power of ten that is not below x, to rounding. */
static double round_step(double x, int *power)
{
    *power = (int)floor(log10(x) + SLACK);
    const double unit = pow(10, *power), times = x / unit;
    if (times <= 1 + SLACK) return unit;
    if (times <= 2 + SLACK) return 2 * unit;
    if (times <= 5 + SLACK) return 5 * unit;
    ++*power;
    return 10 * unit;
}

static bt_axis axis_with(bt_range range, double step, int power, bool widen)
{
    bt_axis axis = {range.low, range.high, step, power < 0 ? -power : 0};
    if (widen) {
        axis.low = floor(range.low / step + SLACK) * step;
        axis.high = ceil(range.high / step - SLACK) * step;
    }
    return axis;
}

/* Never empty, never of no width. */
static bt_range broad(bt_range range, double least)
{
    if (!(range.low <= range.high)) return (bt_range){0, 1};
    const double floor_width = fmax(least, 1e-9 * fmax(fabs(range.low), fabs(range.high)));
    if (range.high - range.low > floor_width) return range;
    const double half = least > 0 ? least : fmax(0.05 * fabs(range.low), 0.5e-3);
    return (bt_range){range.low - half, range.high + half};
}

bt_axis bt_axis_over(bt_range range, int want, bool widen)
{
    const bt_range r = broad(range, 0);
    int power;
    const double step = round_step((r.high - r.low) / want, &power);
    return axis_with(r, step, power, widen);
}

bt_axis bt_axis_count(bt_range range, int want)
{
    const bt_range r = broad(range, 0.5);
    int power;
    double step = round_step((r.high - r.low) / want, &power);
    if (step < 1) {
        step = 1;
        power = 0;
    }
    return axis_with(r, step, power, false);
}

size_t bt_axis_ticks(const bt_axis *axis, double ticks[BT_AXIS_TICKS])
{
    const double first = ceil(axis->low / axis->step - SLACK);
    const double last = floor(axis->high / axis->step + SLACK);
    size_t n = 0;
    for (double k = first; k <= last && n < BT_AXIS_TICKS; k++) ticks[n++] = k * axis->step;
    return n;
}
