/* faults.c - reads the fault script. */
#include "faults.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const struct {
    const char *name;
    enum fault fault;
    int channel;
    enum { INSTANT, LASTING, COUNTED } form;
} words[] = {
    {"unplug", FAULT_UNPLUG, 0, LASTING},   {"replug", FAULT_REPLUG, 0, LASTING},
    {"reset", FAULT_RESET, 0, INSTANT},     {"hang", FAULT_HANG, 0, INSTANT},
    {"garbage", FAULT_GARBAGE, 0, COUNTED}, {"silence", FAULT_SILENCE, 0, LASTING},
    {"open1", FAULT_OPEN, 0, LASTING},      {"open2", FAULT_OPEN, 1, LASTING},
    {"short1", FAULT_SHORT, 0, LASTING},    {"short2", FAULT_SHORT, 1, LASTING},
};

/* A number of 0 to a million, up to `end`. */
static bool read_amount(const char *text, const char **end, double *value)
{
    char *stop;
    *value = strtod(text, &stop);
    *end = stop;
    return stop != text && *value >= 0.0 && *value <= 1e6;
}

static bool read_one(struct fault_event *event, const char *text)
{
    const char *at = strchr(text, '@');
    if (!at)
        return false;
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
        if (strlen(words[i].name) != (size_t)(at - text) ||
            strncmp(words[i].name, text, (size_t)(at - text)) != 0)
            continue;
        double start_s, extra = 0.0;
        const char *rest;
        if (!read_amount(at + 1, &rest, &start_s))
            return false;
        bool has_extra = *rest == '+';
        if (has_extra != (words[i].form != INSTANT))
            return false;
        if (has_extra && (!read_amount(rest + 1, &rest, &extra) || extra <= 0.0))
            return false;
        if (*rest != '\0')
            return false;
        event->fault = words[i].fault;
        event->channel = words[i].channel;
        event->start_ms = (uint64_t)(start_s * 1000.0 + 0.5);
        event->end_ms = event->start_ms;
        if (words[i].form == LASTING)
            event->end_ms += (uint64_t)(extra * 1000.0 + 0.5);
        event->amount = words[i].form == COUNTED ? (unsigned)extra : 0;
        if (event->amount > GARBAGE_MAX)
            return false;
        return true;
    }
    return false;
}

bool faults_read(struct faults *faults, const char *script)
{
    faults->count = 0;
    char *copy = strdup(script);
    if (!copy)
        return false;
    bool good = true;
    for (char *word = strtok(copy, ","); word && good; word = strtok(NULL, ",")) {
        if (faults->count == FAULTS_MAX || !read_one(&faults->event[faults->count], word)) {
            fprintf(stderr, "emulated-board: cannot read the fault \"%s\"\n", word);
            good = false;
        } else {
            faults->count++;
        }
    }
    free(copy);
    return good;
}
