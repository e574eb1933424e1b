/* Options that are keys at the right moment, so that they are recorded and replayed as such. */
#include "opts.h"

static bool first_run(const struct oxl_event *ev, enum oxl_state state)
{
    return ev->kind == OXL_EV_STATE && ev->u.state.state == state && ev->u.state.run == 1;
}

enum oxl_key oxl_key_by_option(const struct oxl_opts *opts, const struct oxl_event *ev,
                               bool *deeper)
{
    if (opts->pass_stops && ev->kind == OXL_EV_ADVICE && ev->u.advice.advice == OXL_ADV_CHECK_STOPS)
        return OXL_KEY_NOW;
    if (opts->leak_check && first_run(ev, OXL_STATE_TIMING))
        return OXL_KEY_LEAK;
    /* The key takes it back as well: an enrichment that begins anew does not press it again. */
    if (opts->deeper && !*deeper && first_run(ev, OXL_STATE_ENRICHMENT)) {
        *deeper = true;
        return OXL_KEY_DEEPER;
    }
    if (opts->no_deeper && ev->kind == OXL_EV_ADVICE && ev->u.advice.advice == OXL_ADV_DEEPER_OFFER)
        return OXL_KEY_DEEPER; /* while it is on offer: no */
    return OXL_KEY_NONE;
}
