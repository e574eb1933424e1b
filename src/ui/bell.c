#include "oxylag/ui.h"

enum oxl_bell oxl_bell_for(const struct oxl_event *ev)
{
    if (ev->kind != OXL_EV_ADVICE)
        return OXL_BELL_NONE;
    switch (ev->u.advice.advice) {
    case OXL_ADV_HOLD:
    case OXL_ADV_DEEPER_OFFER:
    case OXL_ADV_DEEPER_HOLD:
        return OXL_BELL_HOLD;
    case OXL_ADV_CUT:
    case OXL_ADV_CUT_HEAT:
    case OXL_ADV_STUMBLE:
    case OXL_ADV_SHUT_VALVE:
    case OXL_ADV_VALVE_DRIPS:
    case OXL_ADV_ENGINE_STOPPED:
        return OXL_BELL_CUT;
    case OXL_ADV_REAR_LEAN:
    case OXL_ADV_REAR_HELD: /* the timing is over as well */
        return OXL_BELL_REAR_LEAN;
    default:
        return OXL_BELL_NONE;
    }
}
