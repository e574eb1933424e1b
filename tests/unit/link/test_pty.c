/* The termios link over a pseudo-terminal; the test is the adapter at the other end. */
#define _XOPEN_SOURCE   700 /* posix_openpt */
#define _DEFAULT_SOURCE 1   /* CRTSCTS */
#include "oxylag/link.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <termios.h>
#include <unistd.h>

#include <cmocka.h>

struct pair {
    int master;
    char path[64];
    struct oxl_link *link;
};

static void make_pty(struct pair *p)
{
    p->master = posix_openpt(O_RDWR | O_NOCTTY);
    assert_true(p->master >= 0);
    assert_int_equal(grantpt(p->master), 0);
    assert_int_equal(unlockpt(p->master), 0);
    strncpy(p->path, ptsname(p->master), sizeof p->path - 1);
    p->path[sizeof p->path - 1] = '\0';
    p->link = NULL;
}

static int setup(void **state)
{
    struct pair *p = calloc(1, sizeof *p);
    struct oxl_error err = {0};
    if (!p)
        return -1;
    make_pty(p);
    if (oxl_link_open(p->path, 38400, &p->link, &err) != OXL_OK) {
        print_error("%s\n", err.text);
        return -1;
    }
    *state = p;
    return 0;
}

static int teardown(void **state)
{
    struct pair *p = *state;
    if (p->link)
        p->link->ops->close(p->link);
    if (p->master >= 0)
        close(p->master);
    free(p);
    return 0;
}

static bool readable(int fd)
{
    struct pollfd w = {.fd = fd, .events = POLLIN};
    return poll(&w, 1, 2000) == 1;
}

static void bytes_pass_both_ways_unchanged(void **state)
{
    struct pair *p = *state;
    char all[256], got[256];
    for (int i = 0; i < 256; i++)
        all[i] = (char)i;
    assert_true(p->link->has_speed);
    assert_true(p->link->ops->next_due_us(p->link) == INT64_MAX);
    int fd = p->link->ops->fd(p->link);
    assert_true(fd >= 0);

    assert_int_equal(p->link->ops->write(p->link, all, sizeof all, 0), sizeof all);
    for (size_t n = 0; n < sizeof got;) {
        assert_true(readable(p->master));
        ssize_t r = read(p->master, got + n, sizeof got - n);
        assert_true(r > 0);
        n += (size_t)r;
    }
    assert_memory_equal(got, all, sizeof all);

    assert_int_equal(write(p->master, all, sizeof all), sizeof all);
    for (size_t n = 0; n < sizeof got;) {
        assert_true(readable(fd));
        ssize_t r = p->link->ops->read(p->link, got + n, sizeof got - n, 0);
        assert_true(r > 0);
        n += (size_t)r;
    }
    assert_memory_equal(got, all, sizeof all);
}

static void nothing_now_is_not_down(void **state)
{
    struct pair *p = *state;
    char buf[16];
    for (int i = 0; i < 5; i++)
        assert_int_equal(p->link->ops->read(p->link, buf, sizeof buf, 0), 0);
    assert_int_equal(p->link->ops->read(p->link, buf, 0, 0), 0);
}

static void hang_up_is_down(void **state)
{
    struct pair *p = *state;
    char buf[16];
    close(p->master);
    p->master = -1;
    assert_true(readable(p->link->ops->fd(p->link)));
    assert_int_equal(p->link->ops->read(p->link, buf, sizeof buf, 0), -1);
    assert_int_equal(errno, EIO);
    assert_int_equal(p->link->ops->write(p->link, "x", 1, 0), -1);
}

/* Nobody reads at the other end: writes are taken until the queue is full, and never wait. */
static void full_queue_does_not_block(void **state)
{
    struct pair *p = *state;
    char block[4096];
    memset(block, 'x', sizeof block);
    size_t sent = 0;
    ssize_t r;
    while ((r = p->link->ops->write(p->link, block, sizeof block, 0)) > 0) {
        sent += (size_t)r;
        assert_true(sent < 10000000);
    }
    assert_int_equal(r, 0);
    assert_true(sent > 0);
}

static void line_is_raw_8n1_without_flow_control(void **state)
{
    struct pair *p = *state;
    struct termios t;
    assert_int_equal(tcgetattr(p->link->ops->fd(p->link), &t), 0);
    assert_int_equal(t.c_cflag & CSIZE, CS8);
    assert_false(t.c_cflag & (PARENB | CSTOPB | HUPCL));
    assert_true(t.c_cflag & CLOCAL);
    assert_false(t.c_iflag & (IXON | IXOFF | ICRNL | INLCR | IGNCR | ISTRIP));
    assert_false(t.c_lflag & (ECHO | ICANON | ISIG));
    assert_false(t.c_oflag & OPOST);
    assert_true(cfgetospeed(&t) == B38400);
}

static void speed_can_be_changed(void **state)
{
    struct pair *p = *state;
    static const struct {
        unsigned baud;
        speed_t speed;
    } speeds[] = {{9600, B9600},     {38400, B38400},   {57600, B57600},
                  {115200, B115200}, {230400, B230400}, {500000, B500000}};
    struct termios t;
    for (size_t i = 0; i < sizeof speeds / sizeof speeds[0]; i++) {
        assert_int_equal(p->link->ops->set_speed(p->link, speeds[i].baud), 0);
        assert_int_equal(tcgetattr(p->link->ops->fd(p->link), &t), 0);
        assert_true(cfgetospeed(&t) == speeds[i].speed);
        assert_true(cfgetispeed(&t) == speeds[i].speed);
    }
    assert_int_equal(p->link->ops->set_speed(p->link, 12345), -1);
    assert_int_equal(tcgetattr(p->link->ops->fd(p->link), &t), 0);
    assert_true(cfgetospeed(&t) == B500000);
}

static void second_opener_is_told_it_is_busy(void **state)
{
    struct pair *p = *state;
    struct oxl_link *second = NULL;
    struct oxl_error err = {0};
    assert_int_equal(oxl_link_open(p->path, 0, &second, &err), OXL_ERR_PORT_OPEN);
    assert_null(second);
    assert_non_null(strstr(err.text, "in use by another program"));
    p->link->ops->close(p->link);
    p->link = NULL;
    assert_int_equal(oxl_link_open(p->path, 0, &p->link, &err), OXL_OK);
}

static void a_link_to_the_device_is_followed(void **state)
{
    (void)state;
    struct pair p;
    struct oxl_error err = {0};
    char folder[] = "/tmp/oxl-pty-XXXXXX", name[64];
    make_pty(&p);
    assert_non_null(mkdtemp(folder));
    strcpy(name, folder);
    strcat(name, "/adapter");
    assert_int_equal(symlink(p.path, name), 0);
    if (oxl_link_open(name, 0, &p.link, &err) != OXL_OK)
        fail_msg("%s", err.text);
    p.link->ops->close(p.link);
    close(p.master);
    unlink(name);
    rmdir(folder);
}

/* Opens as a user who may not: root tries as nobody, in a child. */
static int open_as_nobody(const char *path)
{
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        struct oxl_link *link = NULL;
        struct oxl_error err = {0};
        if (geteuid() == 0 && (setgid(65534) != 0 || setuid(65534) != 0))
            _exit(99);
        enum oxl_status s = oxl_link_open(path, 0, &link, &err);
        _exit(s == OXL_ERR_PORT_PERMISSION && strstr(err.text, "you may not open") ? 42 : (int)s);
    }
    int status = 0;
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_true(WIFEXITED(status));
    return WEXITSTATUS(status);
}

static void missing_permission_is_told(void **state)
{
    (void)state;
    struct pair p;
    make_pty(&p);
    assert_int_equal(chmod(p.path, 0), 0);
    assert_int_equal(open_as_nobody(p.path), 42);
    close(p.master);
}

/* Another program left the line stopped and flow control on: bytes leave all the same. */
static void a_line_left_stopped_goes_on(void **state)
{
    (void)state;
    struct pair p;
    struct oxl_error err = {0};
    struct termios t;
    char got[8] = "";
    make_pty(&p);
    int other = open(p.path, O_RDWR | O_NOCTTY);
    assert_true(other >= 0 && tcgetattr(other, &t) == 0);
    t.c_cflag |= CRTSCTS;
    assert_int_equal(tcsetattr(other, TCSANOW, &t), 0);
    assert_int_equal(tcflow(other, TCOOFF), 0);
    assert_int_equal(fcntl(other, F_SETFL, O_NONBLOCK), 0);
    assert_int_equal(write(other, "x", 1), -1); /* it is stopped */
    assert_int_equal(oxl_link_open(p.path, 38400, &p.link, &err), OXL_OK);
    assert_int_equal(p.link->ops->write(p.link, "ATI\r", 4, 0), 4);
    assert_int_equal(read(p.master, got, sizeof got), 4);
    assert_string_equal(got, "ATI\r");
    assert_true(tcgetattr(other, &t) == 0 && !(t.c_cflag & CRTSCTS));
    close(other);
    p.link->ops->close(p.link);
    close(p.master);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(bytes_pass_both_ways_unchanged, setup, teardown),
        cmocka_unit_test_setup_teardown(nothing_now_is_not_down, setup, teardown),
        cmocka_unit_test_setup_teardown(hang_up_is_down, setup, teardown),
        cmocka_unit_test_setup_teardown(full_queue_does_not_block, setup, teardown),
        cmocka_unit_test_setup_teardown(line_is_raw_8n1_without_flow_control, setup, teardown),
        cmocka_unit_test_setup_teardown(speed_can_be_changed, setup, teardown),
        cmocka_unit_test_setup_teardown(second_opener_is_told_it_is_busy, setup, teardown),
        cmocka_unit_test(a_link_to_the_device_is_followed),
        cmocka_unit_test(missing_permission_is_told),
        cmocka_unit_test(a_line_left_stopped_goes_on),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
