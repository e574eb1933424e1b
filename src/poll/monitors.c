/* Service 06: the results of the vehicle's own monitors. An inspection asks for all of them, from
 * all ECUs; the test itself only for those of the catalyst and of the two sensors in question,
 * and only where that costs next to nothing: the first sample is not to wait for it. */
#include "inside.h"

#include <string.h>

enum {
    SERVICE = 0x06,
    MASK_STEP = 0x20,
    MASK_MS = 2000,
    LAST_MASK = 0xE0,
    CATALYST = 0x21, /* of bank 1 */
    CHEAP_MS = 600   /* of survey, after which the test does without */
};

static bool can(const struct oxl_poll *p)
{
    return oxl_protocol_is_can(p->vehicle.protocol);
}

static bool wanted(const struct oxl_poll *p, int64_t t_us)
{
    if (p->config.inspection)
        return true;
    return can(p) && t_us - p->survey_us < OXL_POLL_MS(CHEAP_MS);
}

void oxl_poll_monitors_forget(struct oxl_poll *p)
{
    memset(&p->monitors, 0, sizeof p->monitors);
    p->monitor_at = 0;
    p->masks_answered = false;
    p->vehicle.results_n = 0;
    p->vehicle.results_known = false;
}

/* ---- masks 00, 20, ..; monitor_at is the one to ask ---- */

bool oxl_poll_monitor_masks_begin(struct oxl_poll *p, int64_t t_us)
{
    uint8_t mask = (uint8_t)p->monitor_at;
    if (!wanted(p, t_us) || (mask && !oxl_supports(&p->monitors, mask)) ||
        (!p->config.inspection && mask > MASK_STEP)) {
        p->monitor_at = 0;
        return false;
    }
    /* A mask of one ECU fits into one frame; nothing is known of what others send. */
    unsigned digit = p->ecus_n == 1 && can(p) ? oxl_poll_digit(p, 1) : 0;
    oxl_poll_request(p, SERVICE, &mask, 1, digit, MASK_MS, t_us);
    return true;
}

void oxl_poll_monitor_masks_answer(struct oxl_poll *p, const struct oxl_message *m)
{
    if (oxl_decode_monitor_mask(m, can(p), &p->monitors))
        p->masks_answered = true;
}

bool oxl_poll_monitor_masks_finish(struct oxl_poll *p, int64_t t_us)
{
    (void)t_us;
    p->step_tries = 0;
    if (p->monitor_at >= LAST_MASK) {
        p->monitor_at = 0;
        return true;
    }
    p->monitor_at += MASK_STEP;
    return false;
}

/* ---- the results; monitor_at is the last one asked for ---- */

/* The catalyst first: time may run out. */
static unsigned next_of_test(const struct oxl_poll *p)
{
    unsigned bank = p->config.bank - 1;
    const uint8_t ours[] = {(uint8_t)(CATALYST + bank), (uint8_t)(1 + 4 * bank),
                            (uint8_t)(2 + 4 * bank)};
    unsigned i = 0;
    while (i < sizeof ours && p->monitor_at && ours[i] != p->monitor_at)
        i++;
    for (i += p->monitor_at ? 1 : 0; i < sizeof ours; i++)
        if (oxl_supports(&p->monitors, ours[i]))
            return ours[i];
    return 0;
}

static bool may_ask(const struct oxl_poll *p, uint8_t monitor)
{
    return oxl_poll_may_send(p, SERVICE, &monitor, 1);
}

static unsigned next_of_all(const struct oxl_poll *p)
{
    for (unsigned n = p->monitor_at + 1; n < 0x100; n++)
        if (n % MASK_STEP && oxl_supports(&p->monitors, (uint8_t)n) && may_ask(p, (uint8_t)n))
            return n;
    return 0;
}

bool oxl_poll_monitors_begin(struct oxl_poll *p, int64_t t_us)
{
    unsigned next = p->config.inspection ? next_of_all(p) : next_of_test(p);
    p->onboard.results_known = p->masks_answered;
    if (!next || !wanted(p, t_us))
        return false;
    p->monitor_at = next;
    uint8_t monitor = (uint8_t)next;
    return oxl_poll_ask_plain(p, SERVICE, &monitor, 1, t_us);
}

static bool same_test(const struct oxl_monitor_result *a, const struct oxl_monitor_result *b)
{
    return a->ecu == b->ecu && a->form == b->form && a->monitor == b->monitor &&
           a->test == b->test && a->component == b->component && a->scale == b->scale;
}

/* A request that was repeated brings the same once more. False: no room. */
static bool keep(struct oxl_monitor_result *list, size_t *n, size_t max,
                 const struct oxl_monitor_result *r)
{
    size_t i = 0;
    while (i < *n && !same_test(&list[i], r))
        i++;
    if (i == max)
        return false;
    list[i] = *r;
    *n += i == *n;
    return true;
}

void oxl_poll_keep_result(struct oxl_poll *p, const struct oxl_monitor_result *r)
{
    struct oxl_vehicle *v = &p->vehicle;
    struct oxl_onboard *o = &p->onboard;
    bool ours = oxl_monitor_is_catalyst(r->monitor) || oxl_monitor_is_sensor(r->monitor);
    if (ours && r->ecu == v->ecu) {
        v->results_known = true;
        (void)keep(v->results, &v->results_n, OXL_KEPT_RESULTS, r);
    }
    if (p->config.inspection && !keep(o->results, &o->results_n, OXL_MAX_RESULTS, r))
        o->results_cut = true;
}

void oxl_poll_monitors_answer(struct oxl_poll *p, const struct oxl_message *m)
{
    enum { A_MESSAGE = 64 };
    struct oxl_monitor_result found[A_MESSAGE];
    bool clean;
    size_t n = oxl_decode_monitor(m, can(p), found, A_MESSAGE, &clean);
    for (size_t i = 0; i < n; i++)
        oxl_poll_keep_result(p, &found[i]);
}

bool oxl_poll_monitors_finish(struct oxl_poll *p, int64_t t_us)
{
    (void)t_us;
    p->step_tries = 0;
    return false; /* the next one */
}
