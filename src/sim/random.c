/* xoshiro256** 1.0 seeded through splitmix64 (Blackman & Vigna 2018, public domain algorithms,
 * from memory; tests/unit/sim/test_plant_parts.c checks the published first outputs). */
#include "sim/parts.h"

#include <math.h>

static uint64_t rotl(uint64_t x, int k)
{
    return (x << k) | (x >> (64 - k));
}

static uint64_t splitmix(uint64_t *state)
{
    *state += 0x9e3779b97f4a7c15u;
    uint64_t z = *state;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

static uint64_t next(struct oxl_random *r)
{
    uint64_t *s = r->s;
    uint64_t result = rotl(s[1] * 5, 7) * 9;
    uint64_t t = s[1] << 17;
    s[2] ^= s[0];
    s[3] ^= s[1];
    s[1] ^= s[2];
    s[0] ^= s[3];
    s[2] ^= t;
    s[3] = rotl(s[3], 45);
    return result;
}

void oxl_random_seed(struct oxl_random *r, uint64_t seed)
{
    for (int i = 0; i < 4; i++)
        r->s[i] = splitmix(&seed);
}

double oxl_random_unit(struct oxl_random *r)
{
    return (double)(next(r) >> 11) * 0x1.0p-53;
}

/* The polar method; its second number is thrown away so that the state is the four words alone. */
double oxl_random_normal(struct oxl_random *r)
{
    for (;;) {
        double u = 2 * oxl_random_unit(r) - 1;
        double v = 2 * oxl_random_unit(r) - 1;
        double q = u * u + v * v;
        if (q > 0 && q < 1)
            return u * sqrt(-2 * log(q) / q);
    }
}
