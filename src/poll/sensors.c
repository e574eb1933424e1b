/* Which PIDs are the two sensors'. A mask may announce what never answers, leave out what does, and
 * a switching sensor may be dressed up as a wide-range one. So a sensor that the masks lack is
 * asked for by each form that the layout allows; one that never answers live data is asked once
 * more, then dropped for the next form; a rear lambda that stands still gives way to what moves. A
 * vehicle whose masks are right is asked nothing more than before. */
#include "poll_parts.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { TEXT_PIDS = 6 };

void oxl_poll_sensors_forget(struct oxl_poll *p)
{
    memset(&p->sensors, 0, sizeof p->sensors);
    p->sensors.rpm = NAN;
}

/* ---- the survey's step: asked alone, one after another ---- */

static bool next_doubted(const struct oxl_poll *p, uint8_t *pid)
{
    for (unsigned i = 1; i <= 0xFF; i++)
        if (oxl_supports(&p->sensors.doubted, (uint8_t)i) &&
            !oxl_supports(&p->sensors.asked, (uint8_t)i)) {
            *pid = (uint8_t)i;
            return true;
        }
    return false;
}

static bool next_form(const struct oxl_poll *p, unsigned sensor, uint8_t *pid)
{
    uint8_t pids[OXL_SENSOR_FORMS];
    unsigned n = oxl_sensor_forms(&p->vehicle.decoding, p->config.bank, sensor, pids);
    for (unsigned i = 0; i < n; i++)
        if (!oxl_supports(&p->sensors.asked, pids[i]) &&
            !oxl_supports(&p->vehicle.support, pids[i])) {
            *pid = pids[i];
            return true;
        }
    return false;
}

static bool next_pid(const struct oxl_poll *p, uint8_t *pid)
{
    return next_doubted(p, pid) || (!p->pair.front_kind && next_form(p, 1, pid)) ||
           (!p->pair.rear_kind && next_form(p, 2, pid));
}

static bool sensors_begin(struct oxl_poll *p, int64_t t_us)
{
    oxl_poll_vehicle_pair(p);
    p->sensors.heard = false;
    return next_pid(p, &p->sensors.now) && oxl_poll_ask_pid(p, p->sensors.now, t_us);
}

static void sensors_answer(struct oxl_poll *p, const struct oxl_message *m)
{
    p->sensors.heard = p->sensors.heard || oxl_poll_pid_data(p, m, 1);
}

static bool sensors_finish(struct oxl_poll *p, int64_t t_us)
{
    uint8_t pid = p->sensors.now;
    oxl_support_put(&p->sensors.asked, pid, true);
    if (p->sensors.heard) {
        oxl_poll_vehicle_answers(p, pid);
        oxl_poll_sensor_answered(p, pid);
    } else if (oxl_poll_announced(p, pid)) {
        oxl_poll_vehicle_silent(p, pid);
    }
    return oxl_poll_step_more(p, t_us);
}

const struct oxl_poll_step oxl_poll_sensors_step = {
    .begin = sensors_begin, .answer = sensors_answer, .finish = sensors_finish};

/* ---- live data: what never answers ---- */

void oxl_poll_sensor_answered(struct oxl_poll *p, uint8_t pid)
{
    oxl_support_put(&p->sensors.answered, pid, true);
    oxl_support_put(&p->sensors.missed, pid, false);
}

/* When one is doubted, all that have not answered so far are asked with it. */
void oxl_poll_sensor_missed(struct oxl_poll *p, uint8_t pid, bool often)
{
    if (oxl_supports(&p->sensors.answered, pid) || oxl_supports(&p->vehicle.silent, pid))
        return;
    oxl_support_put(&p->sensors.missed, pid, true);
    if (often)
        p->sensors.doubted = p->sensors.missed;
}

static bool any(const struct oxl_support *s)
{
    static const struct oxl_support none;
    return memcmp(s, &none, sizeof none) != 0;
}

/* ---- live data: does the rear move? ---- */

static void follow(struct oxl_poll_course *c, const struct oxl_sample *s)
{
    if (c->n++ == 0) {
        c->since_us = s->recv_us;
        c->low = c->high = s->value;
    }
    c->low = fmin(c->low, s->value);
    c->high = fmax(c->high, s->value);
}

/* An ECU that refreshes its values once a second shows four within that time. */
static bool watched_long(const struct oxl_poll_course *c, const struct oxl_sample *s)
{
    const int64_t still_us = OXL_POLL_MS(4000);
    enum { LEAST = 4 };
    return c->n >= LEAST && s->recv_us - c->since_us >= still_us;
}

/* The rear is settled, or its next form is watched. A switching sensor's voltage stays within what
 * such a cell gives, about 1 V; a wide-range sensor's is above it (common practice, no source). */
static void next_rear(struct oxl_poll *p, uint8_t pid)
{
    const double cell_v = 1.2;
    const struct oxl_poll_course *v = &p->sensors.volts;
    bool volts = v->n > 0 && v->high > v->low && v->high <= cell_v;
    oxl_poll_vehicle_still(p, pid, volts);
    p->sensors.settled = p->sensors.again = true; /* what comes next is settled by its choice */
}

static void watch_rear(struct oxl_poll *p, const struct oxl_sample *s)
{
    struct oxl_poll_sensors *w = &p->sensors;
    if (w->watched != p->pair.rear_pid) {
        w->watched = p->pair.rear_pid;
        w->lambda = w->volts = (struct oxl_poll_course){0};
    }
    if (s->channel.quantity == OXL_Q_WIDE_V)
        follow(&w->volts, s);
    else
        follow(&w->lambda, s);
    if (w->lambda.n && w->lambda.high > w->lambda.low)
        w->settled = true;
    else if (watched_long(&w->lambda, s))
        next_rear(p, w->watched);
}

/* In an engine that stands nothing moves. What has not been found before gas is asked for stays. */
void oxl_poll_sensors_sample(struct oxl_poll *p, const struct oxl_sample *s)
{
    const double turns_rpm = 300;
    struct oxl_channel rear = p->pair.rear;
    if (s->channel.quantity == OXL_Q_RPM)
        p->sensors.rpm = s->value;
    if (p->focus != OXL_FOCUS_ALL)
        p->sensors.settled = true;
    if (p->sensors.settled || p->config.unproven || p->pair.rear_kind != OXL_SENSOR_WIDE ||
        p->sensors.rpm < turns_rpm || s->channel.bank != rear.bank ||
        s->channel.sensor != rear.sensor)
        return;
    if (s->channel.quantity == OXL_Q_LAMBDA || s->channel.quantity == OXL_Q_WIDE_V)
        watch_rear(p, s);
}

/* ---- another choice ---- */

static void say_why(struct oxl_poll *p)
{
    char text[160] = "PIDs that never answer are asked once more:";
    size_t len = strlen(text);
    for (unsigned pid = 1, n = 0; pid <= 0xFF && n < TEXT_PIDS; pid++)
        if (oxl_supports(&p->sensors.doubted, (uint8_t)pid)) {
            len += (size_t)snprintf(text + len, sizeof text - len, " %02X", pid);
            n++;
        }
    oxl_poll_set_state(p, OXL_LINK_READY,
                       any(&p->sensors.doubted)
                           ? text
                           : "The rear's lambda stands still: another form of it is used.");
}

/* Gas may flow in the other two: the sensors have answered by then. */
bool oxl_poll_sensors_again(struct oxl_poll *p, int64_t t_us)
{
    bool doubt = any(&p->sensors.doubted);
    if (!(doubt || p->sensors.again) || p->focus != OXL_FOCUS_ALL)
        return false;
    say_why(p);
    memset(&p->sensors.asked, 0, sizeof p->sensors.asked);
    p->sensors.again = true;
    oxl_poll_survey_sensors(p, t_us);
    return true;
}

bool oxl_poll_sensors_only(const struct oxl_poll *p)
{
    return p->sensors.again;
}

/* No other form answers: the lambda that stands still is all there is. */
void oxl_poll_sensors_chosen(struct oxl_poll *p)
{
    oxl_poll_vehicle_pair(p);
    bool none = !p->pair.rear_kind && any(&p->vehicle.still);
    if (none)
        oxl_poll_vehicle_moves(p);
    p->sensors.settled = none || p->pair.rear_kind != OXL_SENSOR_WIDE;
    memset(&p->sensors.doubted, 0, sizeof p->sensors.doubted);
    memset(&p->sensors.missed, 0, sizeof p->sensors.missed);
    p->sensors.again = false;
}
