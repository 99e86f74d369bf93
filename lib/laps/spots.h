/* Spots: where points gather, lap after lap.  METHODS 10.  What the coordinates are is the
 * caller's: ground, way along the lap, speeds; all in one unit. */
#ifndef BT_SPOTS_H
#define BT_SPOTS_H

#include "braketally.h"

typedef struct {
    double x, y, z;
} bt_point;

typedef struct {
    bt_point at; /* mean of the points at its core */
    size_t n;    /* points that are nearer to it than to any other, within reach */
} bt_spot;

double bt_points_apart(bt_point a, bt_point b);

#define BT_NO_SPOT ((size_t)-1)

/* The densest spot first, then the densest of what is left, and so on: no number of spots to
 * be known, no chains through single points in between.  A core is the points within
 * `core` of a point; points within `reach` of a spot are its own.  The order of the points
 * plays no part.  Points with NaN are left out.  *out is the caller's to free, NULL if n = 0. */
bt_status bt_spots_find(const bt_point *point, size_t n, double core, double reach, bt_spot **out,
                        size_t *n_out, bt_error *err) BT_MUST_USE;

/* The spot nearest to a point within reach; BT_NO_SPOT if none is. */
size_t bt_spots_nearest(const bt_spot *spot, size_t n, bt_point point, double reach);

#endif
