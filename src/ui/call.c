/* What is to be heard of a model: a cue and words when the headline changes, and how deep the gas
 * is. */
#include "oxylag/ui.h"

#include <math.h>

#include "headline.h"
#include "model.h"

bool oxl_model_call(struct oxl_model *m, struct oxl_call *out)
{
    struct oxl_headline h;
    oxl_headline(m, &h);
    bool said = h.words != m->called_words;
    enum oxl_cue cue = oxl_cue_of(h.advice), note = m->note_cue;
    /* The same call in other words of the same kind is one call: HOLD, then WAIT_RICH. */
    bool changed = said || cue != oxl_cue_of(m->called);
    m->called = h.advice;
    m->called_words = h.words;
    m->note_cue = OXL_CUE_NONE;
    out->cue = changed && cue != OXL_CUE_NONE ? cue : note;
    out->words = said ? h.words : NULL;
    return said || out->cue != OXL_CUE_NONE;
}

double oxl_model_depth(const struct oxl_model *m)
{
    enum oxl_advice a = oxl_headline_advice(m);
    if (m->state != OXL_STATE_ENRICHMENT || a == OXL_ADV_DEPTH_UNKNOWN ||
        a == OXL_ADV_LINK_TROUBLE || oxl_advice_hand(a) == OXL_HAND_SHUT)
        return NAN;
    double depth = m->live.shift_pct / m->live.target_pct;
    return depth < 0 ? 0 : depth;
}
