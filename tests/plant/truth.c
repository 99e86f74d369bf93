/* See truth.h.  One table of columns gives header and rows. */
#include "truth.h"
#include "text.h"

#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>

struct plant_truth_files {
    text *zones, *events;
};

/* written = member * scale; whole numbers have scale 0 */
static const struct {
    const char *name;
    size_t member;
    double scale;
    int decimals;
} columns[] = {
#define WHOLE(name, member)                                                                        \
    {                                                                                              \
        name, offsetof(plant_zone, member), 0, 0                                                   \
    }
#define REAL(name, member, scale, decimals)                                                        \
    {                                                                                              \
        name, offsetof(plant_zone, member), scale, decimals                                        \
    }
    WHOLE("zone", zone),
    WHOLE("lap", lap),
    WHOLE("corner", corner),
    REAL("start_s", start, 1, 4),
    REAL("end_s", end, 1, 4),
    REAL("start_m", start_m, 1, 3),
    REAL("distance_m", distance, 1, 3),
    REAL("entry_mps", entry, 1, 4),
    REAL("exit_mps", exit, 1, 4),
    REAL("decel_mean_mps2", decel_mean, 1, 4),
    REAL("decel_dist_mps2", decel_dist, 1, 4),
    REAL("mfdd_mps2", mfdd, 1, 4),
    REAL("decel_peak_mps2", decel_peak, 1, 4),
    REAL("decel_peak200_mps2", decel_peak200, 1, 4),
    REAL("pedal_peak_bar", pedal_peak_bar, 1, 3),
    REAL("pedal_mean_bar", pedal_mean_bar, 1, 3),
    REAL("front_nm", front_nm, 1, 2),
    REAL("rear_friction_nm", rear_friction_nm, 1, 2),
    REAL("motor_nm", motor_nm, 1, 2),
    REAL("demand_nm", demand_nm, 1, 2),
    REAL("balance_pct", balance_pct, 1, 4),
    REAL("balance_hyd_pct", balance_hyd_pct, 1, 4),
    REAL("motor_share_pct", motor_share_pct, 1, 3),
    REAL("blend_mean_nm", blend_mean_nm, 1, 2),
    REAL("blend_rms_nm", blend_rms_nm, 1, 2),
    REAL("blend_peak_nm", blend_peak_nm, 1, 2),
    REAL("blend_abs_pct", blend_abs_pct, 1, 3),
    REAL("energy_front_kj", energy_front, 1e-3, 4),
    REAL("energy_rear_kj", energy_rear, 1e-3, 4),
    REAL("energy_motor_kj", energy_motor, 1e-3, 4),
    REAL("recovered_kj", recovered, 1e-3, 4),
    REAL("slip_front_pct", slip_front, 100, 3),
    REAL("slip_rear_pct", slip_rear, 100, 3),
    REAL("lock_s", lock_s, 1, 3),
    REAL("disc_front_c", disc_front, 1, 2),
    REAL("disc_rear_c", disc_rear, 1, 2),
    REAL("fallback_s", fallback_s, 1, 3),
    REAL("dead_time_s", dead_time, 1, 4),
    REAL("lag_s", lag, 1, 4),
    REAL("gain", gain, 1, 4),
    REAL("bias_pct", bias, 100, 2),
    REAL("motor_limit", motor_limit, 1, 4),
    REAL("balance_sheet_pct", balance_sheet_pct, 1, 4),
    REAL("effort_ratio", effort_ratio, 1, 5),
#undef WHOLE
#undef REAL
};

static text *open_table(const char *base, const char *suffix)
{
    char path[1024];
    const int n = snprintf(path, sizeof path, "%s%s", base, suffix);
    return n > 0 && (size_t)n < sizeof path ? text_open(path) : NULL;
}

plant_truth_files *plant_truth_open(const char *base)
{
    plant_truth_files *f = calloc(1, sizeof *f);
    if (!f) return NULL;
    f->zones = open_table(base, ".truth.csv");
    f->events = open_table(base, ".events.csv");
    if (!f->zones || !f->events) {
        plant_truth_close(f);
        return NULL;
    }
    for (size_t i = 0; i < sizeof columns / sizeof columns[0]; i++) {
        text_put(f->zones, columns[i].name);
        text_char(f->zones, ',');
    }
    text_put(f->zones, "mode\n");
    text_put(f->events, "kind,start_s,end_s,flagged,flag_start_s,lap,corner,wheel,value\n");
    return f;
}

void plant_truth_zone(plant_truth_files *f, const plant_zone *zone)
{
    for (size_t i = 0; i < sizeof columns / sizeof columns[0]; i++) {
        const char *member = (const char *)zone + columns[i].member;
        if (columns[i].scale > 0)
            text_number(f->zones, *(const double *)(const void *)member * columns[i].scale,
                        columns[i].decimals, '.');
        else
            text_number(f->zones, *(const int *)(const void *)member, 0, '.');
        text_char(f->zones, ',');
    }
    text_put(f->zones, zone->mode);
    text_char(f->zones, '\n');
}

void plant_truth_event(plant_truth_files *f, const plant_event *event)
{
    static const char *const wheels[] = {"fl", "fr", "rl", "rr"};
    text *t = f->events;
    text_put(t, event->kind);
    text_char(t, ',');
    text_number(t, event->start, 3, '.');
    text_char(t, ',');
    text_number(t, event->end, 3, '.');
    text_put(t, event->flagged ? ",1," : ",0,");
    text_number(t, event->flag_start, 3, '.');
    text_char(t, ',');
    text_number(t, event->lap, 0, '.');
    text_char(t, ',');
    text_number(t, event->corner, 0, '.');
    text_char(t, ',');
    if (event->wheel >= 0) text_put(t, wheels[event->wheel]);
    text_char(t, ',');
    text_number(t, event->value, 4, '.');
    text_char(t, '\n');
}

int plant_truth_close(plant_truth_files *f)
{
    int status = 0;
    if (f->zones && text_close(f->zones) != 0) status = -1;
    if (f->events && text_close(f->events) != 0) status = -1;
    free(f);
    return status;
}
