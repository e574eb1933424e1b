/* Service 06: the results of the vehicle's own monitors. An inspection asks for all of them, from
 * all ECUs; the test itself only for those of the catalyst and of the two sensors in question,
 * and only where that costs next to nothing: the first sample is not to wait for it. */
#include "poll_parts.h"

#include <string.h>

enum {
    SERVICE = 0x06,
    MASK_STEP = 0x20,
    MASK_MS = 2000,
    LAST_MASK = 0xE0,
    CATALYST = 0x21, /* of bank 1 */
    CHEAP_MS = 600   /* of survey, after which the test does without */
};

static bool wanted(const struct oxl_poll *p, int64_t t_us)
{
    if (p->config.inspection)
        return true;
    return oxl_poll_is_can(p) && t_us - p->survey.begun_us < OXL_POLL_MS(CHEAP_MS);
}

void oxl_poll_monitors_forget(struct oxl_poll *p)
{
    memset(&p->monitors, 0, sizeof p->monitors);
    oxl_poll_vehicle_results_forget(p);
}

/* ---- masks 00, 20, ..; monitors.at is the one to ask ---- */

static bool masks_begin(struct oxl_poll *p, int64_t t_us)
{
    uint8_t mask = (uint8_t)p->monitors.at;
    if (!wanted(p, t_us) || (mask && !oxl_supports(&p->monitors.listed, mask)) ||
        (!p->config.inspection && mask > MASK_STEP)) {
        p->monitors.at = 0;
        return false;
    }
    /* A mask of one ECU fits into one frame; nothing is known of what others send. */
    unsigned digit = p->ecus.n == 1 && oxl_poll_is_can(p) ? oxl_poll_digit(p, 1) : 0;
    oxl_poll_request(p, SERVICE, &mask, 1, digit, MASK_MS, t_us);
    return true;
}

static void masks_answer(struct oxl_poll *p, const struct oxl_message *m)
{
    if (oxl_decode_monitor_mask(m, oxl_poll_is_can(p), &p->monitors.listed))
        p->monitors.masks_answered = true;
}

static bool masks_finish(struct oxl_poll *p, int64_t t_us)
{
    bool last = p->monitors.at >= LAST_MASK;
    p->monitors.at = last ? 0 : p->monitors.at + MASK_STEP;
    return oxl_poll_step_more(p, t_us) || last;
}

const struct oxl_poll_step oxl_poll_monitor_masks_step = {masks_begin, masks_answer, masks_finish,
                                                          .all_ecus = true};

/* ---- the results; monitors.at is the last one asked for ---- */

/* The catalyst first: time may run out. */
static unsigned next_of_test(const struct oxl_poll *p)
{
    unsigned bank = p->config.bank - 1;
    const uint8_t ours[] = {(uint8_t)(CATALYST + bank), (uint8_t)(1 + 4 * bank),
                            (uint8_t)(2 + 4 * bank)};
    unsigned i = 0;
    while (i < sizeof ours && p->monitors.at && ours[i] != p->monitors.at)
        i++;
    for (i += p->monitors.at ? 1 : 0; i < sizeof ours; i++)
        if (oxl_supports(&p->monitors.listed, ours[i]))
            return ours[i];
    return 0;
}

static unsigned next_of_all(const struct oxl_poll *p)
{
    for (unsigned n = p->monitors.at + 1; n < 0x100; n++) {
        uint8_t monitor = (uint8_t)n;
        if (n % MASK_STEP && oxl_supports(&p->monitors.listed, monitor) &&
            oxl_poll_may_send(p, SERVICE, &monitor, 1))
            return n;
    }
    return 0;
}

static bool monitors_begin(struct oxl_poll *p, int64_t t_us)
{
    unsigned next = p->config.inspection ? next_of_all(p) : next_of_test(p);
    oxl_poll_inspect_results_known(p, p->monitors.masks_answered);
    if (!next || !wanted(p, t_us))
        return false;
    p->monitors.at = next;
    uint8_t monitor = (uint8_t)next;
    return oxl_poll_ask_plain(p, SERVICE, &monitor, 1, t_us);
}

static bool same_test(const struct oxl_monitor_result *a, const struct oxl_monitor_result *b)
{
    return a->ecu == b->ecu && a->form == b->form && a->monitor == b->monitor &&
           a->test == b->test && a->component == b->component && a->scale == b->scale;
}

bool oxl_poll_list_result(struct oxl_monitor_result *list, size_t *n, size_t max,
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
    oxl_poll_vehicle_result(p, r);
    oxl_poll_inspect_result(p, r);
}

static void monitors_answer(struct oxl_poll *p, const struct oxl_message *m)
{
    struct oxl_monitor_result found[OXL_MAX_RESULTS];
    bool clean;
    size_t n = oxl_decode_monitor(m, oxl_poll_is_can(p), found, OXL_MAX_RESULTS, &clean);
    for (size_t i = 0; i < n; i++)
        oxl_poll_keep_result(p, &found[i]);
}

const struct oxl_poll_step oxl_poll_monitors_step = {monitors_begin, monitors_answer,
                                                     oxl_poll_step_more, .all_ecus = true};
