/* HOST:PORT as it is given to connect to and to listen on: taken apart in one place. */
#ifndef OXYLAG_LINK_ADDRESS_H
#define OXYLAG_LINK_ADDRESS_H

#include <stdbool.h>

#include "oxylag/status.h"

struct oxl_address {
    char host[256];
    char service[6]; /* the port number in decimal digits */
};

/* `where` is what follows "tcp:": HOST:PORT, an IPv6 address in brackets. The port is a number from
 * 1 to 65535; with any_port also 0, which asks the system for a free one. OXL_ERR_USAGE with a
 * sentence otherwise: the C library would take such a number modulo 65536, or not at all. */
enum oxl_status oxl_address_parse(const char *where, bool any_port, struct oxl_address *out,
                                  struct oxl_error *err) OXL_MUST_CHECK;

#endif
