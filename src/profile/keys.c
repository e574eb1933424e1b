#include "keys.h"

#include <math.h>
#include <string.h>

#define AT(member) offsetof(struct oxl_profile, member), sizeof(((struct oxl_profile *)0)->member)
#define NUMBER(section, member, min, max, number)                                                  \
    {                                                                                              \
        section, #member, OXL_KEY_NUMBER, AT(member), min, max, number, NULL                       \
    }
#define UNKNOWN(section, member, min, max)                                                         \
    {                                                                                              \
        section, #member, OXL_KEY_NUMBER_OR_UNKNOWN, AT(member), min, max, NAN, NULL               \
    }
#define COUNT(section, member, min, max, number)                                                   \
    {                                                                                              \
        section, #member, OXL_KEY_COUNT, AT(member), min, max, number, NULL                        \
    }
#define WORD(section, member, words)                                                               \
    {                                                                                              \
        section, #member, OXL_KEY_WORD, AT(member), 0, 0, 0, words                                 \
    }

/* Meaning, unit and origin of every key: docs/profiles.md. The limits keep nonsense out; they are
 * no advice. */
const struct oxl_key oxl_keys[OXL_KEYS] = {
    {"profile", "name", OXL_KEY_NAME, AT(name), 0, 0, 0, "default"},
    {"profile", "title", OXL_KEY_TEXT, AT(title), 0, 0, 0, "defaults of the program"},
    WORD("match", front, "any wide switching"),
    WORD("match", air, "any meter speed-density none"),
    WORD("match", link, "any can kline"),
    NUMBER("conditions", coolant_min_c, 0, 120, 70),
    NUMBER("conditions", run_time_min_s, 0, 3600, 120),
    NUMBER("conditions", cat_temp_min_c, 0, 800, 350),
    NUMBER("conditions", rpm_max, 500, 6000, 3200),
    NUMBER("conditions", rpm_band, 10, 1000, 150),
    NUMBER("conditions", trim_abs_max_pct, 1, 50, 10),
    NUMBER("conditions", idle_restart_s, 30, 7200, 480),
    NUMBER("baseline", band_pct, 0.5, 40, 8),
    NUMBER("baseline", window_s, 2, 60, 10),
    NUMBER("baseline", opening_max_pct, 2, 50, 20),
    NUMBER("baseline", baseline_limit_s, 10, 3600, 600),
    NUMBER("enrichment", target_pct, -40, -5, -20),
    NUMBER("enrichment", accept_low_pct, -45, -5, -25),
    NUMBER("enrichment", accept_high_pct, -40, -2, -15),
    NUMBER("enrichment", slow_pct, -40, -2, -17),
    NUMBER("enrichment", back_off_pct, -50, -5, -30),
    NUMBER("enrichment", rpm_drop_pct, 2, 50, 15),
    NUMBER("enrichment", hold_s, 0, 30, 2),
    NUMBER("enrichment", enrich_limit_s, 5, 300, 60),
    NUMBER("deeper", deeper_target_pct, -45, -5, -28),
    NUMBER("deeper", deeper_deepest_pct, -50, -5, -32),
    NUMBER("deeper", deeper_lambda_min, 0.75, 0.99, 0.87),
    NUMBER("deeper", deeper_dose, 1, 10, 2.0),
    NUMBER("deeper", deeper_limit_s, 1, 20, 15),
    NUMBER("deeper", deeper_blind_limit_s, 1, 20, 10),
    NUMBER("deeper", deeper_cat_max_c, 400, 950, 750),
    NUMBER("deeper", deeper_offer_s, 5, 600, 60),
    NUMBER("sensors", switch_v, 0.1, 1, 0.450),
    NUMBER("sensors", rich_v, 0.1, 1.2, 0.500),
    NUMBER("sensors", lean_v, 0.05, 1, 0.400),
    NUMBER("sensors", lambda_step, 0.001, 0.2, 0.01),
    NUMBER("sensors", lambda_balance, 0.9, 1.1, 1.0),
    UNKNOWN("sensors", balance_v, 0, 8),
    NUMBER("sensors", balance_ma, -10, 10, 0),
    NUMBER("sensors", front_tau_s, 0, 2, 0.10),
    NUMBER("sensors", rear_tau_s, 0, 2, 0.15),
    NUMBER("timing", release_limit_s, 2, 120, 15),
    NUMBER("timing", timing_limit_s, 5, 300, 30),
    NUMBER("timing", recovery_limit_s, 5, 900, 120),
    COUNT("timing", runs, 1, 9, 3),
    NUMBER("timing", run_rpm_band, 5, 500, 50),
    UNKNOWN("air", displacement_l, 0.1, 20),
    NUMBER("air", volumetric_eff, 0.2, 1.5, 0.75),
    NUMBER("air", volumetric_eff_err, 0, 0.5, 0.15),
    NUMBER("air", air_err, 0, 0.5, 0.05),
    NUMBER("air", humidity_ratio, 0, 0.05, 0.008),
    NUMBER("air", path_volume_l, 0, 20, 1.2),
    NUMBER("air", path_volume_err, 0, 1, 0.5),
    NUMBER("air", exhaust_c, 50, 1000, 430),
    NUMBER("air", engine_delay_s, 0, 3, 0.40),
    NUMBER("air", gas_tail_s, 0, 5, 0.40),
    NUMBER("air", lambda_err, 0, 0.1, 0.01),
    NUMBER("limits", bad_s, 0.1, 100, 2),
    NUMBER("limits", good_s, 0.1, 100, 7),
    NUMBER("limits", bad_g_per_g_s, 0.001, 5, 0.044),
    NUMBER("limits", good_g_per_g_s, 0.001, 5, 0.137),
    {"limits", "limits_origin", OXL_KEY_TEXT, AT(limits_origin), 0, 0, 0,
     "common practice, no published source"},
};

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
