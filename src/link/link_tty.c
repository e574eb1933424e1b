/* NOLINTNEXTLINE(bugprone-reserved-identifier,cert-dcl37-c,cert-dcl51-cpp): for CRTSCTS */
#define _DEFAULT_SOURCE 1

#include "link_inside.h"

#include <errno.h>
#include <fcntl.h>
#include <termios.h>
#include <unistd.h>

/* Rates above 38400 are not in POSIX; every system that has them calls them by these names. */
static const struct {
    unsigned baud;
    speed_t speed;
} rates[] = {
    {9600, B9600},     {19200, B19200},     {38400, B38400},
#ifdef B57600
    {57600, B57600},   {115200, B115200},
#endif
#ifdef B230400
    {230400, B230400},
#endif
#ifdef B500000
    {500000, B500000}, {1000000, B1000000},
#endif
};

enum { RATES = sizeof rates / sizeof rates[0] };

unsigned oxl_tty_baud(int fd)
{
    struct termios t;
    if (tcgetattr(fd, &t) != 0)
        return 0;
    for (size_t i = 0; i < RATES; i++)
        if (cfgetospeed(&t) == rates[i].speed)
            return rates[i].baud;
    return 0;
}

static bool rate(unsigned baud, speed_t *out)
{
    for (size_t i = 0; i < RATES; i++)
        if (rates[i].baud == baud) {
            *out = rates[i].speed;
            return true;
        }
    errno = EINVAL;
    return false;
}

static int tty_speed(struct oxl_link_fd *l, unsigned baud)
{
    struct termios t;
    speed_t speed;
    if (!rate(baud, &speed) || tcgetattr(l->fd, &t) != 0)
        return -1;
    if (cfsetispeed(&t, speed) != 0 || cfsetospeed(&t, speed) != 0)
        return -1;
    return tcsetattr(l->fd, TCSANOW, &t);
}

/* Raw, 8N1, no flow control, no hang-up on close; VMIN 0 so that a read never waits. */
static int make_raw(int fd)
{
    struct termios t;
    if (tcgetattr(fd, &t) != 0)
        return -1;
    t.c_iflag = IGNBRK | IGNPAR;
    t.c_oflag = 0;
    t.c_lflag = 0;
    t.c_cflag &= ~(tcflag_t)(CSIZE | PARENB | CSTOPB | HUPCL);
    t.c_cflag |= CS8 | CREAD | CLOCAL;
#ifdef CRTSCTS
    t.c_cflag &= ~(tcflag_t)CRTSCTS; /* as another program may have left it */
#endif
    t.c_cc[VMIN] = 0;
    t.c_cc[VTIME] = 0;
    return tcsetattr(fd, TCSANOW, &t);
}

enum oxl_status oxl_link_tty(const char *path, unsigned baud, struct oxl_link **out,
                             struct oxl_error *err)
{
    int fd = open(path, O_RDWR | O_NONBLOCK | O_NOCTTY | O_CLOEXEC);
    if (fd < 0)
        return oxl_port_refused(path, errno, err);
    int error = isatty(fd) ? oxl_link_lock(fd) : ENOTTY;
    if (error == 0 && make_raw(fd) != 0)
        error = errno;
    struct oxl_link_fd *l = error ? NULL : oxl_link_fd_new(fd);
    if (!l) {
        close(fd);
        return oxl_port_refused(path, error ? error : ENOMEM, err);
    }
    l->speed = tty_speed;
    l->link.has_speed = true;
    if (baud > 0 && tty_speed(l, baud) != 0) {
        l->link.ops->close(&l->link);
        return oxl_fail(err, OXL_ERR_USAGE, "%s cannot be set to %u baud", path, baud);
    }
    *out = &l->link;
    return OXL_OK;
}
