/* What the data cannot show: the rows of docs/patterns.md that a person has to rule out. */
#include "oxylag/measure.h"
#include "oxylag/reason.h"

enum { MOST = 4 };

static const char *const lines[][MOST] = {
    [OXL_VERDICT_INCONCLUSIVE] = {NULL},
    [OXL_VERDICT_BAD] =
        {
            "A new converter, or one fouled by much sulphur: drive it hot for 10 to 60 minutes and "
            "repeat the test.",
            "A hollow or melted substrate: tap the shell, look in from both ends, measure the back "
            "pressure.",
            "A second brick behind the rear sensor: this test judges only what lies ahead of it.",
        },
    [OXL_VERDICT_QUESTIONABLE] =
        {
            "A new converter, or one fouled by much sulphur: drive it hot for 10 to 60 minutes and "
            "repeat the test.",
            "A second brick behind the rear sensor: this test judges only what lies ahead of it.",
        },
    [OXL_VERDICT_GOOD] =
        {
            "A plugged converter can still store oxygen: where power is missing, measure the back "
            "pressure.",
            "A loose brick or a damaged shell: tap it and listen.",
        },
};

const char *oxl_other_cause(unsigned verdict, size_t i)
{
    if (verdict >= sizeof lines / sizeof lines[0] || i >= MOST)
        return NULL;
    return lines[verdict][i];
}
