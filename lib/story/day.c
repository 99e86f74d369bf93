/* The row over all logs of a day, from rows as the day sheet has them (CONTRACT 8).  Public:
 * bt_day_row in braketally.h. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "saved/cells.h"

typedef enum { SUM, LARGEST, BY_ZONES, NOTHING } way;

/* How each number of a row is taken together; what is not here belongs to one log alone. */
static const struct {
    size_t offset;
    way how;
} rules[] = {
#define RULE(member, kind)                                                                         \
    {                                                                                              \
        offsetof(bt_run, member), kind                                                             \
    }
    RULE(duration, SUM),
    RULE(laps, SUM),
    RULE(zones, SUM),
    RULE(braking, SUM),
    RULE(decel_peak, LARGEST),
    RULE(balance, BY_ZONES),
    RULE(blend_rms, BY_ZONES),
    RULE(blend_frac, BY_ZONES),
    RULE(blend_delay, BY_ZONES),
    RULE(motor_share, BY_ZONES),
    RULE(recovered, SUM),
    RULE(fallbacks, SUM),
    RULE(fallback_time, SUM),
    RULE(silent_fallbacks, SUM),
    RULE(locks, SUM),
    RULE(disc_front, LARGEST),
    RULE(disc_rear, LARGEST),
    RULE(effort_ratio, BY_ZONES),
    RULE(events, SUM),
    RULE(stops, SUM),
    RULE(rows, SUM),
    RULE(dropped_rows, SUM),
    RULE(gaps, SUM),
    RULE(touches, SUM),
    RULE(kinetic, SUM),
    RULE(energy_front, SUM),
    RULE(energy_rear, SUM),
    RULE(energy_motor, SUM),
    RULE(tyre, SUM),
    RULE(road, SUM),
    RULE(rest, SUM),
    RULE(blend_gain, BY_ZONES),
    RULE(blend_rest, BY_ZONES),
    RULE(blend_by_delay, BY_ZONES),
    RULE(blend_by_gain, BY_ZONES),
    RULE(blend_by_rest, BY_ZONES),
#undef RULE
};

static bool counts(const bt_run *run)
{
    return strcmp(run->status, "ok") == 0 && strcmp(run->digest, BT_DAY) != 0;
}

static way way_of(const bt_column *column)
{
    for (size_t k = 0; k < sizeof rules / sizeof *rules; k++)
        if (rules[k].offset == column->offset) return rules[k].how;
    return NOTHING;
}

/* Of the figures as printed, so that rows read back give the same; NaN where no log has it. */
static double together(const bt_run *runs, size_t n, const bt_column *column)
{
    const way how = way_of(column);
    double total = NAN, weights = 0;
    for (size_t i = 0; i < n && how != NOTHING; i++) {
        const double x = bt_cell_from_printed(column, bt_cell_printed(column, &runs[i]));
        const double weight = how == BY_ZONES ? runs[i].zones : 1;
        if (!counts(&runs[i]) || isnan(x) || !(weight > 0)) continue;
        weights += weight;
        if (how == LARGEST)
            total = total > x ? total : x;
        else
            total = (isnan(total) ? 0 : total) + weight * x;
    }
    return how == BY_ZONES ? total / weights : total;
}

void bt_day_row(const bt_run *runs, size_t n, bt_run *day)
{
    size_t logs = 0, failed = 0;
    bt_row_blank(BT_TABLE_RUNS, day);
    for (size_t i = 0; i < n; i++) {
        if (strcmp(runs[i].digest, BT_DAY) == 0) continue;
        logs++;
        failed += !counts(&runs[i]);
        if (counts(&runs[i])) day->flags |= runs[i].flags;
    }
    size_t columns;
    const bt_column *column = bt_columns(BT_TABLE_RUNS, &columns);
    for (size_t k = 0; k < columns; k++) {
        if (column[k].kind != BT_CELL_NUMBER) continue;
        const double x = together(runs, n, &column[k]);
        memcpy((char *)day + column[k].offset, &x, sizeof x);
    }
    strcpy(day->run, BT_DAY);
    strcpy(day->digest, BT_DAY);
    strcpy(day->status, "ok");
    if (failed)
        snprintf(day->status, sizeof day->status, "without %zu of %zu logs, which failed", failed,
                 logs);
}
