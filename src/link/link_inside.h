/* What the openers share. */
#ifndef OXYLAG_LINK_INSIDE_H
#define OXYLAG_LINK_INSIDE_H

#include "oxylag/link.h"

struct sp_port;

/* A link over a file descriptor. */
struct oxl_link_fd {
    struct oxl_link link; /* first, so that the two pointers convert */
    int fd;
    bool socket;
    struct sp_port *port; /* owned; NULL unless libserialport opened the descriptor */
    int (*speed)(struct oxl_link_fd *l, unsigned baud); /* NULL: has none */
};
/* Takes the descriptor (non-blocking already). NULL when there is no memory: fd stays open. */
struct oxl_link_fd *oxl_link_fd_new(int fd);

enum oxl_status oxl_link_serial(struct sp_port *port, const char *path, unsigned baud,
                                struct oxl_link **out, struct oxl_error *err);
enum oxl_status oxl_link_tty(const char *path, unsigned baud, struct oxl_link **out,
                             struct oxl_error *err);
/* "HOST:PORT", IPv6 addresses in brackets. */
enum oxl_status oxl_link_tcp(const char *where, struct oxl_link **out, struct oxl_error *err);

/* Keeps a second program, or a second copy of this one, from taking bytes of the same port.
 * 0, or an errno. */
int oxl_link_lock(int fd);

/* Why a device path did not open, as a sentence that says what to do. */
enum oxl_status oxl_port_refused(const char *path, int error, struct oxl_error *err);

#endif
