/* Stable names of the enumerations that files, programs and screens show. */
#include <stdio.h>
#include <string.h>

#include "oxylag/channel.h"
#include "oxylag/event.h"
#include "oxylag/measure.h"
#include "oxylag/poll.h"

static const struct {
    const char *stem, *unit;
} quantities[OXL_Q_COUNT] = {
#define X(id, name, unit) [OXL_Q_##id] = {name, unit},
    OXL_QUANTITIES(X)
#undef X
        [OXL_Q_NONE] = {"none", ""},
};

void oxl_channel_name(struct oxl_channel c, char *out, unsigned n)
{
    char place[16] = "";
    unsigned q = c.quantity < OXL_Q_COUNT ? c.quantity : (unsigned)OXL_Q_NONE;
    if (c.bank && c.sensor)
        snprintf(place, sizeof place, "_b%us%u", (unsigned)c.bank, (unsigned)c.sensor);
    else if (c.bank)
        snprintf(place, sizeof place, "_b%u", (unsigned)c.bank);
    snprintf(out, n, "%s%s%s%s", quantities[q].stem, place, quantities[q].unit[0] ? "_" : "",
             quantities[q].unit);
}

bool oxl_channel_from_name(const char *name, struct oxl_channel *out)
{
    char other[48];
    for (unsigned q = OXL_Q_NONE + 1; q < OXL_Q_COUNT; q++)
        for (unsigned place = 0; place < (OXL_BANKS + 1) * (OXL_SENSORS + 1); place++) {
            struct oxl_channel c = oxl_channel((enum oxl_quantity)q, place / (OXL_SENSORS + 1),
                                               place % (OXL_SENSORS + 1));
            oxl_channel_name(c, other, sizeof other);
            if (strcmp(name, other) == 0 && (c.bank || !c.sensor)) {
                *out = c;
                return true;
            }
        }
    return false;
}

const char *oxl_state_name(enum oxl_state s)
{
    static const char *const names[OXL_STATE_COUNT] = {
#define X(id, name, advice) name,
        OXL_STATES(X)
#undef X
    };
    return names[s];
}

const char *oxl_link_state_name(enum oxl_link_state s)
{
    static const char *const names[] = {"closed",  "waking", "searching",  "survey",    "ready",
                                        "stalled", "lost",   "no adapter", "no vehicle"};
    return names[s];
}

const char *oxl_verdict_name(enum oxl_verdict v)
{
    static const char *const names[] = {"inconclusive", "bad", "questionable", "good"};
    return names[v];
}

static const struct {
    const char *name, *shown;
} conclusions[OXL_CONCLUSIONS] = {
    [OXL_CONCLUSION_NONE] = {"inconclusive", "INCONCLUSIVE"},
    [OXL_CONCLUSION_BAD] = {"bad", "BAD"},
    [OXL_CONCLUSION_NOT_GOOD] = {"not good", "NOT GOOD"},
    [OXL_CONCLUSION_QUESTIONABLE] = {"questionable", "QUESTIONABLE"},
    [OXL_CONCLUSION_NOT_BAD] = {"not bad", "NOT BAD"},
    [OXL_CONCLUSION_GOOD] = {"good", "GOOD"},
};

const char *oxl_conclusion_name(enum oxl_conclusion c)
{
    return conclusions[c].name;
}

const char *oxl_conclusion_shown(enum oxl_conclusion c)
{
    return conclusions[c].shown;
}

const char *oxl_grade_name(enum oxl_grade g)
{
    static const char *const names[] = {"unknown", "pass", "caution", "stop"};
    return names[g];
}

static const struct {
    const char *code, *headline, *text;
    bool caution;
    enum oxl_hand hand;
} advices[OXL_ADV_COUNT] = {
#define X(id, code, caution, hand, headline, text)                                                 \
    [OXL_ADV_##id] = {code, headline, text, caution, OXL_HAND_##hand},
    OXL_ADVICES(X)
#undef X
};

const char *oxl_advice_code(enum oxl_advice a)
{
    return advices[a].code;
}

const char *oxl_advice_text(enum oxl_advice a)
{
    return advices[a].text;
}

bool oxl_advice_is_caution(enum oxl_advice a)
{
    return advices[a].caution;
}

const char *oxl_advice_headline(enum oxl_advice a)
{
    return advices[a].headline;
}

enum oxl_hand oxl_advice_hand(enum oxl_advice a)
{
    return advices[a].hand;
}

const char *oxl_hand_name(enum oxl_hand h)
{
    static const char *const names[] = {"as-it-is", "open", "more",      "hold",
                                        "less",     "shut", "stay-shut", "other"};
    return names[h];
}
