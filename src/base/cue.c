#include "oxylag/cue.h"

const char *oxl_cue_name(enum oxl_cue c)
{
    static const char *const names[] = {
#define X(id, name, strokes) name,
        OXL_CUES(X)
#undef X
    };
    return names[c];
}

int oxl_cue_strokes(enum oxl_cue c)
{
    static const int of[] = {
#define X(id, name, strokes) strokes,
        OXL_CUES(X)
#undef X
    };
    return of[c];
}

bool oxl_cue_is_urgent(enum oxl_cue c)
{
    return c == OXL_CUE_CUT || c == OXL_CUE_SHUT;
}

/* What has a sound of its own; else the hand at the valve decides, then whether it is a caution. */
enum oxl_cue oxl_cue_of(enum oxl_advice a)
{
    switch (a) {
    case OXL_ADV_SLOW:
        return OXL_CUE_SLOW;
    case OXL_ADV_CUT:
    case OXL_ADV_CUT_HEAT:
        return OXL_CUE_CUT;
    case OXL_ADV_FRONT_LEAN:
        return OXL_CUE_FRONT_LEAN;
    case OXL_ADV_REAR_LEAN:
    case OXL_ADV_REAR_HELD: /* the timing is over as well */
        return OXL_CUE_REAR_LEAN;
    case OXL_ADV_LINK_TROUBLE: /* while gas may flow, SHUT_VALVE is said instead of these two */
    case OXL_ADV_ABORTED:
        return OXL_CUE_TROUBLE;
    case OXL_ADV_ABORT_AGAIN: /* answers to a key: somebody looks already */
    case OXL_ADV_OVERRIDE:
        return OXL_CUE_NONE;
    default:
        break;
    }
    switch (oxl_advice_hand(a)) {
    case OXL_HAND_SHUT:
        return OXL_CUE_SHUT;
    case OXL_HAND_HOLD:
        return OXL_CUE_HOLD;
    case OXL_HAND_LESS:
        return OXL_CUE_LESS;
    default:
        return oxl_advice_is_caution(a) ? OXL_CUE_TROUBLE : OXL_CUE_NONE;
    }
}
