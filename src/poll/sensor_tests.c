/* Service 05: the results of the oxygen sensors' monitors, of vehicles without CAN (there service
 * 06 has them). Of each sensor first which tests there are, then each of them. */
#include "poll_parts.h"

#include <string.h>

enum { SERVICE = 0x05, PLACES = 8, MASK = 0x00, ANSWER_MS = 2000, TEST_MS = 1000 };

static bool asked_of(struct oxl_poll *p, uint8_t test, int64_t t_us)
{
    const uint8_t pair[] = {test, (uint8_t)(1U << p->sensor_tests.place)};
    p->sensor_tests.test = test;
    /* One message of one ECU; nothing is known of what others send. */
    unsigned digit = p->ecus.n == 1 ? oxl_poll_digit(p, 1) : 0;
    oxl_poll_request(p, SERVICE, pair, 2, digit, ANSWER_MS, t_us);
    return true;
}

static bool in_time(struct oxl_poll *p, int64_t t_us)
{
    if (p->sensor_tests.begun_us == OXL_POLL_NEVER)
        p->sensor_tests.begun_us = t_us;
    return p->config.inspection || t_us - p->sensor_tests.begun_us < OXL_POLL_MS(TEST_MS);
}

static bool is_wanted(const struct oxl_poll *p)
{
    const struct oxl_decoding *d = &p->vehicle.decoding;
    uint8_t monitor = oxl_sensor_monitor(p->sensor_tests.place, d->layout);
    const uint8_t pair[] = {MASK, (uint8_t)(1U << p->sensor_tests.place)};
    return (d->sensors >> p->sensor_tests.place & 1) && monitor &&
           (p->config.inspection || oxl_monitor_bank(monitor) == p->config.bank) &&
           oxl_poll_may_send(p, SERVICE, pair, 2);
}

static bool next_sensor(struct oxl_poll *p, int64_t t_us)
{
    memset(&p->sensor_tests.listed, 0, sizeof p->sensor_tests.listed);
    for (; p->sensor_tests.place < PLACES; p->sensor_tests.place++)
        if (is_wanted(p))
            return asked_of(p, MASK, t_us);
    return false;
}

static bool tests_begin(struct oxl_poll *p, int64_t t_us)
{
    struct oxl_poll_sensor_tests *s = &p->sensor_tests;
    if (oxl_poll_is_can(p) || s->place >= PLACES || !in_time(p, t_us))
        return false;
    if (s->test == OXL_SENSOR_TEST_LAST + 1) { /* nothing asked of this one yet */
        s->test = MASK;
        return next_sensor(p, t_us);
    }
    unsigned test = s->test == MASK ? OXL_SENSOR_TEST_FIRST : s->test + 1U;
    for (; test <= OXL_SENSOR_TEST_LAST; test++)
        if (oxl_supports(&s->listed, (uint8_t)test))
            return asked_of(p, (uint8_t)test, t_us);
    s->place++;
    return next_sensor(p, t_us);
}

static void tests_answer(struct oxl_poll *p, const struct oxl_message *m)
{
    struct oxl_monitor_result r;
    if (m->ecu != p->vehicle.ecu)
        return;
    if (p->sensor_tests.test == MASK)
        (void)oxl_decode_sensor_mask(m, p->sensor_tests.place, &p->sensor_tests.listed);
    else if (oxl_decode_sensor_test(m, p->sensor_tests.place, p->vehicle.decoding.layout, &r) &&
             r.test == p->sensor_tests.test)
        oxl_poll_keep_result(p, &r);
}

const struct oxl_poll_step oxl_poll_sensor_tests_step = {
    .begin = tests_begin, .answer = tests_answer, .finish = oxl_poll_step_more};

void oxl_poll_sensor_tests_forget(struct oxl_poll *p)
{
    p->sensor_tests.place = 0;
    p->sensor_tests.test = OXL_SENSOR_TEST_LAST + 1;
    p->sensor_tests.begun_us = OXL_POLL_NEVER;
}
