#include "help_scene.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* The moments of one run, in seconds from its start at 22 s; a run lasts 33 s. */
enum { FIRST_RUN_S = 22, RUN_S = 33 };
static const double gas_s = 1, hold_s = 8, cut_s = 10.5, front_s = 11.4, rear_s = 17.8, back_s = 28;

/* Each model with its record, while it lives. */
struct scene {
    struct oxl_test_record record;
    struct oxl_model *model;
    struct scene *next;
};
static struct scene *scenes;

struct oxl_model *scene_new(const struct oxl_model_config *config)
{
    struct scene *s = calloc(1, sizeof *s);
    struct oxl_model_config own = *config;
    own.record = &s->record;
    oxl_test_record_init(&s->record, NULL);
    s->model = oxl_model_new(&own);
    s->next = scenes;
    scenes = s;
    return s->model;
}

void scene_event(struct oxl_model *m, const struct oxl_event *ev)
{
    struct scene *s = scenes;
    while (s->model != m)
        s = s->next;
    oxl_test_record_event(&s->record, ev);
    oxl_model_event(m, ev);
}

void scene_free(struct oxl_model *m)
{
    struct scene **at = &scenes;
    while ((*at)->model != m)
        at = &(*at)->next;
    struct scene *s = *at;
    *at = s->next;
    oxl_model_free(m);
    free(s);
}

static int64_t us(double s)
{
    return (int64_t)llround(s * 1e6);
}

static double in_run(double t, int *run)
{
    *run = t < FIRST_RUN_S ? 0 : 1 + (int)((t - FIRST_RUN_S) / RUN_S);
    return t < FIRST_RUN_S ? -1 : fmod(t - FIRST_RUN_S, RUN_S);
}

/* A small congruential generator: the pictures must not change from one machine to the next. */
static double noise(uint32_t *seed)
{
    *seed = *seed * 1664525u + 1013904223u;
    return (double)(*seed >> 8) / (1 << 23) - 1;
}

static double shift_at(double u)
{
    if (u < gas_s)
        return 0;
    if (u < hold_s)
        return -19.4 * (u - gas_s) / (hold_s - gas_s);
    if (u < front_s)
        return -19.4;
    return u < front_s + 14 ? -19.4 * (1 - (u - front_s) / 14) : 0;
}

static double lambda_at(double u)
{
    if (u >= gas_s && u < hold_s)
        return 1 - 0.03 * (u - gas_s) / 2 * (u < gas_s + 2) - 0.03 * (u >= gas_s + 2);
    if (u < front_s - 0.1 || u >= front_s + 14)
        return 1;
    return 1 / (1 + shift_at(u) / 100);
}

static double rear_at(double u, bool held)
{
    if (u >= gas_s + 3 && u < rear_s)
        return 0.84;
    if (u >= rear_s && u < back_s && !held)
        return u < rear_s + 0.4 ? 0.84 - 1.8 * (u - rear_s) : 0.10;
    return 0.68;
}

const struct oxl_profile *scene_profile(void)
{
    static struct oxl_profile p; /* set to the same values every time */
    memset(&p, 0, sizeof p);
    snprintf(p.name, sizeof p.name, "wide-maf");
    p.band_pct = 8;
    p.window_s = 10;
    p.switch_v = 0.45;
    p.lambda_step = 0.01;
    p.lambda_balance = 1;
    p.balance_v = 3.3;
    p.balance_ma = 0;
    p.bad_s = 2;
    p.good_s = 7;
    return &p;
}

static enum oxl_state state_at(double t)
{
    int run;
    double u = in_run(t, &run);
    if (t < 10)
        return OXL_STATE_PRECHECK;
    if (u < gas_s)
        return OXL_STATE_BASELINE;
    if (u < cut_s)
        return OXL_STATE_ENRICHMENT;
    if (u < front_s)
        return OXL_STATE_RELEASE;
    return u < rear_s ? OXL_STATE_TIMING : OXL_STATE_RECOVERY;
}

void scene_live(const struct scene_options *o, double t, struct oxl_live *out)
{
    int run;
    double u = in_run(t, &run);
    bool known = t >= 4;
    memset(out, 0, sizeof *out);
    out->state = state_at(t);
    out->run = run ? run : (t >= 10);
    out->gas_may_flow = u >= gas_s && u < front_s;
    out->runs = 3;
    out->total_trim_pct = known ? 3.1 + shift_at(u) : (double)NAN;
    out->baseline_pct = run ? 3.1 : (double)NAN;
    out->shift_pct = run ? shift_at(u) : (double)NAN;
    out->target_pct = -20;
    out->accept_low_pct = -25;
    out->accept_high_pct = -15;
    out->back_off_pct = -30;
    out->slow_pct = -17;
    out->hold_left_s = u >= hold_s && u < cut_s ? fmax(cut_s - 0.5 - u, 0) : (double)NAN;
    out->heat_left_s = u >= gas_s && u < cut_s ? 60 - (u - gas_s) : (double)NAN;
    out->baseline_left_s =
        out->state == OXL_STATE_BASELINE ? fmax(FIRST_RUN_S - t, 0) : (double)NAN;
    out->timing_s = out->state == OXL_STATE_TIMING ? u - front_s : (double)NAN;
    out->front_hz = known ? 12.5 : (double)NAN;
    out->rear_hz = known ? 12.4 : (double)NAN;
    bool gap = o->gap_to_s > 0 && t > o->gap_from_s + 1 && t < o->gap_to_s;
    if (gap)
        out->front_hz = out->rear_hz = 0;
    if (gap && t > o->gap_from_s + 3)
        out->total_trim_pct = out->shift_pct = NAN;
    out->link = t < 2 ? OXL_LINK_SEARCHING : gap ? OXL_LINK_STALLED : OXL_LINK_READY;
    out->rear_rich = known && rear_at(u, o->held) > 0.5;
    out->rear_lean = known && rear_at(u, o->held) < 0.4;
    out->front_lean = known && lambda_at(u) > 1.01;
    out->front_rich = known && lambda_at(u) < 0.99;
    out->pair.front_kind = o->switching_front ? OXL_SENSOR_SWITCHING : OXL_SENSOR_WIDE;
    out->pair.rear_kind = OXL_SENSOR_SWITCHING;
    out->pair.front = oxl_channel(o->switching_front ? OXL_Q_O2_V : OXL_Q_LAMBDA, 1, 1);
    out->pair.rear = oxl_channel(OXL_Q_O2_V, 1, 2);
    out->bank = 1;
    out->profile = scene_profile();
}

struct oxl_surroundings scene_around(double t_s)
{
    struct oxl_surroundings a = {.now_us = us(t_s),
                                 .recording = true,
                                 .recorded_bytes = (uint64_t)(t_s * 3100),
                                 .sound = true,
                                 .valve = NAN};
    return a;
}

void scene_surroundings(struct oxl_model *m, const struct scene_options *o,
                        const struct oxl_surroundings *around)
{
    struct oxl_live live;
    scene_live(o, o->until_s, &live);
    oxl_model_live(m, &live, around);
}

static void push(struct oxl_model *m, double t, enum oxl_quantity q, unsigned bank, unsigned sensor,
                 double value)
{
    struct oxl_event ev = {.kind = OXL_EV_SAMPLE, .t_us = us(t)};
    ev.u.sample.channel = oxl_channel(q, bank, sensor);
    ev.u.sample.value = value;
    ev.u.sample.sent_us = us(t) - 30000;
    ev.u.sample.recv_us = us(t);
    scene_event(m, &ev);
}

static void push_samples(struct oxl_model *m, const struct scene_options *o, int step, double t,
                         uint32_t *seed)
{
    int run;
    double u = in_run(t, &run);
    if (o->switching_front) {
        double swing = lambda_at(u) > 1.01   ? 0.08
                       : lambda_at(u) < 0.99 ? 0.86
                                             : 0.45 + 0.37 * sin(7 * t);
        push(m, t, OXL_Q_O2_V, 1, 1, swing);
    } else {
        double lambda = lambda_at(u) + 0.002 * noise(seed);
        push(m, t, OXL_Q_LAMBDA, 1, 1, lambda);
        push(m, t, OXL_Q_WIDE_V, 1, 1, 3.3 + 2.2 * (lambda - 1));
    }
    push(m, t, OXL_Q_O2_V, 1, 2, rear_at(u, o->held) + 0.01 * noise(seed));
    if (step % 4 == 0) {
        push(m, t, OXL_Q_STFT_PCT, 1, 0, 2.3 + shift_at(u) + 1.2 * noise(seed));
        push(m, t, OXL_Q_LTFT_PCT, 1, 0, 0.8);
        push(m, t, OXL_Q_RPM, 0, 0, 720 + 8 * noise(seed));
        push(m, t, OXL_Q_AIR_G_S, 0, 0, 3.1);
    }
}

void scene_advice(struct oxl_model *m, double t_s, enum oxl_advice a, const char *detail)
{
    struct oxl_event ev = {.kind = OXL_EV_ADVICE, .t_us = us(t_s)};
    ev.u.advice.advice = a;
    snprintf(ev.u.advice.detail, sizeof ev.u.advice.detail, "%s", detail);
    scene_event(m, &ev);
}

void scene_check(struct oxl_model *m, const char *id, enum oxl_grade grade, const char *found,
                 const char *advice)
{
    struct oxl_event ev = {.kind = OXL_EV_CHECK, .t_us = us(4)};
    ev.u.check.grade = grade;
    snprintf(ev.u.check.id, sizeof ev.u.check.id, "%s", id);
    snprintf(ev.u.check.found, sizeof ev.u.check.found, "%s", found);
    snprintf(ev.u.check.advice, sizeof ev.u.check.advice, "%s", advice);
    scene_event(m, &ev);
}

static void push_checks(struct oxl_model *m)
{
    scene_check(m, "coolant", OXL_GRADE_PASS, "coolant 88 C", "");
    scene_check(m, "closed-loop", OXL_GRADE_PASS, "closed loop, bank 1", "");
    scene_check(m, "speed", OXL_GRADE_PASS, "vehicle stands still", "");
    scene_check(m, "codes-stored", OXL_GRADE_CAUTION, "stored: P0420",
                "Note the freeze frame; do not clear before the test.");
    scene_check(m, "codes-pending", OXL_GRADE_PASS, "no pending codes", "");
    scene_check(m, "cat-temp", OXL_GRADE_UNKNOWN, "catalyst temperature is not reported",
                "Hold 2000-2500 rpm for three minutes before the test.");
    scene_check(m, "trims", OXL_GRADE_PASS, "total trim +3.1 %", "");
    scene_check(m, "layout", OXL_GRADE_PASS, "front wide-range, rear switching", "");
    scene_check(m, "readiness", OXL_GRADE_STOP, "heater monitor of the rear sensor: not complete",
                "Prove the rear sensor's heater, or pass this gate with the space bar.");
}

static struct oxl_span span(double value, double low, double high)
{
    struct oxl_span s = {value, low, high};
    return s;
}

static void push_run(struct oxl_model *m, double t, int run, bool held, bool valid)
{
    struct oxl_event ev = {.kind = OXL_EV_RUN, .t_us = us(t)};
    struct oxl_run_result *r = &ev.u.run;
    memset(r, 0, sizeof *r);
    r->run = run;
    r->valid = valid;
    r->dropped = !held;
    r->delay_s = held ? span(NAN, 9.1, NAN) : span(6.38 + 0.05 * run, 6.29, 6.52);
    r->o2_mg = held ? span(NAN, 520, INFINITY) : span(412 + 7 * run, 371, 455);
    r->shift_pct = -19.4;
    r->rpm = 720;
    r->air_g_s = 3.1;
    r->reasons = valid ? 0 : OXL_REASON_BIT(OXL_R_RPM_UNSTEADY);
    if (held)
        r->reasons |= OXL_REASON_BIT(OXL_R_REAR_HELD);
    scene_event(m, &ev);
}

void scene_end(struct oxl_model *m, enum oxl_state state, bool gas)
{
    struct scene_options o = {0};
    struct oxl_live live;
    struct oxl_surroundings around = scene_around(121);
    scene_live(&o, 54, &live);
    live.state = state;
    live.gas_may_flow = gas;
    live.run = live.runs = 3;
    live.timing_s = NAN;
    oxl_model_live(m, &live, &around);
}

void scene_finish(struct oxl_model *m, enum oxl_conclusion conclusion, bool held)
{
    struct oxl_event ev = {.kind = OXL_EV_RESULT, .t_us = us(121)};
    struct oxl_result *r = &ev.u.result;
    memset(r, 0, sizeof *r);
    bool nothing = conclusion == OXL_CONCLUSION_NONE;
    r->conclusion = conclusion;
    r->runs = 3;
    r->valid_runs = nothing ? 0 : held ? 3 : 2;
    r->held = held;
    r->delay_s = nothing ? span(NAN, NAN, NAN) : held ? span(NAN, 9.1, NAN) : span(6.4, 6.29, 6.52);
    r->delay_at_target_s = nothing ? span(NAN, NAN, NAN)
                           : held  ? span(NAN, 8.8, NAN)
                                   : span(6.2, 5.9, 6.6);
    r->o2_mg = nothing ? span(NAN, NAN, NAN)
               : held  ? span(NAN, 520, INFINITY)
                       : span(418, 371, 455);
    r->spread_s = nothing ? NAN : 0.11;
    /* What decided: the time, or the mass where the rear held. */
    if (held)
        r->lead = (struct oxl_lead){OXL_LEAD_OXYGEN, r->o2_mg, 136, 425, 0};
    else if (!nothing)
        r->lead = (struct oxl_lead){OXL_LEAD_DELAY_AT_TARGET, r->delay_at_target_s, 2, 7, 0};
    r->bad_limit_mg = nothing ? NAN : 136;
    r->good_limit_mg = nothing ? NAN : 425;
    if (nothing)
        r->reasons = r->next = OXL_REASON_BIT(OXL_R_NO_VALID_RUN) |
                               OXL_REASON_BIT(OXL_R_RPM_UNSTEADY) |
                               OXL_REASON_BIT(OXL_R_REAR_NOT_SEEN_LEAN);
    else if (held)
        r->reasons = OXL_REASON_BIT(OXL_R_REAR_HELD) | OXL_REASON_BIT(OXL_R_GOOD_STORAGE);
    else
        r->reasons = r->next =
            OXL_REASON_BIT(OXL_R_MIDDLE_STORAGE) | OXL_REASON_BIT(OXL_R_STRADDLES_LIMIT);
    scene_event(m, &ev);
    struct oxl_event st = {.kind = OXL_EV_STATE, .t_us = us(121)};
    st.u.state.state = OXL_STATE_DONE;
    st.u.state.run = 3;
    scene_event(m, &st);
    scene_advice(m, 121, OXL_ADV_FINISHED, "");
}

void scene_bad(struct oxl_model *m)
{
    struct oxl_event ev = {.kind = OXL_EV_RESULT, .t_us = us(121)};
    ev.u.result = (struct oxl_result){.conclusion = OXL_CONCLUSION_BAD,
                                      .lead = {OXL_LEAD_DELAY_AT_TARGET, {1.2, 1.1, 1.4}, 2, 7, 2},
                                      .runs = 3,
                                      .valid_runs = 3,
                                      .delay_s = {1.3, 1.2, 1.5},
                                      .o2_mg = {80, 71, 92},
                                      .spread_s = 0.11,
                                      .reasons = OXL_REASON_BIT(OXL_R_LOW_STORAGE) |
                                                 OXL_REASON_BIT(OXL_R_LEAK_NOT_FOUND)};
    scene_event(m, &ev);
    scene_finish(m, OXL_CONCLUSION_BAD, false);
    scene_event(m, &ev);
    scene_end(m, OXL_STATE_DONE, false);
}

void scene_early(struct oxl_model *m, int runs_wanted)
{
    struct oxl_event ev = {.kind = OXL_EV_RESULT, .t_us = us(121)};
    ev.u.result = (struct oxl_result){.conclusion = OXL_CONCLUSION_QUESTIONABLE,
                                      .lead = {OXL_LEAD_DELAY_AT_TARGET, {6.2, 5.9, 6.6}, 2, 7, 0},
                                      .runs = 2,
                                      .valid_runs = 2,
                                      .runs_wanted = runs_wanted,
                                      .ended_early = true,
                                      .delay_s = {6.4, 6.29, 6.52},
                                      .delay_at_target_s = {6.2, 5.9, 6.6},
                                      .o2_mg = {418, 371, 455},
                                      .spread_s = 0.11,
                                      .bad_limit_mg = 136,
                                      .good_limit_mg = 425,
                                      .reasons = OXL_REASON_BIT(OXL_R_MIDDLE_STORAGE)};
    scene_event(m, &ev);
}

/* What is said when: in a run from its start, before it from zero. */
static void say_events(struct oxl_model *m, const struct scene_options *o, double before, double t)
{
    static const struct {
        double at;
        enum oxl_advice advice;
    } in_runs[] = {{gas_s, OXL_ADV_ADD_GAS},      {hold_s - 1, OXL_ADV_SLOW},
                   {hold_s, OXL_ADV_HOLD},        {cut_s, OXL_ADV_CUT},
                   {front_s, OXL_ADV_FRONT_LEAN}, {rear_s, OXL_ADV_REAR_LEAN},
                   {rear_s + 1, OXL_ADV_RECOVER}};
    int run, last;
    double u = in_run(t, &run), v = in_run(before, &last);
    if (before < 0.1 && t >= 0.1)
        scene_advice(m, t, OXL_ADV_CONNECTING, "");
    if (before < 4 && t >= 4)
        push_checks(m);
    if (before < 5 && t >= 5)
        scene_advice(m, t, OXL_ADV_WAIT_WARM, "");
    if (before < 10 && t >= 10)
        scene_advice(m, t, OXL_ADV_STEADY, "");
    for (size_t i = 0; run && i < sizeof in_runs / sizeof in_runs[0]; i++)
        if ((v < in_runs[i].at || last != run) && u >= in_runs[i].at) {
            bool rear = in_runs[i].advice == OXL_ADV_REAR_LEAN;
            scene_advice(m, t, rear && o->held ? OXL_ADV_REAR_HELD : in_runs[i].advice, "");
            if (rear)
                push_run(m, t, run, o->held, run != 2 || o->held);
        }
}

struct oxl_model *scene_play(const struct scene_options *o)
{
    struct oxl_model_config config = {.mode = o->mode, .ascii = o->ascii};
    snprintf(config.title, sizeof config.title, "%s",
             o->mode == OXL_UI_LIVE ? "/dev/ttyUSB0" : "good");
    struct oxl_model *m = scene_new(&config);
    uint32_t seed = 20240611;
    struct oxl_event profile = {.kind = OXL_EV_PROFILE};
    profile.u.profile.profile = scene_profile();
    scene_event(m, &profile);
    double before = -1;
    struct oxl_event link = {.kind = OXL_EV_LINK};
    link.u.link.state = OXL_LINK_SEARCHING;
    snprintf(link.u.link.text, sizeof link.u.link.text,
             "The adapter answers at 38400 baud; looking for the vehicle.");
    scene_event(m, &link);
    for (int step = 0; step * 0.08 <= o->until_s + 1e-9; step++) {
        double t = step * 0.08;
        struct oxl_live live;
        scene_live(o, t, &live);
        struct oxl_surroundings around = scene_around(t);
        oxl_model_live(m, &live, &around);
        say_events(m, o, before, t);
        if (t >= 4 && !(t > o->gap_from_s && t < o->gap_to_s))
            push_samples(m, o, step, t, &seed);
        before = t;
    }
    struct oxl_surroundings around = scene_around(o->until_s);
    scene_surroundings(m, o, &around);
    return m;
}
