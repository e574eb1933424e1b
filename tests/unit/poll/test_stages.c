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

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(the_graph_is_as_drawn)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
