/* Ports that do not open, each with its own sentence; and the list of ports. */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

#include "link/link_inside.h"
#include "link/ports.h"

static void expect(const char *port, enum oxl_status status, const char *says)
{
    struct oxl_link *link = (struct oxl_link *)(uintptr_t)1;
    struct oxl_error err = {0};
    enum oxl_status s = oxl_link_open(port, 0, &link, &err);
    if (s != status)
        fail_msg("%s: status %d, \"%s\"", port, (int)s, err.text);
    assert_null(link);
    assert_int_equal(err.status, status);
    if (!strstr(err.text, says))
        fail_msg("%s gave: %s", port, err.text);
}

static void wrong_paths(void **state)
{
    (void)state;
    char file[] = "/tmp/oxl-file-XXXXXX";
    int fd = mkstemp(file);
    assert_true(fd >= 0);
    close(fd);
    expect("/dev/ttyNOSUCH7", OXL_ERR_PORT_MISSING, "there is no port /dev/ttyNOSUCH7");
    expect("ttyNOSUCH7", OXL_ERR_PORT_MISSING, "there is no port ttyNOSUCH7");
    expect("/dev/null/x", OXL_ERR_PORT_MISSING, "there is no port");
    expect("/dev/null", OXL_ERR_PORT_OPEN, "/dev/null is not a serial port");
    expect("/dev", OXL_ERR_PORT_OPEN, "/dev is not a serial port");
    expect(file, OXL_ERR_PORT_OPEN, "is not a serial port");
    expect("", OXL_ERR_USAGE, "no port given");
    expect("sim:good", OXL_ERR_INTERNAL, "simulator");
    unlink(file);
}

/* As root every permission check passes, so the mapping is tested by itself too. */
static void errors_of_the_system(void **state)
{
    (void)state;
    static const struct {
        int error;
        enum oxl_status status;
        const char *says;
    } cases[] = {
        {EACCES, OXL_ERR_PORT_PERMISSION, "you may not open /dev/null: ask the administrator"},
        {EPERM, OXL_ERR_PORT_PERMISSION, "dialout"},
        {ENOENT, OXL_ERR_PORT_MISSING, "plug in the adapter"},
        {ENODEV, OXL_ERR_PORT_MISSING, "oxylag ports"},
        {ENXIO, OXL_ERR_PORT_MISSING, "there is no port"},
        {EBUSY, OXL_ERR_PORT_OPEN, "in use by another program"},
        {ENOTTY, OXL_ERR_PORT_OPEN, "is not a serial port"},
        {EIO, OXL_ERR_PORT_OPEN, "cannot be opened (Input/output error)"},
        {ENOMEM, OXL_ERR_NOMEM, "memory"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct oxl_error err = {0};
        assert_int_equal(oxl_port_refused("/dev/null", cases[i].error, &err), cases[i].status);
        if (!strstr(err.text, cases[i].says))
            fail_msg("%d gave: %s", cases[i].error, err.text);
    }
}

/* A group that may write is named in the advice. */
static void the_group_is_named(void **state)
{
    (void)state;
    char file[] = "/tmp/oxl-group-XXXXXX";
    struct oxl_error err = {0};
    int fd = mkstemp(file);
    assert_true(fd >= 0);
    close(fd);
    /* Debian and its kin: group 20 is dialout, the group of serial ports. */
    if (chown(file, (uid_t)-1, 20) != 0 || chmod(file, 0660) != 0) {
        unlink(file);
        skip();
    }
    assert_int_equal(oxl_port_refused(file, EACCES, &err), OXL_ERR_PORT_PERMISSION);
    unlink(file);
    assert_non_null(strstr(err.text, "usermod -aG dialout $USER"));
}

static void ports_in_plain_words(void **state)
{
    (void)state;
    char words[192];
    oxl_port_words(SP_TRANSPORT_USB, 0x1209, 0x0001, "Serial\nBridge", words, sizeof words);
    assert_string_equal(
        words, "USB serial adapter, vendor 1209 product 0001, calls itself \"Serial?Bridge\"");
    oxl_port_words(SP_TRANSPORT_USB, -1, -1, NULL, words, sizeof words);
    assert_string_equal(words, "USB serial adapter");
    oxl_port_words(SP_TRANSPORT_NATIVE, -1, -1, NULL, words, sizeof words);
    assert_string_equal(words, "built-in serial port");
    oxl_port_words(SP_TRANSPORT_BLUETOOTH, -1, -1, "", words, sizeof words);
    assert_string_equal(words, "wireless serial adapter (Bluetooth)");
}

static struct oxl_port_info port(const char *path, bool built_in)
{
    struct oxl_port_info p = {.usable = true, .built_in = built_in};
    snprintf(p.path, sizeof p.path, "%s", path);
    return p;
}

/* Nobody knows what hangs on a port of the computer itself: it is named, never taken. */
static void the_one_that_is_plugged_in(void **state)
{
    (void)state;
    const struct oxl_port_info list[] = {port("/dev/ttyS0", true), port("/dev/ttyS1", true),
                                         port("/dev/ttyUSB0", false), port("/dev/ttyACM0", false)};
    struct oxl_error err = {0};
    size_t which = 99;
    assert_int_equal(oxl_port_choose(list, 3, &which, &err), OXL_OK);
    assert_int_equal(which, 2);
    assert_int_equal(oxl_port_choose(list + 3, 1, &which, &err), OXL_OK);
    assert_int_equal(which, 0);
    assert_int_equal(oxl_port_choose(list, 4, &which, &err), OXL_ERR_USAGE);
    assert_non_null(strstr(err.text, "2 ports (/dev/ttyUSB0, /dev/ttyACM0): pick one with --port"));
    for (size_t n = 1; n <= 2; n++) {
        assert_int_equal(oxl_port_choose(list, n, &which, &err), OXL_ERR_USAGE);
        assert_non_null(strstr(err.text, "no adapter is plugged in"));
        assert_non_null(
            strstr(err.text, n == 1 ? "there is /dev/ttyS0:" : "/dev/ttyS0, /dev/ttyS1"));
        assert_non_null(strstr(err.text, "--port"));
    }
    assert_int_equal(oxl_port_choose(list, 0, &which, &err), OXL_ERR_USAGE);
    assert_non_null(strstr(err.text, "no serial port found: plug the adapter in"));
}

static void many_ports_are_cut_short(void **state)
{
    (void)state;
    struct oxl_port_info list[40];
    struct oxl_error err = {0};
    size_t which = 0;
    for (size_t i = 0; i < 40; i++) {
        char path[32];
        snprintf(path, sizeof path, "/dev/ttyUSB%zu", i);
        list[i] = port(path, false);
    }
    assert_int_equal(oxl_port_choose(list, 40, &which, &err), OXL_ERR_USAGE);
    assert_non_null(strstr(err.text, "there are 40 ports (/dev/ttyUSB0, "));
    assert_non_null(strstr(err.text, ", ..): pick one"));
}

static void listing_is_safe(void **state)
{
    (void)state;
    struct oxl_port_info info[64];
    size_t n, again;
    assert_int_equal(oxl_ports(info, 64, &n, NULL), OXL_OK);
    assert_int_equal(oxl_ports(NULL, 0, &again, NULL), OXL_OK);
    assert_int_equal(again, n);
    for (size_t i = 0; i < n && i < 64; i++) {
        assert_true(info[i].path[0] != '\0' && info[i].words[0] != '\0');
        assert_int_equal(info[i].usable, access(info[i].path, R_OK | W_OK) == 0);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(wrong_paths),
        cmocka_unit_test(errors_of_the_system),
        cmocka_unit_test(the_group_is_named),
        cmocka_unit_test(ports_in_plain_words),
        cmocka_unit_test(the_one_that_is_plugged_in),
        cmocka_unit_test(many_ports_are_cut_short),
        cmocka_unit_test(listing_is_safe),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
