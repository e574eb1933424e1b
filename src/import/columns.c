/* The --columns text: time="Time (ms)":ms,front=O2 S1:mv,... */
#include <stdio.h>
#include <string.h>

#include "oxylag/safe.h"
#include "parts.h"

static const char *const words[ROLE_COUNT] = {
    [ROLE_TIME] = "time",       [ROLE_FRONT] = "front",      [ROLE_REAR] = "rear",
    [ROLE_STFT] = "stft",       [ROLE_LTFT] = "ltft",        [ROLE_AIR] = "air",
    [ROLE_RPM] = "rpm",         [ROLE_MAP] = "map",          [ROLE_INTAKE] = "intake",
    [ROLE_COOLANT] = "coolant", [ROLE_CATALYST] = "catalyst"};

#define R(r)   (1u << ROLE_##r)
#define SENSOR (R(FRONT) | R(REAR))
#define TRIM   (R(STFT) | R(LTFT))
#define TEMP   (R(INTAKE) | R(COOLANT) | R(CATALYST))
/* The first unit of a role is the one it has when none is given. */
static const struct unit units[] = {
    {"s", 0, 1, R(TIME), false, false},       {"ms", 0, 1e-3, R(TIME), false, false},
    {"us", 0, 1e-6, R(TIME), false, false},   {"clock", 0, 1, R(TIME), true, false},
    {"day", 0, 86400, R(TIME), false, false}, /* a spreadsheet's number of days */
    {"v", 0, 1, SENSOR, false, false},        {"mv", 0, 1e-3, SENSOR, false, false},
    {"lambda", 0, 1, SENSOR, false, true},    {"pct", 0, 1, TRIM, false, false},
    {"%", 0, 1, TRIM, false, false},          {"frac", 0, 100, TRIM, false, false},
    {"factor", -1, 100, TRIM, false, false}, /* 1.00 = no correction */
    {"g_s", 0, 1, R(AIR), false, false},      {"kg_h", 0, 1.0 / 3.6, R(AIR), false, false},
    {"g/s", 0, 1, R(AIR), false, false},      {"kg/h", 0, 1.0 / 3.6, R(AIR), false, false},
    {"rpm", 0, 1, R(RPM), false, false},      {"kpa", 0, 1, R(MAP), false, false},
    {"mbar", 0, 0.1, R(MAP), false, false},   {"hpa", 0, 0.1, R(MAP), false, false},
    {"c", 0, 1, TEMP, false, false},          {"f", -32, 5.0 / 9.0, TEMP, false, false},
};
enum { UNITS = sizeof units / sizeof units[0] };

const char *oxl_role_word(enum role r)
{
    return words[r];
}

static bool same_word(const char *text, size_t n, const char *word)
{
    for (size_t i = 0; i < n; i++) {
        char c = oxl_lower(text[i]);
        if (c != word[i] || !word[i])
            return false;
    }
    return word[n] == '\0';
}

static const struct unit *find_unit(enum role r, const char *text, size_t n)
{
    for (size_t i = 0; i < UNITS; i++)
        if (units[i].roles & 1u << r && same_word(text, n, units[i].word))
            return &units[i];
    return NULL;
}

static const struct unit *usual_unit(enum role r)
{
    for (size_t i = 0; i < UNITS; i++)
        if (units[i].roles & 1u << r)
            return &units[i];
    return NULL;
}

static void list(bool all_roles, enum role r, char *out, size_t n)
{
    out[0] = '\0';
    for (size_t i = 0; i < (all_roles ? (size_t)ROLE_COUNT : (size_t)UNITS); i++)
        if (all_roles || units[i].roles & 1u << r)
            oxl_append_word(out, n, ", ", all_roles ? words[i] : units[i].word);
}

static enum oxl_status take_role(const char **at, enum role *out, struct oxl_error *err)
{
    size_t n = strcspn(*at, "=");
    for (unsigned r = 0; r < ROLE_COUNT; r++)
        if ((*at)[n] == '=' && same_word(*at, n, words[r])) {
            *at += n + 1;
            *out = (enum role)r;
            return OXL_OK;
        }
    char all[160];
    list(true, ROLE_TIME, all, sizeof all);
    return oxl_fail(err, OXL_ERR_USAGE,
                    "--columns: found \"%.40s\", expected WHAT=NAME, WHAT of %s", *at, all);
}

enum oxl_status oxl_unit_unknown(enum role r, const char *unit, size_t n, struct oxl_error *err)
{
    char known[80];
    list(false, r, known, sizeof known);
    return oxl_fail(err, OXL_ERR_USAGE, "--columns: %s: unit \"%.*s\" is not known: expected %s",
                    words[r], (int)(n < 40 ? n : 40), unit, known);
}

static bool same_unit(const struct unit *a, const struct unit *b)
{
    return a->before == b->before && a->scale == b->scale && a->lambda == b->lambda;
}

const char *oxl_column_unit(struct column *c, enum role r, struct cell word, char *out, size_t n)
{
    char known[80];
    if (!word.n)
        return NULL;
    while (word.n && (*word.text == '\xC2' || *word.text == '\xB0')) /* a degree sign */
        word.text++, word.n--;
    const struct unit *u = find_unit(r, word.text, word.n);
    list(false, r, known, sizeof known);
    if (!u || u->clock)
        snprintf(out, n, "a number, alone or with one of the units %s", known);
    else if (c->unit_given && !same_unit(u, c->unit))
        snprintf(out, n, "the column's unit, which is %s", c->unit->word);
    else if (u->lambda != c->unit->lambda)
        snprintf(out, n, "volts (a wide-range sensor: add :lambda to the name)");
    else {
        c->unit = u;
        c->unit_given = true;
        return NULL;
    }
    return out;
}

/* Takes NAME or "NAME", then :UNIT. A colon in a bare name is part of it unless a unit follows. */
static enum oxl_status take_name(const char **at, enum role r, struct column *c,
                                 struct oxl_error *err)
{
    const char *name = *at, *unit = NULL;
    bool quoted = *name == '"';
    size_t n, unit_n = 0;
    if (quoted) {
        name++;
        n = strcspn(name, "\"");
        if (name[n] != '"')
            return oxl_fail(err, OXL_ERR_USAGE, "--columns: %s: the quote is not closed", words[r]);
        *at = name + n + 1;
        if (**at == ':') {
            unit = *at + 1;
            unit_n = strcspn(unit, ",");
            *at = unit + unit_n;
        }
        if (**at && **at != ',')
            return oxl_fail(err, OXL_ERR_USAGE, "--columns: %s: found \"%.20s\" after the name",
                            words[r], *at);
        if (unit && !find_unit(r, unit, unit_n))
            return oxl_unit_unknown(r, unit, unit_n, err);
    } else {
        n = strcspn(name, ",");
        *at = name + n;
        for (size_t i = n; i-- > 0 && !unit;)
            if (name[i] == ':' && find_unit(r, name + i + 1, n - i - 1)) {
                unit = name + i + 1;
                unit_n = n - i - 1;
                n = i;
            }
    }
    if (n == 0 || n >= sizeof c->name)
        return oxl_fail(err, OXL_ERR_USAGE, "--columns: %s: expected a name of 1 to %d bytes",
                        words[r], NAME_MAX_BYTES - 1);
    memcpy(c->name, name, n);
    c->name[n] = '\0';
    c->given = true;
    c->unit_given = unit != NULL;
    c->unit = unit ? find_unit(r, unit, unit_n) : usual_unit(r);
    return OXL_OK;
}

enum oxl_status oxl_columns_parse(const char *text, struct columns *out, struct oxl_error *err)
{
    memset(out, 0, sizeof *out);
    const char *at = text;
    while (*at) {
        enum role r = ROLE_TIME;
        enum oxl_status st = take_role(&at, &r, err);
        if (st == OXL_OK && out->of[r].given)
            st = oxl_fail(err, OXL_ERR_USAGE, "--columns: %s is given twice", words[r]);
        if (st == OXL_OK)
            st = take_name(&at, r, &out->of[r], err);
        if (st != OXL_OK)
            return st;
        if (*at == ',')
            at++;
    }
    static const enum role needed[] = {ROLE_TIME, ROLE_FRONT, ROLE_REAR, ROLE_STFT};
    for (size_t i = 0; i < sizeof needed / sizeof needed[0]; i++)
        if (!out->of[needed[i]].given)
            return oxl_fail(err, OXL_ERR_USAGE,
                            "--columns: %s=NAME is missing; time, front, rear and stft are needed",
                            words[needed[i]]);
    return OXL_OK;
}
