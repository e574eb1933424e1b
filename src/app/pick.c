/* Which port a run uses, and its name in what is said of it. */
#include <stdio.h>

#include "commands.h"

static enum oxl_status pick_plugged(const struct oxl_opts *o, char *out, size_t n,
                                    struct oxl_error *err)
{
    enum { LISTED = 32 };
    static struct oxl_port_info ports[LISTED];
    size_t found, which = 0;
    enum oxl_status st = oxl_ports(ports, LISTED, &found, err);
    if (st == OXL_OK)
        st = oxl_port_choose(ports, found < LISTED ? found : LISTED, &which, err);
    if (st != OXL_OK)
        return st;
    snprintf(out, n, "%s", ports[which].path);
    if (!o->quiet)
        fprintf(stderr, "Port: %s, %s\n", ports[which].path, ports[which].words);
    return OXL_OK;
}

enum oxl_status oxl_pick_port(const struct oxl_opts *o, char *out, size_t n, struct oxl_error *err)
{
    if (o->command == OXL_CMD_DEMO)
        snprintf(out, n, "sim:%s", o->scenario ? o->scenario : "good");
    else if (o->port)
        snprintf(out, n, "%s", o->port);
    else
        return pick_plugged(o, out, n, err);
    return OXL_OK;
}

void oxl_name_port(const char *port, struct oxl_error *err)
{
    if (!err || (err->status != OXL_ERR_NO_ADAPTER && err->status != OXL_ERR_NO_VEHICLE &&
                 err->status != OXL_ERR_LINK_LOST))
        return;
    struct oxl_error was = *err;
    oxl_fail(err, was.status, "%s: %s", port, was.text);
}
