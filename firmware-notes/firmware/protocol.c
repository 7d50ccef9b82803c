/* protocol.c - see protocol.h for what each function promises. */
#include "protocol.h"

#include <string.h>

#ifdef __AVR__
#include <util/crc16.h>
#endif

#define CHECKSUM_BYTES 5 /* a star and four digits */

static uint16_t checksum_step(uint16_t crc, uint8_t byte)
{
#ifdef __AVR__
    /* avr-libc names this step after XMODEM: same polynomial 0x1021. Only the
     * initial value differs, and that is ours to choose. */
    return _crc_xmodem_update(crc, byte);
#else
    crc ^= (uint16_t)((uint16_t)byte << 8);
    for (uint8_t bit = 0; bit < 8; bit++)
        crc = (uint16_t)((crc & 0x8000) ? (crc << 1) ^ 0x1021 : crc << 1);
    return crc;
#endif
}

uint16_t checksum(const char *bytes, uint8_t count)
{
    uint16_t crc = 0xFFFF;
    for (uint8_t i = 0; i < count; i++)
        crc = checksum_step(crc, (uint8_t)bytes[i]);
    return crc;
}

static void put_char(struct line *line, char c)
{
    if (line->length < LINE_BYTES_MAX)
        line->text[line->length++] = c;
    else
        line->overflow = true;
}

static void put_text(struct line *line, const char *text)
{
    while (*text)
        put_char(line, *text++);
}

static void put_number(struct line *line, uint32_t number)
{
    char digits[10]; /* 4294967295 has ten */
    uint8_t count = 0;
    do {
        digits[count++] = (char)('0' + number % 10);
        number /= 10;
    } while (number);
    while (count)
        put_char(line, digits[--count]);
}

static void put_pair(struct line *line, const char *key, uint32_t number)
{
    put_char(line, ' ');
    put_text(line, key);
    put_char(line, '=');
    put_number(line, number);
}

/* Is there still room for the checksum? If not, take back all since `length`. */
static bool fits(struct line *line, uint8_t length)
{
    if (!line->overflow && line->length <= LINE_BYTES_MAX - CHECKSUM_BYTES)
        return true;
    line->length = length;
    line->overflow = false;
    return false;
}

static void put_checksum(struct line *line)
{
    static const char hex[] = "0123456789ABCDEF";
    uint16_t crc = checksum(line->text, line->length);
    put_char(line, '*');
    for (int8_t shift = 12; shift >= 0; shift -= 4)
        put_char(line, hex[(crc >> shift) & 0xF]);
}

static void begin(struct line *line)
{
    line->length = 0;
    line->overflow = false;
}

static void put_reset(struct line *line, const char *reset)
{
    if (reset) {
        put_text(line, " reset=");
        put_text(line, reset);
    }
}

bool write_hello(struct line *line, const struct board *board, const char *reset)
{
    begin(line);
    put_text(line, "!duskmark ");
    put_number(line, PROTOCOL_VERSION);
    put_text(line, " id=");
    put_text(line, board->id);
    put_pair(line, "channels", board->channels);
    put_text(line, " unit=adc");
    put_pair(line, "full", board->full);
    put_pair(line, "fixed_ohm", board->fixed_ohm);
    put_text(line, board->ntc_low ? " ntc=low" : " ntc=high");

    /* From here on the keys are optional: a long id may push some out. */
    uint8_t before = line->length;
    put_pair(line, "period_ms", board->period_ms);
    bool complete = fits(line, before);

    before = line->length;
    put_pair(line, "skew_us", board->skew_us);
    put_reset(line, reset);
    if (!fits(line, before)) {
        complete = false;
        put_reset(line, reset);
        (void)fits(line, before);
    }
    put_checksum(line);
    return complete;
}

void write_sample(struct line *line, uint32_t seq, uint32_t ms,
                  const uint16_t *counts, uint8_t channels)
{
    begin(line);
    put_char(line, '>');
    put_number(line, seq);
    put_char(line, ',');
    put_number(line, ms);
    for (uint8_t i = 0; i < channels; i++) {
        put_char(line, ',');
        put_number(line, counts[i]);
    }
    put_checksum(line);
}

void write_remark(struct line *line, const char *text)
{
    begin(line);
    put_char(line, '#');
    put_text(line, text);
    put_checksum(line);
}

/* One to ten digits that make at most 4294967295, and nothing else. */
static bool read_number(const char *text, uint8_t count, uint32_t *number)
{
    if (count < 1 || count > 10)
        return false;
    uint32_t value = 0;
    for (uint8_t i = 0; i < count; i++) {
        if (text[i] < '0' || text[i] > '9')
            return false;
        uint8_t digit = (uint8_t)(text[i] - '0');
        if (value > (UINT32_MAX - digit) / 10)
            return false;
        value = value * 10 + digit;
    }
    *number = value;
    return true;
}

enum request read_request(const char *text, uint8_t count, uint32_t *period_ms)
{
    static const char period[] = "?period_ms=";
    const uint8_t prefix = sizeof period - 1;

    if (count == 1 && text[0] == '?')
        return REQUEST_HELLO;
    if (count > prefix && memcmp(text, period, prefix) == 0 &&
        read_number(text + prefix, (uint8_t)(count - prefix), period_ms))
        return REQUEST_PERIOD;
    return REQUEST_UNKNOWN;
}

uint16_t possible_period_ms(uint32_t asked_ms)
{
    if (asked_ms < PERIOD_MS_MIN)
        return PERIOD_MS_MIN;
    if (asked_ms > PERIOD_MS_MAX)
        return PERIOD_MS_MAX;
    return (uint16_t)asked_ms;
}
