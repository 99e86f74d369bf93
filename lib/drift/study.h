/* Inside drift: what its files share.  drift.c makes the rows, steps.c the rows of settings and modes that
 * stepped, drift_words.c the findings. */
#ifndef BT_STUDY_H
#define BT_STUDY_H

#include "drift/breakpoint.h"
#include "drift/drift.h"
#include "drift/finding.h"

/* Who was in charge of the by-wire axle; a zone that cannot tell counts to the last that could. */
typedef enum { BT_IN_CHARGE, BT_ON_BYPASS, BT_CHANGING } bt_charge;

/* All there is to compare. */
typedef struct {
    const bt_zone *zone;
    size_t n;
    size_t *run;       /* of each zone, from 1 in order of appearance */
    bt_charge *charge; /* of each zone */
    double *minute;    /* at which its lap began braking */
    size_t runs;
    const char **run_name; /* [1..runs] */
    const char **place;    /* sorted labels */
    size_t places;
    bool motor_in_front;
    bt_against against;
    double least;
    bt_sample *sample; /* room for n */
    bt_drift *out;
    size_t n_out, cap;
} bt_study;

/* What goes into a row: run 0 and place NULL = all. */
typedef struct {
    const bt_column *figure;
    size_t run;
    const char *place;
} bt_choice;

/* What was found for a row. */
typedef struct {
    bt_trend trend;
    bt_break at;
    double break_x;
    double by[3];
    double level; /* of the figure, mean of all */
} bt_measures;

/* p below which a move is said without doubt, and as probable: then the interval of a slope leaves out 0.
 * p_line of a break that is called one and no drift. */
#define BT_SURE      0.01
#define BT_PROBABLE  0.05
#define BT_SURE_STEP 0.05

/* A lap number is a moment only in one run. */
bool bt_study_has_moments(const bt_study *s, const bt_choice *c);
/* Is a step probable, and does it fit better than a slope? */
bool bt_step_found(const bt_measures *m);
/* A new row, blank but for its names; the array may move. */
bt_status bt_study_row(bt_study *s, const bt_choice *c, bt_drift **row, bt_error *err) BT_MUST_USE;

/* "lap", "min" or "run". */
const char *bt_against_word(bt_against against);
/* Write the row's finding; first_x = where its samples begin. */
void bt_drift_say(bt_drift *row, const bt_study *s, const bt_choice *c, const bt_measures *m,
                  double first_x);

/* Rows for the settings and the modes that stepped within a run, and what the figure did there. */
bt_status bt_drift_steps(bt_study *s, const bt_column *figure, bt_error *err) BT_MUST_USE;

#endif
