/* The members of a row: one table for JSON, for CSV and for the cache. */
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "oxylag/catalogue.h"
#include "record/event_parts.h"

/* NOLINTBEGIN(bugprone-macro-parentheses): names of members and constants stand in no parentheses
 */
#define AT(type, name, member)                                                                     \
    {                                                                                              \
        name, OXL_PAST_##type, offsetof(struct oxl_past, member),                                  \
            sizeof(((struct oxl_past *)NULL)->member)                                              \
    }
#define ROW(type, member) AT(type, #member, member)
#define SPAN(before, after, member)                                                                \
    AT(NUMBER, before after, member.value), AT(NUMBER, before "_low" after, member.low),           \
        AT(NUMBER, before "_high" after, member.high)

/* NOLINTEND(bugprone-macro-parentheses) */

const struct oxl_past_field oxl_past_fields[OXL_PAST_FIELDS] = {
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

static void member(struct oxl_json *j, const struct oxl_past_field *f, const void *at)
{
    if (f->type == OXL_PAST_TEXT)
        oxl_json_member_text(j, f->name, at);
    else if (f->type == OXL_PAST_FLAG)
        oxl_json_member_bool(j, f->name, *(const bool *)at);
    else
        oxl_json_member_number(j, f->name, *(const double *)at);
}

size_t oxl_past_json(const struct oxl_past *row, char *out, size_t n)
{
    struct oxl_json j;
    oxl_json_start(&j, out, n);
    oxl_json_open(&j, '{');
    for (size_t i = 0; i < OXL_PAST_FIELDS; i++)
        member(&j, &oxl_past_fields[i], (const char *)row + oxl_past_fields[i].offset);
    oxl_json_close(&j, '}');
    return oxl_json_done(&j);
}

/* False: it is not what oxl_past_json wrote. */
static bool take(const struct oxl_past_field *f, const json_t *v, void *at)
{
    const char *text = json_string_value(v);
    if (f->type == OXL_PAST_TEXT && text && strlen(text) < f->size)
        return memcpy(at, text, strlen(text) + 1);
    if (f->type == OXL_PAST_FLAG && json_is_boolean(v)) {
        *(bool *)at = json_is_true(v);
        return true;
    }
    if (f->type != OXL_PAST_NUMBER || (!json_is_number(v) && !json_is_null(v)))
        return false;
    *(double *)at = json_is_null(v) ? (double)NAN : json_number_value(v);
    return true;
}

bool oxl_past_from_json(const char *text, struct oxl_past *row)
{
    bool whole = true;
    json_t *root = json_loads(text, 0, NULL);
    *row = (struct oxl_past){0};
    for (size_t i = 0; i < OXL_PAST_FIELDS && whole; i++)
        whole = take(&oxl_past_fields[i], json_object_get(root, oxl_past_fields[i].name),
                     (char *)row + oxl_past_fields[i].offset);
    json_decref(root);
    return whole;
}
