/* The members of a row: one table for JSON, for CSV and for the cache. */
#include <jansson.h>
#include <math.h>
#include <string.h>

#include "oxylag/catalogue.h"
#include "record/event_parts.h"

/* NOLINTBEGIN(bugprone-macro-parentheses): names of members stand in no parentheses */
#define ROW(type, member) OXL_MEMBER(oxl_past, type, #member, member)
#define SPAN(before, after, member)                                                                \
    OXL_MEMBER(oxl_past, NUMBER, before after, member.value),                                      \
        OXL_MEMBER(oxl_past, NUMBER, before "_low" after, member.low),                             \
        OXL_MEMBER(oxl_past, NUMBER, before "_high" after, member.high)
/* NOLINTEND(bugprone-macro-parentheses) */

const struct oxl_member oxl_past_fields[OXL_PAST_FIELDS] = {
    ROW(TEXT, file),          ROW(TEXT, kind),
    ROW(TEXT, started),       ROW(TEXT, order),
    ROW(TEXT, vin),           ROW(TEXT, plate),
    ROW(TEXT, vehicle),       ROW(TEXT, technician),
    ROW(NUMBER, bank),        ROW(FLAG, simulated),
    ROW(FLAG, complete),      ROW(TEXT, verdict),
    ROW(TEXT, lead),          SPAN("delay_at_target", "_s", delay_at_target_s),
    SPAN("o2", "_mg", o2_mg), ROW(TEXT, replay),
    ROW(TEXT, before),        ROW(TEXT, why),
    ROW(TEXT, program),       ROW(TEXT, sha256),
};

static void member(struct oxl_json *j, const struct oxl_member *m, const void *at)
{
    if (m->type == OXL_MEMBER_TEXT)
        oxl_json_member_text(j, m->name, at);
    else if (m->type == OXL_MEMBER_WORD)
        oxl_json_member_word(j, m->name, at);
    else if (m->type == OXL_MEMBER_FLAG)
        oxl_json_member_bool(j, m->name, *(const bool *)at);
    else
        oxl_json_member_number(j, m->name, *(const double *)at);
}

size_t oxl_members_json(const struct oxl_member *m, size_t n, const void *of, char *out,
                        size_t room)
{
    struct oxl_json j;
    oxl_json_start(&j, out, room);
    oxl_json_open(&j, '{');
    for (size_t i = 0; i < n; i++)
        member(&j, &m[i], (const char *)of + m[i].offset);
    oxl_json_close(&j, '}');
    return oxl_json_done(&j);
}

static bool take(const struct oxl_member *m, const json_t *v, void *at)
{
    const bool text = m->type <= OXL_MEMBER_WORD;
    const char *given = m->type == OXL_MEMBER_WORD && json_is_null(v) ? "" : json_string_value(v);
    if (text && given && strlen(given) < m->size)
        return memcpy(at, given, strlen(given) + 1);
    if (m->type == OXL_MEMBER_FLAG && json_is_boolean(v)) {
        *(bool *)at = json_is_true(v);
        return true;
    }
    if (m->type != OXL_MEMBER_NUMBER || (!json_is_number(v) && !json_is_null(v)))
        return false;
    *(double *)at = json_is_null(v) ? (double)NAN : json_number_value(v);
    return true;
}

bool oxl_members_from_json(const struct oxl_member *m, size_t n, const char *text, size_t len,
                           void *of)
{
    bool whole = true;
    json_t *root = json_loadb(text, len, 0, NULL);
    for (size_t i = 0; i < n && whole; i++)
        whole = take(&m[i], json_object_get(root, m[i].name), (char *)of + m[i].offset);
    json_decref(root);
    return whole;
}
