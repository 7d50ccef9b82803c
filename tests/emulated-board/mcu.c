/* mcu.c - see mcu.h. Four habits of libsimavr 1.6 that this file works around:
 *
 * - avr_reset() keeps timer state, so every reset takes a fresh object and
 *   carries the cycle count over;
 * - the converter takes whole millivolts and gives mv * 1023 / vref. With a
 *   reference of 1023 mV the millivolts are the code itself;
 * - the serial port prints to the console and naps while polled: both off;
 * - idle sleep calls usleep(): the caller paces the simulation, so it must not.
 */
#include "mcu.h"

#include <stdio.h>
#include <stdlib.h>

#include <avr_adc.h>
#include <avr_uart.h>
#include <sim_avr.h>
#include <sim_hex.h>

/* Addresses in data space and bits, from the ATmega328P's data sheet. */
#define MCUSR 0x54
#define PORF 0x01
#define EXTRF 0x02
#define WDRF 0x08
#define ADCSRA 0x7A
#define ADIE 0x08

struct mcu {
    struct mcu_wires wires;
    ihex_chunk_p chunks;
    int chunk_count;
    avr_t *avr;
    void (*core_reset)(avr_t *avr);
    bool watchdog_bit;
    unsigned watchdog_resets;
};

/* The core's reset hook has no context argument; there is one board only. */
static struct mcu *the_mcu;

static void silent(avr_t *avr, const int level, const char *format, va_list arguments)
{
    (void)avr;
    (void)level;
    (void)format;
    (void)arguments;
}

static void no_sleep(avr_t *avr, avr_cycle_count_t cycles)
{
    (void)avr;
    (void)cycles;
}

static void on_reset(avr_t *avr)
{
    the_mcu->watchdog_bit = true;
    the_mcu->core_reset(avr);
}

static void on_convert(avr_irq_t *irq, uint32_t value, void *parameter)
{
    (void)irq;
    struct mcu *mcu = parameter;
    union {
        avr_adc_mux_t mux;
        uint32_t value;
    } trigger = {.value = value};
    if (trigger.mux.kind != ADC_MUX_SINGLE || trigger.mux.src > ADC_IRQ_ADC7)
        return;
    int channel = trigger.mux.src;
    unsigned code = mcu->wires.convert(mcu->wires.context, channel);
    avr_raise_irq(avr_io_getirq(mcu->avr, AVR_IOCTL_ADC_GETIRQ, channel), code);
}

static void on_sent(avr_irq_t *irq, uint32_t value, void *parameter)
{
    (void)irq;
    struct mcu *mcu = parameter;
    mcu->wires.sent(mcu->wires.context, (uint8_t)value);
}

struct mcu *mcu_new(const char *hex_path, const struct mcu_wires *wires)
{
    avr_global_logger_set(silent);
    struct mcu *mcu = calloc(1, sizeof *mcu);
    if (!mcu)
        return NULL;
    mcu->wires = *wires;
    FILE *readable = fopen(hex_path, "r"); /* the library would only log the failure */
    if (!readable) {
        perror(hex_path);
        return NULL;
    }
    fclose(readable);
    mcu->chunk_count = read_ihex_chunks(hex_path, &mcu->chunks);
    if (mcu->chunk_count <= 0) {
        fprintf(stderr, "%s: not an Intel HEX file\n", hex_path);
        return NULL;
    }
    the_mcu = mcu;
    return mcu;
}

static void load(struct mcu *mcu)
{
    for (int i = 0; i < mcu->chunk_count; i++) {
        ihex_chunk_t *chunk = &mcu->chunks[i];
        if (chunk->baseaddr + chunk->size > mcu->avr->flashend + 1)
            continue; /* not flash: the file may carry other memories too */
        avr_loadcode(mcu->avr, chunk->data, chunk->size, chunk->baseaddr);
        if (chunk->baseaddr + chunk->size > mcu->avr->codeend)
            mcu->avr->codeend = chunk->baseaddr + chunk->size;
    }
}

bool mcu_start(struct mcu *mcu, enum mcu_start why, uint64_t cycle)
{
    static const uint8_t flags[] = {
        [MCU_POWER_ON] = PORF, [MCU_BUTTON] = EXTRF, [MCU_WATCHDOG] = WDRF};
    if (mcu->avr) {
        avr_terminate(mcu->avr);
        free(mcu->avr);
    }
    avr_t *avr = mcu->avr = avr_make_mcu_by_name("atmega328p");
    if (!avr || avr_init(avr) != 0) {
        fprintf(stderr, "emulated-board: libsimavr knows no atmega328p\n");
        return false;
    }
    avr->frequency = MCU_HZ;
    avr->vcc = avr->avcc = avr->aref = 1023;
    avr->sleep = no_sleep;
    avr->run_cycle_limit = MCU_HZ / 1000;
    avr->cycle = cycle;
    avr->data[MCUSR] = flags[why];
    mcu->core_reset = avr->reset;
    avr->reset = on_reset;
    mcu->watchdog_bit = false;
    load(mcu);

    uint32_t uart_flags = 0;
    avr_ioctl(avr, AVR_IOCTL_UART_SET_FLAGS('0'), &uart_flags);
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT),
                            on_sent, mcu);
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_ADC_GETIRQ, ADC_IRQ_OUT_TRIGGER),
                            on_convert, mcu);
    return true;
}

bool mcu_run(struct mcu *mcu, uint64_t cycle)
{
    while (mcu->avr->cycle < cycle) {
        int state = avr_run(mcu->avr);
        if (mcu->watchdog_bit) {
            mcu->watchdog_resets++;
            if (!mcu_start(mcu, MCU_WATCHDOG, mcu->avr->cycle))
                return false;
        } else if (state == cpu_Done || state == cpu_Crashed) {
            fprintf(stderr, "emulated-board: the firmware stopped\n");
            return false;
        }
    }
    return true;
}

unsigned mcu_watchdog_resets(const struct mcu *mcu)
{
    return mcu->watchdog_resets;
}

void mcu_receive(struct mcu *mcu, uint8_t byte)
{
    avr_raise_irq(avr_io_getirq(mcu->avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_INPUT), byte);
}

void mcu_hang(struct mcu *mcu)
{
    mcu->avr->data[ADCSRA] &= (uint8_t)~ADIE;
}
