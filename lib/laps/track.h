/* One track: the places on it and which place a zone belongs to.  METHODS 10; places.c sorts
 * runs into tracks. */
#ifndef BT_TRACK_H
#define BT_TRACK_H

#include "laps/spots.h"
#include "laps/succession.h"

/* What tells places apart. */
typedef enum {
    BT_BY_WAY,    /* way along the lap */
    BT_BY_STOPS,  /* entry and exit speed of straight-line stops */
    BT_BY_GROUND, /* coordinates */
    BT_BY_ORDER   /* the sequence of zones */
} bt_track_kind;

typedef struct {
    bt_track_kind kind;
    size_t places;
    bt_spot *spot; /* in track order; NULL with BT_BY_ORDER */
    /* Means at each spot, NULL until known: m/s, m/s; m, start_dist and length of the zones. */
    double *entry, *exit, *start, *length;
    double shrink;    /* BT_BY_GROUND: cosine of the latitude */
    bt_lap_form form; /* BT_BY_ORDER, and BT_BY_GROUND where the way is known */
} bt_track;

/* The way in which the places of a run can be found. */
bt_track_kind bt_track_kind_of(bt_track_run run);

/* Find the places that these runs have in common; places = 0 if there are none.  BT_BY_ORDER starts from the
 * first run, which should be the longest.  *track needs bt_track_free in any case. */
bt_status bt_track_find(bt_track *track, bt_track_kind kind, const bt_track_run *run, size_t runs,
                        bt_error *err) BT_MUST_USE;

/* The place of each zone of a run, 0.. in track order, or BT_NO_PLACE.  lap[i] counts laps from 1 as the
 * places come round (repetitions for stops).  *share = the part of the zones that fit. */
bt_status bt_track_fit(const bt_track *track, bt_track_run run, size_t *place, double *lap,
                       double *share, bt_error *err) BT_MUST_USE;

void bt_track_free(bt_track *track);

#endif
