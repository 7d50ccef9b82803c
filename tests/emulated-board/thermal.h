/* thermal.h - a tray of slate and a tray of wet moss under one lamp.
 *
 * Each sample has two nodes, the surface that the lamp warms and the bulk below,
 * which exchange heat with each other and with the air. A probe just under the
 * surface follows it with a first-order lag. The numbers are invented and chosen
 * so that a lesson of 140 s shows what a real one shows in 20 minutes.
 */
#ifndef THERMAL_H
#define THERMAL_H

#include <stdbool.h>

#include "noise.h"

enum { SLATE, MOSS, SAMPLES };

struct bench {
    double time_s;
    double lamp_level; /* 0 to 1, follows the switch */
    bool lamp_on;      /* the switch */
    double air_degc;
    double air_phase[2];
    struct {
        double surface_degc, bulk_degc, probe_degc;
    } sample[SAMPLES];
};

void bench_start(struct bench *bench, struct noise *noise);

/* Advance by `step_s` seconds, at most 0.01. */
void bench_step(struct bench *bench, double step_s);

/* Voltage at the tap as a fraction of the reference, for a thermistor of 10 kOhm
 * at 25 degC, B = 3950 K, between tap and ground, and 10 kOhm above it. */
double divider_ratio(double probe_degc);

#endif
