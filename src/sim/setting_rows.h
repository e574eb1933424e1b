/* Rows of a table of settings: their key, type, range and default. Before it is included: SECTION
 * of a scenario that they are keys of, SETTINGS the struct that they are in. */
#include <stddef.h>

#define SETTING(key, field, kind, low, high, number, text)                                         \
    {                                                                                              \
        SECTION, key, kind, offsetof(SETTINGS, field), sizeof(((SETTINGS *)0)->field), low, high,  \
            number, text                                                                           \
    }
#define D(field, low, high, number) SETTING(#field, field, 'd', low, high, number, "")
#define U(field, low, high, number) SETTING(#field, field, 'u', low, high, number, "")
#define B(field, yes)               SETTING(#field, field, 'b', 0, 1, yes, "")
#define T(field, text)              SETTING(#field, field, 't', 0, 0, 0, text)
