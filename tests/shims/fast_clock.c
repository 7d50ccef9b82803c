/* A world in which all clocks go FAST_CLOCK times faster, for a program that is started with this in
 * LD_PRELOAD: ten minutes pass in twenty seconds, for its clocks and for its waits alike.
 *
 * Programs read clocks through the code that the kernel maps into them (vdso(7)), not always through
 * the C library: so it is that code that is led here. Linux on x86-64. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <linux/futex.h>
#include <poll.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/epoll.h>
#include <sys/mman.h>
#include <sys/syscall.h>
#include <time.h>
#include <unistd.h>

#define CLOCKS 12
#define NS 1000000000LL

static int64_t factor = 1;
static int64_t base[CLOCKS];

static long raw(long n, long a, long b, long c, long d, long e, long f) {
    long result;
    register long r10 __asm__("r10") = d;
    register long r8 __asm__("r8") = e;
    register long r9 __asm__("r9") = f;
    __asm__ volatile("syscall"
                     : "=a"(result)
                     : "a"(n), "D"(a), "S"(b), "d"(c), "r"(r10), "r"(r8), "r"(r9)
                     : "rcx", "r11", "memory");
    return result;
}

static int64_t in_ns(const struct timespec *t) { return t->tv_sec * NS + t->tv_nsec; }

static struct timespec of_ns(int64_t ns) {
    struct timespec t = {.tv_sec = ns / NS, .tv_nsec = ns % NS};
    return t;
}

static int64_t real_ns(long clock) {
    struct timespec t = {0, 0};
    raw(SYS_clock_gettime, clock, (long)&t, 0, 0, 0, 0);
    return in_ns(&t);
}

/* What every reading of a clock leads to. Clocks of CPU time are left as they are. */
static int fast_gettime(clockid_t clock, struct timespec *t) {
    long result = raw(SYS_clock_gettime, clock, (long)t, 0, 0, 0, 0);
    if (result == 0 && clock >= 0 && clock < CLOCKS && base[clock] != 0)
        *t = of_ns(base[clock] + (in_ns(t) - base[clock]) * factor);
    return (int)result;
}

__attribute__((constructor)) static void lead(void) {
    const char *text = getenv("FAST_CLOCK");
    void *vdso = dlopen("linux-vdso.so.1", RTLD_LAZY | RTLD_NOLOAD);
    unsigned char *code = vdso ? dlsym(vdso, "__vdso_clock_gettime") : NULL;
    if (!text || !code) _exit(99);
    static const int led[] = {CLOCK_REALTIME,        CLOCK_MONOTONIC, CLOCK_MONOTONIC_RAW,
                              CLOCK_REALTIME_COARSE, CLOCK_BOOTTIME,  CLOCK_MONOTONIC_COARSE};
    for (unsigned i = 0; i < sizeof led / sizeof *led; i++) base[led[i]] = real_ns(led[i]);
    factor = atoll(text);
    long size = sysconf(_SC_PAGESIZE);
    unsigned char *page = (unsigned char *)((uintptr_t)code & ~(uintptr_t)(size - 1));
    if (mprotect(page, 2 * size, PROT_READ | PROT_WRITE | PROT_EXEC) != 0 &&
        mprotect(page, size, PROT_READ | PROT_WRITE | PROT_EXEC) != 0)
        _exit(98);
    /* movabs $fast_gettime, %rax; jmp *%rax */
    void *there = (void *)fast_gettime;
    unsigned char jump[12] = {0x48, 0xb8, 0, 0, 0, 0, 0, 0, 0, 0, 0xff, 0xe0};
    memcpy(jump + 2, &there, sizeof there);
    memcpy(code, jump, sizeof jump);
}

static int shorter_ms(int ms) { return ms <= 0 ? ms : (int)((ms + factor - 1) / factor); }

int poll(struct pollfd *fds, nfds_t n, int ms) {
    long result = raw(SYS_poll, (long)fds, (long)n, shorter_ms(ms), 0, 0, 0);
    return result < 0 ? (errno = (int)-result, -1) : (int)result;
}

int ppoll(struct pollfd *fds, nfds_t n, const struct timespec *t, const sigset_t *mask) {
    struct timespec shorter = t ? of_ns(in_ns(t) / factor) : of_ns(0);
    long result = raw(SYS_ppoll, (long)fds, (long)n, (long)(t ? &shorter : NULL), (long)mask, 8, 0);
    return result < 0 ? (errno = (int)-result, -1) : (int)result;
}

int epoll_wait(int fd, struct epoll_event *events, int n, int ms) {
    long result = raw(SYS_epoll_wait, fd, (long)events, n, shorter_ms(ms), 0, 0);
    return result < 0 ? (errno = (int)-result, -1) : (int)result;
}

int clock_nanosleep(clockid_t clock, int flags, const struct timespec *t, struct timespec *left) {
    (void)left;
    int64_t from = flags == TIMER_ABSTIME && clock >= 0 && clock < CLOCKS ? base[clock] : 0;
    struct timespec shorter = of_ns(from + (in_ns(t) - from) / factor);
    return (int)-raw(SYS_clock_nanosleep, clock, flags, (long)&shorter, 0, 0, 0);
}

int nanosleep(const struct timespec *t, struct timespec *left) {
    int error = clock_nanosleep(CLOCK_MONOTONIC, 0, t, left);
    return error ? (errno = error, -1) : 0;
}

/* Waits for other threads, with an end that is a time of the monotonic clock (futex(2)). */
long syscall(long n, ...) {
    va_list list;
    va_start(list, n);
    long a[6];
    for (int i = 0; i < 6; i++) a[i] = va_arg(list, long);
    va_end(list);
    struct timespec real;
    if (n == SYS_futex && (a[1] & FUTEX_CMD_MASK) == FUTEX_WAIT_BITSET && a[3] != 0) {
        int64_t from = base[CLOCK_MONOTONIC];
        real = of_ns(from + (in_ns((const struct timespec *)a[3]) - from) / factor);
        a[3] = (long)&real;
    }
    long result = raw(n, a[0], a[1], a[2], a[3], a[4], a[5]);
    return result < 0 && result > -4096 ? (errno = (int)-result, -1) : result;
}
