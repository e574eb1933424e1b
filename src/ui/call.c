/* What is to be heard of a model: a cue and words when the headline changes, and how deep the gas
 * is. */
#include "oxylag/ui.h"

#include <math.h>

#include "headline.h"
#include "model.h"

void oxl_model_hear(struct oxl_model *m, enum oxl_advice a)
{
    const enum oxl_cue cue = oxl_cue_of(a);
    const bool kept = oxl_cue_is_urgent(m->said_cue) ||
                      (m->said_cue == OXL_CUE_REAR_LEAN && !oxl_cue_is_urgent(cue));
    if (cue != OXL_CUE_NONE && !kept)
        m->said_cue = cue;
}

/* What was said and is covered by now (the rear is lean, and the next step has begun), or is no
 * headline at all, is heard all the same; but nothing beside a valve that is to be shut, and HOLD,
 * then WAIT_RICH, is one call. */
bool oxl_model_call(struct oxl_model *m, struct oxl_call *out)
{
    const struct oxl_headline h = oxl_headline(m);
    enum oxl_cue cue = oxl_cue_of(h.advice), said = m->said_cue;
    bool other = h.words != m->called_words;
    /* That the timing is over comes first; what is offered in the same moment is heard next. */
    if (said == OXL_CUE_REAR_LEAN && cue != said && m->action == h.advice &&
        !oxl_cue_is_urgent(cue))
        out->cue = cue = said;
    else if (cue != OXL_CUE_NONE && (other || cue != m->called_cue))
        out->cue = cue;
    else
        out->cue = said == cue || oxl_cue_is_urgent(cue) ? OXL_CUE_NONE : said;
    out->words = other ? h.words : NULL;
    m->called_words = h.words;
    m->called_cue = cue;
    m->said_cue = OXL_CUE_NONE;
    return other || out->cue != OXL_CUE_NONE;
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
