/* Who moves the by-wire axle's line: what the pressures of one braking zone say at each sample
 * (METHODS 8).  Two hypotheses: *by-wire*, the line is where the controller's share of the demand puts
 * it, and *bypass*, it is at bypass_ratio times the pedal pressure.
 *
 * Either predicts a pressure.  The squared distance of the line from each, over its own tolerance, is
 * clipped, and half the difference is the evidence.  A line that is far from both has left the pedal,
 * which speaks against the bypass, but is no evidence for by-wire.  By-wire is given every chance, since a false
 * alarm costs more than a late one: it may have any delay up to BT_EVIDENCE_DELAY that suits the zone
 * best, and stands in up to three variants, all of which a bypass has to beat:
 *   measured   p = (D - M) / k + p0 of the delayed demand and motor torque,
 *   requested  the same with the motor torque that was asked for (a controller that trusts it; only
 *              where line_request is not logged),
 *   commanded  p = line_request, delayed (a sheet whose demand is not the controller's). */
#ifndef BT_EVIDENCE_H
#define BT_EVIDENCE_H

#include "samples/car.h"
#include "samples/channels.h"
#include "signals/forces.h"
#include "samples/samples.h"

#define BT_EVIDENCE_DELAY 0.2 /* s, the longest that is tried */

enum { BT_BY_MEASURED, BT_BY_REQUESTED, BT_BY_COMMANDED, BT_BY_COUNT };

/* Evidence in nats per 20 ms, times the sample's own time (at most 20 ms, so that a faster log does not
 * count the same thing twice).  0 = nothing to tell them apart.  by and all: positive = bypass.
 * Arrays are owned by the struct, n long.  Start with `= {0}`. */
typedef struct {
    size_t n, cap;
    double delay;                              /* s, that suits by-wire best; NaN = no variant */
    double misfit[BT_BY_COUNT], misfit_bypass; /* mean clipped squared distance in the zone */
    double *by[BT_BY_COUNT]; /* bypass against each variant; NULL = cannot be predicted */
    double *all;             /* the least of them; NULL if there are none */
    double *wire;            /* >= 0, by-wire against bypass, of the variant that fits best */
    const double *line,
        *pedal; /* Pa, zeroed, of the by-wire axle; NaN where they stand still while the
                              * other moves (a stuck sensor); NULL = not logged; borrowed
                              * from the zone */
    double line_u, pedal_u, gain_u; /* Pa, Pa, relative: what they may be wrong by */
    double *store;
} bt_evidence;

/* From the samples of a zone and the torques made of them.  `commanded_only` = the request is known to be
 * what the line follows: it needs no gains, so the other variants are left out where it is logged.  `cut` = the zone's start is missing, so
 * that nothing is known of the pedal before its first sample (else it was released).  BT_NOMEM is the
 * only error. */
bt_status bt_evidence_make(bt_evidence *out, const bt_block *zone, const bt_torques *torques,
                           const bt_channels *channels, const bt_car *car, bool commanded_only,
                           bool cut, bt_error *err) BT_MUST_USE;
void bt_evidence_clear(bt_evidence *e);

/* The channel of the demand, pedal_rear unless the by-wire axle is the front one. */
bt_channel bt_evidence_pedal(const bt_car *car);

#endif
