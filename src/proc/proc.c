/* The procedure's inputs: samples, ticks, keys, the survey, a table's end. */
#include "proc.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const struct oxl_state_row *row(const struct oxl_proc *p)
{
    return oxl_state_row(p->state);
}

static const struct oxl_source on_link = {true, true, true, true, true}, table = {false};

bool oxl_proc_init(struct oxl_proc *p, const struct oxl_session_config *config, void *ctx,
                   void (*emit)(void *ctx, const struct oxl_event *ev))
{
    memset(p, 0, sizeof *p);
    p->profile = config->profile;
    p->profile_given = config->profile_given;
    p->profile_fixed = config->profile_fixed;
    p->no_identity = config->no_identity;
    p->bank = config->bank ? config->bank : 1;
    p->runs_wanted = config->runs;
    p->imported = config->imported.on;
    p->source = p->imported ? table : on_link;
    p->rules = oxl_rules_of(config->procedure);
    p->until_decided = p->source.repeats && !config->runs && p->rules->until_decided;
    p->resampled = config->imported.resampled;
    p->row_us = config->imported.row_us;
    if (p->imported) {
        p->runs_wanted = config->runs ? config->runs : OXL_PROC_MAX_RUNS;
        oxl_kept_reason(p, OXL_R_IMPORTED);
    }
    p->ctx = ctx;
    p->emit = emit;
    oxl_proc_unsay(p);
    oxl_baseline_start(p);
    oxl_run_set_mode(p, OXL_RUN_NORMAL);
    oxl_sensors_start(&p->sensors);
    oxl_gas_start(p);
    p->series = oxl_series_new(OXL_SERIES_KEEP);
    p->trim = calloc(OXL_PROC_TRIM_POINTS, sizeof *p->trim);
    return oxl_refreshes_start(&p->refreshes) && p->series && p->trim;
}

void oxl_proc_close(struct oxl_proc *p)
{
    oxl_series_free(p->series);
    oxl_refreshes_end(&p->refreshes);
    free(p->trim);
    p->series = NULL;
    p->trim = NULL;
}

void oxl_proc_set_now(struct oxl_proc *p, int64_t t_us)
{
    p->now_us = t_us;
}

/* Said at once, whatever was going on: gas goes on flowing into an engine that stands. */
static void engine_stopped(struct oxl_proc *p)
{
    bool gas = oxl_gas_may_flow(p) || p->state == OXL_STATE_TIMING;
    if (p->engine.stops > 0)
        oxl_engine_say_stop(p);
    if (p->state == OXL_STATE_PRECHECK && !oxl_engine_keeps_stopping(p))
        return;
    if (row(p)->in_run)
        oxl_run_void(p, OXL_R_RPM_DROP);
    oxl_leak_cancel(p);
    if (oxl_kept_wanted(p)) { /* nothing is left that needs the engine */
        oxl_proc_enter(p, OXL_STATE_DONE);
        return;
    }
    if (oxl_engine_keeps_stopping(p)) {
        oxl_proc_stop(p, OXL_ERR_UNSUITABLE,
                      "The engine stopped %u times. Switch start-stop off; a hybrid needs its "
                      "service mode. If it stalls, repair that first.",
                      p->engine.stops);
        return;
    }
    oxl_proc_enter(p, OXL_STATE_PRECHECK);
    oxl_proc_tell(p, gas ? OXL_ADV_ENGINE_STOPPED : OXL_ADV_START_ENGINE);
}

/* What the stream of samples shows, whatever the state is. In a table nobody works a valve. */
static void watch(struct oxl_proc *p, const struct oxl_sample *s)
{
    if (p->source.hand)
        oxl_gas_data(p, s);
    if (oxl_engine_sample(&p->engine, p, s) && p->source.hand)
        engine_stopped(p);
    oxl_loop_sample(&p->loop, p, s);
    oxl_sensors_sample(&p->sensors, p, s);
    if (oxl_banks_sample(&p->banks, p, s) || oxl_channel_same(s->channel, p->pair.rear))
        oxl_patterns_apply(&p->patterns, p, OXL_AT_ANY_TIME);
    bool after_gas = p->state == OXL_STATE_TIMING || p->state == OXL_STATE_RECOVERY;
    if (after_gas && p->source.hand && oxl_proc_is_trim(p, s))
        oxl_balance_sample(&p->balance, p);
    if (p->state == OXL_STATE_ENRICHMENT) {
        oxl_run_note_rich(p);
        oxl_leak_watch_sample(&p->leak_watch, p);
    }
}

void oxl_proc_sample(struct oxl_proc *p, const struct oxl_sample *s, int64_t t_us)
{
    p->now_us = t_us;
    if (oxl_proc_over(p) || !oxl_series_push(p->series, s))
        return;
    if (p->surveyed)
        watch(p, s);
    if (!oxl_proc_over(p))
        row(p)->data(p, s);
}

int64_t oxl_proc_due_us(const struct oxl_proc *p)
{
    if (oxl_proc_over(p))
        return INT64_MAX;
    bool waits = p->source.waits || !row(p)->hand_late;
    int64_t due = waits ? row(p)->due(p) : INT64_MAX;
    return oxl_earlier_us(due, oxl_link_watch_due(p));
}

void oxl_proc_tick(struct oxl_proc *p, int64_t t_us)
{
    if (oxl_proc_over(p) || t_us < oxl_proc_due_us(p))
        return;
    p->now_us = t_us;
    if (t_us >= oxl_link_watch_due(p))
        oxl_link_watch_time(p);
    else
        row(p)->time(p);
}

/* A new converter is not seen in the data: the technician says it, or takes it back. */
static void said_new(struct oxl_proc *p)
{
    bool is = !oxl_reasons_has(p->kept.reasons, OXL_R_NEW_CONVERTER);
    oxl_kept_reasons_are(p, OXL_REASON_BIT(OXL_R_NEW_CONVERTER), is);
    oxl_proc_check(p, "converter", is ? OXL_GRADE_CAUTION : OXL_GRADE_PASS,
                   is ? "new, as the technician says" : "not new, as the technician says",
                   is ? oxl_reason_next(OXL_R_NEW_CONVERTER) : "");
}

/* Before that nothing is lost: the run begins anew under its own number. */
static bool gas_was_seen(const struct oxl_proc *p)
{
    bool waits = p->state == OXL_STATE_ENRICHMENT && !p->run.shift_start_us &&
                 !oxl_proc_lasted(p, p->run.front_rich_us, 1.0);
    return row(p)->in_run && !waits;
}

/* One key must not end a test by accident while gas flows: it is asked for once more. The run goes
 * on meanwhile. */
static void abort_key(struct oxl_proc *p)
{
    const double again_s = 5.0;
    bool again = p->abort_us && p->now_us - p->abort_us <= OXL_S_US(again_s);
    if (row(p)->in_run && !again) {
        p->abort_us = p->now_us;
        oxl_proc_note(p, OXL_ADV_ABORT_AGAIN);
        return;
    }
    oxl_proc_stop(p, OXL_ERR_STOPPED, "Stopped by the technician.");
}

static void restart_key(struct oxl_proc *p)
{
    if (!row(p)->restarts)
        return;
    if (gas_was_seen(p)) {
        enum oxl_run_mode mode = p->run.plan.mode;
        oxl_run_void(p, OXL_R_RESTARTED);
        oxl_run_set_mode(p, mode); /* a deeper one is tried again */
    }
    oxl_proc_note(p, OXL_ADV_RESTARTED); /* before what the hand has to do now */
    oxl_proc_enter(p, OXL_STATE_BASELINE);
}

void oxl_proc_key(struct oxl_proc *p, enum oxl_key key, int64_t t_us)
{
    p->now_us = t_us;
    if (oxl_proc_over(p))
        return;
    switch (key) {
    case OXL_KEY_NOW:
        if (row(p)->now_key)
            row(p)->now_key(p);
        else
            oxl_proc_mark(p, "now");
        break;
    case OXL_KEY_MARK:
        oxl_proc_mark(p, "mark");
        break;
    case OXL_KEY_ABORT:
        abort_key(p);
        break;
    case OXL_KEY_END:
        oxl_proc_stop(p, OXL_ERR_STOPPED, "%s", p->outside[0] ? p->outside : "Ended from outside.");
        break;
    case OXL_KEY_RESTART:
        restart_key(p);
        break;
    case OXL_KEY_LEAK:
        oxl_leak_ask(p);
        break;
    case OXL_KEY_DEEPER:
        oxl_deeper_key(p);
        break;
    case OXL_KEY_NEW:
        said_new(p);
        break;
    case OXL_KEY_NONE:
        break;
    }
}

void oxl_proc_use_profile(struct oxl_proc *p, const struct oxl_profile *profile)
{
    p->profile = *profile;
    oxl_run_set_mode(p, OXL_RUN_NORMAL);
}

void oxl_proc_outside(struct oxl_proc *p, const char *text, int64_t t_us)
{
    oxl_proc_set_now(p, t_us);
    snprintf(p->outside, sizeof p->outside, "%s", text);
    oxl_proc_mark(p, text);
}

void oxl_proc_table_end(struct oxl_proc *p, int64_t t_us)
{
    p->now_us = t_us;
    if (oxl_proc_over(p))
        return;
    if (row(p)->in_run && (p->run.shift_start_us || p->run.cut_us))
        oxl_run_void(p, OXL_R_TABLE_ENDS);
    if (p->kept.runs_n > 0)
        oxl_proc_enter(p, OXL_STATE_DONE);
    else
        oxl_proc_stop(p, OXL_ERR_STOPPED,
                      "No test was found in the table: it needs a steady baseline, gas until the "
                      "trims have moved, and a release.");
}

/* Before gas was ever asked for, other sensors may still be chosen: the pre-check looks at them. */
static bool may_choose_again(const struct oxl_proc *p)
{
    bool early = p->state == OXL_STATE_BASELINE || p->state == OXL_STATE_LEAK_CHECK;
    return p->state == OXL_STATE_PRECHECK || (early && !p->gas.asked && p->kept.runs_n == 0);
}

static void chosen_again(struct oxl_proc *p)
{
    oxl_precheck_sensors(p);
    if (p->state == OXL_STATE_BASELINE || p->state == OXL_STATE_LEAK_CHECK)
        oxl_proc_enter(p, OXL_STATE_PRECHECK);
}

void oxl_proc_vehicle(struct oxl_proc *p, const struct oxl_vehicle *v, int64_t t_us)
{
    p->now_us = t_us;
    p->vehicle = v;
    bool again = p->surveyed;
    if (!v->survey_done || oxl_proc_over(p) || (again && !may_choose_again(p)))
        return;
    p->surveyed = true;
    p->pair = oxl_vehicle_pair(v, p->bank);
    p->has_ltft = oxl_supports(&v->support, p->bank == 1 ? 0x07 : 0x09);
    oxl_banks_survey(&p->banks, p);
    p->air_share = oxl_banks_air_share(&p->banks, p);
    if (again) {
        chosen_again(p);
        return;
    }
    oxl_precheck_survey(p);
    if (p->runs_wanted == 0)
        p->runs_wanted = p->profile.runs;
}
