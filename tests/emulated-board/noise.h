/* noise.h - repeatable random numbers: same seed, same stream, on every machine. */
#ifndef NOISE_H
#define NOISE_H

#include <stdint.h>

struct noise {
    uint64_t state;
    double spare; /* Box and Muller's method makes two at a time */
    int have_spare;
};

/* Streams of one seed that must not disturb each other take different numbers. */
void noise_start(struct noise *noise, uint64_t seed, uint64_t stream);
uint64_t noise_bits(struct noise *noise);
double noise_uniform(struct noise *noise); /* 0 <= x < 1 */
double noise_normal(struct noise *noise);  /* mean 0, standard deviation 1 */

#endif
