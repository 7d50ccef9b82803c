/* Syncs that fail, for a program that is started with this in LD_PRELOAD: once the file
 * FAILING_SYNCS_WHEN is there, the next FAILING_SYNCS syncs of files whose path holds
 * FAILING_SYNCS_OF give EIO. FAILING_SYNCS_LOG gets a line for each sync: `0 PATH` or `EIO PATH`.
 *
 * Like a disk's: the system says so once, and a second sync of the same file would succeed although
 * nothing was written (fsync(2), "EIO"). */
#define _GNU_SOURCE
#include <errno.h>
#include <fcntl.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/syscall.h>
#include <unistd.h>

static atomic_int failed;

static int sync_or_fail(int fd, long number) {
    char link[64], path[4096], line[4200];
    snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    ssize_t n = readlink(link, path, sizeof path - 1);
    path[n < 0 ? 0 : n] = 0;
    const char *of = getenv("FAILING_SYNCS_OF"), *when = getenv("FAILING_SYNCS_WHEN");
    const char *count = getenv("FAILING_SYNCS"), *log = getenv("FAILING_SYNCS_LOG");
    int fails = of && when && count && strstr(path, of) && access(when, F_OK) == 0 &&
                atomic_fetch_add(&failed, 1) < atoi(count);
    if (log) {
        int length = snprintf(line, sizeof line, "%s %s\n", fails ? "EIO" : "0", path);
        int out = open(log, O_WRONLY | O_APPEND | O_CREAT, 0600);
        if (out >= 0) {
            if (write(out, line, length) != length) abort();
            close(out);
        }
    }
    if (fails) {
        errno = EIO;
        return -1;
    }
    return (int)syscall(number, fd);
}

int fsync(int fd) { return sync_or_fail(fd, SYS_fsync); }

int fdatasync(int fd) { return sync_or_fail(fd, SYS_fdatasync); }
