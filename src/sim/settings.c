/* The tables of settings as rows, and their defaults. */
#include <math.h>
#include <string.h>

#include "sim/scenario.h"

#define ROW(key, field, kind, low, high, number, text)                                             \
    {SECTION, key,    kind, offsetof(SETTINGS, field), sizeof(((SETTINGS *)0)->field), low,        \
     high,    number, text},
#define D(field, low, high, number) ROW(#field, field, 'd', low, high, number, "")
#define U(field, low, high, number) ROW(#field, field, 'u', low, high, number, "")
#define B(field, yes)               ROW(#field, field, 'b', 0, 1, yes, "")
#define T(field, size, text)        ROW(#field, field, 't', 0, 0, 0, text)

#define TABLE(part, ROWS)                                                                          \
    const struct oxl_setting oxl_##part##_setting_table[] = {ROWS(D, U, B, T)};                    \
    const size_t oxl_##part##_setting_count =                                                      \
        sizeof oxl_##part##_setting_table / sizeof oxl_##part##_setting_table[0];                  \
    void oxl_##part##_defaults(struct oxl_##part##_settings *s)                                    \
    {                                                                                              \
        memset(s, 0, sizeof *s);                                                                   \
        oxl_settings_default(oxl_##part##_setting_table, oxl_##part##_setting_count, s);           \
    }

#define SECTION  "plant"
#define SETTINGS struct oxl_plant_settings
TABLE(plant, OXL_PLANT_SETTINGS)
#undef SECTION
#undef SETTINGS

#define SECTION  "adapter"
#define SETTINGS struct oxl_adapter_settings
TABLE(adapter, OXL_ADAPTER_SETTINGS)
#undef SECTION
#undef SETTINGS

/* NOLINTBEGIN(bugprone-macro-parentheses): names of members stand in no parentheses */
#define GROUPS(stem, field)                                                                        \
    ROW(stem "front_ms", field[OXL_REFRESH_FRONT], 'd', 0, 10000, 0, "")                           \
    ROW(stem "rear_ms", field[OXL_REFRESH_REAR], 'd', 0, 10000, 0, "")                             \
    ROW(stem "trims_ms", field[OXL_REFRESH_TRIMS], 'd', 0, 10000, 0, "")                           \
    ROW(stem "rest_ms", field[OXL_REFRESH_REST], 'd', 0, 10000, 0, "")
/* NOLINTEND(bugprone-macro-parentheses) */
#define ECU_ROWS(D, U, B, T)                                                                       \
    OXL_ECU_SETTINGS(D, U, B, T) GROUPS("refresh_", refresh_ms) GROUPS("phase_", refresh_phase_ms)
#define SECTION  "ecu"
#define SETTINGS struct oxl_ecu_settings
TABLE(ecu, ECU_ROWS)
#undef SECTION
#undef SETTINGS

#define SECTION  "technician"
#define SETTINGS struct oxl_tech_settings
TABLE(tech, OXL_TECH_SETTINGS)
