/* main.c - a board that exists only here: the real firmware on an emulated
 * processor, two invented samples under an invented lamp, and a pseudo-terminal
 * for the host to open. See README.md for the command line.
 *
 * Time goes in steps of one millisecond. In each: faults that are due, the lamp,
 * the samples, bytes from the host, the processor, bytes to the host. A step is
 * computed when its end has come on the host's clock, never before, so a byte can
 * arrive late but not early.
 */
#include <errno.h>
#include <getopt.h>
#include <inttypes.h>
#include <math.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "faults.h"
#include "mcu.h"
#include "noise.h"
#include "port.h"
#include "thermal.h"

#define CYCLES_PER_MS (MCU_HZ / 1000)
#define REFERENCE_MV 5000.0
#define HOST_BYTES_PER_MS 10 /* what 115200 baud can carry, a little less */
#define TRUTH_EVERY_MS 100

struct options {
    const char *hex, *link, *truth, *faults;
    uint64_t seed;
    double speed, lamp_on_s, lamp_off_s, run_s, noise_mv, clock_ppm;
    bool wait;
};

struct world {
    struct options options;
    struct faults faults;
    struct mcu *mcu;
    struct port port;
    struct bench bench;
    struct noise converter_noise, garbage_noise;
    double ratio[SAMPLES]; /* tap voltage over reference, right now */
    int open[SAMPLES], shorted[SAMPLES], silent, no_power;
    uint8_t to_host[GARBAGE_MAX + 256];
    size_t to_host_count;
    uint8_t from_host[4096];
    size_t from_host_count;
    FILE *truth;
    int64_t zero_ns; /* CLOCK_BOOTTIME at simulated time zero */
    uint64_t now_ms;
};

static volatile sig_atomic_t stop;

static void on_signal(int number)
{
    (void)number;
    stop = 1;
}

static int64_t boottime_ns(void)
{
    struct timespec now;
    clock_gettime(CLOCK_BOOTTIME, &now);
    return (int64_t)now.tv_sec * 1000000000 + now.tv_nsec;
}

static void say(const char *format, double value)
{
    printf(format, value);
    putchar('\n');
    fflush(stdout);
}

/* --- Wires to the processor ---------------------------------------------- */
static unsigned convert(void *context, int channel)
{
    struct world *world = context;
    if (channel >= SAMPLES || world->shorted[channel])
        return 0;
    /* An ideal converter as the data sheet defines it: steps of Vref/1024, the
     * first at half a step. */
    double noise = noise_normal(&world->converter_noise) * world->options.noise_mv;
    double code = floor((world->ratio[channel] + noise / REFERENCE_MV) * 1024.0 + 0.5);
    if (world->open[channel] || code > 1023.0)
        return 1023;
    return code < 0.0 ? 0 : (unsigned)code;
}

static void queue(struct world *world, uint8_t byte)
{
    if (world->to_host_count < sizeof world->to_host)
        world->to_host[world->to_host_count++] = byte;
}

static void sent(void *context, uint8_t byte)
{
    struct world *world = context;
    if (!world->silent)
        queue(world, byte);
}

/* --- One step ------------------------------------------------------------- */
static bool begin_fault(struct world *world, const struct fault_event *event)
{
    uint64_t cycle = world->now_ms * CYCLES_PER_MS;
    switch (event->fault) {
    case FAULT_UNPLUG:
    case FAULT_REPLUG:
        if (world->options.speed == 0)
            port_drain(&world->port, 2000); /* what the host gets must not depend on its haste */
        port_unplug(&world->port);
        world->no_power += event->fault == FAULT_REPLUG;
        return true;
    case FAULT_RESET:
        return world->no_power || mcu_start(world->mcu, MCU_BUTTON, cycle);
    case FAULT_HANG:
        mcu_hang(world->mcu);
        return true;
    case FAULT_GARBAGE:
        for (unsigned i = 0; i < event->amount; i++)
            queue(world, (uint8_t)noise_bits(&world->garbage_noise));
        return true;
    case FAULT_SILENCE:
        world->silent++;
        return true;
    case FAULT_OPEN:
        world->open[event->channel]++;
        return true;
    case FAULT_SHORT:
        world->shorted[event->channel]++;
        return true;
    }
    return true;
}

static bool end_fault(struct world *world, const struct fault_event *event)
{
    switch (event->fault) {
    case FAULT_UNPLUG:
        return world->port.master >= 0 || port_plug(&world->port);
    case FAULT_REPLUG:
        world->no_power--;
        return (world->port.master >= 0 || port_plug(&world->port)) &&
               mcu_start(world->mcu, MCU_POWER_ON, world->now_ms * CYCLES_PER_MS);
    case FAULT_SILENCE:
        world->silent--;
        return true;
    case FAULT_OPEN:
        world->open[event->channel]--;
        return true;
    case FAULT_SHORT:
        world->shorted[event->channel]--;
        return true;
    case FAULT_RESET:
    case FAULT_HANG:
    case FAULT_GARBAGE:
        return true;
    }
    return true;
}

static bool do_faults(struct world *world)
{
    for (int i = 0; i < world->faults.count; i++) {
        const struct fault_event *event = &world->faults.event[i];
        if (event->end_ms == world->now_ms && event->end_ms > event->start_ms &&
            !end_fault(world, event))
            return false;
        if (event->start_ms == world->now_ms && !begin_fault(world, event))
            return false;
    }
    return true;
}

static void do_lamp(struct world *world)
{
    double now_s = (double)world->now_ms / 1000.0;
    bool on = now_s >= world->options.lamp_on_s && now_s < world->options.lamp_off_s;
    if (on != world->bench.lamp_on)
        say(on ? "lamp on at %.3f" : "lamp off at %.3f", now_s);
    world->bench.lamp_on = on;
}

static void write_truth(struct world *world)
{
    if (world->truth && world->now_ms % TRUTH_EVERY_MS == 0)
        fprintf(world->truth, "%" PRIu64 ",%.4f,%.4f,%d\n", world->now_ms,
                world->bench.sample[SLATE].probe_degc, world->bench.sample[MOSS].probe_degc,
                world->bench.lamp_on);
}

static void hear_host(struct world *world)
{
    port_look(&world->port);
    world->from_host_count +=
        port_read(&world->port, world->from_host + world->from_host_count,
                  sizeof world->from_host - world->from_host_count);
    size_t count = world->from_host_count;
    if (count > HOST_BYTES_PER_MS)
        count = HOST_BYTES_PER_MS;
    for (size_t i = 0; i < count; i++)
        if (!world->no_power)
            mcu_receive(world->mcu, world->from_host[i]);
    world->from_host_count -= count;
    memmove(world->from_host, world->from_host + count, world->from_host_count);
}

static bool step(struct world *world)
{
    if (!do_faults(world))
        return false;
    do_lamp(world);
    write_truth(world);
    for (int i = 0; i < SAMPLES; i++)
        world->ratio[i] = divider_ratio(world->bench.sample[i].probe_degc);
    bench_step(&world->bench, 0.001);

    hear_host(world);
    if (!world->no_power && !mcu_run(world->mcu, (world->now_ms + 1) * CYCLES_PER_MS))
        return false;
    port_write(&world->port, world->to_host, world->to_host_count, world->options.speed == 0);
    world->to_host_count = 0;
    world->now_ms++;
    return true;
}

/* Sleep until the coming step's end is due on the host's clock. */
static void pace(const struct world *world)
{
    if (world->options.speed == 0)
        return;
    double rate = world->options.speed * (1.0 + world->options.clock_ppm * 1e-6);
    int64_t due_ns = world->zero_ns + (int64_t)((double)(world->now_ms + 1) * 1e6 / rate);
    if (due_ns - boottime_ns() < 200000) /* too short to be worth a sleep */
        return;
    struct timespec due = {.tv_sec = due_ns / 1000000000, .tv_nsec = due_ns % 1000000000};
    clock_nanosleep(CLOCK_BOOTTIME, TIMER_ABSTIME, &due, NULL);
}

/* --- Start and end -------------------------------------------------------- */
static void usage(FILE *to)
{
    fputs("usage: emulated-board --hex FILE [options]\n"
          "  --hex FILE        firmware, Intel HEX\n"
          "  --link PATH       name for the port, removed at the end\n"
          "  --seed N          of noise and air (1)\n"
          "  --speed X         1 real time, 0 as fast as it goes (1)\n"
          "  --wait            simulated time starts when a host opens the port\n"
          "  --lamp-on S       seconds (20)\n"
          "  --lamp-off S      seconds (80)\n"
          "  --run S           seconds, then end; 0 until killed (0)\n"
          "  --truth FILE      CSV of the probe tips' temperatures\n"
          "  --fault SCRIPT    such as unplug@30+5,reset@50,garbage@40+64,open1@45+5\n"
          "  --noise-mv X      rms noise at the converter's input (2)\n"
          "  --clock-ppm N     the board's clock is fast by this much (0)\n",
          to);
}

static double number(const char *name, const char *text, double low, double high)
{
    char *end;
    double value = strtod(text, &end);
    if (end == text || *end != '\0' || !(value >= low && value <= high)) {
        fprintf(stderr, "emulated-board: --%s takes a number from %g to %g\n", name, low, high);
        exit(2);
    }
    return value;
}

static void read_options(struct options *options, int argc, char **argv)
{
    enum { HEX, LINK, SEED, SPEED, WAIT, ON, OFF, RUN, TRUTH, FAULT, NOISE, PPM, HELP };
    static const struct option known[] = {
        {"hex", 1, 0, HEX},         {"link", 1, 0, LINK},       {"seed", 1, 0, SEED},
        {"speed", 1, 0, SPEED},     {"wait", 0, 0, WAIT},       {"lamp-on", 1, 0, ON},
        {"lamp-off", 1, 0, OFF},    {"run", 1, 0, RUN},         {"truth", 1, 0, TRUTH},
        {"fault", 1, 0, FAULT},     {"noise-mv", 1, 0, NOISE},  {"clock-ppm", 1, 0, PPM},
        {"help", 0, 0, HELP},       {0, 0, 0, 0},
    };
    *options = (struct options){
        .seed = 1, .speed = 1, .lamp_on_s = 20, .lamp_off_s = 80, .noise_mv = 2};
    int which, index;
    while ((which = getopt_long(argc, argv, "", known, &index)) != -1) {
        switch (which) {
        case HEX: options->hex = optarg; break;
        case LINK: options->link = optarg; break;
        case TRUTH: options->truth = optarg; break;
        case FAULT: options->faults = optarg; break;
        case WAIT: options->wait = true; break;
        case SEED: options->seed = (uint64_t)number("seed", optarg, 0, 1e15); break;
        case SPEED: options->speed = number("speed", optarg, 0, 10000); break;
        case ON: options->lamp_on_s = number("lamp-on", optarg, 0, 1e7); break;
        case OFF: options->lamp_off_s = number("lamp-off", optarg, 0, 1e7); break;
        case RUN: options->run_s = number("run", optarg, 0, 1e7); break;
        case NOISE: options->noise_mv = number("noise-mv", optarg, 0, 1000); break;
        case PPM: options->clock_ppm = number("clock-ppm", optarg, -100000, 100000); break;
        case HELP: usage(stdout); exit(0);
        default: usage(stderr); exit(2);
        }
    }
    if (!options->hex || optind != argc) {
        usage(stderr);
        exit(2);
    }
}

static bool begin(struct world *world)
{
    const struct options *options = &world->options;
    if (options->faults && !faults_read(&world->faults, options->faults))
        return false;
    struct noise air;
    noise_start(&air, options->seed, 1);
    noise_start(&world->converter_noise, options->seed, 2);
    noise_start(&world->garbage_noise, options->seed, 3);
    bench_start(&world->bench, &air);

    struct mcu_wires wires = {.context = world, .convert = convert, .sent = sent};
    world->mcu = mcu_new(options->hex, &wires);
    if (!world->mcu || !mcu_start(world->mcu, MCU_POWER_ON, 0))
        return false;
    if (options->truth && !(world->truth = fopen(options->truth, "w"))) {
        perror(options->truth);
        return false;
    }
    world->port.link_path = options->link;
    if (!port_plug(&world->port))
        return false;
    printf("ready %s\n", options->link ? options->link : world->port.slave_path);
    fflush(stdout);

    const struct timespec nap = {.tv_nsec = 1000000};
    while (options->wait && !stop && !port_look(&world->port))
        nanosleep(&nap, NULL);
    world->zero_ns = boottime_ns();
    if (world->truth) {
        setvbuf(world->truth, NULL, _IOLBF, 0); /* whole lines only, whenever we are killed */
        fprintf(world->truth, "# host_boottime_ns_at_zero=%" PRId64 "\n", world->zero_ns);
        fprintf(world->truth, "board_ms,slate_degc,moss_degc,lamp\n");
    }
    return true;
}

int main(int argc, char **argv)
{
    static struct world world = {.port.master = -1};
    read_options(&world.options, argc, argv);
    struct sigaction action = {.sa_handler = on_signal};
    sigaction(SIGINT, &action, NULL);
    sigaction(SIGTERM, &action, NULL);
    sigaction(SIGHUP, &action, NULL);
    signal(SIGPIPE, SIG_IGN);

    bool good = begin(&world);
    uint64_t end_ms = (uint64_t)(world.options.run_s * 1000.0 + 0.5);
    while (good && !stop && (end_ms == 0 || world.now_ms < end_ms)) {
        pace(&world);
        good = step(&world);
    }
    if (good) {
        if (!stop)
            port_drain(&world.port, 2000);
        printf("done\n");
        fflush(stdout);
        if (world.port.dropped)
            fprintf(stderr, "emulated-board: %" PRIu64 " bytes dropped, the host was slow\n",
                    world.port.dropped);
        unsigned resets = mcu_watchdog_resets(world.mcu);
        if (resets)
            fprintf(stderr, "emulated-board: the watchdog reset the board %u time(s)\n", resets);
    }
    port_unplug(&world.port);
    if (world.truth && fclose(world.truth) != 0) {
        perror(world.options.truth);
        good = false;
    }
    return good ? 0 : 1;
}
