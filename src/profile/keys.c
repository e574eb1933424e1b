#include "keys.h"

#include <math.h>
#include <string.h>

#define AT(member) offsetof(struct oxl_profile, member), sizeof(((struct oxl_profile *)0)->member)
#define NUMBER(section, member, min, max, number)                                                  \
    {section, #member, OXL_KEY_NUMBER, AT(member), min, max, number, NULL},
#define UNKNOWN(section, member, min, max)                                                         \
    {section, #member, OXL_KEY_NUMBER_OR_UNKNOWN, AT(member), min, max, NAN, NULL},
#define COUNT(section, member, min, max, number)                                                   \
    {section, #member, OXL_KEY_COUNT, AT(member), min, max, number, NULL},
#define TEXT(section, member, size, text)                                                          \
    {section, #member, OXL_KEY_TEXT, AT(member), 0, 0, 0, text},
#define WORD(section, member, words)                                                               \
    {                                                                                              \
        section, #member, OXL_KEY_WORD, AT(member), 0, 0, 0, words                                 \
    }

const struct oxl_key oxl_keys[OXL_KEYS] = {
    {"profile", "name", OXL_KEY_NAME, AT(name), 0, 0, 0, "default"},
    {"profile", "title", OXL_KEY_TEXT, AT(title), 0, 0, 0, "defaults of the program"},
    WORD("match", front, "any wide switching"),
    WORD("match", air, "any meter speed-density none"),
    WORD("match", link, "any can kline"),
    OXL_PROFILE_KEYS(NUMBER, UNKNOWN, COUNT, TEXT)};

const struct oxl_key_order oxl_key_orders[OXL_KEY_ORDERS] = {
    {"back_off_pct", "accept_low_pct", false},
    {"accept_low_pct", "target_pct", true},
    {"target_pct", "slow_pct", true},
    {"slow_pct", "accept_high_pct", true},
    {"target_pct", "accept_high_pct", false},
    {"deeper_deepest_pct", "deeper_target_pct", false},
    {"deeper_target_pct", "target_pct", true},
    {"deeper_blind_limit_s", "deeper_limit_s", true},
    {"lean_v", "switch_v", false},
    {"switch_v", "rich_v", false},
    {"hold_s", "enrich_limit_s", false},
    {"window_s", "baseline_limit_s", false},
    {"bad_s", "good_s", false},
    {"good_s", "timing_limit_s", true},
    {"bad_g_per_g_s", "good_g_per_g_s", false},
};

size_t oxl_key_find(const char *section, const char *key)
{
    for (size_t i = 0; i < OXL_KEYS; i++)
        if ((!section || strcmp(oxl_keys[i].section, section) == 0) &&
            strcmp(oxl_keys[i].key, key) == 0)
            return i;
    return OXL_KEYS;
}

double oxl_key_number(const struct oxl_key *k, const struct oxl_profile *p)
{
    const char *at = (const char *)p + k->offset;
    unsigned count;
    double number;
    if (k->kind == OXL_KEY_COUNT) {
        memcpy(&count, at, sizeof count);
        return count;
    }
    memcpy(&number, at, sizeof number);
    return number;
}

void oxl_profile_defaults(struct oxl_profile *p)
{
    memset(p, 0, sizeof *p); /* also the bytes between members and behind texts */
    for (size_t i = 0; i < OXL_KEYS; i++) {
        const struct oxl_key *k = &oxl_keys[i];
        char *at = (char *)p + k->offset;
        unsigned count;
        switch (k->kind) {
        case OXL_KEY_NUMBER:
        case OXL_KEY_NUMBER_OR_UNKNOWN:
            memcpy(at, &k->number, sizeof k->number);
            break;
        case OXL_KEY_COUNT:
            count = (unsigned)k->number;
            memcpy(at, &count, sizeof count);
            break;
        case OXL_KEY_NAME:
        case OXL_KEY_TEXT:
            memcpy(at, k->text, strlen(k->text) + 1);
            break;
        case OXL_KEY_WORD: /* the first word, 0 */
            break;
        }
    }
}
