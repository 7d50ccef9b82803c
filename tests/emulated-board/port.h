/* port.h - the serial port as the host sees it: one end of a pseudo-terminal,
 * reachable under a name of our choice. */
#ifndef PORT_H
#define PORT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct port {
    const char *link_path; /* null: no link, the slave's own name only */
    int master;            /* -1 while unplugged */
    char slave_path[128];
    bool host_present;
    uint64_t dropped; /* bytes that found the queue full */
};

/* Open a new pseudo-terminal in raw mode and put the link in place. */
bool port_plug(struct port *port);

/* Close it and remove the link: the host sees the device vanish. */
void port_unplug(struct port *port);

/* Is a host there? Call it regularly: when a host has closed, this makes the
 * port as fresh as an unopened one (nothing queued, no lock, raw mode). */
bool port_look(struct port *port);

/* Bytes from the host, 0 if none. */
size_t port_read(struct port *port, uint8_t *bytes, size_t room);

/* Bytes to the host. If its queue is full: wait for it if `patient`, else drop
 * the newest bytes, as a real port does. Without a host they are gone. */
void port_write(struct port *port, const uint8_t *bytes, size_t count, bool patient);

/* Wait until the host has read everything, at most `limit_ms`. */
void port_drain(struct port *port, int limit_ms);

#endif
