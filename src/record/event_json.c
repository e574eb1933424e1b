#include "oxylag/record.h"

#include <stdio.h>

#include "event_parts.h"

void oxl_json_member_text(struct oxl_json *j, const char *name, const char *text)
{
    oxl_json_key(j, name);
    oxl_json_text(j, text);
}

void oxl_json_member_number(struct oxl_json *j, const char *name, double v)
{
    oxl_json_key(j, name);
    oxl_json_number(j, v);
}

void oxl_json_member_integer(struct oxl_json *j, const char *name, int64_t v)
{
    oxl_json_key(j, name);
    oxl_json_integer(j, v);
}

void oxl_json_member_seconds(struct oxl_json *j, const char *name, int64_t us)
{
    oxl_json_key(j, name);
    oxl_json_seconds(j, us);
}

void oxl_json_member_bool(struct oxl_json *j, const char *name, bool v)
{
    oxl_json_key(j, name);
    oxl_json_bool(j, v);
}

void oxl_json_member_word(struct oxl_json *j, const char *name, const char *text)
{
    oxl_json_key(j, name);
    if (text && text[0])
        oxl_json_text(j, text);
    else
        oxl_json_null(j);
}

void oxl_json_member_open(struct oxl_json *j, const char *name, char bracket)
{
    oxl_json_key(j, name);
    oxl_json_open(j, bracket);
}

void oxl_json_member_ecu(struct oxl_json *j, const char *name, uint32_t ecu)
{
    char text[12];
    snprintf(text, sizeof text, "%X", (unsigned)ecu);
    oxl_json_member_word(j, name, ecu ? text : NULL);
}

static void sample(struct oxl_json *j, const struct oxl_sample *s)
{
    char name[32];
    oxl_channel_name(s->channel, name, sizeof name);
    oxl_json_member_text(j, "channel", name);
    oxl_json_member_number(j, "value", s->value);
    oxl_json_member_seconds(j, "sent_s", s->sent_us);
    oxl_json_member_seconds(j, "recv_s", s->recv_us);
    oxl_json_member_ecu(j, "unit", s->ecu);
}

void oxl_json_check(struct oxl_json *j, const struct oxl_check *c)
{
    oxl_json_member_text(j, "id", c->id);
    oxl_json_member_text(j, "grade", oxl_grade_name(c->grade));
    oxl_json_member_text(j, "found", c->found);
    oxl_json_member_text(j, "advice", c->advice);
}

static void baseline(struct oxl_json *j, const struct oxl_event *ev)
{
    oxl_json_member_number(j, "trim_pct", ev->u.baseline.trim_pct);
    oxl_json_member_number(j, "trim_sd_pct", ev->u.baseline.trim_sd_pct);
    oxl_json_member_number(j, "rpm", ev->u.baseline.rpm);
    oxl_json_member_number(j, "front_level", ev->u.baseline.front_level);
    oxl_json_member_number(j, "rear_level", ev->u.baseline.rear_level);
}

/* The whole profile as INI text, so that a recording keeps the limits it was judged by. */
static void profile_text(struct oxl_json *j, const struct oxl_profile *p)
{
    char ini[8192];
    bool whole = p && oxl_profile_format(p, ini, sizeof ini) < sizeof ini;
    oxl_json_member_word(j, "ini", whole ? ini : NULL);
}

static const char *event_name(const struct oxl_event *ev)
{
    static const char *const names[] = {
        [OXL_EV_STATE] = "state",       [OXL_EV_SAMPLE] = "sample",   [OXL_EV_ADVICE] = "advice",
        [OXL_EV_CHECK] = "check",       [OXL_EV_RUN] = "run",         [OXL_EV_RESULT] = "result",
        [OXL_EV_LINK] = "link",         [OXL_EV_VEHICLE] = "vehicle", [OXL_EV_PROFILE] = "profile",
        [OXL_EV_BASELINE] = "baseline", [OXL_EV_MARK] = "mark",
    };
    if (ev->kind == OXL_EV_ADVICE && oxl_advice_is_caution(ev->u.advice.advice))
        return "caution";
    return names[ev->kind];
}

static void members(struct oxl_json *j, const struct oxl_event *ev, bool mask_vin)
{
    switch (ev->kind) {
    case OXL_EV_STATE:
        oxl_json_member_text(j, "state", oxl_state_name(ev->u.state.state));
        oxl_json_member_integer(j, "run", ev->u.state.run);
        break;
    case OXL_EV_SAMPLE:
        sample(j, &ev->u.sample);
        break;
    case OXL_EV_ADVICE:
        oxl_json_member_text(j, "code", oxl_advice_code(ev->u.advice.advice));
        oxl_json_member_text(j, "hand", oxl_hand_name(oxl_advice_hand(ev->u.advice.advice)));
        oxl_json_member_text(j, "text", oxl_advice_text(ev->u.advice.advice));
        oxl_json_member_text(j, "detail", ev->u.advice.detail);
        break;
    case OXL_EV_CHECK:
        oxl_json_check(j, &ev->u.check);
        break;
    case OXL_EV_RUN:
        oxl_json_run(j, &ev->u.run);
        break;
    case OXL_EV_RESULT:
        oxl_json_result(j, &ev->u.result);
        break;
    case OXL_EV_LINK:
        oxl_json_member_text(j, "state", oxl_link_state_name(ev->u.link.state));
        oxl_json_member_text(j, "text", ev->u.link.text);
        break;
    case OXL_EV_VEHICLE:
        oxl_json_vehicle(j, ev->u.vehicle, mask_vin);
        break;
    case OXL_EV_PROFILE:
        oxl_json_member_text(j, "name", ev->u.profile.name);
        oxl_json_member_text(j, "why", ev->u.profile.why);
        profile_text(j, ev->u.profile.profile);
        break;
    case OXL_EV_BASELINE:
        baseline(j, ev);
        break;
    case OXL_EV_MARK:
        oxl_json_member_text(j, "text", ev->u.mark.text);
        break;
    }
}

size_t oxl_event_json(const struct oxl_event *ev, bool mask_vin, char *out, size_t n)
{
    struct oxl_json j;
    oxl_json_start(&j, out, n);
    oxl_json_open(&j, '{');
    oxl_json_member_text(&j, "event", event_name(ev));
    oxl_json_member_seconds(&j, "t_s", ev->t_us);
    members(&j, ev, mask_vin);
    oxl_json_close(&j, '}');
    return oxl_json_done(&j);
}
