/* The bypass plan (METHODS 13): a run's brakings again, with the motor gone and the by-wire axle on its
 * bypass, for a grid of front shares.  The functions are public: bt_bypass_plan and bt_plan_clear in
 * braketally.h.  Here stands what one share needs, and the words for all of them. */
#ifndef BT_BYPASS_H
#define BT_BYPASS_H

#include "plan/replay.h"

/* Both circuits as plain hydraulics: axle brake force F = gain * (ratio * pedal - threshold). */
typedef struct {
    double gain[2];      /* N/Pa, line pressure to force at the tyres; NaN = not known */
    double threshold[2]; /* Pa */
    double ratio[2];     /* line over pedal: bypass_ratio at the by-wire axle, else 1 */
} bt_circuits;
bt_circuits bt_circuits_of(const bt_car *car);
/* Part of the pedal pressures that goes to the front, for a front share at a brake force; NaN if the
 * circuits are not known. */
double bt_circuits_setting(const bt_circuits *c, double share, double force);
/* Pedal pressures, Pa, that give a brake force at a setting. */
void bt_circuits_pedals(const bt_circuits *c, double setting, double force, double pedal[2]);
/* Front share that a setting has at a brake force: thresholds make it depend on the force. */
double bt_circuits_share(const bt_circuits *c, double setting, double force);

/* The paragraph about the rows; `laps` as in the plan. */
void bt_bypass_words(bt_plan *plan, const char *run, const bt_replay *replay, const bt_car *car,
                     double laps);

#endif
