/* Which place comes after which, from the zones of all runs of a track (METHODS 10).  Places are numbers
 * 0..places-1 in any order here; track.c puts them in theirs. */
#ifndef BT_SUCCESSION_H
#define BT_SUCCESSION_H

#include "laps/align.h"

/* Where and how a zone was driven, as its saved row says: all that places are found from. */
typedef struct {
    double start;                /* s */
    double start_dist, distance; /* m */
    double entry, exit;          /* m/s */
    double lap;
    double latitude, longitude; /* deg */
} bt_where;

/* The zones of one run in their order; borrowed. */
typedef struct {
    const bt_where *zone;
    size_t n;
} bt_track_run;

/* The way to where the zone ends, see bt_brake; to its start where its length is not known. */
double bt_zone_end(const bt_where *z);

/* Matrices from * places + to. */
typedef struct {
    size_t places;
    size_t *count; /* times that `to` was the next place braked for */
    double *way;   /* m (or s where no way is known), summed over these */
    size_t *
        before; /* laps in which `from` was braked for earlier than `to`, laps from busiest to busiest */
    size_t *first;  /* times that a place was the first of a logged lap */
    size_t busiest; /* the place that most zones are at */
} bt_succession;

/* Empty; needs bt_succession_free in any case. */
bt_status bt_succession_new(bt_succession *s, size_t places, size_t busiest,
                            bt_error *err) BT_MUST_USE;
/* Add a run; place[i] modulo places is the place of zone i, BT_NO_PLACE = none. */
bt_status bt_succession_add(bt_succession *s, bt_track_run run, const size_t *place,
                            bt_error *err) BT_MUST_USE;
void bt_succession_free(bt_succession *s);

/* Where the lap begins: with the first of the logged laps, else behind the longest way without a brake. */
size_t bt_succession_first(const bt_succession *s);

/* The places in track order from bt_succession_first on, into order[0..places). */
void bt_succession_order(const bt_succession *s, size_t *order);

#endif
