/* HOST:PORT, as both sides take it. */
#include "link/address.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

static void taken(const char *where, bool any_port, const char *host, const char *service)
{
    struct oxl_address a;
    struct oxl_error err = {0};
    if (oxl_address_parse(where, any_port, &a, &err) != OXL_OK)
        fail_msg("%s: %s", where, err.text);
    assert_string_equal(a.host, host);
    assert_string_equal(a.service, service);
}

static void refused(const char *where, bool any_port, const char *says)
{
    struct oxl_address a;
    struct oxl_error err = {0};
    assert_int_equal(oxl_address_parse(where, any_port, &a, &err), OXL_ERR_USAGE);
    if (!strstr(err.text, says))
        fail_msg("%s: \"%s\" lacks \"%s\"", where, err.text, says);
}

static void addresses(void **state)
{
    (void)state;
    taken("127.0.0.1:35000", false, "127.0.0.1", "35000");
    taken("adapter.local:1", false, "adapter.local", "1");
    taken("[::1]:65535", false, "::1", "65535");
    taken("h:0", true, "h", "0");
    taken("h:000", true, "h", "0");
    taken("h:00000035000", false, "h", "35000");
}

static void ports_out_of_range(void **state)
{
    (void)state;
    refused("h:0", false, "there is no port 0: give a number from 1 to 65535");
    refused("h:65536", false, "there is no port 65536");
    refused("h:65536", true, "give a number from 0 to 65535");
    refused("127.0.0.1:101537", true, "there is no port 101537"); /* 36001 modulo 65536 */
    refused("h:99999999999999999999999999", false, "there is no port 9999");
}

static void what_is_no_address(void **state)
{
    (void)state;
    static const char *const shapes[] = {"",      "h",     "h:",    "h:x",    "h:1x", "h:-1",
                                         "h:+1",  "h: 1",  "[::1]", "[::1]1", "[::1", "::1:1",
                                         "a:b:1", "h:0x1", "h:1e3", "h:1:"};
    for (size_t i = 0; i < sizeof shapes / sizeof shapes[0]; i++)
        refused(shapes[i], true, shapes[i][0] == ':' ? "names no host" : "is no address");
    refused(":1", false, "names no host");
    refused("[]:1", false, "names no host");
    char longest[300];
    memset(longest, 'h', sizeof longest);
    snprintf(longest + 255, 10, ":1");
    struct oxl_address a;
    assert_int_equal(oxl_address_parse(longest, false, &a, NULL), OXL_OK);
    memset(longest, 'h', 256);
    snprintf(longest + 256, 10, ":1");
    assert_int_equal(oxl_address_parse(longest, false, &a, NULL), OXL_ERR_USAGE);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(addresses),
        cmocka_unit_test(ports_out_of_range),
        cmocka_unit_test(what_is_no_address),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
