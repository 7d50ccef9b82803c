/* port.c - see port.h. Linux only: it leans on how Linux reports a closed slave. */
#include "port.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

/* Make the slave raw, unlocked and empty. Opening and closing it also makes the
 * master report "nobody there" until a host comes. */
static bool refresh(struct port *port)
{
    int slave = open(port->slave_path, O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
    if (slave < 0)
        return false; /* a host left it locked, or has it open and locked right now */
    struct termios mode;
    bool good = tcgetattr(slave, &mode) == 0;
    if (good) {
        cfmakeraw(&mode);
        mode.c_cflag |= CLOCAL | CREAD;
        cfsetspeed(&mode, B115200);
        good = tcsetattr(slave, TCSANOW, &mode) == 0;
    }
    ioctl(slave, TIOCNXCL);
    tcflush(slave, TCIOFLUSH);
    close(slave);
    return good;
}

/* Put the link in place in one step, so that it is never half there. */
static bool place_link(const struct port *port)
{
    char fresh[4096];
    if (snprintf(fresh, sizeof fresh, "%s.%ld", port->link_path, (long)getpid()) >=
        (int)sizeof fresh)
        return false;
    unlink(fresh);
    if (symlink(port->slave_path, fresh) != 0)
        return false;
    if (rename(fresh, port->link_path) != 0) {
        unlink(fresh);
        return false;
    }
    return true;
}

static void remove_link(const struct port *port)
{
    char target[sizeof port->slave_path];
    ssize_t count = readlink(port->link_path, target, sizeof target - 1);
    if (count < 0)
        return;
    target[count] = '\0';
    if (strcmp(target, port->slave_path) == 0) /* ours, not somebody else's */
        unlink(port->link_path);
}

bool port_plug(struct port *port)
{
    port->host_present = false;
    port->master = posix_openpt(O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
    if (port->master < 0 || grantpt(port->master) != 0 || unlockpt(port->master) != 0 ||
        ptsname_r(port->master, port->slave_path, sizeof port->slave_path) != 0 ||
        !refresh(port)) {
        perror("emulated-board: pseudo-terminal");
        return false;
    }
    if (port->link_path && !place_link(port)) {
        perror(port->link_path);
        return false;
    }
    return true;
}

void port_unplug(struct port *port)
{
    if (port->master < 0)
        return;
    if (port->link_path)
        remove_link(port);
    close(port->master);
    port->master = -1;
    port->host_present = false;
}

bool port_look(struct port *port)
{
    if (port->master < 0)
        return false;
    struct pollfd look = {.fd = port->master, .events = POLLIN};
    if (poll(&look, 1, 0) < 0)
        return port->host_present;
    bool here = !(look.revents & POLLHUP);
    if (port->host_present && !here && !refresh(port)) {
        /* Left locked and we may not unlock it: a new one under the same link. */
        port_unplug(port);
        port_plug(port);
    }
    port->host_present = here && port->master >= 0;
    return port->host_present;
}

size_t port_read(struct port *port, uint8_t *bytes, size_t room)
{
    if (port->master < 0 || room == 0)
        return 0;
    ssize_t count = read(port->master, bytes, room);
    return count > 0 ? (size_t)count : 0; /* EAGAIN: nothing; EIO: nobody */
}

void port_write(struct port *port, const uint8_t *bytes, size_t count, bool patient)
{
    while (count > 0 && port->master >= 0 && port->host_present) {
        ssize_t written = write(port->master, bytes, count);
        if (written > 0) {
            bytes += written;
            count -= (size_t)written;
        } else if (written < 0 && errno == EINTR && patient) {
            return; /* asked to stop */
        } else if (written < 0 && errno == EAGAIN && patient) {
            struct pollfd wait = {.fd = port->master, .events = POLLOUT};
            if (poll(&wait, 1, 100) < 0 || (wait.revents & POLLHUP))
                return;
        } else {
            port->dropped += count;
            return;
        }
    }
}

/* Has the host read all? Looking with poll() makes the kernel hand on what is
 * still between the two ends; FIONREAD alone does not see those bytes. */
static bool all_read(int slave)
{
    struct pollfd look = {.fd = slave, .events = POLLIN};
    int unread = 0;
    return poll(&look, 1, 0) == 0 && ioctl(slave, FIONREAD, &unread) == 0 && unread == 0;
}

void port_drain(struct port *port, int limit_ms)
{
    if (!port_look(port))
        return;
    int slave = open(port->slave_path, O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
    const struct timespec nap = {.tv_nsec = 1000000};
    for (int waited_ms = 0; waited_ms < limit_ms; waited_ms++) {
        /* Locked by the host: no way to look, so give it the whole time. */
        if (slave >= 0 ? all_read(slave) : !port_look(port))
            break;
        if (nanosleep(&nap, NULL) != 0)
            break;
    }
    if (slave >= 0)
        close(slave);
}
