#include "help_car.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static void on_event(void *ctx, const struct oxl_event *ev)
{
    struct car *c = ctx;
    if (c->log_n < CAR_LOG)
        c->log[c->log_n++] = *ev;
}

void car_start_as(struct car *c, const struct oxl_session_config *config)
{
    memset(c, 0,
           offsetof(struct car, log)); /* not the log: its megabytes were most of many tests */
    c->log_n = 0;
    static const uint8_t pids[] = {0x03, 0x05, 0x06, 0x07, 0x0C, 0x0D,
                                   0x10, 0x13, 0x15, 0x1F, 0x20, 0x24};
    /* Support bits are set through the public mask call, so that their layout is its business. */
    for (size_t i = 0; i < sizeof pids; i++) {
        uint8_t base = (uint8_t)((pids[i] - 1) / 0x20 * 0x20), mask[4] = {0};
        unsigned bit = pids[i] - base - 1u;
        mask[bit / 8] = (uint8_t)(0x80u >> (bit % 8));
        oxl_support_add(&c->vehicle.support, base, mask);
    }
    c->vehicle.protocol = OXL_PROTO_CAN11_500;
    c->vehicle.ecu = 0x7E8;
    c->vehicle.ecus_seen = 1;
    c->vehicle.decoding.layout = OXL_LAYOUT_13;
    c->vehicle.decoding.sensors = 0x03;
    c->vehicle.dtcs[OXL_DTC_STORED].known = c->vehicle.dtcs[OXL_DTC_PENDING].known = true;
    c->hz = 20;
    c->ramp_s = 6;
    c->stft = 0;
    c->ltft = 1;
    c->front = 1.0;
    c->rear = 0.7;
    c->rpm = 750;
    c->air = 3;
    c->coolant = 90;
    c->run_time = 600;
    c->fuel_system = 2;
    if (!oxl_proc_init(&c->proc, config, c, on_event))
        __builtin_trap();
    oxl_proc_start(&c->proc, 0);
}

void car_start(struct car *c, const struct oxl_profile *profile)
{
    const struct oxl_session_config config = {
        .bank = 1, .runs = profile->runs, .profile_given = true, .profile = *profile};
    car_start_as(c, &config);
}

void car_stop(struct car *c)
{
    oxl_proc_close(&c->proc);
}

void car_survey(struct car *c)
{
    c->vehicle.survey_done = true;
    oxl_proc_link(&c->proc, OXL_LINK_READY, "", c->t_us);
    oxl_proc_vehicle(&c->proc, &c->vehicle, c->t_us);
}

static void sample(struct car *c, enum oxl_quantity q, unsigned bank, unsigned sensor, double v)
{
    struct oxl_sample s = {.channel = oxl_channel(q, bank, sensor),
                           .value = v,
                           .sent_us = c->t_us - 15000,
                           .recv_us = c->t_us,
                           .ecu = 0x7E8};
    oxl_proc_sample(&c->proc, &s, c->t_us);
}

static void one_round(struct car *c)
{
    if (c->mute)
        return;
    sample(c, OXL_Q_LAMBDA, 1, 1, c->front);
    /* A step of the PID to and fro (SAE J1979: 5 mV), so that every reading is seen to be a new
     * one. */
    c->step_v = 0.005 - c->step_v;
    sample(c, OXL_Q_O2_V, 1, 2, c->rear + c->step_v);
    sample(c, OXL_Q_LTFT_PCT, 1, 0, c->ltft);
    sample(c, OXL_Q_STFT_PCT, 1, 0, c->stft);
    sample(c, OXL_Q_RPM, 0, 0, c->rpm);
    sample(c, OXL_Q_AIR_G_S, 0, 0, c->air);
    sample(c, OXL_Q_COOLANT_C, 0, 0, c->coolant);
    sample(c, OXL_Q_SPEED_KMH, 0, 0, c->speed);
    sample(c, OXL_Q_RUN_TIME_S, 0, 0, c->run_time);
    if (!c->no_status)
        sample(c, OXL_Q_FUEL_SYSTEM, 1, 0, c->fuel_system);
}

/* A deadline that its tick does not meet would be ticked for ever. */
static void nothing_is_overdue(struct car *c)
{
    for (int i = 0; i < 3 && oxl_proc_due_us(&c->proc) <= c->t_us; i++)
        oxl_proc_tick(&c->proc, c->t_us);
    assert_true(oxl_proc_due_us(&c->proc) > c->t_us);
}

void car_glide(struct car *c, double s, double stft_to, double front_to)
{
    double stft0 = c->stft, front0 = c->front;
    int64_t start = c->t_us, end = start + (int64_t)(s * 1e6);
    int64_t step = (int64_t)(1e6 / c->hz);
    while (c->t_us < end && !oxl_proc_over(&c->proc)) {
        c->t_us += step;
        double part = fmin(1, (double)(c->t_us - start) / (s * 1e6));
        c->stft = stft0 + part * (stft_to - stft0);
        c->front = front0 + part * (front_to - front0);
        one_round(c);
        oxl_proc_tick(&c->proc, c->t_us);
        nothing_is_overdue(c);
    }
}

void car_run(struct car *c, double s)
{
    car_glide(c, s, c->stft, c->front);
}

void car_pass(struct car *c, double s)
{
    const double usual_hz = c->hz;
    c->hz = 4;
    car_run(c, s);
    c->hz = usual_hz;
}

void car_key(struct car *c, enum oxl_key key)
{
    oxl_proc_key(&c->proc, key, c->t_us);
}

unsigned car_heard(const struct car *c, enum oxl_advice advice)
{
    unsigned n = 0;
    for (size_t i = 0; i < c->log_n; i++)
        n += c->log[i].kind == OXL_EV_ADVICE && c->log[i].u.advice.advice == advice;
    return n;
}

bool car_was_in(const struct car *c, enum oxl_state state)
{
    for (size_t i = 0; i < c->log_n; i++)
        if (c->log[i].kind == OXL_EV_STATE && c->log[i].u.state.state == state)
            return true;
    return false;
}

const struct oxl_event *car_last(const struct car *c, enum oxl_event_kind kind)
{
    for (size_t i = c->log_n; i-- > 0;)
        if (c->log[i].kind == kind)
            return &c->log[i];
    return NULL;
}

const struct oxl_check *car_check(const struct car *c, const char *id)
{
    for (size_t i = c->log_n; i-- > 0;)
        if (c->log[i].kind == OXL_EV_CHECK && strcmp(c->log[i].u.check.id, id) == 0)
            return &c->log[i].u.check;
    return NULL;
}

size_t car_baselines(const struct car *c)
{
    size_t n = 0;
    for (size_t i = 0; i < c->log_n; i++)
        n += c->log[i].kind == OXL_EV_BASELINE;
    return n;
}

size_t car_said_at(const struct car *c, size_t from, enum oxl_advice a)
{
    size_t i = from;
    while (i < c->log_n && !(c->log[i].kind == OXL_EV_ADVICE && c->log[i].u.advice.advice == a))
        i++;
    return i;
}

size_t car_state_at(const struct car *c, size_t from, enum oxl_state s)
{
    size_t i = from;
    while (i < c->log_n && !(c->log[i].kind == OXL_EV_STATE && c->log[i].u.state.state == s))
        i++;
    return i;
}

bool car_wait(struct car *c, enum oxl_state state, double limit_s)
{
    for (double s = 0; s < limit_s && c->proc.state != state; s += 0.1)
        car_run(c, 0.1);
    return c->proc.state == state;
}

bool car_pulse(struct car *c, double shift_pct, double delay_s)
{
    if (!car_wait(c, OXL_STATE_ENRICHMENT, 60))
        return false;
    double rest = c->stft;
    c->rear = 0.8;
    car_glide(c, 1, rest, 0.95);
    car_glide(c, c->ramp_s, rest + shift_pct, 1.0);
    if (!car_wait(c, OXL_STATE_RELEASE, 30))
        return false;
    car_run(c, 0.5);
    double lean = 1 / (1 + (c->stft - rest) / 101.0);
    car_glide(c, 0.3, c->stft, lean);
    double lasting = fmin(delay_s, 8);
    car_glide(c, lasting, c->stft * (1 - lasting / 10), lean - (lean - 1) * lasting / 10);
    if (isfinite(delay_s)) {
        const double step_s = 0.05;
        while (c->fall_s > 0 && c->rear > 0.05) {
            c->rear -= 0.3 * step_s / c->fall_s;
            car_run(c, step_s);
        }
        c->rear = 0.04; /* in lean gas of lambda 1.25 by Nernst, 31 mV, and some */
        car_run(c, 1);
    }
    car_glide(c, 3, rest, 1.0);
    c->rear = 0.7;
    car_run(c, 4);
    return true;
}

/* ---- on the heap, with assertions ---- */
struct car *car_new(void)
{
    struct car *c = malloc(sizeof *c);
    assert_non_null(c);
    struct oxl_profile p;
    oxl_profile_defaults(&p);
    car_start(c, &p);
    return c;
}

void car_free(struct car *c)
{
    car_stop(c);
    free(c);
}

struct car *car_in_enrichment(void)
{
    struct car *c = car_new();
    car_survey(c);
    car_run(c, 16);
    assert_int_equal(c->proc.state, OXL_STATE_ENRICHMENT);
    return c;
}

struct car *car_in_release(void)
{
    struct car *c = car_in_enrichment();
    c->rear = 0.8;
    car_gas(c, 4, -20);
    assert_true(car_wait(c, OXL_STATE_RELEASE, 10));
    return c;
}

struct car *car_holding(void)
{
    struct car *c = car_in_enrichment();
    c->rear = 0.8;
    car_gas(c, 4, -18);
    assert_int_equal(c->proc.state, OXL_STATE_ENRICHMENT);
    assert_true(oxl_gas_may_flow(&c->proc));
    return c;
}

struct car *car_on_offer(void)
{
    struct car *c = car_new();
    car_survey(c);
    for (int i = 0; i < 3; i++)
        assert_true(car_pulse(c, -20, 0.3));
    assert_int_equal(car_heard(c, OXL_ADV_DEEPER_OFFER), 1);
    assert_true(oxl_run_is_deeper(&c->proc));
    return c;
}

void car_gas(struct car *c, double s, double stft_to)
{
    car_glide(c, 1, 0, 0.95);
    car_glide(c, s, stft_to, 1);
}

void car_shut(struct car *c)
{
    car_glide(c, 0.3, c->stft, 1.2);
    car_glide(c, 5, 0, 1.0);
}

void car_restart(struct car *c)
{
    car_key(c, OXL_KEY_RESTART);
    assert_int_equal(c->proc.state, OXL_STATE_BASELINE);
}

void car_shut_stands(const struct car *c)
{
    assert_true(oxl_gas_may_flow(&c->proc));
    assert_int_equal(oxl_advice_hand(c->proc.advice), OXL_HAND_SHUT);
}

void car_never_cut(struct car *c)
{
    car_wait(c, OXL_STATE_ENRICHMENT, 40);
    c->rear = 0.8;
    car_gas(c, 4, -20);
    car_run(c, 25);
    car_glide(c, 1, 0, 1);
    c->rear = 0.7;
}

void car_lost_in_gas(struct car *c)
{
    car_wait(c, OXL_STATE_ENRICHMENT, 40);
    c->rear = 0.8;
    car_gas(c, 3, -12);
    oxl_proc_link(&c->proc, OXL_LINK_LOST, "", c->t_us);
    oxl_proc_link(&c->proc, OXL_LINK_READY, "", c->t_us);
    car_glide(c, 3, 0, 1);
    c->rear = 0.7;
}

void car_is_judged_early(const struct car *c, int counted)
{
    const struct oxl_event *ev = car_last(c, OXL_EV_RESULT);
    assert_int_equal(c->proc.state, OXL_STATE_DONE);
    assert_int_equal(c->proc.outcome, OXL_OK);
    assert_non_null(ev);
    assert_int_equal(ev->u.result.valid_runs, counted);
    assert_int_equal(ev->u.result.runs_wanted, 3);
    assert_true(ev->u.result.ended_early);
    assert_true(oxl_figure_known(&ev->u.result.delay_s));
    assert_int_not_equal(ev->u.result.lead.figure, OXL_LEAD_NONE);
    char found[64];
    snprintf(found, sizeof found, "ended early, %d of 3 runs", counted);
    assert_string_equal(car_check(c, "ended-early")->found, found);
}

bool car_has(const struct car *c, enum oxl_reason r)
{
    return oxl_reasons_has(oxl_kept_reasons(&c->proc), r);
}

void car_give(struct car *c, enum oxl_quantity q, unsigned bank, unsigned sensor, double v)
{
    struct oxl_sample s = {oxl_channel(q, bank, sensor), v, c->t_us - 15000, c->t_us, 0x7E8};
    oxl_proc_sample(&c->proc, &s, c->t_us);
}
