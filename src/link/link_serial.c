#include "link_inside.h"

#include <errno.h>
#include <libserialport.h>

static int serial_speed(struct oxl_link_fd *l, unsigned baud)
{
    return sp_set_baudrate(l->port, (int)baud) == SP_OK ? 0 : -1;
}

/* Raw 8N1 without flow control. libserialport sets raw mode in sp_open. */
static enum sp_return configure(struct sp_port *port, unsigned baud)
{
    enum sp_return r = sp_set_bits(port, 8);
    if (r == SP_OK)
        r = sp_set_parity(port, SP_PARITY_NONE);
    if (r == SP_OK)
        r = sp_set_stopbits(port, 1);
    if (r == SP_OK)
        r = sp_set_flowcontrol(port, SP_FLOWCONTROL_NONE);
    if (r == SP_OK && baud > 0)
        r = sp_set_baudrate(port, (int)baud);
    return r;
}

static int serial_error(enum sp_return r)
{
    if (r == SP_ERR_FAIL)
        return sp_last_error_code();
    return r == SP_ERR_MEM ? ENOMEM : EINVAL;
}

/* Opens and configures; 0 or an errno. The port is closed again on failure. */
static int open_port(struct sp_port *port, unsigned baud, int *fd)
{
    int error = 0;
    enum sp_return r = sp_open(port, SP_MODE_READ_WRITE);
    if (r != SP_OK)
        return serial_error(r);
    r = sp_get_port_handle(port, fd);
    if (r == SP_OK)
        error = oxl_link_lock(*fd);
    if (r == SP_OK && error == 0)
        r = configure(port, baud);
    if (r != SP_OK)
        error = serial_error(r);
    if (error)
        sp_close(port);
    return error;
}

enum oxl_status oxl_link_serial(struct sp_port *port, const char *path, unsigned baud,
                                struct oxl_link **out, struct oxl_error *err)
{
    int fd = -1, error = open_port(port, baud, &fd);
    if (error)
        return oxl_port_refused(path, error, err);
    struct oxl_link_fd *l = oxl_link_fd_new(fd);
    if (!l) {
        sp_close(port);
        return oxl_fail(err, OXL_ERR_NOMEM, "out of memory");
    }
    l->port = port;
    l->speed = serial_speed;
    l->link.has_speed = true;
    *out = &l->link;
    return OXL_OK;
}
