/* What accuracy programs share: draws from a seed, and a car and its logger with all disturbances on. */
#ifndef DISTURBED_H
#define DISTURBED_H

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include "braketally.h"
#include "tests/plant/plant.h"

/* splitmix64 (Steele, Lea, Flood 2014). */
static inline uint64_t next(uint64_t *s)
{
    uint64_t z = *s += 0x9e3779b97f4a7c15u;
    z = (z ^ z >> 30) * 0xbf58476d1ce4e5b9u;
    z = (z ^ z >> 27) * 0x94d049bb133111ebu;
    return z ^ z >> 31;
}

static inline double between(uint64_t *s, double low, double high)
{
    return low + (high - low) * (double)(next(s) >> 11) / 9007199254740992.0;
}

/* 0..n-1 */
static inline int below(uint64_t *s, int n)
{
    return (int)(next(s) % (uint64_t)n);
}

static inline void must(bt_status status, const bt_error *err)
{
    if (status == BT_OK) return;
    fprintf(stderr, "%s\n", err->message);
    exit(EXIT_FAILURE);
}

/* Controller, actuator, battery, pads off by as much as the bounds are stated for, and the four pressure sensors with
 * offsets up to 1 bar and noise up to 0.25 bar. */
static inline void disturb_car(plant_config *cfg, uint64_t *seed)
{
    static const plant_channel pressures[] = {PLANT_PEDAL_FRONT, PLANT_PEDAL_REAR, PLANT_LINE_FRONT,
                                              PLANT_LINE_REAR};
    cfg->control.dead_time = between(seed, 0.01, 0.08);
    cfg->control.lag = between(seed, 0.01, 0.06);
    cfg->control.gain_error = between(seed, -0.05, 0.05);
    cfg->control.motor_estimate = between(seed, 0.95, 1.05);
    cfg->control.trusts_request = below(seed, 3) == 0;
    cfg->battery.charge = between(seed, 0.3, 0.9);
    for (int axle = 0; axle < 2; axle++) cfg->deviation.pad_mu[axle] = between(seed, 0.95, 1.05);
    for (int i = 0; i < 4; i++) {
        plant_sensor *s = &cfg->sensor[pressures[i]];
        s->offset = between(seed, -1, 1);
        s->sigma = between(seed, 0.03, 0.25);
    }
}

#endif
