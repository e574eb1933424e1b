/* Which stage may follow which: the whole graph, as docs/architecture.md draws it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "poll/poll_parts.h"

static const char letters[] = "opwsvVL"; /* off, probe, wake, search, survey, Verify, Live */

/* Each stage, and behind it those that may follow. */
static const char *const graph[OXL_STAGE_COUNT] = {"o:ops", "p:opw",  "w:ops", "s:opwsvV",
                                                   "v:owL", "V:owsL", "L:owv"};

static void the_graph_is_as_drawn(void **state)
{
    (void)state;
    for (int now = 0; now < OXL_STAGE_COUNT; now++)
        for (int next = 0; next < OXL_STAGE_COUNT; next++) {
            bool drawn = strchr(graph[now] + 2, letters[next]) != NULL;
            bool may =
                oxl_poll_stage_may_follow((enum oxl_poll_stage)next, (enum oxl_poll_stage)now);
            if (may != drawn)
                fail_msg("%c behind %c: %s", letters[next], letters[now], may ? "may" : "may not");
        }
}

/* An identifier of 11 bits goes up to 7FF, one of a K-line is a byte (ISO 11898-1, ISO 14230-2). */
static void an_identifier_names_the_kind_of_protocol(void **state)
{
    (void)state;
    assert_int_equal(oxl_poll_protocol_checked(OXL_PROTO_UNKNOWN, 0x7FF), OXL_PROTO_CAN11_500);
    assert_int_equal(oxl_poll_protocol_checked(OXL_PROTO_UNKNOWN, 0x800), OXL_PROTO_CAN29_500);
    assert_int_equal(oxl_poll_protocol_checked(OXL_PROTO_UNKNOWN, 0x100), OXL_PROTO_CAN11_500);
    assert_int_equal(oxl_poll_protocol_checked(OXL_PROTO_UNKNOWN, 0xFF), OXL_PROTO_UNKNOWN);
}

/* One result of each test and component: asked for again it replaces, another one joins. */
static void a_result_asked_for_again_replaces(void **state)
{
    (void)state;
    struct oxl_monitor_result list[3], r = {.ecu = 0x7E8, .monitor = 0x21, .test = 1};
    size_t n = 0;
    r.component = 7;
    assert_true(oxl_poll_list_result(list, &n, 3, &r));
    r.value = 5;
    assert_true(oxl_poll_list_result(list, &n, 3, &r));
    assert_int_equal(n, 1);
    assert_true(list[0].value == 5);
    r.component = 8;
    assert_true(oxl_poll_list_result(list, &n, 3, &r));
    r.test = 2;
    assert_true(oxl_poll_list_result(list, &n, 3, &r));
    assert_int_equal(n, 3);
    r.scale = 1;
    assert_false(oxl_poll_list_result(list, &n, 3, &r));
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(the_graph_is_as_drawn),
                                       cmocka_unit_test(an_identifier_names_the_kind_of_protocol),
                                       cmocka_unit_test(a_result_asked_for_again_replaces)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
