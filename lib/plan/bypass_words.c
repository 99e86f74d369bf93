/* The bypass plan as one paragraph that can be read out: see bypass.h. */
#include "plan/bypass.h"

#include "base/print.h"

#include <math.h>
#include <stdarg.h>
#include <string.h>

#define CELSIUS 273.15
#define PERCENT 100
#define BAR     1e-5

static void add(bt_plan *plan, const char *fmt, ...) BT_PRINTF(2, 3);
static void add(bt_plan *plan, const char *fmt, ...)
{
    const size_t at = strlen(plan->summary);
    va_list args;
    va_start(args, fmt);
    bt_vprint(plan->summary + at, sizeof plan->summary - at, fmt, args);
    va_end(args);
}

/* The one to speak of: the middle of the window, else the one that lasts longest and loses least. */
static const bt_bypass *chosen(const bt_plan *plan)
{
    const bt_bypass *best = &plan->rows[0];
    if (!isnan(plan->low)) {
        const double middle = 0.5 * (plan->low + plan->high);
        for (size_t i = 0; i < plan->n_rows; i++)
            if (fabs(plan->rows[i].share - middle) < fabs(best->share - middle))
                best = &plan->rows[i];
        return best;
    }
    for (size_t i = 1; i < plan->n_rows; i++) {
        const bt_bypass *row = &plan->rows[i];
        const double lasts = isnan(row->limit_lap) ? INFINITY : row->limit_lap;
        const double best_lasts = isnan(best->limit_lap) ? INFINITY : best->limit_lap;
        if (lasts > best_lasts || (!(lasts < best_lasts) && row->decel_lost < best->decel_lost))
            best = row;
    }
    return best;
}

static void say_disc(bt_plan *plan, const char *axle, double peak, double settled, double limit)
{
    if (isnan(peak)) return;
    add(plan, " The %s discs reach %.0f °C", axle, peak - CELSIUS);
    if (settled > peak + 1) add(plan, " and would settle at %.0f °C", settled - CELSIUS);
    if (isnan(limit))
        add(plan, "; the sheet has no limit for them.");
    else
        add(plan, "; their limit is %.0f °C.", limit - CELSIUS);
}

static void say_share(bt_plan *plan, const bt_bypass *row, const bt_car *car)
{
    say_disc(plan, "front", row->disc_front, row->settled_front,
             car->value[BT_CAR_DISC_LIMIT_FRONT]);
    say_disc(plan, "rear", row->disc_rear, row->settled_rear, car->value[BT_CAR_DISC_LIMIT_REAR]);
    if (*row->locks_first)
        add(plan, " %s first: adhesion used %.2f front, %.2f rear.",
            strcmp(row->locks_first, "front") == 0  ? "The front locks"
            : strcmp(row->locks_first, "rear") == 0 ? "The rear locks"
                                                    : "Either axle may lock",
            row->adhesion_front, row->adhesion_rear);
    if (!isnan(row->pedal_front))
        add(plan,
            " The hardest braking takes %.0f bar of the front circuit and %.0f bar of the rear.",
            row->pedal_front * BAR, row->pedal_rear * BAR);
    if (row->decel_lost > 0)
        add(plan, " Grip takes away %.1f m/s2 at the hardest peak.", row->decel_lost);
}

static void say_window(bt_plan *plan, const bt_bypass *row)
{
    const bt_bypass *first = NULL, *last = NULL;
    for (size_t i = 0; i < plan->n_rows; i++) {
        if (plan->rows[i].share == plan->low) first = &plan->rows[i];
        if (plan->rows[i].share == plan->high) last = &plan->rows[i];
    }
    if (!first || !last) {
        add(plan, " No front share from %.0f to %.0f %% keeps all limits.",
            PERCENT * plan->rows[0].share, PERCENT * plan->rows[plan->n_rows - 1].share);
        add(plan, " The longest way is at %.0f %%: %s", PERCENT * row->share, row->finding);
        if (!isnan(row->limit_lap)) add(plan, ", so %.0f whole laps before it", row->limit_lap - 1);
        add(plan, ".");
        return;
    }
    const char *told = strstr(row->finding, "can be told") ? " that can be told" : "";
    if (first == last)
        add(plan, " A front share of %.0f %% keeps all limits%s", PERCENT * first->share, told);
    else
        add(plan, " Front shares from %.0f to %.0f %% keep all limits%s", PERCENT * first->share,
            PERCENT * last->share, told);
    if (!isnan(first->setting) && first == last)
        add(plan, ", which is %.1f %% of the pedal pressures at the front",
            PERCENT * first->setting);
    else if (!isnan(first->setting))
        add(plan, ", which is %.1f to %.1f %% of the pedal pressures at the front",
            PERCENT * first->setting, PERCENT * last->setting);
    add(plan, ".");
    if (first > plan->rows) add(plan, " Below that: %s.", first[-1].finding);
    if (last + 1 < plan->rows + plan->n_rows) add(plan, " Above it: %s.", last[1].finding);
    if (first != last) add(plan, " The middle is %.0f %%.", PERCENT * row->share);
}

void bt_bypass_words(bt_plan *plan, const char *run, const bt_replay *replay, const bt_car *car,
                     double laps)
{
    const bt_bypass *row = chosen(plan);
    plan->summary[0] = '\0';
    add(plan, "%.60s, motor gone and %s axle on its bypass for %.0f %s", run,
        car->bywire_axle == BT_FRONT ? "front" : "rear", laps,
        replay->lapped ? (laps > 1 ? "laps" : "lap") : "times the run");
    if (replay->lapped) add(plan, " from lap %.0f", replay->first_lap);
    add(plan, ".");
    say_window(plan, row);
    say_share(plan, row, car);
}
