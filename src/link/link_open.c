/* NOLINTNEXTLINE(bugprone-reserved-identifier,cert-dcl37-c,cert-dcl51-cpp): for realpath */
#define _XOPEN_SOURCE 700

#include "link_inside.h"

#include <errno.h>
#include <grp.h>
#include <libserialport.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

/* The group that may open the port; "" when there is no better advice than "an administrator". */
static void owning_group(const char *path, char *out, size_t n)
{
    struct stat st;
    struct group *g;
    out[0] = '\0';
    if (stat(path, &st) != 0 || st.st_gid == 0 || !(st.st_mode & S_IWGRP))
        return;
    g = getgrgid(st.st_gid);
    if (g && strlen(g->gr_name) < n)
        memcpy(out, g->gr_name, strlen(g->gr_name) + 1);
}

static enum oxl_status no_permission(const char *path, struct oxl_error *err)
{
    char group[64];
    owning_group(path, group, sizeof group);
    if (group[0])
        return oxl_fail(err, OXL_ERR_PORT_PERMISSION,
                        "you may not open %s: join its group with `sudo usermod -aG %s $USER`, "
                        "then log out and in again",
                        path, group);
    return oxl_fail(err, OXL_ERR_PORT_PERMISSION,
                    "you may not open %s: ask the administrator for read and write permission "
                    "(serial ports usually belong to the group dialout)",
                    path);
}

enum oxl_status oxl_port_refused(const char *path, int error, struct oxl_error *err)
{
    switch (error) {
    case EACCES:
    case EPERM:
        return no_permission(path, err);
    case ENOENT:
    case ENODEV:
    case ENXIO:
    case ENOTDIR:
        return oxl_fail(err, OXL_ERR_PORT_MISSING,
                        "there is no port %s: plug in the adapter and see `oxylag ports`", path);
    case EBUSY:
    case EWOULDBLOCK:
        return oxl_fail(err, OXL_ERR_PORT_OPEN,
                        "%s is in use by another program: close that one first", path);
    case ENOTTY:
    case EISDIR:
        return oxl_fail(err, OXL_ERR_PORT_OPEN,
                        "%s is not a serial port: see `oxylag ports` for those that are", path);
    case ENOMEM:
        return oxl_fail(err, OXL_ERR_NOMEM, "out of memory");
    default:
        return oxl_fail(err, OXL_ERR_PORT_OPEN,
                        "%s cannot be opened (%s): unplug the adapter, plug it in again and retry",
                        path, strerror(error));
    }
}

/* libserialport knows a port by its kernel name, so links such as /dev/serial/by-id are
 * followed first. What it does not know is given to termios. */
static enum oxl_status open_device(const char *path, unsigned baud, struct oxl_link **out,
                                   struct oxl_error *err)
{
    char *real = realpath(path, NULL);
    struct sp_port *port = NULL;
    struct stat st;
    enum oxl_status status;
    if (!real)
        return oxl_port_refused(path, errno, err);
    if (stat(real, &st) != 0)
        status = oxl_port_refused(path, errno, err);
    else if (!S_ISCHR(st.st_mode))
        status = oxl_port_refused(path, ENOTTY, err);
    else if (sp_get_port_by_name(real, &port) == SP_OK)
        status = oxl_link_serial(port, real, baud, out, err);
    else
        status = oxl_link_tty(real, baud, out, err);
    if (port && status != OXL_OK)
        sp_free_port(port);
    free(real);
    return status;
}

enum oxl_status oxl_link_open(const char *port, unsigned baud, struct oxl_link **out,
                              struct oxl_error *err)
{
    *out = NULL;
    if (strncmp(port, "tcp:", 4) == 0)
        return oxl_link_tcp(port + 4, out, err);
    if (strncmp(port, "sim:", 4) == 0)
        return oxl_fail(err, OXL_ERR_INTERNAL, "the simulator is not opened as a port");
    if (port[0] == '\0')
        return oxl_fail(err, OXL_ERR_USAGE,
                        "no port given: use a device path such as /dev/ttyUSB0, or tcp:HOST:PORT");
    return open_device(port, baud, out, err);
}
