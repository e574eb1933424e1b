#include "oxylag/ui.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "headline.h"
#include "model.h"

/* Trims come every few rounds only during a timing. */
enum { TRIM_AGE_US = 5000000 };

/* Until the session speaks nothing is known; all zero would be values. */
static void set_unknown(struct oxl_live *l)
{
    l->total_trim_pct = l->baseline_pct = l->shift_pct = l->target_pct = l->accept_low_pct = NAN;
    l->accept_high_pct = l->back_off_pct = l->slow_pct = l->hold_left_s = l->heat_left_s = NAN;
    l->baseline_left_s = l->offer_left_s = l->timing_s = l->front_hz = l->rear_hz = NAN;
}

struct oxl_model *oxl_model_new(const struct oxl_model_config *config)
{
    struct oxl_model *m = calloc(1, sizeof *m);
    if (!m)
        return NULL;
    m->config = *config;
    m->record = config->record;
    m->config.title[sizeof m->config.title - 1] = '\0';
    m->page = OXL_PAGE_TEST;
    set_unknown(&m->live);
    m->around.valve = NAN;
    const struct oxl_reading none = {NAN, 0};
    m->stft = m->ltft = m->front_v = m->front_ma = m->rear_v = m->rear_ma = none;
    m->rpm = m->air = none;
    oxl_history_clear(&m->front);
    oxl_history_clear(&m->rear);
    oxl_history_clear(&m->trim);
    struct oxl_call nothing_yet;
    (void)oxl_model_call(m, &nothing_yet);
    return m;
}

void oxl_model_free(struct oxl_model *m)
{
    free(m);
}

void oxl_model_cautions(struct oxl_model *m, const char *const *lines, size_t n)
{
    m->cautions = lines;
    m->cautions_n = n;
}

static void set_state(struct oxl_model *m, enum oxl_state state, int run)
{
    if (state == OXL_STATE_STOPPED && m->state != OXL_STATE_STOPPED)
        m->stopped_in = m->state;
    if (state != m->state)
        m->screenful = 0;
    bool begins = m->state == OXL_STATE_PRECHECK && state == OXL_STATE_BASELINE;
    m->state = state;
    m->run = run;
    if (begins)
        oxl_model_hold_checks(m);
}

void oxl_model_mark(struct oxl_model *m, int64_t t_us, char letter)
{
    m->marks[m->marks_n++ % OXL_UI_MARKS] = (struct oxl_axis_mark){t_us, letter};
}

void oxl_model_quiz(struct oxl_model *m, const struct oxl_quiz_shown *shown)
{
    m->quiz = *shown;
    m->quizzing = true;
}

static void set_note(struct oxl_model *m, int64_t t_us, int seconds, bool caution, const char *text,
                     const char *detail)
{
    m->has_note = true;
    m->note_us = t_us;
    m->note_s = seconds;
    m->note_is_caution = caution;
    snprintf(m->note, sizeof m->note, "%s%s%s", text, detail[0] ? " " : "", detail);
}

static void take_advice(struct oxl_model *m, const struct oxl_event *ev)
{
    enum oxl_advice a = ev->u.advice.advice;
    if ((unsigned)a >= OXL_ADV_COUNT)
        return;
    oxl_model_give_way(m, a);
    oxl_model_hear(m, a);
    if (a == OXL_ADV_CUT || a == OXL_ADV_CUT_HEAT)
        oxl_model_mark(m, ev->t_us, 'C');
    else if (a == OXL_ADV_FRONT_LEAN)
        oxl_model_mark(m, ev->t_us, 'F');
    else if (a == OXL_ADV_REAR_LEAN)
        oxl_model_mark(m, ev->t_us, 'R');
    if (a == OXL_ADV_LINK_TROUBLE || a == OXL_ADV_LINK_BACK)
        m->no_data = a == OXL_ADV_LINK_TROUBLE;
    m->leak_next = m->leak_next || a == OXL_ADV_LEAK_LATER;
    if (a == OXL_ADV_ABORT_AGAIN) {
        m->abort_asked = true;
        m->abort_asked_us = ev->t_us;
    } else if (!oxl_advice_headline(a)) {
        set_note(m, ev->t_us, a == OXL_ADV_PROVE_REAR ? 20 : 8, oxl_advice_is_caution(a),
                 oxl_advice_text(a), ev->u.advice.detail);
    } else if (a != OXL_ADV_LINK_TROUBLE) {
        m->has_action = true;
        m->action = a;
        m->has_note = false;
        snprintf(m->action_detail, sizeof m->action_detail, "%s", ev->u.advice.detail);
    }
}

/* In the pre-check a caution is to be seen; what is said later is a note. */
static void take_check(struct oxl_model *m, int64_t t_us, const struct oxl_check *check)
{
    if (m->state == OXL_STATE_PRECHECK && check->grade >= OXL_GRADE_CAUTION) {
        m->caution_unseen = true;
        m->caution_us = t_us;
    }
    if (strcmp(check->id, "converter") == 0)
        set_note(m, t_us, 8, false, "The converter is", check->found);
}

static void take_reading(struct oxl_reading *to, const struct oxl_sample *s)
{
    to->value = s->value;
    to->t_us = s->recv_us;
}

static void take_trim(struct oxl_model *m, const struct oxl_sample *s)
{
    take_reading(s->channel.quantity == OXL_Q_STFT_PCT ? &m->stft : &m->ltft, s);
    double total = m->stft.value + m->ltft.value;
    /* No long-term trim was ever seen, yet the core knows a total: the vehicle has none. */
    if (!oxl_known(m->ltft.value) && m->has_live && oxl_known(m->live.total_trim_pct))
        total = m->stft.value;
    oxl_history_push(&m->trim, s->recv_us, total);
}

/* Volts or current that belong to a wide-range sensor of the watched pair. */
static void take_wide(struct oxl_model *m, const struct oxl_sample *s)
{
    struct oxl_channel of = s->channel;
    bool volts = of.quantity == OXL_Q_WIDE_V;
    of.quantity = OXL_Q_LAMBDA;
    if (oxl_channel_same(of, m->live.pair.front))
        take_reading(volts ? &m->front_v : &m->front_ma, s);
    else if (oxl_channel_same(of, m->live.pair.rear))
        take_reading(volts ? &m->rear_v : &m->rear_ma, s);
}

static void take_sample(struct oxl_model *m, const struct oxl_sample *s)
{
    unsigned bank = m->has_live && m->live.bank ? m->live.bank : 1;
    switch (s->channel.quantity) {
    case OXL_Q_STFT_PCT:
    case OXL_Q_LTFT_PCT:
        if (s->channel.bank == bank)
            take_trim(m, s);
        return;
    case OXL_Q_WIDE_V:
    case OXL_Q_WIDE_MA:
        if (!m->has_live || !oxl_channel_same(s->channel, m->live.pair.rear)) {
            if (m->has_live)
                take_wide(m, s);
            return;
        }
        break; /* a switching sensor's voltage in a wide-range PID */
    case OXL_Q_RPM:
        take_reading(&m->rpm, s);
        return;
    case OXL_Q_AIR_G_S:
        take_reading(&m->air, s);
        return;
    default:
        break;
    }
    if (!m->has_live || s->channel.quantity == OXL_Q_NONE)
        return;
    if (oxl_channel_same(s->channel, m->live.pair.front))
        oxl_history_push(&m->front, s->recv_us, s->value);
    else if (oxl_channel_same(s->channel, m->live.pair.rear))
        oxl_history_push(&m->rear, s->recv_us, s->value);
}

static void take_link(struct oxl_model *m, const struct oxl_event *ev)
{
    m->link = m->link_text_of = ev->u.link.state;
    snprintf(m->link_text, sizeof m->link_text, "%s", ev->u.link.text);
}

void oxl_model_event(struct oxl_model *m, const struct oxl_event *ev)
{
    switch (ev->kind) {
    case OXL_EV_STATE:
        if ((unsigned)ev->u.state.state < OXL_STATE_COUNT)
            set_state(m, ev->u.state.state, ev->u.state.run);
        m->leak_next = m->leak_next && ev->u.state.state != OXL_STATE_LEAK_CHECK;
        break;
    case OXL_EV_SAMPLE:
        take_sample(m, &ev->u.sample);
        break;
    case OXL_EV_ADVICE:
        take_advice(m, ev);
        break;
    case OXL_EV_CHECK:
        take_check(m, ev->t_us, &ev->u.check);
        break;
    case OXL_EV_LINK:
        take_link(m, ev);
        break;
    case OXL_EV_MARK:
        oxl_model_mark(m, ev->t_us, 'M');
        set_note(m, ev->t_us, 8, false, "Mark:", ev->u.mark.text);
        break;
    default:
        break; /* the record has the others */
    }
}

static void take_live(struct oxl_model *m, const struct oxl_live *live,
                      const struct oxl_surroundings *around)
{
    if (m->has_live && !oxl_channel_same(m->live.pair.front, live->pair.front))
        oxl_history_clear(&m->front);
    if (m->has_live && !oxl_channel_same(m->live.pair.rear, live->pair.rear))
        oxl_history_clear(&m->rear);
    if (m->has_live && m->live.bank != live->bank) {
        oxl_history_clear(&m->trim);
        m->stft.value = m->ltft.value = NAN;
    }
    m->live = *live;
    m->has_live = true;
    m->live.profile = NULL; /* the session may be gone before the last drawing */
    if ((unsigned)live->state < OXL_STATE_COUNT)
        set_state(m, live->state, live->run);
    m->link = live->link;
    if (m->link != m->link_text_of)
        m->link_text[0] = '\0';
    m->around = *around;
    if (around->recording_trouble)
        snprintf(m->trouble, sizeof m->trouble, "%s", around->recording_trouble);
    m->around.recording_trouble = around->recording_trouble ? m->trouble : NULL;
}

/* What stands may change without an advice: the link goes, or gas flows where none is wanted. */
void oxl_model_live(struct oxl_model *m, const struct oxl_live *live,
                    const struct oxl_surroundings *around)
{
    enum oxl_advice before = oxl_headline_advice(m);
    /* What a state that has just begun asks for is said after it. */
    bool hand = m->checks_held && oxl_headline_asks_a_hand(before);
    take_live(m, live, around);
    enum oxl_advice now = oxl_headline_advice(m);
    if (now != before)
        oxl_model_give_way(m, now);
    oxl_model_let_checks_go(m, hand);
}

const struct oxl_check *oxl_model_first_stop(const struct oxl_model *m)
{
    for (size_t i = 0; i < m->record->checks_n; i++)
        if (m->record->checks[i].grade == OXL_GRADE_STOP)
            return &m->record->checks[i];
    return NULL;
}

const struct oxl_run_result *oxl_model_last_run(const struct oxl_model *m)
{
    return m->record->runs_n ? &m->record->runs[m->record->runs_n - 1] : NULL;
}

double oxl_reading_now(const struct oxl_model *m, struct oxl_reading r, int64_t max_age_us)
{
    return m->around.now_us - r.t_us > max_age_us ? (double)NAN : r.value;
}

double oxl_model_trim(const struct oxl_model *m)
{
    if (m->has_live && oxl_known(m->live.total_trim_pct))
        return m->live.total_trim_pct;
    return oxl_history_latest(&m->trim, m->around.now_us, TRIM_AGE_US);
}
