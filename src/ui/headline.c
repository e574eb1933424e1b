#include "headline.h"

#include <stdio.h>
#include <string.h>

static const enum oxl_advice at_start_of[OXL_STATE_COUNT] = {
#define X(id, name, advice) OXL_ADV_##advice,
    OXL_STATES(X)
#undef X
};

static enum oxl_ink band_of_result(const struct oxl_result *r)
{
    return r->conclusion == OXL_CONCLUSION_BAD    ? OXL_INK_BAND_STOP
           : r->conclusion == OXL_CONCLUSION_GOOD ? OXL_INK_BAND_GOOD
                                                  : OXL_INK_BAND_CAUTION;
}

bool oxl_headline_link_is_down(const struct oxl_model *m)
{
    return m->link == OXL_LINK_STALLED || m->link == OXL_LINK_LOST || m->no_data;
}

bool oxl_headline_asks_a_hand(enum oxl_advice a)
{
    enum oxl_hand hand = oxl_advice_hand(a);
    return hand != OXL_HAND_AS_IT_IS && hand != OXL_HAND_STAY_SHUT;
}

static enum oxl_ink band_for(enum oxl_advice a)
{
    if (a == OXL_ADV_CUT || a == OXL_ADV_CUT_HEAT || a == OXL_ADV_BACK_OFF ||
        a == OXL_ADV_STUMBLE || a == OXL_ADV_UNSUITABLE || a == OXL_ADV_ABORTED ||
        a == OXL_ADV_SHUT_VALVE || a == OXL_ADV_VALVE_DRIPS || a == OXL_ADV_ENGINE_STOPPED)
        return OXL_INK_BAND_STOP;
    return oxl_advice_is_caution(a) ? OXL_INK_BAND_CAUTION : OXL_INK_ACTION;
}

static bool is_over(const struct oxl_model *m)
{
    return m->state == OXL_STATE_DONE || m->state == OXL_STATE_STOPPED;
}

/* No data, or no need of data any more. */
static bool is_blind(const struct oxl_model *m)
{
    return !is_over(m) && oxl_headline_link_is_down(m);
}

static enum oxl_advice last_action(const struct oxl_model *m)
{
    return m->has_action ? m->action : at_start_of[m->state];
}

/* Gas may flow where none is wanted, or where nobody sees what it does. An advice that shuts the
 * valve itself says more: it stays, but not when the data or the test have ended. */
static bool gas_is_unwanted(const struct oxl_model *m)
{
    if (!m->live.gas_may_flow)
        return false;
    if (is_over(m) || is_blind(m))
        return true;
    return m->state != OXL_STATE_ENRICHMENT && oxl_advice_hand(last_action(m)) != OXL_HAND_SHUT;
}

static bool has_verdict(const struct oxl_model *m)
{
    return m->state == OXL_STATE_DONE && m->record->has_result &&
           (unsigned)m->record->result.conclusion < OXL_CONCLUSIONS;
}

enum oxl_advice oxl_headline_advice(const struct oxl_model *m)
{
    enum oxl_advice last = last_action(m);
    if (gas_is_unwanted(m))
        return OXL_ADV_SHUT_VALVE;
    if (is_blind(m))
        return OXL_ADV_LINK_TROUBLE;
    if (m->state == OXL_STATE_STOPPED && band_for(last) != OXL_INK_BAND_STOP)
        return OXL_ADV_ABORTED;
    return has_verdict(m) ? OXL_ADV_FINISHED : last;
}

bool oxl_headline_is_verdict(const struct oxl_model *m)
{
    return has_verdict(m) && !gas_is_unwanted(m);
}

bool oxl_headline_hides_verdict(const struct oxl_model *m)
{
    return has_verdict(m) && gas_is_unwanted(m);
}

static void say(struct oxl_headline *out, enum oxl_ink ink, const char *text, const char *more)
{
    out->sentence_ink = ink;
    snprintf(out->sentence, sizeof out->sentence, "%s%s%s%s",
             ink == OXL_INK_CAUTION ? "! "
             : ink == OXL_INK_KEY   ? "* "
                                    : "",
             text, more[0] ? " " : "", more);
}

static void say_advice(struct oxl_headline *out, enum oxl_advice a, const char *more)
{
    say(out, oxl_advice_is_caution(a) ? OXL_INK_CAUTION : OXL_INK_TEXT, oxl_advice_text(a), more);
}

/* Connected, and the lines of the pre-check stand on the screen already. */
static bool is_reading(const struct oxl_model *m)
{
    return oxl_headline_advice(m) == OXL_ADV_CONNECTING && m->record->checks_n > 0;
}

/* The leak check was offered and is coming: the question does not stay. */
static bool is_answered(const struct oxl_model *m)
{
    return oxl_headline_advice(m) == OXL_ADV_LEAK_OFFER && m->leak_next;
}

bool oxl_headline_is_new(const struct oxl_model *m)
{
    const struct oxl_check *age = oxl_test_record_check(m->record, "converter");
    return age && age->grade == OXL_GRADE_CAUTION;
}

bool oxl_headline_noted_new(const struct oxl_model *m)
{
    const enum oxl_advice a = oxl_headline_advice(m);
    return (a == OXL_ADV_ASK_NEW || a == OXL_ADV_LEAK_OFFER) && oxl_headline_is_new(m);
}

/* What the advice says, and where gas may flow unwanted what else there is to know. */
static void sentence_for(const struct oxl_model *m, struct oxl_headline *out)
{
    if (is_blind(m))
        say_advice(out, OXL_ADV_LINK_TROUBLE, "");
    else if (is_over(m) && gas_is_unwanted(m))
        say(out, OXL_INK_CAUTION, "Shut the valve, then the cylinder; refit every hose.", "");
    else if (has_verdict(m))
        say(out, OXL_INK_ACTION, oxl_advice_text(OXL_ADV_FINISHED), "");
    else if (is_reading(m))
        say(out, OXL_INK_TEXT, "The vehicle answers: waiting for its sensors.", "");
    else if (is_answered(m))
        say_advice(out, OXL_ADV_LEAK_LATER, "");
    else if (oxl_headline_noted_new(m))
        say(out, OXL_INK_KEY, "Noted as new; n takes it back.",
            out->advice == OXL_ADV_LEAK_OFFER ? "l: leak check." : "");
    else if (m->has_action && m->action == out->advice)
        say_advice(out, out->advice, m->action_detail);
    else
        say_advice(out, out->advice,
                   gas_is_unwanted(m) && oxl_advice_hand(last_action(m)) != OXL_HAND_STAY_SHUT
                       ? oxl_advice_text(last_action(m))
                       : "");
}

static bool within(const struct oxl_model *m, int64_t since_us, int seconds)
{
    return m->around.now_us - since_us <= seconds * INT64_C(1000000);
}

/* A question that waits for its answer goes before a note. Neither hides what a hand has to do. */
static void say_note(const struct oxl_model *m, struct oxl_headline *out)
{
    const int asked_s = 5;
    struct oxl_headline said = {.sentence = ""};
    if (m->abort_asked && within(m, m->abort_asked_us, asked_s))
        say_advice(&said, OXL_ADV_ABORT_AGAIN, "");
    else if (m->has_note && within(m, m->note_us, m->note_s))
        say(&said, m->note_is_caution ? OXL_INK_CAUTION : OXL_INK_KEY, m->note, "");
    else
        return;
    bool beside = oxl_headline_asks_a_hand(out->advice);
    memcpy(beside ? out->note : out->sentence, said.sentence, sizeof said.sentence);
    *(beside ? &out->note_ink : &out->sentence_ink) = said.sentence_ink;
}

struct oxl_headline oxl_headline(const struct oxl_model *m)
{
    enum oxl_advice a = oxl_headline_advice(m);
    bool verdict = oxl_headline_is_verdict(m);
    struct oxl_headline h = {.advice = a,
                             .hand = oxl_advice_hand(a),
                             .words = verdict ? oxl_conclusion_shown(m->record->result.conclusion)
                                      : is_reading(m)             ? "PRE-CHECK"
                                      : is_answered(m)            ? "LEAK CHECK NEXT"
                                      : oxl_headline_noted_new(m) ? "NOTED AS NEW"
                                                                  : oxl_advice_headline(a),
                             .band = verdict ? band_of_result(&m->record->result) : band_for(a)};
    sentence_for(m, &h);
    if (!is_over(m))
        say_note(m, &h);
    return h;
}
