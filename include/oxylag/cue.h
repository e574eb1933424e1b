/* Cue: what a moment sounds like, for those whose eyes are on the valve. The terminal's bell, the
 * sounds and the voice all have it from here.
 */
#ifndef OXYLAG_CUE_H
#define OXYLAG_CUE_H

#include "oxylag/event.h"

/* X(id, name, strokes of the terminal's bell) */
#define OXL_CUES(X)                                                                                \
    X(NONE, "none", 0)                                                                             \
    X(SLOW, "slow", 0)                                                                             \
    X(HOLD, "hold", 1)                                                                             \
    X(LESS, "less", 1) /* close the valve a little */                                              \
    X(CUT, "cut", 3)                                                                               \
    X(FRONT_LEAN, "front-lean", 0)                                                                 \
    X(REAR_LEAN, "rear-lean", 2)                                                                   \
    X(SHUT, "shut", 3)                                                                             \
    X(TROUBLE, "trouble", 1) /* look at the screen */

enum oxl_cue {
#define X(id, name, strokes) OXL_CUE_##id,
    OXL_CUES(X)
#undef X
        OXL_CUE_COUNT
};
const char *oxl_cue_name(enum oxl_cue c);
int oxl_cue_strokes(enum oxl_cue c);
enum oxl_cue oxl_cue_of(enum oxl_advice a);
/* The cue cannot wait and is not covered by another: a valve is to be shut. */
bool oxl_cue_is_urgent(enum oxl_cue c);

#endif
