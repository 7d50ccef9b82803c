/* faults.h - what goes wrong, and when, in simulated time. */
#ifndef FAULTS_H
#define FAULTS_H

#include <stdbool.h>
#include <stdint.h>

enum fault {
    FAULT_UNPLUG,  /* the port vanishes and comes back, the board runs on */
    FAULT_REPLUG,  /* as above, and the board has no power meanwhile */
    FAULT_RESET,   /* someone presses the button */
    FAULT_HANG,    /* the converter's interrupt goes missing: the watchdog's case */
    FAULT_GARBAGE, /* random bytes in the stream */
    FAULT_SILENCE, /* the board's bytes are lost */
    FAULT_OPEN,    /* a thermistor's wire is off */
    FAULT_SHORT,   /* a thermistor is bridged */
};

#define FAULTS_MAX 64
#define GARBAGE_MAX 4096 /* bytes */

struct fault_event {
    enum fault fault;
    int channel; /* open, short: 0 or 1 */
    uint64_t start_ms;
    uint64_t end_ms; /* equal to start_ms: a single instant */
    unsigned amount; /* garbage: number of bytes */
};

struct faults {
    struct fault_event event[FAULTS_MAX];
    int count;
};

/* Read a script such as "unplug@30+5,reset@50,garbage@40+64,open1@45+5".
 * Returns false and prints the reason on stderr if it makes no sense. */
bool faults_read(struct faults *faults, const char *script);

#endif
