/* When did a fallback begin? (METHODS 8)  The evidence tells that it did, and dates it to where its sum
 * left zero; that is late where by-wire and bypass are close to each other, and early where a by-wire line
 * happened to be near the bypass before.  Dated here by the change point (change.h) and by the motor, if
 * that was cut off (onset.h), with what the zones before have taught. */
#ifndef BT_DATING_H
#define BT_DATING_H

#include "verdict/bywire_flag.h"
#include "verdict/change.h"
#include "verdict/evidence.h"

typedef struct {
    double since; /* s, when the sum left zero; -INFINITY = none */
    double t;     /* s, when the line changed hands; NaN = none; */
    bool doubt;   /* no: it did so at an unknown moment since the braking before */
    double zone, lap;
} bt_moment;

/* From zone to zone.  Set up by bt_dating_init; car is borrowed. */
typedef struct {
    const bt_car *car;
    bool started; /* the wire is that of the sheet or better */
    bt_wire wire;
    bt_moment early; /* of a fallback that was found too late in its zone to be sure */
    bt_moment tail;  /* since when the line followed the pedal in the last release */
} bt_dating;
void bt_dating_init(bt_dating *d, const bt_car *car);

/* A zone as the fallback sees it; all borrowed. */
typedef struct {
    const bt_block *s;
    const bt_torques *torques;
    const bt_evidence *evidence; /* all != NULL */
    const bt_bywire_flag *flag;
    double zone, lap;
} bt_dated;

/* Of a fallback whose sum left zero at `since` and which was found at sample i. */
bt_moment bt_dating_moment(bt_dating *d, const bt_dated *zone, double since, size_t i);
/* The zone is over without a fallback.  It leans to one whose sum left zero at `since`, NaN = it does not. */
void bt_dating_keep(bt_dating *d, const bt_dated *zone, double since);
/* The by-wire was in charge in all of the zone. */
void bt_dating_learn(bt_dating *d, const bt_dated *zone);

#endif
