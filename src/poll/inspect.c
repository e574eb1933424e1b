/* What only an inspection asks for: readiness of this driving cycle, the names and calibrations
 * of the ECUs, and the freeze frame. Also the answers of the ECUs that are not used for the test.
 */
#include "poll_parts.h"

#include <string.h>

enum { CYCLE_PID = 0x41, CALIBRATIONS = 0x04, VERIFICATIONS = 0x06, NAME = 0x0A };

void oxl_poll_inspect_start(struct oxl_poll *p)
{
    memset(&p->inspect, 0, sizeof p->inspect);
}

void oxl_poll_inspect_done(struct oxl_poll *p)
{
    p->inspect.onboard.done = p->config.inspection;
}

void oxl_poll_inspect_results_known(struct oxl_poll *p, bool known)
{
    p->inspect.onboard.results_known = known;
}

void oxl_poll_inspect_result(struct oxl_poll *p, const struct oxl_monitor_result *r)
{
    struct oxl_onboard *o = &p->inspect.onboard;
    if (p->config.inspection &&
        !oxl_poll_list_result(o->results, &o->results_n, OXL_MAX_RESULTS, r))
        o->results_cut = true;
}

/* ---- by ECU ---- */

/* NULL: no room. */
static struct oxl_ecu_info *info_of(struct oxl_poll *p, uint32_t ecu)
{
    struct oxl_onboard *o = &p->inspect.onboard;
    for (size_t i = 0; i < o->ecus_n; i++)
        if (o->ecus[i].ecu == ecu)
            return &o->ecus[i];
    if (o->ecus_n == 0) /* the ECU used for the test stands first */
        o->ecus[o->ecus_n++].ecu = p->vehicle.ecu;
    if (o->ecus[0].ecu == ecu)
        return &o->ecus[0];
    if (o->ecus_n == OXL_MAX_ECUS)
        return NULL;
    o->ecus[o->ecus_n].ecu = ecu;
    return &o->ecus[o->ecus_n++];
}

void oxl_poll_ecu_readiness(struct oxl_poll *p, const struct oxl_message *m)
{
    const uint8_t *data = oxl_poll_pid_data(p, m, 4);
    struct oxl_ecu_info *u = p->config.inspection ? info_of(p, m->ecu) : NULL;
    if (!data || !u)
        return;
    (void)oxl_decode_readiness(data, p->request.pids[0] == CYCLE_PID ? &u->cycle : &u->readiness);
}

void oxl_poll_ecu_dtcs(struct oxl_poll *p, const struct oxl_message *m)
{
    struct oxl_ecu_info *u = p->config.inspection ? info_of(p, m->ecu) : NULL;
    if (!u)
        return;
    struct oxl_dtc_list *list = oxl_dtc_list_of(u->dtcs, p->request.service);
    if (oxl_decode_dtcs(m, oxl_poll_is_can(p), list->codes, &list->n, OXL_MAX_DTCS))
        list->known = true;
}

/* ---- readiness of this driving cycle ---- */

static bool cycle_begin(struct oxl_poll *p, int64_t t_us)
{
    return oxl_poll_any_ecu_supports(p, CYCLE_PID) && oxl_poll_ask_pid(p, CYCLE_PID, t_us);
}

/* ---- service 09 ---- */

static bool info_mask_begin(struct oxl_poll *p, int64_t t_us)
{
    static const uint8_t mask = 0x00;
    return oxl_poll_ask_plain(p, 0x09, &mask, 1, t_us);
}

/* CAN: 49 00 and four bytes; elsewhere the number of the message stands between. */
static void info_mask_answer(struct oxl_poll *p, const struct oxl_message *m)
{
    size_t head = oxl_poll_is_can(p) ? 2 : 3;
    if (m->len < head + 4)
        return;
    p->inspect.info_known = true;
    oxl_support_add(&p->inspect.infotypes, 0x00, m->data + head);
}

/* Without a mask the PIDs that every vehicle of that age has are tried. */
static bool info_begin(struct oxl_poll *p, uint8_t pid, int64_t t_us)
{
    bool listed = oxl_supports(&p->inspect.infotypes, pid);
    if (!oxl_poll_may_send(p, 0x09, &pid, 1) || (p->inspect.info_known ? !listed : pid == NAME))
        return false;
    memset(p->inspect.info, 0, sizeof p->inspect.info);
    return oxl_poll_ask_plain(p, 0x09, &pid, 1, t_us);
}

static bool calibrations_begin(struct oxl_poll *p, int64_t t_us)
{
    return info_begin(p, CALIBRATIONS, t_us);
}

static bool verifications_begin(struct oxl_poll *p, int64_t t_us)
{
    return info_begin(p, VERIFICATIONS, t_us);
}

static bool name_begin(struct oxl_poll *p, int64_t t_us)
{
    return info_begin(p, NAME, t_us);
}

static void info_answer(struct oxl_poll *p, const struct oxl_message *m)
{
    struct oxl_ecu_info *u = info_of(p, m->ecu);
    uint8_t pid = p->request.pids[0];
    struct oxl_info *info = u ? &p->inspect.info[u - p->inspect.onboard.ecus] : NULL;
    if (!info || !oxl_decode_info(m, oxl_poll_is_can(p), pid, info))
        return;
    if (pid == CALIBRATIONS)
        u->calibration_n = oxl_info_calibrations(info, u->calibration);
    else if (pid == VERIFICATIONS)
        u->verification_n = oxl_info_verifications(info, u->verification);
    else
        oxl_info_name(info, u->name);
}

/* ---- service 02, frame 00 ---- */

static bool ask_frozen(struct oxl_poll *p, uint8_t pid, int64_t t_us)
{
    const uint8_t pair[] = {pid, 0x00};
    return oxl_poll_ask_plain(p, 0x02, pair, 2, t_us);
}

static bool frozen_code_begin(struct oxl_poll *p, int64_t t_us)
{
    return ask_frozen(p, 0x02, t_us);
}

static void frozen_code_answer(struct oxl_poll *p, const struct oxl_message *m)
{
    if (oxl_decode_freeze_frame_dtc(m, &p->inspect.onboard.freeze_frame_dtc))
        p->inspect.onboard.frozen_known = true;
}

/* Masks 00, 20 and 40; there is no freeze frame without a trouble code. */
static bool frozen_masks_begin(struct oxl_poll *p, int64_t t_us)
{
    uint8_t mask = (uint8_t)(p->survey.tries * 0x20);
    if (p->inspect.onboard.freeze_frame_dtc == 0 || mask > 0x40 ||
        (mask && !oxl_supports(&p->inspect.freeze_frame_pids, mask)))
        return false;
    p->inspect.frozen_pid = mask;
    return ask_frozen(p, mask, t_us);
}

static void frozen_masks_answer(struct oxl_poll *p, const struct oxl_message *m)
{
    if (m->len >= 7 && m->data[1] == p->inspect.frozen_pid)
        oxl_support_add(&p->inspect.freeze_frame_pids, p->inspect.frozen_pid, m->data + 3);
}

static bool frozen_masks_finish(struct oxl_poll *p, int64_t t_us)
{
    (void)t_us;
    oxl_poll_step_tried(p, p->inspect.frozen_pid / 0x20U + 1);
    p->inspect.frozen_pid = 0;
    return false;
}

/* PIDs that carry no channel are asked for in vain; there are few. frozen_pid is the last one. */
static bool frozen_begin(struct oxl_poll *p, int64_t t_us)
{
    for (unsigned pid = p->inspect.frozen_pid + 1U; pid < 0x60; pid++) {
        const uint8_t pair[] = {(uint8_t)pid, 0x00};
        if (pid == 0x02 || pid % 0x20 == 0 || !oxl_poll_may_send(p, 0x02, pair, 2) ||
            !oxl_supports(&p->inspect.freeze_frame_pids, pair[0]) ||
            oxl_pid_length(pair[0], &p->vehicle.decoding, 0) == 0)
            continue;
        p->inspect.frozen_pid = pair[0];
        return ask_frozen(p, pair[0], t_us);
    }
    return false;
}

/* A request that was put off and asked again is answered twice. */
static void keep_frozen(struct oxl_onboard *o, const struct oxl_sample *s)
{
    size_t i = 0;
    while (i < o->frozen_n && !oxl_channel_same(o->frozen[i].channel, s->channel))
        i++;
    if (i == OXL_MAX_FROZEN)
        return;
    o->frozen[i] = *s;
    o->frozen_n += i == o->frozen_n;
}

static void frozen_answer(struct oxl_poll *p, const struct oxl_message *m)
{
    struct oxl_sample found[OXL_MAX_FROZEN];
    bool clean;
    if (m->len < 2 || m->data[1] != p->inspect.frozen_pid)
        return;
    size_t n = oxl_decode_freeze_frame(m, &p->vehicle.decoding, found, OXL_MAX_FROZEN, &clean);
    for (size_t i = 0; i < n; i++)
        keep_frozen(&p->inspect.onboard, &found[i]);
}

static const struct oxl_poll_step steps[] = {
    {cycle_begin, oxl_poll_ecu_readiness, .all_ecus = true},
    {info_mask_begin, info_mask_answer, .all_ecus = true},
    {calibrations_begin, info_answer, .all_ecus = true},
    {verifications_begin, info_answer, .all_ecus = true},
    {name_begin, info_answer, .all_ecus = true},
    {.begin = frozen_code_begin, .answer = frozen_code_answer},
    {frozen_masks_begin, frozen_masks_answer, frozen_masks_finish, .own_retry = true},
    {.begin = frozen_begin, .answer = frozen_answer, .finish = oxl_poll_step_more},
};

const struct oxl_poll_step *oxl_poll_inspect_step(unsigned i)
{
    return i < sizeof steps / sizeof *steps ? &steps[i] : NULL;
}
