/* What an unknown column could be, by what its words and its unit mean: knowledge of the trade and of a
 * few languages, no names of anybody's system.  For `inspect --draft` only: a proposal is offered to the
 * user, never taken by itself. */
#ifndef BT_PROPOSE_H
#define BT_PROPOSE_H

#include "braketally.h"

/* From here on a proposal may stand in a draft map ready for use; below, put out of use. */
#define BT_SURE_ENOUGH 0.7

typedef struct {
    const char *channel; /* name, "time" included; "" = no idea */
    double sure;         /* 0..1, by judgement: 0.9 hardly anything else, 0.5 as well another */
    const char *unit;    /* label of the unit understood or assumed; "" = none */
    const char *doubt;   /* what the user should look at; "" = nothing */
} bt_proposal;

/* Name without its unit, and the unit, UTF-8; either may be "".  The texts of the proposal live for
 * ever. */
bt_proposal bt_propose(const char *name, const char *unit);

#endif
