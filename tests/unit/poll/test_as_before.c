/* Requests as they were written before echo proved them: only recordings of that time are replayed
 * so. The rule of then: no end of the text begins with 04, the service that clears codes. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "poll/poll_parts.h"

static void text_is(const char *want, const struct oxl_poll_request *asked, unsigned digit)
{
    const struct oxl_poll_config config = {.bank = 1, .unproven = true};
    const struct oxl_poll_out out = {0};
    struct oxl_poll *p = oxl_poll_new(&config, &out);
    struct oxl_poll_request r = *asked;
    assert_non_null(p);
    assert_true(oxl_poll_compose(p, &r, digit));
    assert_string_equal(r.text, want);
    assert_false(r.proof); /* they went out with their CR */
    oxl_poll_free(p);
}

static void harmless_as_it_is(void **state)
{
    (void)state;
    text_is("0114151", &(struct oxl_poll_request){0x01, {0x14, 0x15}, 2, "", false, false}, 1);
    text_is("03", &(struct oxl_poll_request){.service = 0x03}, 0);
}

/* 0110 44 holds 044; the PIDs of service 01 may change places, one by one to the end. */
static void another_order_where_one_is_harmful(void **state)
{
    (void)state;
    text_is("014410", &(struct oxl_poll_request){0x01, {0x10, 0x44}, 2, "", false, false}, 0);
    text_is("01440C10", &(struct oxl_poll_request){0x01, {0x10, 0x44, 0x0C}, 3, "", false, false},
            0);
}

/* The count would make 04 of the PID's last digit: without it, then. */
static void without_the_count_where_it_is_harmful(void **state)
{
    (void)state;
    text_is("0110", &(struct oxl_poll_request){0x01, {0x10}, 1, "", false, false}, 4);
}

/* No order of PID 04 and another is harmless: asked alone at last, as nothing is left to try. */
static void one_pid_is_asked_at_last(void **state)
{
    (void)state;
    text_is("0104", &(struct oxl_poll_request){0x01, {0x04, 0x0C}, 2, "", false, false}, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(harmless_as_it_is),
        cmocka_unit_test(another_order_where_one_is_harmful),
        cmocka_unit_test(without_the_count_where_it_is_harmful),
        cmocka_unit_test(one_pid_is_asked_at_last),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
