/* The words of a port in a list, apart from finding it. */
#ifndef OXYLAG_LINK_PORTS_H
#define OXYLAG_LINK_PORTS_H

#include <libserialport.h>
#include <stddef.h>

/* vendor and product are -1 when unknown; name is the device's own text or NULL. */
void oxl_port_words(enum sp_transport transport, int vendor, int product, const char *name,
                    char *out, size_t n);

#endif
