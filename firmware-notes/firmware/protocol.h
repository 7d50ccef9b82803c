/* protocol.h - the lines a board says and the requests it understands.
 *
 * Everything here is plain C without hardware: the same code runs on the board
 * and, for its test, on a computer. The rules are in ../line-protocol.md.
 */
#ifndef DUSKMARK_PROTOCOL_H
#define DUSKMARK_PROTOCOL_H

#include <stdbool.h>
#include <stdint.h>

#define PROTOCOL_VERSION 1
#define LINE_BYTES_MAX 120 /* without the line end */
#define CHANNELS_MAX 8
#define ID_BYTES_MAX 24

/* The shortest and longest time between two samples this firmware offers.
 * Shortest: a burst of 8 channels takes 57 ms and its line 10 ms on the wire.
 * Longest: one minute, so that a host notices a dead board within minutes. */
#define PERIOD_MS_MIN 100
#define PERIOD_MS_MAX 60000

/* A line under construction. It never grows past LINE_BYTES_MAX; whatever did
 * not fit is remembered in `overflow`. */
struct line {
    char text[LINE_BYTES_MAX];
    uint8_t length;
    bool overflow;
};

/* What the hello line says about this board. */
struct board {
    const char *id;      /* 1 to 24 of A-Z a-z 0-9 - _ . */
    uint8_t channels;    /* 1 to 8 */
    uint32_t full;       /* the count that stands for the reference voltage */
    uint32_t fixed_ohm;  /* fixed resistor of the divider */
    bool ntc_low;        /* true: thermistor between tap and ground */
    uint32_t period_ms;  /* time between samples, as in force */
    uint32_t skew_us;    /* delay from one channel's sampling to the next's */
};

enum request { REQUEST_UNKNOWN, REQUEST_HELLO, REQUEST_PERIOD };

/* CRC-16/IBM-3740 of `count` bytes. "123456789" gives 0x29B1. */
uint16_t checksum(const char *bytes, uint8_t count);

/* Write a hello line. `reset` is the reason of the last reset or a null pointer.
 * Returns false if a long id left no room for everything. What goes first is
 * skew_us, then reset, then period_ms; never a key the host needs. */
bool write_hello(struct line *line, const struct board *board, const char *reset);

/* Write a sample line: one count per channel. */
void write_sample(struct line *line, uint32_t seq, uint32_t ms,
                  const uint16_t *counts, uint8_t channels);

/* Write a remark, with its checksum. */
void write_remark(struct line *line, const char *text);

/* Understand one request, given without its line end. For REQUEST_PERIOD the
 * number asked for is stored in `period_ms`, not yet brought into range. */
enum request read_request(const char *text, uint8_t count, uint32_t *period_ms);

/* The nearest period the board can do. */
uint16_t possible_period_ms(uint32_t asked_ms);

#endif
