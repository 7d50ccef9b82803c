/* noise.c - SplitMix64 (Steele, Lea, Flood 2014) and the Box-Muller transform. */
#include "noise.h"

#include <math.h>

void noise_start(struct noise *noise, uint64_t seed, uint64_t stream)
{
    noise->state = seed * 0xD1342543DE82EF95u + stream * 0x2545F4914F6CDD1Du;
    noise->have_spare = 0;
    noise_bits(noise);
}

uint64_t noise_bits(struct noise *noise)
{
    uint64_t z = (noise->state += 0x9E3779B97F4A7C15u);
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
    return z ^ (z >> 31);
}

double noise_uniform(struct noise *noise)
{
    return (double)(noise_bits(noise) >> 11) / 9007199254740992.0; /* 2^53 */
}

double noise_normal(struct noise *noise)
{
    if (noise->have_spare) {
        noise->have_spare = 0;
        return noise->spare;
    }
    double radius = sqrt(-2.0 * log(1.0 - noise_uniform(noise)));
    double angle = 2.0 * M_PI * noise_uniform(noise);
    noise->spare = radius * sin(angle);
    noise->have_spare = 1;
    return radius * cos(angle);
}
