/* The lap found in nothing but the sequence of braking zones (METHODS 10): its length is the way
 * after which the run is most like itself, and each zone's place in it comes from
 * aligning the run with that lap repeated without end.  A brake left out or put in costs a
 * gap there and shifts nothing behind it. */
#ifndef BT_ALIGN_H
#define BT_ALIGN_H

#include "braketally.h"

/* A braking zone as the alignment sees it.  Its end is where it is: the corner sets that, while the start
 * moves by 100 m where the car arrives faster or slower. */
typedef struct {
    double at;          /* m, way to its end since the run began, rising; in a lap: from place 0 */
    double length;      /* m, from its start to its end */
    double entry, exit; /* m/s */
} bt_brake;

/* A lap: the brakes in it in their order, place[0].at = 0.  n = 0: none found. */
typedef struct {
    bt_brake *place; /* owned */
    size_t n, cap;
    double length; /* m, to the same place one lap later */
} bt_lap_form;

/* One run, borrowed; no NaN in its brakes. */
typedef struct {
    const bt_brake *brake;
    size_t n;
} bt_brakes;

#define BT_NO_PLACE ((size_t)-1)

/* How brakes at one place differ from lap to lap, standard deviations: entry speed; exit speed, which the corner
 * sets; the way between two release points, and the part of it that lines and rolling radii add. */
#define BT_ENTRY_SIGMA 3.0  /* m/s */
#define BT_EXIT_SIGMA  2.0  /* m/s */
#define BT_WAY_SIGMA   15.0 /* m */
#define BT_WAY_PART    0.01

/* How unlike two brakes are by their speeds, in half squared standard deviations. */
double bt_brakes_unlike(const bt_brake *a, const bt_brake *b);

/* The smallest way after which the run is nearly as like itself as after any; NaN if it never comes round.
 * `ways`: room for run.n. */
double bt_lap_length(bt_brakes run, double *ways);

/* The lap of one run; form->n = 0 with BT_OK if it never comes round.  *form needs
 * bt_lap_form_free in any case. */
bt_status bt_lap_form_find(bt_lap_form *form, bt_brakes run, bt_error *err) BT_MUST_USE;

/* Align a run: place[i] counts on from lap to lap, so that place[i] % form->n is the place and
 * place[i] / form->n the lap since the first zone; BT_NO_PLACE where a zone is no place's.  *share =
 * the part of the zones that have a place, weighed down by places passed by; *cost = what does not fit, in half
 * squared standard deviations. */
bt_status bt_lap_form_align(const bt_lap_form *form, bt_brakes run, size_t *place, double *share,
                            double *cost, bt_error *err) BT_MUST_USE;

/* The way from place j on to the place `steps` behind it, end to end. */
double bt_lap_form_way_on(const bt_lap_form *form, size_t j, size_t steps);

/* Make the form the middle of all these runs: medians of speeds and ways; places that
 * fewer than BT_PLACE_LEAST of the laps have go, such that as many have come. */
#define BT_PLACE_LEAST 0.4
bt_status bt_lap_form_refine(bt_lap_form *form, const bt_brakes *run, size_t runs,
                             bt_error *err) BT_MUST_USE;

/* Let the lap begin with place `first`. */
void bt_lap_form_turn(bt_lap_form *form, size_t first);

bt_status bt_lap_form_copy(bt_lap_form *to, const bt_lap_form *from, bt_error *err) BT_MUST_USE;
void bt_lap_form_free(bt_lap_form *form);

#endif
