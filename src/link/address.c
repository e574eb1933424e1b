#include "address.h"

#include <stddef.h>
#include <string.h>

enum { PORT_MAX = 65535 }; /* RFC 9293 section 3.1: 16 bits */

static enum oxl_status wrong_shape(const char *where, struct oxl_error *err)
{
    return oxl_fail(err, OXL_ERR_USAGE,
                    "tcp:%s is no address: write tcp:HOST:PORT, an IPv6 address in brackets, as "
                    "tcp:127.0.0.1:35000",
                    where);
}

/* The colon before the port, NULL when there is none. *from and *n: the host. */
static const char *find_colon(const char *where, const char **from, size_t *n)
{
    bool brackets = where[0] == '[';
    *from = where + brackets;
    const char *end = strchr(*from, brackets ? ']' : ':');
    if (!end)
        return NULL;
    *n = (size_t)(end - *from);
    return end[brackets] == ':' ? end + brackets : NULL;
}

static enum oxl_status take_port(const char *text, bool any_port, const char *where,
                                 struct oxl_address *out, struct oxl_error *err)
{
    size_t n = strspn(text, "0123456789");
    if (n == 0 || text[n])
        return wrong_shape(where, err);
    size_t zeros = strspn(text, "0");
    const char *digits = zeros == n ? text + n - 1 : text + zeros;
    unsigned long port = 0;
    for (const char *c = digits; *c && port <= PORT_MAX; c++)
        port = port * 10 + (unsigned long)(*c - '0');
    if (port > PORT_MAX || (port == 0 && !any_port))
        return oxl_fail(err, OXL_ERR_USAGE,
                        "tcp:%s: there is no port %s: give a number from %d to %d", where, digits,
                        any_port ? 0 : 1, PORT_MAX);
    memcpy(out->service, digits, strlen(digits) + 1);
    return OXL_OK;
}

enum oxl_status oxl_address_parse(const char *where, bool any_port, struct oxl_address *out,
                                  struct oxl_error *err)
{
    const char *host;
    size_t n = 0;
    const char *colon = find_colon(where, &host, &n);
    if (!colon || n >= sizeof out->host)
        return wrong_shape(where, err);
    if (n == 0)
        return oxl_fail(err, OXL_ERR_USAGE,
                        "tcp:%s names no host: write tcp:HOST:PORT, as tcp:127.0.0.1:35000", where);
    memcpy(out->host, host, n);
    out->host[n] = '\0';
    return take_port(colon + 1, any_port, where, out, err);
}
