#include "event_parts.h"

#include <math.h>
#include <stdio.h>

/* A member for each end of the interval: stem_unit, stem_low_unit, stem_high_unit. */
static void span(struct oxl_json *j, const char *stem, const char *unit, const struct oxl_span *s)
{
    static const char *const ends[] = {"", "low_", "high_"};
    const double values[] = {s->value, s->low, s->high};
    for (int i = 0; i < 3; i++) {
        char name[48];
        snprintf(name, sizeof name, "%s_%s%s", stem, ends[i], unit);
        oxl_json_member_number(j, name, values[i]);
    }
}

static void refresh(struct oxl_json *j, const char *stem, const struct oxl_refresh *r)
{
    char name[48];
    snprintf(name, sizeof name, "%s_refresh_s", stem);
    oxl_json_member_number(j, name, r->known ? r->period_s : NAN);
    snprintf(name, sizeof name, "%s_refresh_at_most_s", stem);
    oxl_json_member_number(j, name, r->at_most_s);
}

static void moment(struct oxl_json *j, const char *stem, const struct oxl_moment *m)
{
    static const char *const ends[] = {"", "low_", "high_"};
    const int64_t times_us[] = {m->t_us, m->low_us, m->high_us};
    for (int i = 0; i < 3; i++) {
        char name[48];
        snprintf(name, sizeof name, "%s_%st_s", stem, ends[i]);
        oxl_json_key(j, name);
        if (m->found)
            oxl_json_seconds(j, times_us[i]);
        else
            oxl_json_null(j);
    }
}

static void reason_codes(struct oxl_json *j, const char *name, oxl_reasons set)
{
    oxl_json_member_open(j, name, '[');
    for (unsigned r = 0; r < OXL_R_COUNT; r++)
        if (oxl_reasons_has(set, (enum oxl_reason)r))
            oxl_json_text(j, oxl_reason_code((enum oxl_reason)r));
    oxl_json_close(j, ']');
}

/* Of a result, in the order in which they are said. */
static void in_order(struct oxl_json *j, const char *name, const struct oxl_result *result,
                     enum oxl_reason (*nth)(const struct oxl_result *r, size_t i),
                     const char *(*words)(enum oxl_reason r))
{
    enum oxl_reason reason;
    oxl_json_member_open(j, name, '[');
    for (size_t i = 0; (reason = nth(result, i)) != OXL_R_COUNT; i++)
        oxl_json_text(j, words(reason));
    oxl_json_close(j, ']');
}

static void sources(struct oxl_json *j, const struct oxl_run_result *run)
{
    static const char *const air[] = {
        [OXL_AIRSRC_NONE] = NULL,
        [OXL_AIRSRC_METER] = "meter",
        [OXL_AIRSRC_SPEED_DENSITY] = "speed-density",
    };
    static const char *const x[] = {
        [OXL_XSRC_NONE] = NULL, [OXL_XSRC_LAMBDA] = "lambda", [OXL_XSRC_TRIM] = "trim"};
    oxl_json_member_word(j, "air_source", air[run->air_source]);
    oxl_json_member_word(j, "x_source", x[run->x_source]);
}

void oxl_json_run(struct oxl_json *j, const struct oxl_run_result *run)
{
    oxl_json_member_integer(j, "run", run->run);
    oxl_json_member_bool(j, "dropped", run->dropped);
    oxl_json_member_bool(j, "valid", run->valid);
    oxl_json_member_bool(j, "deeper", run->deeper);
    span(j, "delay", "s", &run->delay_s);
    span(j, "delay_at_target", "s", &run->delay_at_target_s);
    oxl_json_member_number(j, "shift_pct", run->shift_pct);
    moment(j, "front_lean", &run->front_lean);
    moment(j, "rear_fall", &run->rear_fall);
    moment(j, "rear_lean", &run->rear_lean);
    span(j, "o2", "mg", &run->o2_mg);
    oxl_json_member_bool(j, "o2_is_lower_bound", run->o2_is_lower_bound);
    oxl_json_member_number(j, "o2_from_lambda_mg", run->o2_from_lambda_mg);
    oxl_json_member_number(j, "o2_from_trim_mg", run->o2_from_trim_mg);
    oxl_json_member_number(j, "o2_removed_mg", run->o2_removed_mg);
    oxl_json_member_number(j, "o2_needed_mg", run->o2_needed_mg);
    oxl_json_member_number(j, "o2_supply_mg", run->o2_supply_mg);
    oxl_json_member_number(j, "air_g_s", run->air_g_s);
    oxl_json_member_number(j, "rpm", run->rpm);
    sources(j, run);
    oxl_json_member_number(j, "path_s", run->path_s);
    oxl_json_member_number(j, "trim_recovery_pct_s", run->trim_recovery_pct_s);
    oxl_json_member_number(j, "trim_recovery_tau_s", run->trim_recovery_tau_s);
    oxl_json_member_number(j, "front_ramp_s", run->front_ramp_s);
    oxl_json_member_number(j, "sample_round_ms", run->sample_round_ms);
    refresh(j, "front", &run->front_refresh);
    refresh(j, "rear", &run->rear_refresh);
    refresh(j, "trim", &run->trim_refresh);
    reason_codes(j, "reasons", run->reasons);
}

static void run_number(struct oxl_json *j, const char *key, int run)
{
    oxl_json_key(j, key);
    if (run > 0)
        oxl_json_integer(j, run);
    else
        oxl_json_null(j);
}

static void lead(struct oxl_json *j, const struct oxl_lead *l)
{
    static const char *const figures[] = {[OXL_LEAD_NONE] = NULL,
                                          [OXL_LEAD_DELAY_AT_TARGET] = "delay-at-target",
                                          [OXL_LEAD_DELAY] = "delay",
                                          [OXL_LEAD_OXYGEN] = "oxygen"};
    char text[OXL_LEAD_TEXT];
    oxl_lead_text(l, text);
    oxl_json_member_open(j, "lead", '{');
    oxl_json_member_word(j, "figure", figures[l->figure]);
    oxl_json_member_word(
        j, "in", l->figure == OXL_LEAD_NONE ? NULL : (l->figure == OXL_LEAD_OXYGEN ? "mg" : "s"));
    oxl_json_member_number(j, "value", l->span.value);
    oxl_json_member_number(j, "low", l->span.low);
    oxl_json_member_number(j, "high", l->span.high);
    oxl_json_member_number(j, "bad_limit", l->bad_limit);
    oxl_json_member_number(j, "good_limit", l->good_limit);
    run_number(j, "run", l->run);
    oxl_json_member_text(j, "text", text);
    oxl_json_close(j, '}');
}

void oxl_json_result(struct oxl_json *j, const struct oxl_result *result)
{
    oxl_json_member_text(j, "verdict", oxl_verdict_name(result->verdict));
    oxl_json_member_text(j, "conclusion", oxl_conclusion_name(result->conclusion));
    oxl_json_member_integer(j, "runs", result->runs);
    oxl_json_member_integer(j, "valid_runs", result->valid_runs);
    lead(j, &result->lead);
    run_number(j, "runs_wanted", result->runs_wanted);
    oxl_json_member_bool(j, "ended_early", result->ended_early);
    span(j, "delay", "s", &result->delay_s);
    span(j, "delay_at_target", "s", &result->delay_at_target_s);
    span(j, "o2", "mg", &result->o2_mg);
    oxl_json_member_bool(j, "held", result->held);
    run_number(j, "o2_run", result->o2_run);
    run_number(j, "deeper_run", result->deeper_run);
    run_number(j, "run_set_aside", result->aside_run);
    oxl_json_member_number(j, "air_g_s", result->air_g_s);
    oxl_json_member_number(j, "rpm", result->rpm);
    oxl_json_member_number(j, "spread_s", result->spread_s);
    oxl_json_member_integer(j, "spread_runs", result->spread_runs);
    oxl_json_member_number(j, "bad_limit_mg", result->bad_limit_mg);
    oxl_json_member_number(j, "good_limit_mg", result->good_limit_mg);
    in_order(j, "reasons", result, oxl_nth_reason, oxl_reason_code);
    in_order(j, "next", result, oxl_next_step, oxl_reason_next);
}
