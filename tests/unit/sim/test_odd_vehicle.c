/* Vehicles that announce what they do not have, hide what they have, or lose their ignition. By the
 * adapter's text alone, as a tester sees them. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "oxylag/sim.h"

static struct oxl_sim *simulated(const char *text)
{
    struct oxl_scenario *s = NULL;
    struct oxl_error err = {0};
    if (oxl_scenario_parse(text, "odd", &s, &err) != OXL_OK)
        fail_msg("%s", err.text);
    struct oxl_sim *sim = oxl_sim_new(s, 1, OXL_TECH_BY_HAND);
    assert_non_null(sim);
    oxl_scenario_free(s);
    return sim;
}

/* What comes until the prompt, without blanks; "" within 15 s of silence. */
static const char *ask(struct oxl_sim *sim, const char *command, int64_t *t_us)
{
    static char text[2048];
    size_t n = 0;
    char line[32];
    int len = snprintf(line, sizeof line, "%s\r", command);
    oxl_sim_write(sim, line, (size_t)len, 115200, *t_us);
    for (int64_t end_us = *t_us + 15000000; *t_us < end_us; *t_us += 1000) {
        n += oxl_sim_read(sim, text + n, sizeof text - 1 - n, *t_us);
        text[n] = '\0';
        if (n && text[n - 1] == '>')
            break;
    }
    return text;
}

static void wake(struct oxl_sim *sim, int64_t *t_us)
{
    ask(sim, "ATZ", t_us);
    ask(sim, "ATE0", t_us);
    ask(sim, "ATS0", t_us);
}

/* Is PID `pid` (1 to 20) in the mask that 0100 brings? SAE J1979: the first bit is PID 01. */
static bool announced(struct oxl_sim *sim, unsigned pid, int64_t *t_us)
{
    const char *at = strstr(ask(sim, "0100", t_us), "4100");
    unsigned mask = 0;
    assert_non_null(at);
    assert_int_equal(sscanf(at + 4, "%8x", &mask), 1);
    return mask >> (32 - pid) & 1;
}

static bool answers(struct oxl_sim *sim, const char *request, const char *with, int64_t *t_us)
{
    return strstr(ask(sim, request, t_us), with) != NULL;
}

static void what_is_announced_need_not_be_there(void **state)
{
    int64_t t_us = 0;
    (void)state;
    struct oxl_sim *plain = simulated("");
    wake(plain, &t_us);
    assert_true(announced(plain, 0x0C, &t_us) && announced(plain, 0x0D, &t_us));
    assert_false(announced(plain, 0x1E, &t_us));
    assert_true(answers(plain, "010D", "410D", &t_us));
    oxl_sim_free(plain);

    struct oxl_sim *odd = simulated("[ecu]\nannounces = 1E 72\nhides = 0D\nmutes = 0C\n");
    t_us = 0;
    wake(odd, &t_us);
    assert_true(announced(odd, 0x1E, &t_us));  /* and is not there */
    assert_false(announced(odd, 0x0D, &t_us)); /* and is */
    assert_true(announced(odd, 0x0C, &t_us));  /* and stays mute */
    assert_true(answers(odd, "010D", "410D", &t_us));
    assert_true(answers(odd, "010C", "NO DATA", &t_us));
    assert_true(answers(odd, "011E", "NO DATA", &t_us));
    /* A PID in the range of a mask that is seldom there brings that mask: 61 to 80. */
    assert_true(answers(odd, "0160", "4160", &t_us));
    oxl_sim_free(odd);
}

/* Without ignition no ECU answers; the adapter, on the battery, does. Behind it the engine's run
 * time begins anew. */
static void the_ignition_goes_and_comes_back(void **state)
{
    int64_t t_us = 0;
    unsigned run_s = 0;
    (void)state;
    struct oxl_sim *sim = simulated("[adapter]\nignition_off_at_s = 20\nignition_off_s = 10\n");
    wake(sim, &t_us);
    assert_true(answers(sim, "010C", "410C", &t_us));
    t_us = 21000000;
    assert_false(answers(sim, "010C", "410C", &t_us));
    assert_true(t_us < 30000000);
    assert_true(answers(sim, "ATI", ">", &t_us));
    for (char lost[64]; t_us < 33000000; t_us += 100000)
        (void)oxl_sim_read(sim, lost, sizeof lost, t_us);
    const char *at = strstr(ask(sim, "011F", &t_us), "411F");
    assert_non_null(at);
    assert_int_equal(sscanf(at + 4, "%4x", &run_s), 1);
    assert_in_range(run_s, 2, 10);
    oxl_sim_free(sim);
}

/* While the line stalls nothing comes, and the next moment that matters is its end. */
static void a_line_that_stalls(void **state)
{
    char bytes[64];
    int64_t t_us = 0;
    (void)state;
    struct oxl_sim *sim = simulated("[adapter]\nstall_at_s = 20\nstall_s = 5\n");
    wake(sim, &t_us);
    assert_true(answers(sim, "010C", "410C", &t_us));
    t_us = 21000000;
    assert_int_equal(oxl_sim_read(sim, bytes, sizeof bytes, t_us), 0);
    oxl_sim_write(sim, "010C\r", 5, 115200, t_us);
    assert_int_equal(oxl_sim_read(sim, bytes, sizeof bytes, t_us + 2000000), 0);
    assert_true(oxl_sim_due_us(sim) == 25000000);
    assert_true(oxl_sim_read(sim, bytes, sizeof bytes, 25100000) > 0);
    oxl_sim_free(sim);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_announced_need_not_be_there),
        cmocka_unit_test(the_ignition_goes_and_comes_back),
        cmocka_unit_test(a_line_that_stalls),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
