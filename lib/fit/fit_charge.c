/* Which zones a fit may read, and who was in charge in them: see fitter.h. */
#include "fit/fitter.h"

#include <string.h>

#define FLAGGED_MIN 3     /* zones in fallback by the flag: enough to ask it */
#define MOTOR_PART  0.02  /* of all torque: less is no braking motor */
#define WHOLE       0.999 /* of a zone's time, short of what rounding takes */

/* A zone's doubts that keep it out. */
#define DOUBTS                                                                                     \
    (BT_FLAG_CUT_START | BT_FLAG_CUT_END | BT_FLAG_NO_ZERO | BT_FLAG_ZERO_OFFSET | BT_FLAG_DRAG |  \
     BT_FLAG_SPEED_UNSURE | BT_FLAG_MOTOR_SPEED | BT_FLAG_SENSOR_STUCK | BT_FLAG_SENSOR_RANGE |    \
     BT_FLAG_SENSOR_GAP)

bool bt_fit_usable(const bt_zone *zone)
{
    return !(zone->flags & DOUBTS) && !(zone->lock > 0) && zone->hold_time > 0;
}

static bool motor_brakes(const bt_zone *z)
{
    return z->hold_motor > MOTOR_PART * (z->hold_motor + z->hold_rear_friction + z->hold_front);
}

bool bt_fit_mode_is(const bt_zone *z, const char *word)
{
    return strcmp(z->mode, word) == 0;
}

static bool flagged_fallback(const bt_zone *z)
{
    return z->flagged > WHOLE && (!motor_brakes(z) || bt_fit_mode_is(z, "fallback"));
}

bool bt_fitter_by_wire(const bt_fitter *f, const bt_zone *z)
{
    const bool told = bt_fit_mode_is(z, "") || bt_fit_mode_is(z, "by-wire");
    if (bt_fit_mode_is(z, "mixed") || (z->flagged > 0 && !(told && motor_brakes(z)))) return false;
    return f->motor_tells ? motor_brakes(z) : told;
}

bool bt_fitter_fallen_back(const bt_fitter *f, const bt_zone *z)
{
    return f->flag_tells ? flagged_fallback(z) : bt_fit_mode_is(z, "fallback") && !motor_brakes(z);
}

/* What can be asked: a witness that the log does not have, or hardly ever, is none. */
void bt_fitter_witnesses(bt_fitter *f)
{
    size_t braking = 0, flagged = 0;
    for (size_t i = 0; i < f->n; i++) {
        const bt_zone *z = &f->zones[i];
        if (!bt_fit_usable(z)) continue;
        braking += motor_brakes(z);
        flagged += flagged_fallback(z);
    }
    f->motor_tells = braking >= BT_FIT_ZONES_MIN;
    f->flag_tells = flagged >= FLAGGED_MIN;
}
