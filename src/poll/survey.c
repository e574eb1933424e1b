/* The survey: once a vehicle, what it is and what it can tell. A table of steps; each asks, reads
 * and is over. A step that is not answered leaves its matter unknown. */
#include "poll_parts.h"

#include <string.h>

enum {
    STEP_MS = 2000,
    SILENT_STEPS = 3,
    REASKS = 10,
    SPOILT_TRIES = 8,
    BUSY_MS = 50,
    CATCH_UPS = 3,
    CATCH_UP_MS = 400,
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

void oxl_poll_step_tried(struct oxl_poll *p, unsigned tries)
{
    p->survey.tries = tries;
}

bool oxl_poll_step_spoilt(struct oxl_poll *p)
{
    return oxl_poll_spoilt(p) && p->survey.spoilt++ < SPOILT_TRIES;
}

bool oxl_poll_step_more(struct oxl_poll *p, int64_t t_us)
{
    (void)t_us;
    p->survey.tries = 0;
    return false;
}

/* ---- the table ---- */

static const struct oxl_poll_step *const steps[] = {
    &oxl_poll_count_step,     &oxl_poll_masks_step,        &oxl_poll_layout_step,
    &oxl_poll_scale_step,     &oxl_poll_air_scale_step,    &oxl_poll_sensors_step,
    &oxl_poll_several_step,   &oxl_poll_full_step,         &oxl_poll_timing_step,
    &oxl_poll_readiness_step, &oxl_poll_stored_step,       &oxl_poll_pending_step,
    &oxl_poll_permanent_step, &oxl_poll_vin_step,          &oxl_poll_monitor_masks_step,
    &oxl_poll_monitors_step,  &oxl_poll_sensor_tests_step,
};

enum { STEPS = sizeof steps / sizeof steps[0] };

/* NULL: the survey is over. */
static const struct oxl_poll_step *present_step(const struct oxl_poll *p)
{
    /* Those between are made again when other sensors are chosen. */
    const struct oxl_poll_step *step = p->survey.step < STEPS ? steps[p->survey.step] : NULL;
    if (oxl_poll_sensors_only(p) && step == &oxl_poll_timing_step)
        return NULL;
    if (step)
        return step;
    return p->config.inspection ? oxl_poll_inspect_step(p->survey.step - STEPS) : NULL;
}

bool oxl_poll_hears_all(const struct oxl_poll *p)
{
    const struct oxl_poll_step *step =
        p->config.inspection && p->stage == OXL_STAGE_SURVEY ? present_step(p) : NULL;
    return step && step->all_ecus;
}

static bool ask(struct oxl_poll *p, const struct oxl_poll_step *s, int64_t t_us)
{
    if (s->service != 0x01)
        return oxl_poll_ask_plain(p, s->service, NULL, 0, t_us);
    return oxl_supports(&p->vehicle.support, s->pid) && oxl_poll_ask_pid(p, s->pid, t_us);
}

static void next_step(struct oxl_poll *p)
{
    p->survey.step++;
    p->survey.tries = p->survey.spoilt = 0;
}

static void run(struct oxl_poll *p, int64_t t_us)
{
    for (const struct oxl_poll_step *s; (s = present_step(p)); next_step(p))
        if (s->begin ? s->begin(p, t_us) : ask(p, s, t_us))
            return;
    oxl_poll_vehicle_surveyed(p);
    oxl_poll_sensors_chosen(p);
    oxl_poll_inspect_done(p);
    oxl_poll_known(p, true);
    p->out.vehicle(p->out.ctx);
    oxl_poll_live_start(p, t_us);
}

void oxl_poll_survey_start(struct oxl_poll *p, int64_t t_us)
{
    oxl_poll_enter(p, OXL_STAGE_SURVEY);
    oxl_poll_give_up_at(p, OXL_POLL_NEVER);
    p->survey =
        (struct oxl_poll_survey){.begun_us = t_us, .spoilt_before = oxl_poll_spoilt_so_far(p)};
    oxl_poll_timing_forget(p);
    oxl_poll_monitors_forget(p);
    oxl_poll_sensor_tests_forget(p);
    oxl_poll_inspect_start(p);
    oxl_poll_abilities_forget(p);
    oxl_poll_sensors_forget(p);
    oxl_poll_set_state(p, OXL_LINK_SURVEY, "The vehicle answers; asking what it is.");
    run(p, t_us);
}

void oxl_poll_survey_sensors(struct oxl_poll *p, int64_t t_us)
{
    oxl_poll_enter(p, OXL_STAGE_SURVEY);
    oxl_poll_no_deadlines(p);
    p->survey =
        (struct oxl_poll_survey){.begun_us = t_us, .spoilt_before = oxl_poll_spoilt_so_far(p)};
    while (steps[p->survey.step] != &oxl_poll_sensors_step)
        p->survey.step++;
    oxl_poll_abilities_forget(p);
    oxl_poll_vehicle_can(p, p->vehicle.reply_count, false);
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

/* "Pending" was the last word of the ECU used for the test, in this try or an earlier one. Another
 * ECU's answer does not end the wait for one that was promised. */
static bool is_promised(const struct oxl_poll *p)
{
    const struct oxl_poll_step *step = present_step(p);
    bool all = oxl_poll_hears_all(p) || step == &oxl_poll_masks_step;
    unsigned open = p->answer.promised & ~p->answer.settled;
    if (open & (all ? ~0U : oxl_poll_ecu_bit(p, p->vehicle.ecu)))
        return true;
    return p->answer.pending && !p->answer.own && !p->answer.negative &&
           !(p->answer.n && oxl_poll_hears_all(p));
}

/* True when the same request is on its way again. */
static bool ask_again(struct oxl_poll *p, int64_t t_us)
{
    const struct oxl_poll_step *step = present_step(p);
    /* Answers to something else: the adapter is a prompt behind. Silence lets it catch up. */
    bool behind = !p->ex.withheld && !p->answer.n && p->stats.sums.late != p->ex.late_before;
    if (behind && p->survey.catch_ups++ < CATCH_UPS) {
        oxl_poll_pause(p, CATCH_UP_MS, true, t_us);
        return true;
    }
    bool interrupted = oxl_poll_said(p, OXL_WORD_STOPPED) || p->ex.timed_out;
    if (is_promised(p) && p->ex.tries < REASKS) {
        oxl_poll_request_again(p, t_us);
        return true;
    }
    bool damaged = oxl_poll_spoilt(p) || (oxl_poll_cut_off(p) && !p->request.counted) ||
                   oxl_poll_said(p, OXL_WORD_UNKNOWN_COMMAND);
    /* Where the answers of all ECUs are read, it may be another's answer that was damaged. */
    if (p->answer.n && !(damaged && oxl_poll_hears_all(p)))
        return false;
    if (p->answer.negative == CODE_BUSY && p->survey.tries < REASKS) {
        p->survey.tries++;
        oxl_poll_pause(p, BUSY_MS, true, t_us);
        return true;
    }
    if (p->answer.negative)
        return false;
    if (step && !step->own_retry && damaged && p->survey.spoilt++ < SPOILT_TRIES) {
        oxl_poll_request_again(p, t_us);
        return true;
    }
    /* A digit that does not fit cuts the answer off. */
    if (step && !step->own_retry && !p->answer.n && p->survey.tries == 0 &&
        (interrupted || p->request.counted)) {
        p->survey.tries++;
        oxl_poll_request_again(p, t_us);
        return true;
    }
    return false;
}

/* A digit or several PIDs may be refused; a plain request is not, unless it came damaged. */
static void note_doubt(struct oxl_poll *p)
{
    bool plain = p->request.service && !p->request.counted &&
                 !(p->request.service == 0x01 && p->request.n > 1);
    if (p->ex.timed_out || (plain && oxl_poll_said(p, OXL_WORD_UNKNOWN_COMMAND)))
        p->survey.line_doubted = true;
}

void oxl_poll_survey_finished(struct oxl_poll *p, int64_t t_us)
{
    note_doubt(p);
    p->survey.silent_steps = p->ex.timed_out ? p->survey.silent_steps + 1 : 0;
    if (p->ex.silent || p->survey.silent_steps >= SILENT_STEPS) {
        oxl_poll_lost(p, "The answers stopped during the survey: check connector and ignition.",
                      t_us);
        return;
    }
    if (ask_again(p, t_us))
        return;
    const struct oxl_poll_step *step = present_step(p);
    if (!step || !step->finish || step->finish(p, t_us)) {
        next_step(p);
    }
    run(p, t_us);
}

/* ---- after a loss: is it the same vehicle? ---- */

void oxl_poll_verify_start(struct oxl_poll *p, int64_t t_us)
{
    oxl_poll_enter(p, OXL_STAGE_VERIFY);
    if (p->vehicle.vin[0])
        (void)oxl_poll_vin_step.begin(p, t_us);
    else
        oxl_poll_live_start(p, t_us);
}

void oxl_poll_verify_answer(struct oxl_poll *p, const struct oxl_message *m)
{
    oxl_poll_vin_step.answer(p, m);
}

/* Only a different number says that it is another vehicle; none says nothing. */
void oxl_poll_verify_finished(struct oxl_poll *p, int64_t t_us)
{
    if (p->ex.silent) {
        oxl_poll_revive_failed(p, "The adapter fell silent: is it plugged in and powered?", t_us);
    } else if (p->facts.vin[0] && strcmp(p->facts.vin, p->vehicle.vin) != 0) {
        oxl_poll_known(p, false);
        oxl_poll_search_start(p, t_us);
    } else {
        oxl_poll_live_start(p, t_us);
    }
}
