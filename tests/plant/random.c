/* See random.h. */
#include "random.h"

#include <math.h>

static uint64_t splitmix(uint64_t *x)
{
    uint64_t z = (*x += UINT64_C(0x9e3779b97f4a7c15));
    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    return z ^ (z >> 31);
}

static uint64_t rotl(uint64_t x, int k)
{
    return (x << k) | (x >> (64 - k));
}

void plant_random_init(plant_random *r, uint64_t seed, uint64_t stream)
{
    uint64_t x = seed;
    x = splitmix(&x) + stream * UINT64_C(0xd1342543de82ef95);
    for (int i = 0; i < 4; i++) r->s[i] = splitmix(&x);
    r->spare = 0;
    r->has_spare = 0;
}

static uint64_t next(plant_random *r)
{
    uint64_t *s = r->s;
    const uint64_t result = rotl(s[0] + s[3], 23) + s[0];
    const uint64_t t = s[1] << 17;
    s[2] ^= s[0];
    s[3] ^= s[1];
    s[1] ^= s[2];
    s[0] ^= s[3];
    s[2] ^= t;
    s[3] = rotl(s[3], 45);
    return result;
}

double plant_random_uniform(plant_random *r)
{
    return (double)(next(r) >> 11) * 0x1p-53;
}

double plant_random_normal(plant_random *r)
{
    if (r->has_spare) {
        r->has_spare = 0;
        return r->spare;
    }
    const double u = 1.0 - plant_random_uniform(r); /* (0, 1]: the logarithm stays finite */
    const double angle = 6.283185307179586 * plant_random_uniform(r);
    const double radius = sqrt(-2.0 * log(u));
    r->spare = radius * sin(angle);
    r->has_spare = 1;
    return radius * cos(angle);
}
