/* host_test.c - checks protocol.c against the test vectors that the host
 * program reads too.
 *
 * usage: host-test ../protocol-vectors.tsv
 *
 * What a row checks here:
 *   crc      the checksum itself
 *   hello, sample, remark
 *            whether the checksum of the line holds, and, for good lines in the
 *            form this firmware writes, that it writes exactly these bytes
 *   request  how the board understands it
 * Ends with "N passed, 0 failed" and status 0, or tells each failure.
 */
#define _GNU_SOURCE /* memmem */
#include "protocol.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static int passed, failed;
static int written_hellos, written_samples; /* rows that checked the writing side */

static void check(bool good, const char *what, const char *row)
{
    if (good) {
        passed++;
    } else {
        failed++;
        printf("FAILED %s: %s\n", what, row);
    }
}

/* Turn \xNN into bytes. Returns the number of bytes, or -1. */
static int unescape(const char *text, char *bytes, int room)
{
    int count = 0;
    while (*text) {
        if (count == room)
            return -1;
        if (*text == '\\') {
            unsigned value;
            int used = 0;
            if (sscanf(text, "\\x%2X%n", &value, &used) != 1 || used != 4)
                return -1;
            bytes[count++] = (char)value;
            text += 4;
        } else {
            bytes[count++] = *text++;
        }
    }
    return count;
}

static int hex_digit(char c)
{
    if (c >= '0' && c <= '9')
        return c - '0';
    if (c >= 'A' && c <= 'F')
        return c - 'A' + 10;
    if (c >= 'a' && c <= 'f')
        return c - 'a' + 10;
    return -1;
}

/* The checksum written at the end of the line, or -1 if there is none. */
static long written_checksum(const char *bytes, int count)
{
    if (count < 5 || bytes[count - 5] != '*')
        return -1;
    long value = 0;
    for (int i = count - 4; i < count; i++) {
        if (hex_digit(bytes[i]) < 0)
            return -1;
        value = value * 16 + hex_digit(bytes[i]);
    }
    return value;
}

static bool same(const struct line *line, const char *bytes, int count)
{
    return !line->overflow && line->length == count &&
           memcmp(line->text, bytes, (size_t)count) == 0;
}

static void check_checksum(const char *kind, const char *verdict, const char *bytes,
                           int count, const char *row)
{
    /* These two are found before anybody looks at the checksum. */
    if (strcmp(verdict, "length") == 0) {
        check(count > LINE_BYTES_MAX, "length", row);
        return;
    }
    check(count <= LINE_BYTES_MAX, "length", row);
    if (strcmp(verdict, "ascii") == 0)
        return;

    long written = written_checksum(bytes, count);
    bool holds = written >= 0 && written == checksum(bytes, (uint8_t)(count - 5));
    if (strcmp(kind, "remark") == 0 && written < 0)
        holds = true; /* a remark need not have one */
    check(holds == (strcmp(verdict, "crc") != 0), "checksum", row);
}

/* If the row is a hello in the form the firmware writes, write it again. */
static void check_writing_hello(const char *meaning, const char *bytes, int count,
                                const char *row)
{
    char id[32], ntc[8], reset[32], again[256];
    unsigned channels, full, fixed_ohm, period_ms, skew_us;
    int fields = sscanf(meaning,
                        "id=%31[^ ] channels=%u unit=adc full=%u fixed_ohm=%u "
                        "ntc=%7[a-z] period_ms=%u skew_us=%u reset=%31[a-z]",
                        id, &channels, &full, &fixed_ohm, ntc, &period_ms, &skew_us, reset);
    if (fields < 7)
        return;
    struct board board = {id,        (uint8_t)channels,       full,
                          fixed_ohm, strcmp(ntc, "low") == 0, period_ms, skew_us};
    struct line line;
    write_hello(&line, &board, fields == 8 ? reset : NULL);
    snprintf(again, sizeof again, "!duskmark 1 %s*%.4s", meaning, bytes + count - 4);
    if (count != (int)strlen(again) || memcmp(bytes, again, (size_t)count) != 0)
        return; /* another order of keys */
    for (int i = count - 4; i < count; i++)
        if (bytes[i] >= 'a')
            return; /* the firmware writes upper case */
    written_hellos++;
    check(same(&line, bytes, count), "writing a hello", row);
}

/* If the row is a sample of plain counts, write it again. */
static void check_writing_sample(const char *meaning, const char *bytes, int count,
                                 const char *row)
{
    unsigned seq, ms;
    int used = 0;
    uint16_t counts[CHANNELS_MAX];
    uint8_t channels = 0;
    if (sscanf(meaning, "seq=%u ms=%u fields=%n", &seq, &ms, &used) != 2 || used == 0) {
        check(false, "meaning", row);
        return;
    }
    for (const char *field = meaning + used;; field++) {
        char *end;
        unsigned long value = strtoul(field, &end, 10);
        bool plain = end != field && strchr("0123456789", *field) && value <= UINT16_MAX &&
                     (*field != '0' || end == field + 1) && (*end == ',' || *end == '\0');
        if (!plain)
            return; /* a reading of a board that writes other numbers than ours */
        counts[channels++] = (uint16_t)value;
        if (*end == '\0')
            break;
        field = end;
    }
    for (int i = count - 4; i < count; i++)
        if (bytes[i] >= 'a')
            return;
    struct line line;
    write_sample(&line, seq, ms, counts, channels);
    written_samples++;
    check(same(&line, bytes, count), "writing a sample", row);
}

static void check_request(const char *verdict, const char *meaning, const char *bytes,
                          int count, const char *row)
{
    uint32_t period_ms = 0;
    unsigned expected_ms;
    enum request request = read_request(bytes, (uint8_t)count, &period_ms);
    if (strcmp(verdict, "ok") != 0)
        check(request == REQUEST_UNKNOWN, "request", row);
    else if (strcmp(meaning, "hello") == 0)
        check(request == REQUEST_HELLO, "request", row);
    else
        check(sscanf(meaning, "period_ms=%u", &expected_ms) == 1 &&
                  request == REQUEST_PERIOD && period_ms == expected_ms,
              "request", row);
}

static void check_row(char *row)
{
    char shown[1024], bytes[512];
    snprintf(shown, sizeof shown, "%s", row);
    char *column[4] = {row};
    for (int i = 1; i < 4; i++) {
        column[i] = strchr(column[i - 1], '\t');
        if (!column[i]) {
            check(false, "four columns", shown);
            return;
        }
        *column[i]++ = '\0';
    }
    const char *kind = column[0], *verdict = column[1], *meaning = column[3];
    int count = unescape(column[2], bytes, sizeof bytes);
    if (count < 0) {
        check(false, "escapes", shown);
    } else if (strcmp(kind, "crc") == 0) {
        check(checksum(bytes, (uint8_t)count) == strtoul(meaning, NULL, 16), "crc", shown);
    } else if (strcmp(kind, "request") == 0) {
        check_request(verdict, meaning, bytes, count, shown);
    } else {
        check_checksum(kind, verdict, bytes, count, shown);
        if (strcmp(verdict, "ok") == 0 && strcmp(kind, "hello") == 0)
            check_writing_hello(meaning, bytes, count, shown);
        if (strcmp(verdict, "ok") == 0 && strcmp(kind, "sample") == 0)
            check_writing_sample(meaning, bytes, count, shown);
    }
}

/* What the vectors cannot say. */
static void check_limits(void)
{
    check(possible_period_ms(0) == PERIOD_MS_MIN, "period 0", "");
    check(possible_period_ms(99) == 100, "period 99", "");
    check(possible_period_ms(100) == 100, "period 100", "");
    check(possible_period_ms(250) == 250, "period 250", "");
    check(possible_period_ms(60000) == 60000, "period 60000", "");
    check(possible_period_ms(60001) == 60000, "period 60001", "");
    check(possible_period_ms(UINT32_MAX) == PERIOD_MS_MAX, "period 4294967295", "");

    /* A long id pushes optional keys out, never the needed ones. */
    struct board board = {"abcdefghijklmnopqrstuvwx", 8, 65536, 10000, true, 60000, 112};
    struct line line;
    check(!write_hello(&line, &board, "watchdog"), "longest hello", "");
    check(memmem(line.text, line.length, " ntc=low", 8) != NULL, "needed keys stay", "");
    check(memmem(line.text, line.length, " period_ms=60000*", 17) != NULL, "period stays", "");
    board.id = "bench-2";
    check(!write_hello(&line, &board, "watchdog"), "hello of a usual name", "");
    check(memmem(line.text, line.length, " reset=watchdog*", 16) != NULL, "reset stays", "");
    check(memmem(line.text, line.length, "skew_us", 7) == NULL, "skew goes", "");
    check(write_hello(&line, &board, NULL), "hello without a reset", "");
    check(memmem(line.text, line.length, " skew_us=112*", 13) != NULL, "skew is back", "");

    /* Whatever the id's length: the line is whole and its checksum has room. */
    for (const char *id = "abcdefghijklmnopqrstuvwx"; *id; id++) {
        board.id = id;
        write_hello(&line, &board, "watchdog");
        check(!line.overflow && written_checksum(line.text, line.length) ==
                                    checksum(line.text, (uint8_t)(line.length - 5)),
              "room for the checksum", id);
    }

    /* The longest sample of this firmware still fits. */
    uint16_t counts[CHANNELS_MAX];
    memset(counts, 0xFF, sizeof counts);
    write_sample(&line, UINT32_MAX, UINT32_MAX, counts, CHANNELS_MAX);
    check(!line.overflow && line.length <= LINE_BYTES_MAX, "longest sample", "");

    write_remark(&line, "unknown request");
    check(same(&line, "#unknown request*BAE4", 21), "writing a remark", "");
}

int main(int argc, char **argv)
{
    if (argc != 2) {
        fprintf(stderr, "usage: host-test protocol-vectors.tsv\n");
        return 2;
    }
    FILE *file = fopen(argv[1], "r");
    if (!file) {
        fprintf(stderr, "%s: %s\n", argv[1], strerror(errno));
        return 1;
    }
    char row[2048];
    int rows = 0;
    while (fgets(row, sizeof row, file)) {
        row[strcspn(row, "\n")] = '\0';
        if (row[0] == '#' || row[0] == '\0')
            continue;
        rows++;
        check_row(row);
    }
    fclose(file);
    check_limits();
    /* A file that lost its rows must not look like success. */
    check(rows >= 100, "at least 100 rows", argv[1]);
    check(written_hellos >= 2, "at least 2 hellos in the firmware's form", argv[1]);
    check(written_samples >= 5, "at least 5 samples in the firmware's form", argv[1]);
    printf("%d rows; %d hellos and %d samples written again\n", rows, written_hellos,
           written_samples);
    printf("%d passed, %d failed\n", passed, failed);
    return failed != 0;
}
