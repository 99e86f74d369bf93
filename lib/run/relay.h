/* A relay: the stage that hands blocks over to another thread, on which the stages behind it run.
 * Order and contents are those of a direct call, so it changes no answer. */
#ifndef BT_RELAY_H
#define BT_RELAY_H

#include "samples/samples.h"

/* Stages from `next` (not owned) on run on a thread of their own from now until bt_relay_finish. */
bt_status bt_relay_new(bt_stage **out, bt_stage *next, bt_error *err) BT_MUST_USE;

/* Wait until everything handed over is done with and the thread has ended.  The error of the stages
 * behind, if there was one: it belongs before any that came up later in front of the relay.  Push
 * and end stop with that status before, but leave the telling to this. */
bt_status bt_relay_finish(bt_stage *relay, bt_error *err) BT_MUST_USE;

/* Finishes first if that was not done. */
void bt_relay_free(bt_stage *relay);

#endif
