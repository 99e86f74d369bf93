/* Random numbers that are the same on every machine: xoshiro256++ seeded by splitmix64
 * (Blackman and Vigna 2018), normals by Box and Muller. */
#ifndef PLANT_RANDOM_H
#define PLANT_RANDOM_H

#include <stdint.h>

typedef struct {
    uint64_t s[4];
    double spare; /* second normal of the last pair */
    int has_spare;
} plant_random;

/* Streams of one seed are independent of each other. */
void plant_random_init(plant_random *r, uint64_t seed, uint64_t stream);
double plant_random_uniform(plant_random *r); /* [0, 1) */
double plant_random_normal(plant_random *r);  /* mean 0, sigma 1 */

#endif
