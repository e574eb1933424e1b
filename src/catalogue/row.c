/* A row from what a recording says of itself: its header and its events. */
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "oxylag/catalogue.h"
#include "record/event_parts.h"

static void copy(char *out, size_t n, const char *text)
{
    snprintf(out, n, "%.*s", (int)n - 1, text ? text : "");
}

void oxl_past_header(struct oxl_past *row, const struct oxl_record_header *h)
{
    static const struct oxl_span unknown = {NAN, NAN, NAN};
    *row = (struct oxl_past){.simulated = h->simulated, .bank = h->bank};
    row->delay_at_target_s = row->o2_mg = unknown;
    copy(row->kind, sizeof row->kind, h->inspection ? "inspection" : "test");
    copy(row->replay, sizeof row->replay, "not-made");
    copy(row->started, sizeof row->started, h->started);
    copy(row->program, sizeof row->program, h->program);
    copy(row->order, sizeof row->order, h->order);
    copy(row->technician, sizeof row->technician, h->technician);
    copy(row->plate, sizeof row->plate, h->plate);
    copy(row->vehicle, sizeof row->vehicle, h->vehicle);
}

void oxl_past_unreadable(struct oxl_past *row, const char *why)
{
    static const struct oxl_record_header none = {0};
    oxl_past_header(row, &none);
    row->bank = NAN;
    copy(row->kind, sizeof row->kind, "unreadable");
    copy(row->why, sizeof row->why, why);
}

static struct oxl_span span(const json_t *o, const char *before, const char *unit)
{
    static const char *const ends[] = {"", "_low", "_high"};
    double v[3];
    for (size_t i = 0; i < 3; i++) {
        char name[48];
        snprintf(name, sizeof name, "%s%s_%s", before, ends[i], unit);
        const json_t *x = json_object_get(o, name);
        v[i] = json_is_number(x) ? json_number_value(x) : (double)NAN;
    }
    return (struct oxl_span){v[0], v[1], v[2]};
}

static const char *text(const json_t *o, const char *name)
{
    const char *t = json_string_value(json_object_get(o, name));
    return t ? t : "";
}

static void result(struct oxl_past *row, const json_t *o)
{
    const char *conclusion = text(o, "conclusion"); /* an older version had the verdict alone */
    copy(row->verdict, sizeof row->verdict, conclusion[0] ? conclusion : text(o, "verdict"));
    copy(row->lead, sizeof row->lead, text(json_object_get(o, "lead"), "text"));
    row->delay_at_target_s = span(o, "delay_at_target", "s");
    row->o2_mg = span(o, "o2", "mg");
    row->why[0] = '\0';
}

/* Why there is no result: the same words as the page has (src/record/test_record.c). */
static void stopped(struct oxl_past *row, const json_t *o, bool ends)
{
    if (ends && !row->verdict[0])
        copy(row->why, sizeof row->why, text(o, "detail")[0] ? text(o, "detail") : text(o, "text"));
}

/* Between the pre-check and the end. */
static bool is_running(const char *state)
{
    return strcmp(state, oxl_state_name(OXL_STATE_PRECHECK)) != 0 &&
           strcmp(state, oxl_state_name(OXL_STATE_DONE)) != 0 &&
           strcmp(state, oxl_state_name(OXL_STATE_STOPPED)) != 0;
}

enum oxl_past_said oxl_past_event(struct oxl_past *row, const char *json, size_t n)
{
    json_t *o = json_loadb(json, n, 0, NULL);
    enum oxl_past_said said = o ? OXL_PAST_OTHER : OXL_PAST_DAMAGED;
    const char *event = text(o, "event"), *code = text(o, "code"), *state = text(o, "state");
    if (strcmp(event, "vehicle") == 0 && text(o, "vin")[0])
        copy(row->vin, sizeof row->vin, text(o, "vin"));
    else if (strcmp(event, "state") == 0 && is_running(state))
        said = OXL_PAST_RUNNING;
    else if (strcmp(event, "result") == 0) {
        said = OXL_PAST_RESULT;
        result(row, o);
    } else if (strcmp(event, "advice") == 0 || strcmp(event, "caution") == 0)
        stopped(row, o,
                strcmp(code, oxl_advice_code(OXL_ADV_UNSUITABLE)) == 0 ||
                    strcmp(code, oxl_advice_code(OXL_ADV_ABORTED)) == 0);
    else if (strcmp(event, "link") == 0)
        stopped(row, o,
                strcmp(state, oxl_link_state_name(OXL_LINK_NO_ADAPTER)) == 0 ||
                    strcmp(state, oxl_link_state_name(OXL_LINK_NO_VEHICLE)) == 0);
    json_decref(o);
    return said;
}

void oxl_past_mask(struct oxl_past *row)
{
    char vin[18];
    oxl_vin_shown(row->vin, true, vin);
    memcpy(row->vin, vin, sizeof vin);
    copy(row->plate, sizeof row->plate, oxl_owner_shown(row->plate, true));
    copy(row->vehicle, sizeof row->vehicle, oxl_owner_shown(row->vehicle, true));
}
