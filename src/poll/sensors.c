/* Service 05: the results of the oxygen sensors' monitors, of vehicles without CAN (there service
 * 06 has them). Of each sensor first which tests there are, then each of them. */
#include "inside.h"

#include <string.h>

enum { SERVICE = 0x05, PLACES = 8, MASK = 0x00 };

static bool asked_of(struct oxl_poll *p, uint8_t test, int64_t t_us)
{
    const uint8_t pair[] = {test, (uint8_t)(1U << p->sensor_at)};
    p->sensor_test = test;
    return oxl_poll_ask_plain(p, SERVICE, pair, 2, t_us);
}

/* Sensor 04 is the last byte of its requests, and 00 40 holds the two digits as well. */
static bool may_ask_sensor(const struct oxl_poll *p)
{
    uint8_t sensor = (uint8_t)(1U << p->sensor_at);
    return oxl_poll_may_ask(p, sensor == 0x40 ? 0x04 : sensor);
}

static bool next_sensor(struct oxl_poll *p, int64_t t_us)
{
    const struct oxl_decoding *d = &p->vehicle.decoding;
    memset(&p->sensor_tests, 0, sizeof p->sensor_tests);
    for (; d->layout != OXL_LAYOUT_UNKNOWN && p->sensor_at < PLACES; p->sensor_at++)
        if ((d->sensors >> p->sensor_at & 1) && may_ask_sensor(p))
            return asked_of(p, MASK, t_us);
    return false;
}

static bool begin(struct oxl_poll *p, int64_t t_us)
{
    if (oxl_protocol_is_can(p->vehicle.protocol) || p->sensor_at >= PLACES)
        return false;
    if (p->sensor_test == OXL_SENSOR_TEST_LAST + 1) { /* nothing asked of this one yet */
        p->sensor_test = MASK;
        return next_sensor(p, t_us);
    }
    unsigned from = p->sensor_test == MASK ? OXL_SENSOR_TEST_FIRST : p->sensor_test + 1U;
    for (unsigned test = from; test <= OXL_SENSOR_TEST_LAST; test++)
        if (oxl_supports(&p->sensor_tests, (uint8_t)test))
            return asked_of(p, (uint8_t)test, t_us);
    p->sensor_at++;
    return next_sensor(p, t_us);
}

static void answer(struct oxl_poll *p, const struct oxl_message *m)
{
    struct oxl_monitor_result r;
    if (m->unit != p->vehicle.unit)
        return;
    if (p->sensor_test == MASK)
        (void)oxl_decode_sensor_mask(m, p->sensor_at, &p->sensor_tests);
    else if (oxl_decode_sensor_test(m, p->sensor_at, p->vehicle.decoding.layout, &r) &&
             r.test == p->sensor_test)
        oxl_poll_keep_result(p, &r);
}

static bool finish(struct oxl_poll *p, int64_t t_us)
{
    (void)t_us;
    p->step_tries = 0;
    return false; /* the next one */
}

void oxl_poll_sensors_forget(struct oxl_poll *p)
{
    p->sensor_at = 0;
    p->sensor_test = OXL_SENSOR_TEST_LAST + 1;
}

const struct oxl_poll_step oxl_poll_sensor_step = {begin, answer, finish, false, false};
