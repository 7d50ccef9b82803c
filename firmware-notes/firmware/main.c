/* main.c - reads thermistors with an ATmega328P and says what they read.
 *
 * How it works, in one paragraph. A timer ticks every millisecond. Every
 * `period_ms` ticks it starts a burst: 64 conversions of each channel, taken in
 * turn (0, 1, 0, 1, ...) so that all channels are measured over the same time.
 * The sums become one line. Bytes leave through a ring buffer and an interrupt,
 * so saying something never delays measuring something. In between, the
 * processor sleeps. If measuring ever stops, the watchdog restarts the board.
 *
 * Interrupts fill small mailboxes; everything else happens in main(), in order.
 */
#include <stdbool.h>
#include <stdint.h>

#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>
#include <avr/wdt.h>
#include <util/atomic.h>

/* setbaud.h turns BAUD into register values, and warns (here: an error) if the
 * clock cannot make that rate closely enough. 115200 from 16 MHz comes out 2.1 %
 * fast; a receiver of 8-bit frames bears 3.9 % (data sheet, "Asynchronous
 * Operational Range"). If in doubt build with BAUD=57600, which is 0.8 % slow. */
#define BAUD_TOL 3
#include <util/setbaud.h>

#include "protocol.h"

/* --- What the Makefile decides ------------------------------------------- */
#ifndef BOARD_ID
#error "set BOARD_ID, for example with: make BOARD_ID=bench-2"
#endif
#ifndef CHANNELS
#define CHANNELS 2 /* probes on ADC0, ADC1, ... */
#endif
#ifndef FIXED_OHM
#define FIXED_OHM 10000
#endif

/* Other values than 0 are for testing what happens when the counters wrap. */
#ifndef FIRST_MS
#define FIRST_MS 0
#endif
#ifndef FIRST_SEQ
#define FIRST_SEQ 0
#endif

#define OVERSAMPLE 64 /* conversions per channel and sample */
#define PERIOD_MS_AT_START 250

/* One conversion every 14 clocks of the converter: 13 to convert, and the wait
 * for the next clock edge after the interrupt has asked for another. The
 * converter's clock is F_CPU/128, 125 kHz at 16 MHz (data sheet,
 * "Prescaling and Conversion Timing"). */
#define SKEW_US (14UL * 128UL * 1000000UL / F_CPU)

/* From the first conversion of channel 0 to the middle of its 64. */
#define HALF_WINDOW_MS (((OVERSAMPLE - 1UL) * CHANNELS * SKEW_US / 2 + 500) / 1000)

/* A burst that is this much overdue means that measuring has stopped. */
#define OVERDUE_MS 1000

#define HELLO_GAP_MS 100   /* at most ten hellos a second, however often asked */
#define REMARK_GAP_MS 1000 /* noise on the line must not make us babble */

_Static_assert(CHANNELS >= 1 && CHANNELS <= CHANNELS_MAX, "1 to 8 channels");
_Static_assert(OVERSAMPLE <= 64, "the sum of 64 conversions just fits 16 bits");
_Static_assert(sizeof BOARD_ID - 1 >= 1 && sizeof BOARD_ID - 1 <= ID_BYTES_MAX,
               "BOARD_ID has 1 to 24 characters");

/* --- Why did we start? --------------------------------------------------- */
static uint8_t reset_flags __attribute__((section(".noinit")));

/* Runs before main(), before the variables are cleared: after a watchdog reset
 * the watchdog is still running, with its shortest time. */
void save_reset_flags(void) __attribute__((naked, used, section(".init3")));
void save_reset_flags(void)
{
    reset_flags = MCUSR;
    MCUSR = 0;
    wdt_disable();
}

static const char *reset_reason(void)
{
    /* Several flags can be set at once; the strongest one tells. */
    if (reset_flags & _BV(PORF))
        return "power";
    if (reset_flags & _BV(BORF))
        return "brownout";
    if (reset_flags & _BV(WDRF))
        return "watchdog";
    if (reset_flags & _BV(EXTRF))
        return "external";
    return 0; /* a boot loader may have cleared them */
}

/* --- Clock and measuring -------------------------------------------------- */
static volatile uint32_t clock_ms = FIRST_MS;
static volatile uint16_t period_ms = PERIOD_MS_AT_START;
static volatile uint16_t ticks_to_burst = 10; /* let the inputs settle first */

static struct {
    volatile bool busy;  /* from the first conversion until main() took it */
    volatile bool ready; /* all conversions done */
    uint8_t channel;     /* being converted now */
    uint8_t rounds_left;
    uint32_t seq;
    uint32_t start_ms;
    uint16_t sum[CHANNELS];
} burst;

static void start_conversion(uint8_t channel)
{
    ADMUX = _BV(REFS0) | channel; /* reference: the supply, which also feeds the dividers */
    ADCSRA |= _BV(ADSC);
}

static void start_burst(void)
{
    static uint32_t next_seq = FIRST_SEQ;
    uint32_t seq = next_seq++;
    if (burst.busy)
        return; /* main() is late: this sample is lost, and its number shows it */
    burst.busy = true;
    burst.seq = seq;
    burst.start_ms = clock_ms;
    burst.channel = 0;
    burst.rounds_left = OVERSAMPLE;
    for (uint8_t i = 0; i < CHANNELS; i++)
        burst.sum[i] = 0;
    start_conversion(0);
}

ISR(TIMER1_COMPA_vect)
{
    clock_ms++;
    if (--ticks_to_burst == 0) {
        ticks_to_burst = period_ms;
        start_burst();
    }
}

ISR(ADC_vect)
{
    burst.sum[burst.channel] += ADC;
    if (++burst.channel == CHANNELS) {
        burst.channel = 0;
        if (--burst.rounds_left == 0) {
            burst.ready = true;
            return;
        }
    }
    start_conversion(burst.channel);
}

static uint32_t now_ms(void)
{
    uint32_t ms;
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE)
    {
        ms = clock_ms;
    }
    return ms;
}

static void set_period(uint16_t new_ms)
{
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE)
    {
        period_ms = new_ms;
        /* Never put a due sample off: requests in quick succession must not
         * keep the board from measuring. */
        if (ticks_to_burst > new_ms)
            ticks_to_burst = new_ms;
    }
}

/* --- Bytes out ------------------------------------------------------------ */
static uint8_t out[256]; /* as many as a uint8_t can count: it wraps by itself */
static volatile uint8_t out_head, out_tail;

ISR(USART_UDRE_vect)
{
    if (out_tail == out_head)
        UCSR0B &= (uint8_t)~_BV(UDRIE0); /* nothing left: stop asking */
    else
        UDR0 = out[out_tail++];
}

/* Queue a whole line with its end, or nothing of it. */
static bool send(const struct line *line)
{
    uint8_t used = (uint8_t)(out_head - out_tail);
    if (line->length + 2u > 255u - used)
        return false;
    uint8_t head = out_head;
    for (uint8_t i = 0; i < line->length; i++)
        out[head++] = (uint8_t)line->text[i];
    out[head++] = '\r';
    out[head++] = '\n';
    out_head = head;
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE)
    {
        UCSR0B |= _BV(UDRIE0);
    }
    return true;
}

/* --- Bytes in ------------------------------------------------------------- */
#define IN_BYTES 64 /* a power of two */
#define REQUEST_BYTES_MAX 24
static uint8_t in[IN_BYTES];
static volatile uint8_t in_head, in_tail;

ISR(USART_RX_vect)
{
    bool damaged = UCSR0A & _BV(FE0); /* must be looked at before the byte */
    uint8_t byte = UDR0;
    uint8_t next = (in_head + 1) & (IN_BYTES - 1);
    if (next != in_tail) {
        in[in_head] = damaged ? '~' : byte; /* makes the request unknown, as it should */
        in_head = next;
    }
}

static bool want_hello = true; /* the first one without being asked */
static bool want_remark;

static void obey(const char *text, uint8_t count)
{
    uint32_t asked_ms;
    switch (read_request(text, count, &asked_ms)) {
    case REQUEST_PERIOD:
        set_period(possible_period_ms(asked_ms));
        want_hello = true;
        break;
    case REQUEST_HELLO:
        want_hello = true;
        break;
    case REQUEST_UNKNOWN:
        want_remark = true;
        break;
    }
}

static void listen(void)
{
    static char request[REQUEST_BYTES_MAX];
    static uint8_t count; /* over REQUEST_BYTES_MAX: too long to be a request */

    while (in_tail != in_head) {
        char byte = (char)in[in_tail];
        in_tail = (in_tail + 1) & (IN_BYTES - 1);
        if (byte == '\r' || byte == '\n') {
            if (count > REQUEST_BYTES_MAX)
                want_remark = true;
            else if (count > 0)
                obey(request, count);
            count = 0;
        } else if (count < REQUEST_BYTES_MAX) {
            request[count++] = byte;
        } else {
            count = REQUEST_BYTES_MAX + 1;
        }
    }
}

/* --- Putting it together --------------------------------------------------- */
static void start_hardware(void)
{
    /* Timer 1: 16 MHz / 8 / 2000 = 1 kHz. */
    OCR1A = F_CPU / 8 / 1000 - 1;
    TCCR1B = _BV(WGM12) | _BV(CS11);
    TIMSK1 = _BV(OCIE1A);

    /* Converter: clock F_CPU/128; the digital side of the probe pins off. The
     * first conversion after switching on is a long one: let it pass unused. */
    DIDR0 = ((1u << CHANNELS) - 1) & 0x3F; /* inputs 6 and 7 have no digital side */
    ADCSRA = _BV(ADEN) | _BV(ADPS2) | _BV(ADPS1) | _BV(ADPS0);
    start_conversion(0);
    while (ADCSRA & _BV(ADSC))
        ;
    ADCSRA |= _BV(ADIF); /* forget that it finished */
    ADCSRA |= _BV(ADIE);

    /* Serial port: 8 data bits, no parity, 1 stop bit. */
#if USE_2X
    UCSR0A = _BV(U2X0);
#endif
    UBRR0 = UBRR_VALUE;
    UCSR0C = _BV(UCSZ01) | _BV(UCSZ00);
    UCSR0B = _BV(RXEN0) | _BV(TXEN0) | _BV(RXCIE0);

    set_sleep_mode(SLEEP_MODE_IDLE); /* timer, converter and port go on */
}

static void report_burst(void)
{
    uint16_t sum[CHANNELS];
    uint32_t seq, middle_ms;
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE)
    {
        for (uint8_t i = 0; i < CHANNELS; i++)
            sum[i] = burst.sum[i];
        seq = burst.seq;
        middle_ms = burst.start_ms + HALF_WINDOW_MS;
        burst.ready = false;
        burst.busy = false;
    }
    struct line line;
    write_sample(&line, seq, middle_ms, sum, CHANNELS);
    (void)send(&line); /* no room: the line is lost, its number is missing, the host sees it */
}

static void report_hello(const char *reset)
{
    struct board board = {
        .id = BOARD_ID,
        .channels = CHANNELS,
        .full = OVERSAMPLE * 1024UL,
        .fixed_ohm = FIXED_OHM,
        .ntc_low = true,
        .period_ms = period_ms,
        .skew_us = SKEW_US,
    };
    struct line line;
    bool complete = write_hello(&line, &board, reset);
    /* The reason of a reset may push the skew out: then a hello without the
     * reason follows, once. No room to send: again later. */
    want_hello = !send(&line) || (reset && !complete);
}

static void report_unknown_request(void)
{
    struct line line;
    write_remark(&line, "unknown request");
    want_remark = !send(&line);
}

static void sleep_until_something_happens(void)
{
    cli();
    if (!burst.ready && in_head == in_tail) {
        sleep_enable();
        sei(); /* takes effect after the next instruction: no wake-up is missed */
        sleep_cpu();
        sleep_disable();
    }
    sei();
}

int main(void)
{
    start_hardware();
    sei();
    wdt_enable(WDTO_2S);

    const struct line empty = {.length = 0};
    (void)send(&empty); /* ends whatever half line the reset cut off */
    report_hello(reset_reason());

    /* Differences of these stay right when the clock wraps. */
    uint32_t now = now_ms();
    uint32_t hello_ms = now, remark_ms = now - REMARK_GAP_MS;
    uint32_t fed_ms = now, overdue_ms = now + PERIOD_MS_AT_START + OVERDUE_MS;
    for (;;) {
        now = now_ms();
        if (burst.ready) {
            report_burst();
            overdue_ms = now + period_ms + OVERDUE_MS;
        }
        listen();
        if (want_hello && now - hello_ms >= HELLO_GAP_MS) {
            report_hello(0);
            hello_ms = now;
        }
        if (want_remark && now - remark_ms >= REMARK_GAP_MS) {
            report_unknown_request();
            remark_ms = now;
        }
        /* Feed the watchdog only if the clock moves and bursts keep coming. */
        if (now != fed_ms && (int32_t)(overdue_ms - now) > 0) {
            wdt_reset();
            fed_ms = now;
        }
        sleep_until_something_happens();
    }
}
