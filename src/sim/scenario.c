/* Scenarios: INI text over defaults. A typo must never be a silent default, so every unknown
 * section, key and value is an error that says what would be accepted. */
#include "sim/scenario.h"

#include <ctype.h>
#include <errno.h>
#include <ini.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "oxylag/safe.h"
#include "scenario_files.h"

/* Text keys that take one of a few words. */
static const struct {
    const char *section, *key, *words;
} choices[] = {
    {"ecu", "layout", "13 1D"},
    {"ecu", "front", "switching wide-volts wide-current none"},
    {"ecu", "rear", "switching wide-volts wide-current dummy-volts dummy-beside none"},
    {"ecu", "padding", "AA 00 FF random some"},
    {"adapter", "count_fault", "none refused short long"},
    {"adapter", "reset_kind", "banner voltage silent"},
    {"plant", "metering", "air-meter speed-density"},
    {"plant", "trim_rule", "additive multiplicative"},
    {"plant", "rear_fault", "none stuck biased"},
    {"plant", "at_limit", "none freeze open"},
    {"plant", "catalyst_model", "plug two-site tanks"},
};

static const struct oxl_setting title_table[] = {
    {"scenario", "title", 't', offsetof(struct oxl_scenario, title),
     sizeof(((struct oxl_scenario *)0)->title), 0, 0, 0, ""}};

struct reading {
    struct oxl_scenario *s;
    const char *file, *at; /* rest of the text */
    int line, refused_line;
    struct oxl_error *err;
    enum oxl_status status;
    bool full_line_open;
};

static bool refuse(struct reading *r, const char *fmt, const char *a, const char *b, const char *c)
{
    char what[240];
    snprintf(what, sizeof what, fmt, a, b, c);
    if (r->status != OXL_OK)
        return false;
    r->status = oxl_fail(r->err, OXL_ERR_FORMAT, "%s:%d: %s", r->file, r->line, what);
    r->refused_line = r->line;
    return false;
}

static bool word_in(const char *words, const char *word)
{
    size_t n = strlen(word);
    for (const char *at = words; n && (at = strstr(at, word)); at += n)
        if ((at == words || at[-1] == ' ') && (at[n] == ' ' || at[n] == '\0'))
            return true;
    return false;
}

static void store_text(const struct oxl_setting *k, void *settings, const char *text)
{
    memcpy((char *)settings + k->offset, text, strlen(text) + 1);
}

static void store_number(const struct oxl_setting *k, void *settings, double number)
{
    void *at = (char *)settings + k->offset;
    if (k->kind == 'b')
        *(bool *)at = number != 0;
    else if (k->kind == 'u')
        *(unsigned *)at = (unsigned)number;
    else
        *(double *)at = number;
}

void oxl_settings_default(const struct oxl_setting *table, size_t n, void *settings)
{
    for (size_t i = 0; i < n; i++)
        if (table[i].kind == 't')
            store_text(&table[i], settings, table[i].text);
        else
            store_number(&table[i], settings, table[i].number);
}

static bool set_number(struct reading *r, const struct oxl_setting *k, void *base,
                       const char *value)
{
    char range[80], *end;
    errno = 0;
    double v = strtod(value, &end);
    bool whole = k->kind != 'u' || v == floor(v);
    snprintf(range, sizeof range, "%s from %g to %g",
             k->kind == 'u' ? "a whole number" : "a number", k->min, k->max);
    if (end == value || *end || errno || !(v >= k->min && v <= k->max) || !whole)
        return refuse(r, "%s = %s: wants %s", k->key, value, range);
    store_number(k, base, v);
    return true;
}

static bool set_text(struct reading *r, const struct oxl_setting *k, void *base, const char *value)
{
    for (size_t i = 0; i < sizeof choices / sizeof choices[0]; i++)
        if (!strcmp(choices[i].section, k->section) && !strcmp(choices[i].key, k->key) &&
            !word_in(choices[i].words, value))
            return refuse(r, "%s = %s: wants one of: %s", k->key, value, choices[i].words);
    if (strlen(value) >= k->size) {
        char most[24];
        snprintf(most, sizeof most, "%zu", k->size - 1);
        return refuse(r, "%s = %s: wants at most %s characters", k->key, value, most);
    }
    store_text(k, base, value);
    return true;
}

static bool set(struct reading *r, const struct oxl_setting *k, void *base, const char *value)
{
    if (k->kind == 't')
        return set_text(r, k, base, value);
    if (k->kind != 'b')
        return set_number(r, k, base, value);
    bool yes = !strcmp(value, "yes");
    if (!yes && strcmp(value, "no") != 0)
        return refuse(r, "%s = %s: wants %s", k->key, value, "yes or no");
    store_number(k, base, yes);
    return true;
}

/* The keys of a section, as far as they fit. */
static void list_keys(const struct oxl_setting *table, size_t n, char *out, size_t size)
{
    bool all = true;
    out[0] = '\0';
    for (size_t i = 0; i < n && all; i++)
        all = oxl_append_word(out, size, " ", table[i].key);
    if (!all)
        memcpy(out + size - 4, "...", 4);
}

static bool set_in(struct reading *r, const struct oxl_setting *table, size_t n, void *base,
                   const char *key, const char *value)
{
    for (size_t i = 0; i < n; i++)
        if (!strcmp(table[i].key, key))
            return set(r, &table[i], base, value);
    char keys[160];
    list_keys(table, n, keys, sizeof keys);
    return refuse(r, "unknown key \"%s\" in [%s]; it takes: %s", key, table[0].section, keys);
}

/* Words of scenarios that were written for versions up to 0.2. */
static const char *present_word(const char *word)
{
    static const char *const words[][2] = {{"unit", "ecu"},
                                           {"second_unit", "second_ecu"},
                                           {"twin_unit", "twin_ecu"},
                                           {"multi_item", "multi_pid"}};
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
        if (!strcmp(words[i][0], word))
            return words[i][1];
    return word;
}

static int handle(void *user, const char *section, const char *key, const char *value)
{
    struct reading *r = user;
    struct oxl_scenario *s = r->s;
    const struct {
        const struct oxl_setting *table;
        size_t n;
        void *base;
    } tables[] = {
        {title_table, 1, s},
        {oxl_ecu_setting_table, oxl_ecu_setting_count, &s->ecu},
        {oxl_adapter_setting_table, oxl_adapter_setting_count, &s->adapter},
        {oxl_plant_setting_table, oxl_plant_setting_count, &s->plant},
        {oxl_tech_setting_table, oxl_tech_setting_count, &s->technician},
    };
    key = present_word(key);
    for (size_t i = 0; i < sizeof tables / sizeof tables[0]; i++)
        if (!strcmp(tables[i].table[0].section, present_word(section)))
            return set_in(r, tables[i].table, tables[i].n, tables[i].base, key, value);
    return refuse(r, "unknown section [%s] before \"%s\"; there are: %s", section, key,
                  "scenario ecu adapter plant technician");
}

/* inih hands out lines but not their numbers; this reader counts them. A line longer than the
 * buffer comes in pieces and counts once. */
static char *read_line(char *out, int size, void *user)
{
    struct reading *r = user;
    if (!*r->at || size < 2)
        return NULL;
    if (!r->full_line_open)
        r->line++;
    int n = 0;
    while (n < size - 1 && r->at[n] && (n == 0 || r->at[n - 1] != '\n'))
        n++;
    memcpy(out, r->at, (size_t)n);
    out[n] = '\0';
    r->at += n;
    r->full_line_open = out[n - 1] != '\n';
    return out;
}

/* "examples/good.ini" -> "good" */
static void name_from_file(struct oxl_scenario *s, const char *file)
{
    const char *slash = strrchr(file, '/');
    snprintf(s->name, sizeof s->name, "%s", slash ? slash + 1 : file);
    char *dot = strrchr(s->name, '.');
    if (dot)
        *dot = '\0';
}

enum oxl_status oxl_scenario_parse(const char *text, const char *file, struct oxl_scenario **out,
                                   struct oxl_error *err)
{
    *out = NULL;
    struct oxl_scenario *s = calloc(1, sizeof *s);
    if (!s)
        return oxl_fail(err, OXL_ERR_NOMEM, "no memory for a scenario");
    oxl_ecu_defaults(&s->ecu);
    oxl_adapter_defaults(&s->adapter);
    oxl_plant_defaults(&s->plant);
    oxl_tech_defaults(&s->technician);
    name_from_file(s, file);
    struct reading r = {.s = s, .file = file, .at = text, .err = err, .status = OXL_OK};
    int bad_line = ini_parse_stream(read_line, &r, handle, &r);
    if (bad_line > 0 && (r.status == OXL_OK || bad_line < r.refused_line)) {
        r.status = OXL_OK; /* what came first is what is told */
        r.line = bad_line;
        refuse(&r, "wants [section] or key = value%s%s%s", "", "", "");
    }
    if (r.status == OXL_OK && bad_line < 0)
        r.status = oxl_fail(err, OXL_ERR_NOMEM, "no memory to read %s", file);
    if (r.status != OXL_OK) {
        oxl_scenario_free(s);
        return r.status;
    }
    *out = s;
    return OXL_OK;
}

enum oxl_status oxl_scenario_load(const char *name, struct oxl_scenario **out,
                                  struct oxl_error *err)
{
    *out = NULL;
    for (size_t i = 0; i < oxl_scenario_files_count; i++)
        if (!strcmp(oxl_scenario_files[i].name, name))
            return oxl_scenario_parse(oxl_scenario_files[i].text, name, out, err);
    char names[800] = ""; /* all of them: tests/e2e/test_bad_input.sh */
    for (size_t i = 0; i < oxl_scenario_files_count; i++)
        oxl_append(names, sizeof names, " %s", oxl_scenario_files[i].name);
    return oxl_fail(err, OXL_ERR_USAGE, "no scenario \"%s\"; there are:%s", name, names);
}

size_t oxl_scenario_builtin_count(void)
{
    return oxl_scenario_files_count;
}

const char *oxl_scenario_builtin_name(size_t i)
{
    return i < oxl_scenario_files_count ? oxl_scenario_files[i].name : "";
}

const char *oxl_scenario_builtin_title(size_t i)
{
    return i < oxl_scenario_files_count ? oxl_scenario_files[i].title : "";
}

void oxl_scenario_free(struct oxl_scenario *s)
{
    free(s);
}
