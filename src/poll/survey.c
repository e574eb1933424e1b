/* The survey: once a vehicle, what it is and what it can tell. A table of steps; each asks, hears
 * and is over. A step that is not answered leaves its matter unknown. */
#include "inside.h"

#include <string.h>

enum {
    STEP_MS = 2000,
    SILENT_STEPS = 3,
    REASKS = 10,
    SPOILT_TRIES = 8,
    MASK_TRIES = 2,
    BUSY_MS = 50,
    CODE_BUSY = 0x21
};

bool oxl_poll_ask_pid(struct oxl_poll *p, uint8_t pid, int64_t t_us)
{
    unsigned digit = oxl_poll_digit(p, oxl_poll_expected_frames(p, &pid, 1));
    oxl_poll_request(p, 1, &pid, 1, digit, STEP_MS, t_us);
    return true;
}

bool oxl_poll_ask_plain(struct oxl_poll *p, uint8_t service, const uint8_t *pids, unsigned n,
                        int64_t t_us)
{
    oxl_poll_request(p, service, pids, n, 0, STEP_MS, t_us);
    return true;
}

static bool ask_supported(struct oxl_poll *p, uint8_t pid, int64_t t_us)
{
    return oxl_supports(&p->vehicle.support, pid) && oxl_poll_ask_pid(p, pid, t_us);
}

/* ---- masks 20, 40, ..: from every ECU, until no ECU has a next one ---- */

static bool masks_begin(struct oxl_poll *p, int64_t t_us)
{
    while (p->mask_pid < 0xE0) {
        p->mask_pid = (uint8_t)(p->mask_pid + 0x20);
        if (oxl_poll_any_ecu_supports(p, p->mask_pid))
            return oxl_poll_ask_pid(p, p->mask_pid, t_us);
    }
    oxl_poll_choose_ecu(p);
    p->out.vehicle(p->out.ctx);
    return false;
}

static void masks_answer(struct oxl_poll *p, const struct oxl_message *m)
{
    oxl_poll_ecu_mask(p, m, p->mask_pid);
}

static bool masks_finish(struct oxl_poll *p, int64_t t_us)
{
    (void)t_us;
    p->step_tries = 0;
    /* A mask that was announced is there: without it sensors would be missed. */
    bool again = !p->ex.answers && p->mask_tries++ < MASK_TRIES;
    if (again)
        p->mask_pid = (uint8_t)(p->mask_pid - 0x20);
    else
        p->mask_tries = 0;
    return false; /* the next mask */
}

/* ---- single PIDs ---- */

static const uint8_t *pid_data(const struct oxl_poll *p, const struct oxl_message *m, size_t len)
{
    size_t have = 0;
    const uint8_t *data = oxl_find_pid(m, &p->vehicle.decoding, p->ex.pids[0], &have);
    return data && have >= len ? data : NULL;
}

static bool layout_begin(struct oxl_poll *p, int64_t t_us)
{
    return ask_supported(p, 0x13, t_us) || ask_supported(p, 0x1D, t_us);
}

static void layout_answer(struct oxl_poll *p, const struct oxl_message *m)
{
    const uint8_t *data = pid_data(p, m, 1);
    if (!data)
        return;
    p->vehicle.decoding.layout = p->ex.pids[0] == 0x13 ? OXL_LAYOUT_13 : OXL_LAYOUT_1D;
    p->vehicle.decoding.sensors = data[0];
}

static bool scale_begin(struct oxl_poll *p, int64_t t_us)
{
    return ask_supported(p, 0x4F, t_us);
}

/* PIDs 4F and 50, SAE J1979 / ISO 15031-5: full scales; 0 keeps the published step. */
static void scale_answer(struct oxl_poll *p, const struct oxl_message *m)
{
    struct oxl_scaling *s = &p->vehicle.decoding.scaling;
    const uint8_t *data = pid_data(p, m, 4);
    if (!data)
        return;
    s->lambda_max = data[0];
    s->o2_max_v = data[1];
    s->o2_max_ma = data[2];
    s->map_max_10kpa = data[3];
}

static bool air_scale_begin(struct oxl_poll *p, int64_t t_us)
{
    return ask_supported(p, 0x50, t_us);
}

static void air_scale_answer(struct oxl_poll *p, const struct oxl_message *m)
{
    const uint8_t *data = pid_data(p, m, 4);
    if (data)
        p->vehicle.decoding.scaling.air_max_10g_s = data[0];
}

static bool readiness_begin(struct oxl_poll *p, int64_t t_us)
{
    return ask_supported(p, 0x01, t_us);
}

static void readiness_answer(struct oxl_poll *p, const struct oxl_message *m)
{
    const uint8_t *data = pid_data(p, m, 4);
    oxl_poll_ecu_readiness(p, m);
    if (data && m->ecu == p->vehicle.ecu)
        (void)oxl_decode_readiness(data, &p->vehicle.readiness);
}

/* ---- codes ---- */

static bool ask_codes(struct oxl_poll *p, uint8_t service, int64_t t_us)
{
    return oxl_poll_ask_plain(p, service, NULL, 0, t_us);
}

static void take_codes(struct oxl_poll *p, const struct oxl_message *m, uint16_t *list, size_t *n,
                       bool *known)
{
    oxl_poll_ecu_dtcs(p, m);
    if (m->ecu != p->vehicle.ecu)
        return;
    if (oxl_decode_dtcs(m, oxl_protocol_is_can(p->vehicle.protocol), list, n, OXL_MAX_DTCS))
        *known = true;
}

static bool stored_begin(struct oxl_poll *p, int64_t t_us)
{
    return ask_codes(p, 0x03, t_us);
}

static void stored_answer(struct oxl_poll *p, const struct oxl_message *m)
{
    take_codes(p, m, p->vehicle.stored, &p->vehicle.stored_n, &p->vehicle.stored_known);
}

static bool pending_begin(struct oxl_poll *p, int64_t t_us)
{
    return ask_codes(p, 0x07, t_us);
}

static void pending_answer(struct oxl_poll *p, const struct oxl_message *m)
{
    take_codes(p, m, p->vehicle.pending, &p->vehicle.pending_n, &p->vehicle.pending_known);
}

/* Permanent codes came with CAN (about 2010). */
static bool permanent_begin(struct oxl_poll *p, int64_t t_us)
{
    return oxl_protocol_is_can(p->vehicle.protocol) && ask_codes(p, 0x0A, t_us);
}

static void permanent_answer(struct oxl_poll *p, const struct oxl_message *m)
{
    take_codes(p, m, p->vehicle.permanent, &p->vehicle.permanent_n, &p->vehicle.permanent_known);
}

/* ---- the vehicle's number ---- */

/* 20 bytes on CAN are three frames; on K-line and J1850 it takes five messages. */
static bool ask_vin(struct oxl_poll *p, int64_t t_us)
{
    static const uint8_t pid = 0x02;
    if (p->config.no_identity)
        return false;
    unsigned frames = oxl_protocol_is_can(p->vehicle.protocol) ? 3 : 5;
    p->vin_parts = 0;
    p->vin[0] = '\0';
    bool counted = p->ecus_n == 1 && p->count_multi_frame;
    oxl_poll_request(p, 0x09, &pid, 1, counted ? oxl_poll_digit(p, frames) : 0, STEP_MS, t_us);
    return true;
}

static void hear_vin(struct oxl_poll *p, const struct oxl_message *m)
{
    (void)oxl_decode_vin(m, oxl_protocol_is_can(p->vehicle.protocol), p->vin, &p->vin_parts);
}

static bool keep_vin(struct oxl_poll *p, int64_t t_us)
{
    enum { WHOLE = 17 };
    (void)t_us;
    if (strlen(p->vin) == WHOLE)
        memcpy(p->vehicle.vin, p->vin, sizeof p->vehicle.vin);
    return true;
}

/* ---- the table ---- */

static const struct oxl_poll_step steps[] = {
    {oxl_poll_count_begin, NULL, oxl_poll_count_finish, true, false},
    {masks_begin, masks_answer, masks_finish, false, false},
    {layout_begin, layout_answer, NULL, false, false},
    {scale_begin, scale_answer, NULL, false, false},
    {air_scale_begin, air_scale_answer, NULL, false, false},
    {oxl_poll_several_begin, oxl_poll_several_answer, oxl_poll_several_finish, true, false},
    {oxl_poll_full_begin, oxl_poll_several_answer, oxl_poll_full_finish, true, false},
    {oxl_poll_tune_begin, NULL, oxl_poll_tune_finish, true, false},
    {readiness_begin, readiness_answer, NULL, false, true},
    {stored_begin, stored_answer, NULL, false, true},
    {pending_begin, pending_answer, NULL, false, true},
    {permanent_begin, permanent_answer, NULL, false, true},
    {ask_vin, hear_vin, keep_vin, false, false},
    {oxl_poll_monitor_masks_begin, oxl_poll_monitor_masks_answer, oxl_poll_monitor_masks_finish,
     false, true},
    {oxl_poll_monitors_begin, oxl_poll_monitors_answer, oxl_poll_monitors_finish, false, true},
    {oxl_poll_sensors_begin, oxl_poll_sensors_answer, oxl_poll_sensors_finish, false, false},
};

enum { STEPS = sizeof steps / sizeof *steps };

/* NULL: the survey is over. */
static const struct oxl_poll_step *present_step(const struct oxl_poll *p)
{
    if (p->step < STEPS)
        return &steps[p->step];
    return p->config.inspection ? oxl_poll_inspect_step(p->step - STEPS) : NULL;
}

bool oxl_poll_hears_all(const struct oxl_poll *p)
{
    const struct oxl_poll_step *step =
        p->config.inspection && p->stage == OXL_STAGE_SURVEY ? present_step(p) : NULL;
    return step && step->all_ecus;
}

static void run(struct oxl_poll *p, int64_t t_us)
{
    for (const struct oxl_poll_step *s; (s = present_step(p));
         p->step++, p->step_tries = p->step_spoilt = 0)
        if (s->begin(p, t_us))
            return;
    p->vehicle.survey_done = true;
    p->onboard.done = p->config.inspection;
    p->known = true;
    p->out.vehicle(p->out.ctx);
    oxl_poll_live_start(p, t_us);
}

void oxl_poll_survey_start(struct oxl_poll *p, int64_t t_us)
{
    p->stage = OXL_STAGE_SURVEY;
    p->give_up_us = OXL_POLL_NEVER;
    p->step = p->step_tries = p->silent_steps = p->step_spoilt = 0;
    memset(&p->tune, 0, sizeof p->tune);
    p->mask_pid = 0;
    p->mask_tries = 0;
    p->survey_us = t_us;
    p->survey_spoilt = oxl_poll_spoilt_so_far(p);
    p->line_doubted = false;
    oxl_poll_monitors_forget(p);
    oxl_poll_sensors_forget(p);
    oxl_poll_inspect_start(p);
    p->count_multi_frame = true;
    p->most_pids = OXL_POLL_PIDS;
    oxl_poll_set_state(p, OXL_LINK_SURVEY, "The vehicle answers; asking what it is.");
    run(p, t_us);
}

void oxl_poll_survey_next(struct oxl_poll *p, int64_t t_us)
{
    run(p, t_us);
}

void oxl_poll_survey_answer(struct oxl_poll *p, const struct oxl_message *m)
{
    const struct oxl_poll_step *step = present_step(p);
    if (step && step->answer)
        step->answer(p, m);
}

/* "Pending" was the last word of a ECU that is listened to, in this try or an earlier one. Another
 * ECU's answer does not end the wait for one that was promised. */
static bool is_promised(const struct oxl_poll *p)
{
    const struct oxl_exchange *ex = &p->ex;
    const struct oxl_poll_step *step = present_step(p);
    bool all = oxl_poll_hears_all(p) || (step && step->answer == masks_answer);
    unsigned open = ex->promised & ~ex->settled;
    if (open & (all ? ~0U : oxl_poll_ecu_bit(p, p->vehicle.ecu)))
        return true;
    return ex->pending && !ex->own_answer && !ex->negative &&
           !(ex->answers && oxl_poll_hears_all(p));
}

/* True when the same request is on its way again. */
static bool ask_again(struct oxl_poll *p, int64_t t_us)
{
    const struct oxl_exchange *ex = &p->ex;
    const struct oxl_poll_step *step = present_step(p);
    bool interrupted = oxl_poll_said(p, OXL_WORD_STOPPED) || ex->timed_out;
    if (is_promised(p) && ex->tries < REASKS) {
        oxl_poll_request_again(p, t_us);
        return true;
    }
    bool damaged = oxl_poll_spoilt(p) || (oxl_poll_cut_off(p) && !ex->counted) ||
                   oxl_poll_said(p, OXL_WORD_UNKNOWN_COMMAND);
    /* Where all ECUs are heard, it may be another's answer that was damaged. */
    if (ex->answers && !(damaged && oxl_poll_hears_all(p)))
        return false;
    if (ex->negative == CODE_BUSY && p->step_tries < REASKS) {
        p->step_tries++;
        oxl_poll_pause(p, BUSY_MS, true, t_us);
        return true;
    }
    if (ex->negative)
        return false;
    if (step && !step->own_retry && damaged && p->step_spoilt++ < SPOILT_TRIES) {
        oxl_poll_request_again(p, t_us);
        return true;
    }
    /* A digit that does not fit cuts the answer off. */
    if (step && !step->own_retry && !ex->answers && p->step_tries == 0 &&
        (interrupted || ex->counted)) {
        p->step_tries++;
        oxl_poll_request_again(p, t_us);
        return true;
    }
    return false;
}

/* A digit or several PIDs may be refused; a plain request is not, unless it came damaged. */
static void note_doubt(struct oxl_poll *p)
{
    const struct oxl_exchange *ex = &p->ex;
    bool plain = ex->service && !ex->counted && !(ex->service == 0x01 && ex->n > 1);
    if (ex->timed_out || (plain && oxl_poll_said(p, OXL_WORD_UNKNOWN_COMMAND)))
        p->line_doubted = true;
}

void oxl_poll_survey_finished(struct oxl_poll *p, int64_t t_us)
{
    note_doubt(p);
    p->silent_steps = p->ex.timed_out ? p->silent_steps + 1 : 0;
    if (p->ex.silent || p->silent_steps >= SILENT_STEPS) {
        oxl_poll_lost(p, "The answers stopped during the survey: check plug and ignition.", t_us);
        return;
    }
    if (ask_again(p, t_us))
        return;
    const struct oxl_poll_step *step = present_step(p);
    if (!step || !step->finish || step->finish(p, t_us)) {
        p->step++;
        p->step_tries = p->step_spoilt = 0;
    }
    run(p, t_us);
}

/* ---- after a loss: is it the same vehicle? ---- */

void oxl_poll_verify_start(struct oxl_poll *p, int64_t t_us)
{
    p->stage = OXL_STAGE_VERIFY;
    if (p->vehicle.vin[0])
        ask_vin(p, t_us);
    else
        oxl_poll_live_start(p, t_us);
}

void oxl_poll_verify_answer(struct oxl_poll *p, const struct oxl_message *m)
{
    hear_vin(p, m);
}

/* Only a different number says that it is another vehicle; none says nothing. */
void oxl_poll_verify_finished(struct oxl_poll *p, int64_t t_us)
{
    if (p->ex.silent) {
        oxl_poll_revive_failed(p, "The adapter fell silent: is it plugged in and powered?", t_us);
    } else if (p->vin[0] && strcmp(p->vin, p->vehicle.vin) != 0) {
        p->known = p->reviving = false;
        oxl_poll_search_start(p, t_us);
    } else {
        oxl_poll_live_start(p, t_us);
    }
}
