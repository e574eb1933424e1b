#include "event_parts.h"

#include <stdio.h>
#include <string.h>

#include "oxylag/onboard.h"

enum { VIN_KEPT = 8, VIN_LENGTH = 17 };

void oxl_vin_shown(const char vin[18], bool mask, char out[18])
{
    size_t n = strnlen(vin, VIN_LENGTH);
    memcpy(out, vin, n);
    out[n] = '\0';
    if (mask && n > VIN_KEPT)
        memset(out + VIN_KEPT, '*', n - VIN_KEPT);
}

const char *oxl_owner_shown(const char *text, bool mask)
{
    return mask && text[0] ? "***" : text;
}

/* For programs; NULL when unknown. */
static const char *protocol_code(enum oxl_protocol p)
{
    static const char *const codes[] = {
#define X(id, number, code, words) [number] = (code),
        OXL_PROTOCOLS(X)
#undef X
    };
    return (size_t)p < sizeof codes / sizeof codes[0] ? codes[p] : NULL;
}

static void codes(struct oxl_json *j, const char *name, const struct oxl_dtc_list *list)
{
    char text[6];
    oxl_json_key(j, name);
    if (!list->known) {
        oxl_json_null(j);
        return;
    }
    oxl_json_open(j, '[');
    for (size_t i = 0; i < list->n; i++) {
        oxl_dtc_text(list->codes[i], text);
        oxl_json_text(j, text);
    }
    oxl_json_close(j, ']');
}

static void monitors(struct oxl_json *j, const struct oxl_readiness *r)
{
    oxl_json_member_open(j, "monitors", '{');
    for (unsigned m = 0; m < OXL_MON_COUNT; m++)
        if (r->supported[m])
            oxl_json_member_bool(j, oxl_monitor_word((enum oxl_monitor)m), r->complete[m]);
    oxl_json_close(j, '}');
}

void oxl_json_readiness(struct oxl_json *j, const char *name, const struct oxl_readiness *r)
{
    oxl_json_key(j, name);
    if (!r->known) {
        oxl_json_null(j);
        return;
    }
    oxl_json_open(j, '{');
    oxl_json_member_bool(j, "mil_on", r->mil_on);
    oxl_json_member_integer(j, "stored_codes", r->stored_dtcs);
    oxl_json_member_bool(j, "compression_ignition", r->compression_ignition);
    monitors(j, r);
    oxl_json_close(j, '}');
}

static void hex_member(struct oxl_json *j, const char *name, unsigned n)
{
    char text[12];
    snprintf(text, sizeof text, "%02X", n);
    oxl_json_member_text(j, name, text);
}

void oxl_json_result_members(struct oxl_json *j, const struct oxl_monitor_result *r)
{
    char title[48], test[48];
    struct oxl_monitor_figures f = oxl_monitor_figures(r);
    oxl_monitor_title(r, title, sizeof title);
    oxl_test_title(r, test, sizeof test);
    oxl_json_member_text(j, "title", title);
    oxl_json_member_text(j, "test", test);
    hex_member(j, "monitor_id", r->monitor);
    hex_member(j, "test_id", r->test);
    hex_member(j, "scale_id", r->scale);
    hex_member(j, "component_id", r->component);
    oxl_json_member_text(j, "verdict", oxl_monitor_verdict_name(oxl_monitor_verdict(r)));
    oxl_json_member_number(j, "value", f.value);
    oxl_json_member_number(j, "min", f.min);
    oxl_json_member_number(j, "max", f.max);
    oxl_json_member_text(j, "in", f.unit);
    oxl_json_member_number(j, "margin", f.margin);
    oxl_json_member_number(j, "margin_pct", f.margin_pct);
    oxl_json_member_integer(j, "raw_value", r->value);
    oxl_json_member_integer(j, "raw_min", r->min);
    oxl_json_member_integer(j, "raw_max", r->max);
}

static void monitor_results(struct oxl_json *j, const struct oxl_vehicle *v)
{
    oxl_json_key(j, "monitor_results");
    if (!v->results_known) {
        oxl_json_null(j);
        return;
    }
    oxl_json_open(j, '[');
    for (size_t i = 0; i < v->results_n; i++) {
        oxl_json_open(j, '{');
        oxl_json_result_members(j, &v->results[i]);
        oxl_json_close(j, '}');
    }
    oxl_json_close(j, ']');
}

void oxl_json_vehicle(struct oxl_json *j, const struct oxl_vehicle *v, bool mask_vin)
{
    static const char *const layouts[] = {
        [OXL_LAYOUT_UNKNOWN] = NULL, [OXL_LAYOUT_13] = "13", [OXL_LAYOUT_1D] = "1D"};
    char vin[18];
    oxl_vin_shown(v->vin, mask_vin, vin);
    oxl_json_member_word(j, "vin", vin);
    oxl_json_member_word(j, "protocol", protocol_code(v->protocol));
    oxl_json_member_word(j, "adapter", v->adapter);
    oxl_json_member_ecu(j, "unit", v->ecu);
    oxl_json_member_integer(j, "units_seen", v->ecus_seen);
    for (unsigned kind = 0; kind < OXL_DTC_KINDS; kind++)
        codes(j, oxl_dtc_kind_names[kind], &v->dtcs[kind]);
    oxl_json_readiness(j, "readiness", &v->readiness);
    monitor_results(j, v);
    oxl_json_member_word(j, "layout", layouts[v->decoding.layout]);
    oxl_json_member_integer(j, "sensors", v->decoding.sensors);
    oxl_json_member_bool(j, "multi_item", v->multi_pid);
    oxl_json_member_bool(j, "reply_count", v->reply_count);
    oxl_json_member_bool(j, "survey_done", v->survey_done);
}
