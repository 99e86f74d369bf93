/* What the plots of a page need of one log's samples, gathered in one pass and in memory that does not
 * grow with the log: the course of the whole run, and the samples of the zones that are worth a picture.
 * The public part stands in braketally.h. */
#ifndef BT_SKETCH_H
#define BT_SKETCH_H

#include "samples/car.h"
#include "out/decimate.h"

/* Of the run. */
enum { BT_SKETCH_SPEED, BT_SKETCH_DISC_FRONT, BT_SKETCH_DISC_REAR, BT_SKETCH_COURSES };
/* Of a zone: the by-wire axle's torques, N*m.  Delivered is friction and motor. */
enum {
    BT_SKETCH_DEMAND,
    BT_SKETCH_FRICTION,
    BT_SKETCH_DELIVERED,
    BT_SKETCH_ERROR,
    BT_SKETCH_SERIES
};

typedef struct {
    double zone;      /* its number in the run */
    double blend;     /* root mean square of the blend error, N*m; 0 where unknown */
    bool conspicuous; /* left its by-wire mode, or a wheel slipped */
    bt_series series[BT_SKETCH_SERIES];
} bt_sketch_zone;

/* The run's course, s of the log and SI; *out is empty for NULL.  bt_series_free() frees it. */
bt_status bt_sketch_course(const bt_sketch *sketch, size_t course, bt_series *out,
                           bt_error *err) BT_MUST_USE;
/* The samples of a zone; NULL if they were not kept.  Valid as long as the sketch. */
const bt_sketch_zone *bt_sketch_find(const bt_sketch *sketch, double zone);
/* Samples that a jump back in time kept out of the course. */
size_t bt_sketch_left_out(const bt_sketch *sketch);

#endif
