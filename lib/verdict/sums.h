/* The CUSUM each way that evidence feeds (METHODS 8): Page's test, a sum that falls no lower than zero
 * and means something once it passes a threshold; it began where it last left zero. */
#ifndef BT_SUMS_H
#define BT_SUMS_H

#include "verdict/evidence.h"

#define BT_SUMS_THRESHOLD 40.0 /* nats: five steps of 20 ms where only one hypothesis is possible */
#define BT_SUMS_TOLD      10.0 /* nats: less is no evidence of anything */

typedef struct {
    double sum, since; /* nats; s, when it last left zero */
} bt_sum;
/* Of a sample at time t; a sum stops at a ceiling of 80, lest a long chance outweigh what follows. */
void bt_sum_add(bt_sum *s, double t, double evidence);

typedef struct {
    bt_sum up[BT_BY_COUNT]; /* bypass against each variant of by-wire */
    bt_sum down;            /* by-wire against bypass */
    double wired;           /* s, when `down` last rose to BT_SUMS_TOLD or more; -INFINITY: never */
} bt_sums;

void bt_sums_init(bt_sums *s);
/* Sample i of the evidence, at time t. */
void bt_sums_add(bt_sums *s, const bt_evidence *e, double t, size_t i);
/* Has the bypass beaten every variant of by-wire, or by-wire the bypass? */
bool bt_sums_bypass(const bt_sums *s, const bt_evidence *e);
bool bt_sums_wire(const bt_sums *s);
/* Does it speak for the bypass so far, if not by enough? */
bool bt_sums_leans(const bt_sums *s, const bt_evidence *e);
/* When the bypass began to: the first variant to be left for good counts, since a second one may fit a
 * bypass by chance; but not before by-wire last had evidence, since a variant may be wrong all along. */
double bt_sums_since(const bt_sums *s, const bt_evidence *e);

/* Does the bypass, found at sample i, hold for the rest of the zone, or until by-wire is clearly back?
 * A line that comes by the bypass's pressure by chance (it stalled, its sensor is stuck, the motor's
 * part is missing) leaves it at the latest when the pedal is released.  EARLY = too near to the zone's
 * end to be sure. */
typedef enum { BT_CHANCE, BT_EARLY, BT_SURE } bt_confidence;
bt_confidence bt_sums_confirm(const bt_sums *s, const bt_evidence *e, const double *t, size_t i);

#endif
