#include "vehicle_text.h"

#include <stdio.h>
#include <string.h>

#include "event_parts.h"

enum { VIN_KEPT = 8, VIN_LENGTH = 17 };

void oxl_vin_shown(const char vin[18], bool mask, char out[18])
{
    size_t n = strnlen(vin, VIN_LENGTH);
    memcpy(out, vin, n);
    out[n] = '\0';
    if (mask && n > VIN_KEPT)
        memset(out + VIN_KEPT, '*', n - VIN_KEPT);
}

const char *oxl_protocol_code(enum oxl_protocol p)
{
    static const char *const codes[] = {
        [OXL_PROTO_UNKNOWN] = NULL,          [OXL_PROTO_J1850_PWM] = "j1850-pwm",
        [OXL_PROTO_J1850_VPW] = "j1850-vpw", [OXL_PROTO_ISO9141] = "iso9141",
        [OXL_PROTO_KWP_SLOW] = "kwp-slow",   [OXL_PROTO_KWP_FAST] = "kwp-fast",
        [OXL_PROTO_CAN11_500] = "can11-500", [OXL_PROTO_CAN29_500] = "can29-500",
        [OXL_PROTO_CAN11_250] = "can11-250", [OXL_PROTO_CAN29_250] = "can29-250",
    };
    return (size_t)p < sizeof codes / sizeof codes[0] ? codes[p] : NULL;
}

void oxl_trouble_code(uint16_t code, char out[6])
{
    snprintf(out, 6, "%c%04X", "PCBU"[code >> 14], code & 0x3fffu);
}

static void codes(struct oxl_json *j, const char *name, bool known, const uint16_t *list, size_t n)
{
    char text[6];
    oxl_json_key(j, name);
    if (!known) {
        oxl_json_null(j);
        return;
    }
    oxl_json_open(j, '[');
    for (size_t i = 0; i < n; i++) {
        oxl_trouble_code(list[i], text);
        oxl_json_text(j, text);
    }
    oxl_json_close(j, ']');
}

static void monitors(struct oxl_json *j, const struct oxl_readiness *r)
{
    static const char *const names[OXL_MON_COUNT] = {
        [OXL_MON_MISFIRE] = "misfire",
        [OXL_MON_FUEL] = "fuel",
        [OXL_MON_COMPONENTS] = "components",
        [OXL_MON_CATALYST] = "catalyst",
        [OXL_MON_HEATED_CATALYST] = "heated_catalyst",
        [OXL_MON_EVAP] = "evap",
        [OXL_MON_SECONDARY_AIR] = "secondary_air",
        [OXL_MON_AC_OR_FILTER] = "ac_or_filter",
        [OXL_MON_O2_SENSOR] = "o2_sensor",
        [OXL_MON_O2_HEATER] = "o2_heater",
        [OXL_MON_EGR] = "egr",
    };
    oxl_json_key(j, "monitors");
    oxl_json_open(j, '{');
    for (unsigned m = 0; m < OXL_MON_COUNT; m++)
        if (r->supported[m])
            oxl_json_member_bool(j, names[m], r->complete[m]);
    oxl_json_close(j, '}');
}

static void readiness(struct oxl_json *j, const struct oxl_readiness *r)
{
    oxl_json_key(j, "readiness");
    if (!r->known) {
        oxl_json_null(j);
        return;
    }
    oxl_json_open(j, '{');
    oxl_json_member_bool(j, "mil_on", r->mil_on);
    oxl_json_member_integer(j, "stored_codes", r->stored_codes);
    oxl_json_member_bool(j, "compression_ignition", r->compression_ignition);
    monitors(j, r);
    oxl_json_close(j, '}');
}

static void text_or_null(struct oxl_json *j, const char *name, const char *text)
{
    oxl_json_key(j, name);
    if (text && text[0])
        oxl_json_text(j, text);
    else
        oxl_json_null(j);
}

void oxl_json_vehicle(struct oxl_json *j, const struct oxl_vehicle *v, bool mask_vin)
{
    static const char *const layouts[] = {
        [OXL_LAYOUT_UNKNOWN] = NULL, [OXL_LAYOUT_13] = "13", [OXL_LAYOUT_1D] = "1D"};
    char vin[18];
    oxl_vin_shown(v->vin, mask_vin, vin);
    text_or_null(j, "vin", vin);
    text_or_null(j, "protocol", oxl_protocol_code(v->protocol));
    text_or_null(j, "adapter", v->adapter);
    oxl_json_member_unit(j, "unit", v->unit);
    oxl_json_member_integer(j, "units_seen", v->units_seen);
    codes(j, "stored", v->stored_known, v->stored, v->stored_n);
    codes(j, "pending", v->pending_known, v->pending, v->pending_n);
    codes(j, "permanent", v->permanent_known, v->permanent, v->permanent_n);
    readiness(j, &v->readiness);
    text_or_null(j, "layout", layouts[v->decoding.layout]);
    oxl_json_member_integer(j, "sensors", v->decoding.sensors);
    oxl_json_member_bool(j, "multi_item", v->multi_item);
    oxl_json_member_bool(j, "reply_count", v->reply_count);
    oxl_json_member_bool(j, "survey_done", v->survey_done);
}
