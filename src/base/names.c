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
    [OXL_Q_NONE] = {"none", ""},
    [OXL_Q_STFT_PCT] = {"stft", "pct"},
    [OXL_Q_LTFT_PCT] = {"ltft", "pct"},
    [OXL_Q_REAR_STFT_PCT] = {"rear_stft", "pct"},
    [OXL_Q_REAR_LTFT_PCT] = {"rear_ltft", "pct"},
    [OXL_Q_O2_V] = {"o2", "v"},
    [OXL_Q_O2_TRIM_PCT] = {"o2_trim", "pct"},
    [OXL_Q_LAMBDA] = {"lambda", ""},
    [OXL_Q_WIDE_V] = {"wide", "v"},
    [OXL_Q_WIDE_MA] = {"wide", "ma"},
    [OXL_Q_CAT_TEMP_C] = {"cat_temp", "c"},
    [OXL_Q_FUEL_SYSTEM] = {"fuel_system", ""},
    [OXL_Q_LOAD_PCT] = {"load", "pct"},
    [OXL_Q_COOLANT_C] = {"coolant", "c"},
    [OXL_Q_MAP_KPA] = {"map", "kpa"},
    [OXL_Q_RPM] = {"rpm", ""},
    [OXL_Q_SPEED_KMH] = {"speed", "kmh"},
    [OXL_Q_INTAKE_C] = {"intake", "c"},
    [OXL_Q_AIR_G_S] = {"air", "g_s"},
    [OXL_Q_THROTTLE_PCT] = {"throttle", "pct"},
    [OXL_Q_SECONDARY_AIR] = {"secondary_air", ""},
    [OXL_Q_RUN_TIME_S] = {"run_time", "s"},
    [OXL_Q_COMMANDED_LAMBDA] = {"commanded_lambda", ""},
    [OXL_Q_FUEL_TYPE] = {"fuel_type", ""},
    [OXL_Q_FUEL_RATE_L_H] = {"fuel_rate", "l_h"},
    [OXL_Q_MODULE_V] = {"module", "v"},
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
    const char *code, *text;
    bool caution;
} advices[OXL_ADV_COUNT] = {
#define X(id, code, caution, text) [OXL_ADV_##id] = {code, text, caution},
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

enum oxl_hand oxl_advice_hand(enum oxl_advice a)
{
    static const enum oxl_hand hands[OXL_ADV_COUNT] = {
        [OXL_ADV_ADD_GAS] = OXL_HAND_OPEN,
        [OXL_ADV_DEEPER_ADD] = OXL_HAND_OPEN,
        [OXL_ADV_NO_EFFECT] = OXL_HAND_MORE,
        [OXL_ADV_SLOW] = OXL_HAND_MORE,
        [OXL_ADV_MORE] = OXL_HAND_MORE,
        [OXL_ADV_DEEPER_MORE] = OXL_HAND_MORE,
        [OXL_ADV_HOLD] = OXL_HAND_HOLD,
        [OXL_ADV_WAIT_RICH] = OXL_HAND_HOLD,
        [OXL_ADV_DEPTH_UNKNOWN] = OXL_HAND_HOLD,
        [OXL_ADV_DEEPER_HOLD] = OXL_HAND_HOLD,
        [OXL_ADV_TOO_MUCH] = OXL_HAND_LESS,
        [OXL_ADV_BACK_OFF] = OXL_HAND_LESS,
        [OXL_ADV_TRIM_LIMIT] = OXL_HAND_LESS,
        [OXL_ADV_STUMBLE] = OXL_HAND_SHUT,
        [OXL_ADV_CUT] = OXL_HAND_SHUT,
        [OXL_ADV_CUT_HEAT] = OXL_HAND_SHUT,
        [OXL_ADV_STILL_RICH] = OXL_HAND_SHUT,
        [OXL_ADV_RESIDUAL_GAS] = OXL_HAND_SHUT,
        [OXL_ADV_SHUT_VALVE] = OXL_HAND_SHUT,
        [OXL_ADV_VALVE_DRIPS] = OXL_HAND_SHUT,
        [OXL_ADV_ENGINE_STOPPED] = OXL_HAND_SHUT,
        [OXL_ADV_LINK_TROUBLE] = OXL_HAND_SHUT,
        [OXL_ADV_ABORTED] = OXL_HAND_SHUT,
        [OXL_ADV_UNSUITABLE] = OXL_HAND_STAY_SHUT,
        [OXL_ADV_STEADY] = OXL_HAND_STAY_SHUT,
        [OXL_ADV_NOT_STEADY] = OXL_HAND_STAY_SHUT,
        [OXL_ADV_RECOVER] = OXL_HAND_STAY_SHUT,
        [OXL_ADV_FRONT_LEAN] = OXL_HAND_STAY_SHUT,
        [OXL_ADV_REAR_LEAN] = OXL_HAND_STAY_SHUT,
        [OXL_ADV_REAR_HELD] = OXL_HAND_STAY_SHUT,
        [OXL_ADV_FINISHED] = OXL_HAND_STAY_SHUT,
        [OXL_ADV_WAIT_WARM] = OXL_HAND_OTHER,
        [OXL_ADV_REWARM] = OXL_HAND_OTHER,
        [OXL_ADV_START_ENGINE] = OXL_HAND_OTHER,
        [OXL_ADV_LET_IDLE] = OXL_HAND_OTHER,
        [OXL_ADV_STAND_STILL] = OXL_HAND_OTHER,
        [OXL_ADV_OPENING_TOO_LARGE] = OXL_HAND_OTHER,
        [OXL_ADV_PROVE_REAR] = OXL_HAND_OTHER,
        [OXL_ADV_CROSSED] = OXL_HAND_OTHER,
        [OXL_ADV_CHECK_STOPS] = OXL_HAND_OTHER,
        [OXL_ADV_LEAK_COVER] = OXL_HAND_OTHER,
        [OXL_ADV_LEAK_UNCOVER] = OXL_HAND_OTHER,
        [OXL_ADV_LEAK_OFFER] = OXL_HAND_OTHER,
        [OXL_ADV_ASK_NEW] = OXL_HAND_OTHER,
        [OXL_ADV_DEEPER_OFFER] = OXL_HAND_OTHER,
    };
    return hands[a];
}

const char *oxl_hand_name(enum oxl_hand h)
{
    static const char *const names[] = {"as-it-is", "open", "more",      "hold",
                                        "less",     "shut", "stay-shut", "other"};
    return names[h];
}
