/* The facade: bytes in, bytes out, and a car that does not care who looks. */

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "help_plant.h"

#include "oxylag/sim.h"

static struct oxl_sim *simulator(const char *name, uint64_t seed, enum oxl_tech_mode mode)
{
    struct oxl_scenario *s = help_scenario(name);
    struct oxl_sim *sim = oxl_sim_new(s, seed, mode);
    assert_non_null(sim);
    oxl_scenario_free(s); /* the simulator keeps its own */
    return sim;
}

/* Sends a command and gathers what comes until the prompt; *t_us moves on. */
static const char *ask(struct oxl_sim *sim, const char *command, int64_t *t_us)
{
    static char text[2048];
    size_t n = 0;
    oxl_sim_write(sim, command, strlen(command), 115200, *t_us);
    for (int64_t end_us = *t_us + 12000000; *t_us < end_us; *t_us += 1000) {
        n += oxl_sim_read(sim, text + n, sizeof text - 1 - n, *t_us);
        text[n] = '\0';
        if (n && text[n - 1] == '>')
            break;
    }
    return text;
}

static void test_a_conversation(void **state)
{
    (void)state;
    struct oxl_sim *sim = simulator("good", 1, OXL_TECH_BY_HAND);
    int64_t t_us = 0;
    assert_true(strlen(ask(sim, "ATZ\r", &t_us)) > 2);
    assert_non_null(strstr(ask(sim, "ATE0\r", &t_us), "OK"));
    ask(sim, "ATS0\r", &t_us);
    ask(sim, "0100\r", &t_us);
    const char *text = ask(sim, "010C\r", &t_us);
    const char *at = strstr(text, "410C");
    assert_non_null(at);
    unsigned raw = 0;
    assert_int_equal(sscanf(at + 4, "%4x", &raw), 1);
    help_near(raw / 4.0, 750, 40);
    oxl_sim_free(sim);
    oxl_sim_free(NULL);
}

/* Waiting from due to due, nothing is missed and nothing comes in between. */
static void test_due(void **state)
{
    (void)state;
    struct oxl_sim *sim = simulator("good", 1, OXL_TECH_BY_HAND);
    char byte;
    assert_true(oxl_sim_due_us(sim) == INT64_MAX);
    oxl_sim_write(sim, "ATI\r", 4, 115200, 1000);
    int64_t now_us = 1000;
    size_t n = 0;
    for (int hops = 0; oxl_sim_due_us(sim) != INT64_MAX; hops++) {
        int64_t due_us = oxl_sim_due_us(sim);
        assert_true(due_us >= now_us && due_us < 1000000 && hops < 500);
        if (due_us > now_us)
            assert_int_equal(oxl_sim_read(sim, &byte, 1, due_us - 1), 0);
        now_us = due_us;
        n += oxl_sim_read(sim, &byte, 1, now_us);
    }
    assert_true(n > 6 && byte == '>');
    oxl_sim_free(sim);
}

/* Same seed, same requests; one reader looks every millisecond, the other seldom. */
static void test_looking_changes_nothing(void **state)
{
    (void)state;
    struct oxl_sim *a = simulator("aged", 7, OXL_TECH_ALONE);
    struct oxl_sim *b = simulator("aged", 7, OXL_TECH_ALONE);
    static char text_a[1 << 16], text_b[1 << 16];
    size_t na = 0, nb = 0;
    for (int64_t t_us = 0; t_us < 120000000; t_us += 500000) {
        oxl_sim_write(a, "010C\r", 5, 115200, t_us);
        oxl_sim_write(b, "010C\r", 5, 115200, t_us);
        for (int64_t k = 0; k < 100; k++)
            na += oxl_sim_read(a, text_a + na, sizeof text_a - na, t_us + k * 4800);
        oxl_sim_run(b, t_us + 77777);
        nb += oxl_sim_read(b, text_b + nb, sizeof text_b - nb, t_us + 99 * 4800);
    }
    assert_true(na > 2000);
    assert_int_equal(na, nb);
    assert_memory_equal(text_a, text_b, na);
    struct oxl_truth ta, tb;
    assert_true(oxl_sim_truth_count(a) >= 1);
    assert_int_equal(oxl_sim_truth_count(a), oxl_sim_truth_count(b));
    assert_true(oxl_sim_truth(a, 0, &ta) && oxl_sim_truth(b, 0, &tb));
    assert_memory_equal(&ta, &tb, sizeof ta);
    assert_false(oxl_sim_truth(a, 99, &ta));
    oxl_sim_free(a);
    oxl_sim_free(b);
}

static void test_by_hand(void **state)
{
    (void)state;
    struct oxl_sim *sim = simulator("aged", 2, OXL_TECH_BY_HAND);
    oxl_sim_valve(sim, 0.5, 30000000);
    oxl_sim_valve(sim, 0.0, 65000000);
    oxl_sim_run(sim, 130000000);
    struct oxl_truth t;
    assert_int_equal(oxl_sim_truth_count(sim), 1);
    assert_true(oxl_sim_truth(sim, 0, &t));
    help_near(t.cut_t_s, 65, 0.005);
    help_near(t.shift_pct, -20, 2.5);
    assert_true(t.delay_s > 3 && t.delay_s < 5);
    oxl_sim_free(sim);
    sim = simulator("aged", 2, OXL_TECH_GUIDED); /* the valve is in the technician's hand */
    oxl_sim_valve(sim, 0.5, 30000000);
    oxl_sim_run(sim, 60000000);
    assert_int_equal(oxl_sim_truth_count(sim), 0);
    oxl_sim_free(sim);
}

/* Pulled 0.5 s after front-lean, back 3 s later, once; then the adapter has forgotten all. */
static void test_unplugged_in_timing(void **state)
{
    (void)state;
    struct oxl_sim *sim = simulator("unplugged", 2, OXL_TECH_BY_HAND);
    oxl_sim_valve(sim, 0.5, 30000000);
    oxl_sim_valve(sim, 0.0, 65000000);
    int64_t out_us = -1, in_us = -1;
    for (int64_t t_us = 60000000; t_us < 100000000; t_us += 1000) {
        bool plugged = oxl_sim_plugged(sim, t_us);
        if (!plugged && out_us < 0) {
            out_us = t_us;
            assert_true(oxl_sim_due_us(sim) > t_us && oxl_sim_due_us(sim) <= t_us + 3000000);
            char byte;
            oxl_sim_write(sim, "ATI\r", 4, 115200, t_us);
            assert_int_equal(oxl_sim_read(sim, &byte, 1, t_us + 500), 0);
        }
        if (plugged && out_us >= 0 && in_us < 0)
            in_us = t_us;
    }
    struct oxl_truth t;
    oxl_sim_run(sim, 130000000);
    assert_true(oxl_sim_truth(sim, 0, &t));
    /* known once the stay on the lean side is long enough to be for good */
    help_near(1e-6 * (double)out_us, t.front_lean_t_s + 0.5, 0.2);
    help_near(1e-6 * (double)in_us, t.front_lean_t_s + 3.5, 0.01);
    oxl_sim_valve(sim, 0.5, 140000000);
    oxl_sim_valve(sim, 0.0, 170000000);
    for (int64_t t_us = 170000000; t_us < 190000000; t_us += 10000)
        assert_true(oxl_sim_plugged(sim, t_us));
    int64_t now_us = 190000000;
    char banner[256];
    assert_true(oxl_sim_read(sim, banner, sizeof banner, now_us) > 0);
    assert_non_null(strstr(ask(sim, "ATE0\r", &now_us), "ATE0")); /* echo is on again */
    oxl_sim_free(sim);
}

static void test_unplugged_at_a_time(void **state)
{
    (void)state;
    struct oxl_scenario *s = help_scenario("good");
    s->adapter.unplug_at_s = 10;
    struct oxl_sim *sim = oxl_sim_new(s, 1, OXL_TECH_BY_HAND);
    assert_true(oxl_sim_plugged(sim, 9999999));
    assert_true(oxl_sim_due_us(sim) == 10000000);
    assert_false(oxl_sim_plugged(sim, 10000000));
    assert_true(oxl_sim_due_us(sim) == 13000000);
    assert_false(oxl_sim_plugged(sim, 12999999));
    assert_true(oxl_sim_plugged(sim, 13000000));
    assert_true(oxl_sim_plugged(sim, 50000000));
    oxl_sim_free(sim);
    oxl_scenario_free(s);
}

static void test_truth_header(void **state)
{
    (void)state;
    struct oxl_scenario *s = NULL;
    assert_int_equal(oxl_scenario_parse("", "x/my \"car\\.ini", &s, NULL), OXL_OK);
    struct oxl_sim *sim = oxl_sim_new(s, 18446744073709551615u, OXL_TECH_BY_HAND);
    char text[200];
    size_t n = oxl_sim_truth_header(sim, text, sizeof text);
    assert_string_equal(text, "{\"truth\":\"header\",\"scenario\":\"my ?car?\","
                              "\"seed\":18446744073709551615,\"simulated\":true}\n");
    assert_int_equal(n, strlen(text));
    assert_int_equal(oxl_sim_truth_header(sim, text, n), 0);
    oxl_sim_free(sim);
    oxl_scenario_free(s);
}

/* Guided: only what is heard moves the valve. */
static void test_guided_hears(void **state)
{
    (void)state;
    struct oxl_sim *sim = simulator("aged", 2, OXL_TECH_GUIDED);
    struct oxl_event ev = {.kind = OXL_EV_ADVICE};
    oxl_sim_run(sim, 20000000);
    ev.u.advice.advice = OXL_ADV_ADD_GAS;
    oxl_sim_hear(sim, &ev);
    oxl_sim_run(sim, 50000000);
    ev.u.advice.advice = OXL_ADV_CUT;
    oxl_sim_hear(sim, &ev);
    oxl_sim_run(sim, 120000000);
    struct oxl_truth t;
    assert_true(oxl_sim_truth(sim, 0, &t));
    assert_true(t.cut_t_s >= 50.3 && t.cut_t_s <= 50.85);
    oxl_sim_free(sim);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_a_conversation),
        cmocka_unit_test(test_due),
        cmocka_unit_test(test_looking_changes_nothing),
        cmocka_unit_test(test_by_hand),
        cmocka_unit_test(test_unplugged_in_timing),
        cmocka_unit_test(test_unplugged_at_a_time),
        cmocka_unit_test(test_truth_header),
        cmocka_unit_test(test_guided_hears),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
