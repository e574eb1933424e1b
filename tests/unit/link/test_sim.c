/* The simulator as a link: what goes in and out is the simulator's, time is given. */
#include "oxylag/link.h"

#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "oxylag/sim.h"

struct bench {
    struct oxl_scenario *scenario;
    struct oxl_sim *sim;
    struct oxl_link *link;
};

static struct bench made(const char *scenario)
{
    struct bench b = {0};
    struct oxl_error err = {0};
    if (oxl_scenario_load(scenario, &b.scenario, &err) != OXL_OK)
        fail_msg("%s", err.text);
    b.sim = oxl_sim_new(b.scenario, 1, OXL_TECH_ALONE);
    assert_non_null(b.sim);
    b.link = oxl_link_sim(b.sim);
    assert_non_null(b.link);
    return b;
}

static void unmake(struct bench *b)
{
    b->link->ops->close(b->link);
    oxl_sim_free(b->sim); /* still ours: the link does not own it */
    oxl_scenario_free(b->scenario);
}

/* Sends and collects the answer up to the prompt, jumping to each time that is due. */
static void ask(struct oxl_link *l, const char *command, int64_t *now_us, char *out, size_t n)
{
    size_t got = 0, len = strlen(command);
    assert_int_equal(l->ops->write(l, command, len, *now_us), len);
    for (int i = 0; i < 10000 && !memchr(out, '>', got); i++) {
        int64_t due = l->ops->next_due_us(l);
        assert_true(due < INT64_MAX);
        *now_us = due > *now_us ? due : *now_us + 1000;
        ssize_t r = l->ops->read(l, out + got, n - 1 - got, *now_us);
        assert_true(r >= 0);
        got += (size_t)r;
    }
    assert_non_null(memchr(out, '>', got));
    out[got] = '\0';
}

static void an_answer_comes_when_it_is_due(void **state)
{
    (void)state;
    struct bench b = made("good");
    char text[512];
    int64_t now_us = 100000;
    assert_true(b.link->has_speed);
    assert_int_equal(b.link->ops->fd(b.link), -1);
    assert_int_equal(b.link->ops->read(b.link, text, sizeof text, now_us), 0);
    ask(b.link, "ATZ\r", &now_us, text, sizeof text);
    ask(b.link, "ATE0\r", &now_us, text, sizeof text);
    ask(b.link, "ATL0\r", &now_us, text, sizeof text);
    assert_non_null(strstr(text, "OK"));
    ask(b.link, "0100\r", &now_us, text, sizeof text);
    assert_non_null(strstr(text, "41"));
    unmake(&b);
}

/* The wrong line speed garbles; the right one is heard again. */
static void speed_is_passed_on(void **state)
{
    (void)state;
    struct bench b = made("good");
    char text[512];
    static const unsigned speeds[] = {115200, 38400, 9600, 57600, 230400, 500000};
    unsigned answered = 0;
    for (size_t i = 0; i < sizeof speeds / sizeof speeds[0]; i++) {
        int64_t now_us = 1000000 + (int64_t)i * 10000000;
        assert_int_equal(b.link->ops->set_speed(b.link, speeds[i]), 0);
        (void)b.link->ops->write(b.link, "ATI\r", 4, now_us);
        ssize_t n = b.link->ops->read(b.link, text, sizeof text, now_us + 3000000);
        answered += n > 0 && memchr(text, '>', (size_t)n) != NULL;
    }
    assert_int_equal(answered, 1);
    unmake(&b);
}

static void a_pulled_plug_is_down(void **state)
{
    (void)state;
    struct bench b = made("unplugged");
    char text[512];
    int64_t now_us = 0;
    while (oxl_sim_plugged(b.sim, now_us) && now_us < 1200000000)
        now_us += 50000;
    if (oxl_sim_plugged(b.sim, now_us))
        fail_msg("never unplugged in 20 minutes");
    assert_int_equal(b.link->ops->read(b.link, text, sizeof text, now_us), -1);
    assert_int_equal(errno, ENODEV);
    assert_int_equal(b.link->ops->write(b.link, "x", 1, now_us), -1);
    unmake(&b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_answer_comes_when_it_is_due),
        cmocka_unit_test(speed_is_passed_on),
        cmocka_unit_test(a_pulled_plug_is_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
