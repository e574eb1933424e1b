#include "wire/words.h"

#include <string.h>

#include "wire/hex.h"

/* ends_data: may come right behind data on the same line, which is then cut off. */
static const struct {
    const char *compact;
    enum oxl_word word;
    bool ends_data;
} table[] = {
    {"OK", OXL_WORD_OK, false},
    {"?", OXL_WORD_UNKNOWN_COMMAND, false},
    {"NODATA", OXL_WORD_NO_DATA, true},
    {"UNABLETOCONNECT", OXL_WORD_UNABLE, true},
    {"CANERROR", OXL_WORD_CAN_ERROR, true},
    {"BUSBUSY", OXL_WORD_BUS_BUSY, true},
    {"BUSERROR", OXL_WORD_BUS_ERROR, true},
    {"FBERROR", OXL_WORD_FB_ERROR, true},
    {"<DATAERROR", OXL_WORD_DATA_ERROR_MARK, true},
    {"<RXERROR", OXL_WORD_RX_ERROR_MARK, true},
    {"DATAERROR", OXL_WORD_DATA_ERROR, true},
    {"BUFFERFULL", OXL_WORD_BUFFER_FULL, true},
    {"STOPPED", OXL_WORD_STOPPED, true},
    {"!ACTALERT", OXL_WORD_ACTIVITY_ALERT, true},
    {"ACTALERT", OXL_WORD_ACTIVITY_ALERT, true},
    {"LVRESET", OXL_WORD_LOW_VOLTAGE_RESET, true},
    {"!LPALERT", OXL_WORD_LOW_POWER_ALERT, true},
    {"LPALERT", OXL_WORD_LOW_POWER_ALERT, true},
};

enum { TABLE_N = sizeof table / sizeof *table };

static bool is_internal_error(const char *s)
{
    return strncmp(s, "ERR", 3) == 0 && oxl_hex_digit(s[3]) >= 0 && oxl_hex_digit(s[4]) >= 0 &&
           s[5] == '\0';
}

enum oxl_word oxl_words_whole(const char *s)
{
    for (size_t i = 0; i < TABLE_N; i++)
        if (strcmp(s, table[i].compact) == 0)
            return table[i].word;
    return is_internal_error(s) ? OXL_WORD_INTERNAL_ERROR : OXL_WORD_NONE;
}

/* "...", ": ..." or nothing. */
static size_t skip_dots(const char *s)
{
    size_t at = s[0] == ':' ? 1 : 0;
    while (s[at] == '.')
        at++;
    return at;
}

static bool starts(const char *s, const char *with)
{
    return strncmp(s, with, strlen(with)) == 0;
}

/* What follows BUS INIT: ... on the same line. */
static size_t bus_init_result(const char *s, enum oxl_word *word)
{
    if (starts(s, "ERROR")) {
        *word = OXL_WORD_BUS_INIT_ERROR;
        return strlen("ERROR");
    }
    return starts(s, "OK") ? strlen("OK") : 0;
}

size_t oxl_words_lead(const char *s, enum oxl_word before, enum oxl_word *word)
{
    *word = OXL_WORD_NONE;
    if (before == OXL_WORD_BUS_INIT) {
        size_t n = bus_init_result(s, word);
        if (n > 0)
            return n;
    }
    if (starts(s, "SEARCHING")) {
        *word = OXL_WORD_SEARCHING;
        return strlen("SEARCHING") + skip_dots(s + strlen("SEARCHING"));
    }
    if (starts(s, "BUSINIT")) {
        *word = OXL_WORD_BUS_INIT;
        size_t at = strlen("BUSINIT");
        at += skip_dots(s + at);
        return at + bus_init_result(s + at, word);
    }
    return 0;
}

enum oxl_word oxl_words_progress(const char *s)
{
    if (strcmp(s, "SEARCHING...") == 0 || strcmp(s, "SEARCHING:...") == 0)
        return OXL_WORD_SEARCHING;
    if (strcmp(s, "BUSINIT:...") == 0 || strcmp(s, "BUSINIT...") == 0)
        return OXL_WORD_BUS_INIT;
    return OXL_WORD_NONE;
}

enum oxl_word oxl_words_behind(const char *s, size_t len, size_t *prefix)
{
    for (size_t i = 0; i < TABLE_N; i++) {
        size_t n = strlen(table[i].compact);
        if (!table[i].ends_data || len <= n || strcmp(s + len - n, table[i].compact) != 0)
            continue;
        *prefix = len - n;
        return table[i].word;
    }
    if (len > 5 && is_internal_error(s + len - 5)) {
        *prefix = len - 5;
        return OXL_WORD_INTERNAL_ERROR;
    }
    return OXL_WORD_NONE;
}

const char *oxl_word_text(enum oxl_word w)
{
    static const char *const texts[] = {
#define X(id, meaning) meaning,
        OXL_WORDS(X)
#undef X
    };
    return (size_t)w < sizeof texts / sizeof texts[0] ? texts[w] : "unknown word";
}
