#include "headline.h"

#include <stdio.h>

/* At most 76 points wide in large letters, so that each fits 80 columns. NULL: a note. */
static const char *const words[OXL_ADV_COUNT] = {
    [OXL_ADV_CONNECTING] = "CONNECTING",
    [OXL_ADV_WAIT_WARM] = "WARM THE ENGINE",
    [OXL_ADV_WAIT_CLOSED_LOOP] = "NOT IN CLOSED LOOP",
    [OXL_ADV_STAND_STILL] = "STAND STILL",
    [OXL_ADV_STEADY] = "KEEP IT STEADY",
    [OXL_ADV_OPENING_TOO_LARGE] = "SMALLER PORT",
    [OXL_ADV_NOT_STEADY] = "WAIT",
    [OXL_ADV_RESIDUAL_GAS] = "SHUT THE VALVE",
    [OXL_ADV_ADD_GAS] = "ADD PROPANE SLOWLY",
    [OXL_ADV_NO_EFFECT] = "NO EFFECT YET",
    [OXL_ADV_SLOW] = "SLOW NOW",
    [OXL_ADV_HOLD] = "HOLD",
    [OXL_ADV_MORE] = "A LITTLE MORE GAS",
    [OXL_ADV_TOO_MUCH] = "A LITTLE LESS GAS",
    [OXL_ADV_BACK_OFF] = "BACK OFF NOW",
    [OXL_ADV_TRIM_LIMIT] = "A LITTLE LESS GAS",
    [OXL_ADV_STUMBLE] = "CLOSE THE VALVE",
    [OXL_ADV_WAIT_RICH] = "HOLD",
    [OXL_ADV_CUT] = "CUT THE GAS NOW",
    [OXL_ADV_CUT_HEAT] = "CUT THE GAS NOW",
    [OXL_ADV_STILL_RICH] = "SHUT THE VALVE",
    [OXL_ADV_FRONT_LEAN] = "TIMING",
    [OXL_ADV_REAR_LEAN] = "TIME TAKEN",
    [OXL_ADV_REAR_HELD] = "REAR HELD",
    [OXL_ADV_RECOVER] = "WAIT",
    [OXL_ADV_START_ENGINE] = "START THE ENGINE",
    [OXL_ADV_REWARM] = "WARM IT AGAIN",
    [OXL_ADV_SECONDARY_AIR] = "WAIT",
    [OXL_ADV_TRIM_FROZEN] = "TRIM IS FROZEN",
    [OXL_ADV_CROSSED] = "CHECK THE PLUGS",
    [OXL_ADV_LEAK_STEADY] = "KEEP IT STEADY",
    [OXL_ADV_LEAK_COVER] = "COVER IT NOW",
    [OXL_ADV_LEAK_UNCOVER] = "UNCOVER IT NOW",
    [OXL_ADV_LEAK_OFFER] = "PRESS L",
    [OXL_ADV_DEEPER_OFFER] = "ONE RUN MORE",
    [OXL_ADV_DEEPER_ADD] = "OPEN BRISKLY",
    [OXL_ADV_DEEPER_MORE] = "MORE GAS",
    [OXL_ADV_DEEPER_HOLD] = "HOLD IT RICH",
    [OXL_ADV_LINK_TROUBLE] = "NO DATA",
    [OXL_ADV_SHUT_VALVE] = "SHUT THE VALVE",
    [OXL_ADV_VALVE_DRIPS] = "SHUT THE CYLINDER",
    [OXL_ADV_ENGINE_STOPPED] = "SHUT THE VALVE",
    [OXL_ADV_LET_IDLE] = "LET IT IDLE",
    [OXL_ADV_CHECK_STOPS] = "NOT YET: SEE STOP",
    [OXL_ADV_UNSUITABLE] = "CANNOT BE TESTED",
    [OXL_ADV_FINISHED] = "FINISHED",
    [OXL_ADV_ABORTED] = "STOPPED",
};

static const enum oxl_advice at_start_of[OXL_STATE_COUNT] = {
    [OXL_STATE_PRECHECK] = OXL_ADV_CONNECTING,    [OXL_STATE_BASELINE] = OXL_ADV_STEADY,
    [OXL_STATE_ENRICHMENT] = OXL_ADV_ADD_GAS,     [OXL_STATE_RELEASE] = OXL_ADV_CUT,
    [OXL_STATE_TIMING] = OXL_ADV_FRONT_LEAN,      [OXL_STATE_RECOVERY] = OXL_ADV_RECOVER,
    [OXL_STATE_DONE] = OXL_ADV_FINISHED,          [OXL_STATE_STOPPED] = OXL_ADV_ABORTED,
    [OXL_STATE_LEAK_CHECK] = OXL_ADV_LEAK_STEADY,
};

static const struct {
    const char *words;
    enum oxl_ink band;
} verdicts[] = {
    [OXL_VERDICT_INCONCLUSIVE] = {"INCONCLUSIVE", OXL_INK_BAND_CAUTION},
    [OXL_VERDICT_BAD] = {"BAD", OXL_INK_BAND_STOP},
    [OXL_VERDICT_QUESTIONABLE] = {"QUESTIONABLE", OXL_INK_BAND_CAUTION},
    [OXL_VERDICT_GOOD] = {"GOOD", OXL_INK_BAND_GOOD},
};

bool oxl_headline_is_note(enum oxl_advice a)
{
    return words[a] == NULL;
}

bool oxl_headline_link_is_down(const struct oxl_model *m)
{
    return m->link == OXL_LINK_STALLED || m->link == OXL_LINK_LOST || m->no_data;
}

static enum oxl_ink band_for(enum oxl_advice a)
{
    if (a == OXL_ADV_CUT || a == OXL_ADV_CUT_HEAT || a == OXL_ADV_BACK_OFF ||
        a == OXL_ADV_STUMBLE || a == OXL_ADV_UNSUITABLE || a == OXL_ADV_ABORTED ||
        a == OXL_ADV_SHUT_VALVE || a == OXL_ADV_VALVE_DRIPS || a == OXL_ADV_ENGINE_STOPPED)
        return OXL_INK_BAND_STOP;
    return oxl_advice_is_caution(a) ? OXL_INK_BAND_CAUTION : OXL_INK_ACTION;
}

static void say(struct oxl_headline *out, enum oxl_advice a, const char *detail)
{
    bool caution = oxl_advice_is_caution(a);
    out->words = words[a];
    out->band = band_for(a);
    out->sentence_ink = caution ? OXL_INK_CAUTION : OXL_INK_TEXT;
    snprintf(out->sentence, sizeof out->sentence, "%s%s%s%s", caution ? "! " : "",
             oxl_advice_text(a), detail[0] ? " " : "", detail);
}

static bool note_is_fresh(const struct oxl_model *m)
{
    return m->has_note && m->around.now_us - m->note_us <= m->note_s * INT64_C(1000000);
}

void oxl_headline(const struct oxl_model *m, struct oxl_headline *out)
{
    bool over = m->state == OXL_STATE_DONE || m->state == OXL_STATE_STOPPED;
    if (!over && oxl_headline_link_is_down(m)) {
        say(out, OXL_ADV_LINK_TROUBLE, "");
        return;
    }
    if (m->has_action)
        say(out, m->action, m->action_detail);
    else
        say(out, at_start_of[m->state], "");
    if (m->state == OXL_STATE_STOPPED && out->band != OXL_INK_BAND_STOP)
        say(out, OXL_ADV_ABORTED, "");
    if (m->state == OXL_STATE_DONE && m->has_result &&
        (unsigned)m->result.verdict <= OXL_VERDICT_GOOD) {
        out->words = verdicts[m->result.verdict].words;
        out->band = verdicts[m->result.verdict].band;
        snprintf(out->sentence, sizeof out->sentence, "%s", oxl_advice_text(OXL_ADV_FINISHED));
        out->sentence_ink = OXL_INK_ACTION;
    }
    if (!over && note_is_fresh(m)) {
        snprintf(out->sentence, sizeof out->sentence, "%s%s", m->note_is_caution ? "! " : "* ",
                 m->note);
        out->sentence_ink = m->note_is_caution ? OXL_INK_CAUTION : OXL_INK_KEY;
    }
}
