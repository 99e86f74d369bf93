/* Wheel slip and lock-up under braking (METHODS 8, CHECKS 12): slip = (v - omega r) / v, positive when
 * the wheel turns slower than the car rolls. */
#ifndef BT_SLIP_H
#define BT_SLIP_H

#include "samples/car.h"
#include "samples/samples.h"

typedef struct {
    double front,
        rear; /* largest of the axle's wheels while the reference exceeds 5 m/s; NaN = not logged */
    double lock;  /* s, time with any wheel beyond slip_limit, counted in pieces of 50 ms and more;
                  * NaN = no wheel logged */
    size_t locks; /* such pieces */
    double first_lock; /* s, when the first began; NaN = none */
    bt_channel wheel;  /* that locked first; BT_CH_COUNT = none */
} bt_slip;

/* Slip of one wheel over a run of samples; trim is its rolling radius over the sheet's.  NaN where a
 * value is missing or the car is slower than 1 m/s. */
void bt_slip_wheel(const double *wheel, const double *speed, size_t n, double trim, double *out);
/* Of one zone, with BT_SIG_SPEED.  A wheel whose trim is NaN (bt_speed_trim) counts as not logged.  Pieces
 * run between crossings of slip_limit, interpolated between samples, while the reference exceeds 5 m/s. */
void bt_slip_zone(const bt_block *zone, const bt_car *car, const double trim[4], bt_slip *out);

#endif
