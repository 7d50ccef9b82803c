/* mcu.h - the ATmega328P that runs the real firmware, on libsimavr. */
#ifndef MCU_H
#define MCU_H

#include <stdbool.h>
#include <stdint.h>

#define MCU_HZ 16000000u

struct mcu;

/* Why the processor starts, as its flags will tell the firmware. */
enum mcu_start { MCU_POWER_ON, MCU_BUTTON, MCU_WATCHDOG };

struct mcu_wires {
    void *context;
    /* A conversion starts: return the code, 0 to 1023, that it will give. */
    unsigned (*convert)(void *context, int channel);
    /* The board has sent a byte. */
    void (*sent)(void *context, uint8_t byte);
};

/* Load the firmware. Returns a null pointer and says why on stderr. */
struct mcu *mcu_new(const char *hex_path, const struct mcu_wires *wires);

/* Put a fresh processor in place whose cycle counter starts at `cycle`. */
bool mcu_start(struct mcu *mcu, enum mcu_start why, uint64_t cycle);

/* Run until the cycle counter reaches `cycle`. A watchdog reset is carried out
 * on the way. Returns false if the firmware crashed or stopped for good. */
bool mcu_run(struct mcu *mcu, uint64_t cycle);

/* Number of watchdog resets so far. */
unsigned mcu_watchdog_resets(const struct mcu *mcu);

/* One byte arrives at the board. At most 10 in a millisecond. */
void mcu_receive(struct mcu *mcu, uint8_t byte);

/* Take the converter's interrupt away behind the firmware's back. */
void mcu_hang(struct mcu *mcu);

#endif
