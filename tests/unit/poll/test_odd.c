/* Odd adapters: waits that are tuned, settings lost in silence, requests that must stay harmless.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "help_rig.h"

#define FRONT oxl_channel(OXL_Q_O2_V, 1, 1)

static unsigned sent_with(const struct rig *r, const char *start, unsigned from)
{
    unsigned n = 0;
    for (unsigned i = from; i < r->fake.log_n; i++)
        n += strncmp(r->fake.log[i], start, strlen(start)) == 0;
    return n;
}

/* The scripted adapter says OK to both settings and does nothing: neither may be kept. */
static void settings_without_effect_are_taken_back(void **state)
{
    struct rig *r = *state;
    r->fake.count_refused = true;
    r->fake.wait_us = 200000;
    rig_ready(r);
    assert_int_equal(fake_count(&r->fake, "ATAT2", 0), 1);
    assert_int_equal(fake_count(&r->fake, "ATAT1", 0), 2); /* at wake, and back again */
    assert_int_equal(sent_with(r, "ATST", 0), 2);
    assert_int_equal(fake_count(&r->fake, "ATST32", 0), 1);
    unsigned from = r->samples_n;
    rig_run(r, 5);
    assert_in_range(rig_count(r, FRONT, from), 20, 25); /* 0.2 s each, as before */
}

static void a_working_reply_count_needs_no_tuning(void **state)
{
    struct rig *r = *state;
    rig_ready(r);
    assert_int_equal(fake_count(&r->fake, "ATAT2", 0), 0);
    assert_int_equal(sent_with(r, "ATST", 0), 0);
}

/* What came without headers, or beside a banner, is no damage of the line: what stands by itself
 * goes out without proof as before. */
static void assert_stands_again(struct rig *r)
{
    size_t from = r->out_n;
    assert_true(rig_flows(r));
    assert_true(rig_sent_whole(r, from) > 3);
}

/* Echo where there was none: the adapter has lost its settings, and says nothing of it. */
static void silent_reset_is_noticed_by_the_echo(void **state)
{
    struct rig *r = *state;
    rig_ready(r);
    unsigned from = r->fake.log_n;
    int64_t t_us = r->now_us;
    r->fake.echo = r->fake.linefeeds = r->fake.spaces = true;
    r->fake.headers = false;
    rig_run(r, 3);
    assert_int_equal(fake_count(&r->fake, "ATH1", from), 1);
    assert_int_equal(fake_count(&r->fake, "ATZ", from), 0);
    assert_true(r->samples[r->samples_n - 1].recv_us > t_us + 2500000);
    assert_stands_again(r);
}

static void silent_reset_with_stuck_echo_is_noticed_by_the_headers(void **state)
{
    struct rig *r = *state;
    r->fake.stuck_echo = r->fake.first_pid_only = true;
    rig_ready(r);
    unsigned from = r->fake.log_n;
    r->fake.headers = false;
    rig_run(r, 3);
    assert_int_equal(fake_count(&r->fake, "ATH1", from), 1);
    assert_true(rig_flows(r));
}

/* Whatever is lost from the front of a line that was sent: what is left must not begin with the
 * service that clears codes. Every focus, with and without several PIDs. */
static void no_tail_of_a_request_clears_codes(void **state)
{
    (void)state;
    for (int single = 0; single < 2; single++)
        for (int focus = OXL_FOCUS_ALL; focus <= OXL_FOCUS_TIMING; focus++) {
            struct rig *r = rig_new();
            r->fake.first_pid_only = single;
            /* PIDs 10 and 44 side by side would be ..1044, PID 04 is supported. */
            r->fake.ecus[0].pids = "01 03 04 05 06 07 0C 0D 10 13 14 15 1F 20 40 44";
            rig_ready(r);
            rig_focus(r, (enum oxl_focus)focus);
            rig_run(r, 30);
            for (unsigned i = 0; i < r->fake.log_n; i++) {
                const char *line = r->fake.log[i];
                const char *four = strstr(line, "04");
                assert_true(!four || strncmp(line, "AT", 2) == 0);
            }
            assert_true(r->fake.log_n > 100);
            rig_free(r);
        }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(settings_without_effect_are_taken_back, rig_setup,
                                        rig_teardown),
        cmocka_unit_test_setup_teardown(a_working_reply_count_needs_no_tuning, rig_setup,
                                        rig_teardown),
        cmocka_unit_test_setup_teardown(silent_reset_is_noticed_by_the_echo, rig_setup,
                                        rig_teardown),
        cmocka_unit_test_setup_teardown(silent_reset_with_stuck_echo_is_noticed_by_the_headers,
                                        rig_setup, rig_teardown),
        cmocka_unit_test(no_tail_of_a_request_clears_codes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
