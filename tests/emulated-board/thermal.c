/* thermal.c - see thermal.h. Explicit Euler steps; the fastest time constant
 * (the lamp's 0.5 s) is 50 times the longest step allowed. */
#include "thermal.h"

#include <math.h>

#define LAMP_WARM_UP_S 0.5
#define AIR_DEGC 21.0
#define TWO_PI 6.283185307179586

/* Rates per second. Capacity of the bulk is given relative to the surface's. */
static const struct {
    double lamp_degc_per_s; /* warming of the surface by the full lamp */
    double to_air;          /* surface to air */
    double to_bulk;         /* surface to bulk */
    double bulk_capacity;
    double bulk_to_air;
    double wet_degc; /* how far evaporation pulls the surface below the air */
    double probe_lag_s;
} kind[SAMPLES] = {
    [SLATE] = {0.62, 0.018, 0.024, 3.0, 0.004, 0.0, 1.5},
    [MOSS] = {0.30, 0.014, 0.014, 6.0, 0.003, 0.9, 2.0},
};

static double air_at(const struct bench *bench)
{
    /* A door, a draught, the class: two slow waves of a few tenths of a degree. */
    return AIR_DEGC + 0.15 * sin(TWO_PI * bench->time_s / 310.0 + bench->air_phase[0]) +
           0.25 * sin(TWO_PI * bench->time_s / 1700.0 + bench->air_phase[1]);
}

void bench_start(struct bench *bench, struct noise *noise)
{
    *bench = (struct bench){0};
    for (int i = 0; i < 2; i++)
        bench->air_phase[i] = TWO_PI * noise_uniform(noise);
    bench->air_degc = air_at(bench);
    for (int i = 0; i < SAMPLES; i++) {
        /* Where surface and bulk rest without the lamp (two heat balances). */
        double g = kind[i].bulk_to_air * kind[i].bulk_capacity;
        double through = kind[i].to_bulk * g / (kind[i].to_bulk + g);
        double below = kind[i].to_air * kind[i].wet_degc / (kind[i].to_air + through);
        double surface = bench->air_degc - below;
        bench->sample[i].surface_degc = surface;
        bench->sample[i].probe_degc = surface;
        bench->sample[i].bulk_degc =
            (kind[i].to_bulk * surface + g * bench->air_degc) / (kind[i].to_bulk + g);
    }
}

void bench_step(struct bench *bench, double step_s)
{
    bench->time_s += step_s;
    bench->air_degc = air_at(bench);
    bench->lamp_level +=
        ((bench->lamp_on ? 1.0 : 0.0) - bench->lamp_level) * step_s / LAMP_WARM_UP_S;
    for (int i = 0; i < SAMPLES; i++) {
        double surface = bench->sample[i].surface_degc;
        double bulk = bench->sample[i].bulk_degc;
        double exchange = kind[i].to_bulk * (surface - bulk);
        bench->sample[i].surface_degc +=
            step_s * (kind[i].lamp_degc_per_s * bench->lamp_level -
                      kind[i].to_air * (surface - bench->air_degc + kind[i].wet_degc) -
                      exchange);
        bench->sample[i].bulk_degc +=
            step_s * (exchange / kind[i].bulk_capacity -
                      kind[i].bulk_to_air * (bulk - bench->air_degc));
        bench->sample[i].probe_degc +=
            step_s * (surface - bench->sample[i].probe_degc) / kind[i].probe_lag_s;
    }
}

double divider_ratio(double probe_degc)
{
    double relative = exp(3950.0 * (1.0 / (probe_degc + 273.15) - 1.0 / 298.15));
    return relative / (relative + 1.0); /* both resistors are 10 kOhm at 25 degC */
}
