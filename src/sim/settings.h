/* Settings of the simulator's parts. Each part has one table, SETTINGS(D, U, B, T), that makes the
 * members of its struct and the rows by which a scenario sets them: D a double and U an unsigned
 * with least, most and default, B a bool and T a text (its room) with its default.
 */
#ifndef OXL_SIM_SETTINGS_H
#define OXL_SIM_SETTINGS_H

#include <stdbool.h>
#include <stddef.h>

#define OXL_SETTING_D(field, low, high, number) double field;
#define OXL_SETTING_U(field, low, high, number) unsigned field;
#define OXL_SETTING_B(field, yes)               bool field;
#define OXL_SETTING_T(field, size, text)        char field[size];
#define OXL_SETTING_MEMBERS(SETTINGS)                                                              \
    SETTINGS(OXL_SETTING_D, OXL_SETTING_U, OXL_SETTING_B, OXL_SETTING_T)

/* One setting of a scenario: where a key's value goes. kinds: d double, u unsigned, b bool
 * (yes/no), t text of size `size`. */
struct oxl_setting {
    const char *section, *key;
    char kind;
    size_t offset, size;
    double min, max;
    double number; /* its default; of a bool 1: yes */
    const char *text;
};
/* Gives each setting of a table its default. */
void oxl_settings_default(const struct oxl_setting *table, size_t n, void *settings);

/* A part's table, how long it is, and its defaults. */
#define OXL_SETTING_TABLE(part)                                                                    \
    extern const struct oxl_setting oxl_##part##_setting_table[];                                  \
    extern const size_t oxl_##part##_setting_count;                                                \
    void oxl_##part##_defaults(struct oxl_##part##_settings *s)

#endif
