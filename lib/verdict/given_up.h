/* A fallback under way: from its onset to its end, with what it does and whether the flag knows, and the
 * event that is made of it (METHODS 8). */
#ifndef BT_GIVEN_UP_H
#define BT_GIVEN_UP_H

#include "signals/forces.h"
#include "verdict/dating.h"
#include "verdict/harm.h"

/* Zeroed = none. */
typedef struct {
    bool open;
    bt_moment onset;
    size_t zones;   /* that bore it out */
    bool announced; /* as one that lasts */
    double flag_at; /* s, when the flag knew; NaN = not yet */
    bt_harm harm;
} bt_given_up;

/* Samples [from, to) of a zone are in it. */
void bt_given_up_add(bt_given_up *g, const bt_dated *zone, size_t from, size_t to);
/* Its event, as it is until `end` (s); *out is valid until the next one. */
bt_status bt_given_up_event(const bt_given_up *g, double end, const bt_harm_before *before,
                            const bt_car *car, bool flag_logged, bt_events *events, bt_event **out,
                            bt_error *err) BT_MUST_USE;
/* There is a flag, and it does not know. */
bool bt_given_up_silent(const bt_given_up *g, bool flag_logged);

#endif
