/* What the data cannot show: the rows of docs/patterns.md that a person has to rule out. */
#include "oxylag/measure.h"
#include "oxylag/reason.h"

enum { MOST = 4 };

#define NEW                                                                                        \
    "A new converter, or one fouled by much sulphur: drive it hot for 10 to 60 minutes and "       \
    "repeat the test."
#define SECOND_BRICK                                                                               \
    "A second brick behind the rear sensor: this test judges only what lies ahead of it."
#define PLUGGED                                                                                    \
    "A plugged converter can still store oxygen: where power is missing, measure the back "        \
    "pressure."
#define LOOSE "A loose brick or a damaged shell: tap it and listen."
#define HOLLOW                                                                                     \
    "A hollow or melted substrate: tap the shell, look in from both ends, measure the back "       \
    "pressure."

static const char *const lines[OXL_CONCLUSIONS][MOST] = {
    [OXL_CONCLUSION_BAD] = {NEW, HOLLOW, SECOND_BRICK},
    [OXL_CONCLUSION_NOT_GOOD] = {NEW, HOLLOW, SECOND_BRICK},
    [OXL_CONCLUSION_QUESTIONABLE] = {NEW, SECOND_BRICK},
    [OXL_CONCLUSION_NOT_BAD] = {PLUGGED, LOOSE},
    [OXL_CONCLUSION_GOOD] = {PLUGGED, LOOSE},
};

const char *oxl_other_cause(unsigned conclusion, size_t i)
{
    if (conclusion >= OXL_CONCLUSIONS || i >= MOST)
        return NULL;
    return lines[conclusion][i];
}
