/* Inside drift (METHODS 11): figures to panels, and the three forces.  bt_drift_find and
 * bt_drift_of_run are public (braketally.h). */
#ifndef BT_DRIFT_H
#define BT_DRIFT_H

#include "drift/trend.h"

/* One zone's figure with what decides against which others it is compared. */
typedef struct {
    const char *place; /* borrowed */
    size_t run;        /* 0 where runs are compared with each other */
    double setting;    /* bias_setting; NaN = not logged */
    int charge;        /* who was: a zone in fallback compares with no other */
    double x;          /* lap, minutes or number of the run */
    double value;      /* as printed */
    double part[3];    /* of the brake force: front friction, rear friction, motor; sum 1 */
    size_t column, row;
} bt_sample;

/* Samples as a panel: a column for each place, run, setting and charge, a row for each x; the median where several
 * fall into one cell.  Of more than 300 x so many in a row share a row that 300 are enough; its x is the first.  Sorts the samples and numbers them.  bt_panel_clear frees. */
bt_status bt_panel_make(bt_panel *panel, bt_sample *sample, size_t n, bt_error *err) BT_MUST_USE;
void bt_panel_clear(bt_panel *panel);

/* The slope of the balance (panel of the samples, in %) split by the three forces, by[0..2] =
 * front friction, rear friction, motor; their sum is `slope` to rounding.  With B the
 * level of its column, a zone differs from it by (1 - B) f - B r - B m, exact for any change; each of
 * the three terms has its own seasonal slope, and what the medians leave over is shared out by the squares
 * of their intervals, as in the adjustment of observations. */
bt_status bt_drift_split(const bt_panel *panel, bt_sample *sample, size_t n, double slope,
                         double by[3], bt_error *err) BT_MUST_USE;

/* Parts of the brake force in a zone, from its balance and the torques, of which those on one axle have one
 * rolling radius; NaN where one is missing. */
void bt_force_parts(const bt_zone *zone, bool motor_in_front, double part[3]);

/* On which axle does the motor brake?  Where it does, the ratio of rolling radii that follows from
 * torques and balance is near 1. */
bool bt_motor_in_front(const bt_zone *zones, size_t n);

#endif
