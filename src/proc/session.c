#include "oxylag/session.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "oxylag/safe.h"
#include "poll_ears.h"
#include "proc.h"

struct oxl_session {
    struct oxl_ears ears;
    struct oxl_poll *poll;
    struct oxl_proc proc;
    struct oxl_imported imported;
    struct oxl_vehicle vehicle; /* imported only */
    bool started;               /* the first state has been said */
};

static void say(void *ctx, const struct oxl_event *ev)
{
    struct oxl_session *s = ctx;
    oxl_ears_say(&s->ears, ev);
}

static void on_sample(void *ctx, const struct oxl_sample *sample)
{
    struct oxl_session *s = ctx;
    struct oxl_event ev = {.kind = OXL_EV_SAMPLE, .t_us = s->ears.now_us};
    ev.u.sample = *sample;
    say(s, &ev);
    oxl_proc_sample(&s->proc, sample, s->ears.now_us);
    oxl_poll_focus(s->poll, oxl_proc_focus(&s->proc));
}

static void on_link(void *ctx, enum oxl_link_state state, const char *text)
{
    struct oxl_session *s = ctx;
    oxl_ears_say_link(&s->ears, state, text);
    oxl_proc_link(&s->proc, state, text, s->ears.now_us);
}

static void on_vehicle(void *ctx)
{
    struct oxl_session *s = ctx;
    struct oxl_event ev = {.kind = OXL_EV_VEHICLE, .t_us = s->ears.now_us};
    ev.u.vehicle = oxl_poll_vehicle(s->poll);
    say(s, &ev);
    oxl_proc_vehicle(&s->proc, ev.u.vehicle, s->ears.now_us);
}

struct oxl_session *oxl_session_new(const struct oxl_session_config *config,
                                    const struct oxl_session_out *out)
{
    struct oxl_session *s = calloc(1, sizeof *s);
    if (!s)
        return NULL;
    s->ears.out = *out;
    s->imported = config->imported;
    bool ok = oxl_proc_init(&s->proc, config, s, say);
    s->poll =
        oxl_ears_poll(config, false,
                      &(struct oxl_poll_out){
                          .ctx = s, .sample = on_sample, .link = on_link, .vehicle = on_vehicle});
    if (!ok || !s->poll) {
        oxl_session_free(s);
        return NULL;
    }
    return s;
}

void oxl_session_free(struct oxl_session *s)
{
    if (!s)
        return;
    oxl_poll_free(s->poll);
    oxl_proc_close(&s->proc);
    free(s);
}

static void note(struct oxl_session *s, const struct oxl_input *in)
{
    char text[96];
    snprintf(text, sizeof text, "%.*s", (int)(in->n < 95 ? in->n : 95), (const char *)in->bytes);
    oxl_make_safe(text, "");
    oxl_proc_outside(&s->proc, text, in->t_us);
}

/* ---- an imported table: the samples come as they are ----------------------------------------- */
static void start_imported(struct oxl_session *s)
{
    char text[96];
    snprintf(text, sizeof text, "imported table, rows %.0f ms apart",
             (double)s->imported.row_us / 1e3);
    oxl_imported_vehicle(&s->imported, &s->vehicle);
    on_link(s, OXL_LINK_READY, text);
    struct oxl_event ev = {.kind = OXL_EV_VEHICLE, .t_us = s->ears.now_us};
    ev.u.vehicle = &s->vehicle;
    say(s, &ev);
    oxl_proc_vehicle(&s->proc, &s->vehicle, s->ears.now_us);
}

static void samples(struct oxl_session *s, const struct oxl_input *in)
{
    const struct oxl_imported *a = &s->imported;
    for (unsigned i = 0; i < a->channels_n && i < in->n && !oxl_proc_over(&s->proc); i++) {
        if (!oxl_known(in->values[i]))
            continue;
        struct oxl_event ev = {.kind = OXL_EV_SAMPLE, .t_us = s->ears.now_us};
        ev.u.sample = (struct oxl_sample){.channel = a->channels[i],
                                          .value = in->values[i],
                                          .sent_us = in->t_us - a->step_us[i],
                                          .recv_us = in->t_us};
        say(s, &ev);
        oxl_proc_sample(&s->proc, &ev.u.sample, s->ears.now_us);
    }
}

static void feed(struct oxl_session *s, const struct oxl_input *in)
{
    switch (in->kind) {
    case OXL_IN_RX:
        oxl_poll_rx(s->poll, in->bytes, in->n, in->t_us);
        break;
    case OXL_IN_TICK:
        if (!s->imported.on)
            oxl_poll_tick(s->poll, in->t_us);
        oxl_proc_tick(&s->proc, in->t_us);
        break;
    case OXL_IN_KEY:
        oxl_proc_key(&s->proc, in->key, in->t_us);
        break;
    case OXL_IN_LINK_UP:
    case OXL_IN_LINK_DOWN:
        oxl_poll_link(s->poll, in->kind == OXL_IN_LINK_UP, in->t_us);
        break;
    case OXL_IN_NOTE:
        note(s, in);
        break;
    case OXL_IN_SAMPLES:
        samples(s, in);
        break;
    case OXL_IN_END:
        oxl_proc_table_end(&s->proc, in->t_us);
        break;
    }
}

bool oxl_session_step(struct oxl_session *s, const struct oxl_input *in)
{
    s->ears.acted = false;
    /* A clock that jumps back (it must not) may not make time run backwards in here. */
    struct oxl_input input = *in;
    if (input.t_us < s->ears.now_us)
        input.t_us = s->ears.now_us;
    if (oxl_session_over(s))
        return false;
    if (!s->started) {
        s->started = true;
        s->ears.now_us = input.t_us;
        oxl_proc_start(&s->proc, input.t_us);
        if (s->imported.on)
            start_imported(s);
    }
    if (input.kind != OXL_IN_TICK || input.t_us >= oxl_session_due_us(s)) {
        s->ears.now_us = input.t_us;
        feed(s, &input);
        oxl_poll_focus(s->poll, oxl_proc_focus(&s->proc));
    }
    return s->ears.acted || input.kind == OXL_IN_RX || input.kind == OXL_IN_SAMPLES;
}

int64_t oxl_session_due_us(const struct oxl_session *s)
{
    if (oxl_session_over(s))
        return INT64_MAX;
    int64_t proc_us = oxl_proc_due_us(&s->proc);
    return s->imported.on ? proc_us : oxl_earlier_us(proc_us, oxl_poll_due_us(s->poll));
}

bool oxl_session_over(const struct oxl_session *s)
{
    return oxl_proc_over(&s->proc);
}

enum oxl_status oxl_session_outcome(const struct oxl_session *s, const char **text)
{
    if (text)
        *text = s->proc.outcome_text;
    return s->proc.outcome;
}

static double left_s(int64_t since_us, double length_s, int64_t now_us)
{
    double left = length_s - (double)(now_us - since_us) / 1e6;
    return left > 0 ? left : 0;
}

/* When the test goes on, or ends, for want of an answer; INT64_MAX: it does not. */
static int64_t offer_due(const struct oxl_proc *p)
{
    if (p->state == OXL_STATE_PRECHECK)
        return oxl_precheck_stop_due(p);
    if (p->state == OXL_STATE_RECOVERY)
        return oxl_recovery_offer_due(p);
    return p->state == OXL_STATE_ENRICHMENT ? oxl_deeper_offer_due(p) : INT64_MAX;
}

static void live_times(const struct oxl_proc *p, int64_t now_us, struct oxl_live *out)
{
    out->hold_left_s = out->heat_left_s = out->baseline_left_s = out->timing_s = NAN;
    if (p->state == OXL_STATE_ENRICHMENT && p->enrich.in_range_us && oxl_known(p->run.plan.hold_s))
        out->hold_left_s = left_s(p->enrich.in_range_us, p->run.plan.hold_s, now_us);
    if (p->state == OXL_STATE_ENRICHMENT && p->run.shift_start_us)
        out->heat_left_s = left_s(oxl_enrich_heat_due(p), 0, now_us);
    if (p->state == OXL_STATE_BASELINE && !p->gas.asked && !p->gas.drip_us)
        out->baseline_left_s = left_s(p->entered_us, p->profile.window_s, now_us);
    out->offer_left_s = offer_due(p) < INT64_MAX ? left_s(offer_due(p), 0, now_us) : (double)NAN;
    out->leak_step = p->state == OXL_STATE_LEAK_CHECK ? (int)p->leak.phase + 1 : 0;
    out->leak_left_s = out->leak_step ? oxl_leak_left_s(p, now_us) : NAN;
    if (p->state == OXL_STATE_TIMING)
        out->timing_s = oxl_timing_so_far_s(p, now_us);
}

static void live_plan(const struct oxl_proc *p, struct oxl_live *out)
{
    const struct oxl_depth_plan *plan = &p->run.plan;
    out->target_pct = plan->target_pct;
    out->accept_low_pct = plan->accept_low_pct;
    out->accept_high_pct = plan->accept_high_pct;
    out->back_off_pct = plan->back_off_pct;
    out->slow_pct = plan->slow_pct;
    out->removed_mg = out->needed_mg = NAN;
    out->deeper = oxl_run_is_deeper(p);
    if (!out->deeper)
        return;
    out->runs = out->least_runs = p->run.number;
    if (p->state == OXL_STATE_ENRICHMENT || p->state == OXL_STATE_RELEASE) {
        out->removed_mg = p->deeper.now.removed_mg;
        out->needed_mg = oxl_deeper_needed_now_mg(p);
    }
}

void oxl_session_live(const struct oxl_session *s, int64_t now_us, struct oxl_live *out)
{
    const struct oxl_proc *p = &s->proc;
    memset(out, 0, sizeof *out);
    out->state = p->state;
    out->run = p->run.number;
    out->runs = p->source.repeats ? (int)p->runs_wanted : 0; /* as many as the table holds */
    out->least_runs = p->until_decided ? (int)oxl_kept_least(p) : out->runs;
    live_plan(p, out);
    out->total_trim_pct = out->baseline_pct = out->shift_pct = NAN;
    live_times(p, now_us, out);
    struct oxl_poll_stats stats;
    oxl_poll_stats(s->poll, now_us, &stats);
    out->front_hz = stats.front_hz;
    out->rear_hz = stats.rear_hz;
    out->link = s->imported.on ? OXL_LINK_READY : oxl_poll_state(s->poll);
    if (s->imported.on)
        out->front_hz = out->rear_hz = NAN;
    out->pair = p->pair;
    out->bank = p->bank;
    out->gas_may_flow = oxl_gas_may_flow(p);
    out->profile = &p->profile;
    if (!p->surveyed)
        return;
    struct oxl_window_stats trim = oxl_proc_trim_stats(p, 1.0);
    out->total_trim_pct = trim.mean;
    if (p->base.known) {
        out->baseline_pct = p->base.trim_pct;
        out->shift_pct = oxl_proc_shift_pct(p);
    }
    struct oxl_lean_rule front = oxl_proc_front_rule(p), rear = oxl_proc_rear_rule(p);
    out->front_rich = oxl_is_rich(oxl_proc_front(p), &front, now_us, OXL_FRESH_US);
    out->front_lean = oxl_is_lean(oxl_proc_front(p), &front, now_us, OXL_FRESH_US);
    out->rear_rich = oxl_is_rich(oxl_proc_rear(p), &rear, now_us, OXL_FRESH_US);
    out->rear_lean = oxl_is_lean(oxl_proc_rear(p), &rear, now_us, OXL_FRESH_US);
}
