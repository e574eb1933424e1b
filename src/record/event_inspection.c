/* What an inspection found, as JSON objects. */
#include <stdio.h>

#include "event_parts.h"
#include "oxylag/record.h"

struct writer {
    struct oxl_json j;
    int64_t t_us;
    void (*line)(void *ctx, const char *text, size_t n);
    void *ctx;
    char text[OXL_RECORD_LINE_MAX];
};

static struct oxl_json *begin(struct writer *w, const char *event)
{
    oxl_json_start(&w->j, w->text, sizeof w->text);
    oxl_json_open(&w->j, '{');
    oxl_json_member_text(&w->j, "event", event);
    oxl_json_member_seconds(&w->j, "t_s", w->t_us);
    return &w->j;
}

static void end(struct writer *w)
{
    oxl_json_close(&w->j, '}');
    size_t n = oxl_json_done(&w->j);
    if (n)
        w->line(w->ctx, w->text, n);
}

static void text_list(struct oxl_json *j, const char *name, const struct oxl_ecu_info *u)
{
    oxl_json_member_open(j, name, '[');
    for (size_t i = 0; i < u->calibration_n; i++)
        oxl_json_text(j, u->calibration[i]);
    oxl_json_close(j, ']');
}

static void verifications(struct oxl_json *j, const struct oxl_ecu_info *u)
{
    oxl_json_member_open(j, "verification", '[');
    for (size_t i = 0; i < u->verification_n; i++) {
        char text[12];
        snprintf(text, sizeof text, "%08X", (unsigned)u->verification[i]);
        oxl_json_text(j, text);
    }
    oxl_json_close(j, ']');
}

static void ecu(struct writer *w, const struct oxl_inspection *v, const struct oxl_ecu_info *u)
{
    struct oxl_json *j = begin(w, "unit");
    oxl_json_member_ecu(j, "unit", u->ecu);
    oxl_json_member_bool(j, "listened_to", u->ecu == v->vehicle.ecu);
    oxl_json_member_word(j, "name", u->name);
    text_list(j, "calibration", u);
    verifications(j, u);
    oxl_json_readiness(j, "readiness", &u->readiness);
    oxl_json_readiness(j, "this_cycle", &u->cycle);
    end(w);
}

static void codes(struct writer *w, const struct oxl_ecu_info *u, enum oxl_dtc_kind kind)
{
    const struct oxl_dtc_list *list = &u->dtcs[kind];
    static const char *const weights[] = {"neutral", "subject", "disturbs", "forbids", "unknown"};
    for (size_t i = 0; i < list->n; i++) {
        char text[6], words[64];
        const struct oxl_dtc_family *f = oxl_dtc_family(list->codes[i]);
        struct oxl_json *j = begin(w, "code");
        oxl_dtc_text(list->codes[i], text);
        oxl_dtc_words(list->codes[i], words, sizeof words);
        oxl_json_member_text(j, "list", oxl_dtc_kind_names[kind]);
        oxl_json_member_text(j, "code", text);
        oxl_json_member_ecu(j, "unit", u->ecu);
        oxl_json_member_text(j, "text", words);
        oxl_json_member_text(j, "family", f->id);
        oxl_json_member_text(j, "weight", weights[f->weight]);
        oxl_json_member_integer(j, "bank", oxl_dtc_bank(list->codes[i]));
        oxl_json_member_text(j, "effect", f->effect);
        oxl_json_member_text(j, "next", f->next);
        end(w);
    }
}

static void result(struct writer *w, const struct oxl_monitor_result *r)
{
    struct oxl_json *j = begin(w, "monitor");
    oxl_json_member_ecu(j, "unit", r->ecu);
    oxl_json_member_integer(j, "bank", oxl_monitor_bank(r->monitor));
    oxl_json_result_members(j, r);
    end(w);
}

static void values(struct oxl_json *j, const struct oxl_sample *s, size_t n)
{
    oxl_json_member_open(j, "values", '{');
    for (size_t i = 0; i < n; i++) {
        char name[32];
        oxl_channel_name(s[i].channel, name, sizeof name);
        oxl_json_member_number(j, name, s[i].value);
    }
    oxl_json_close(j, '}');
}

static void frozen(struct writer *w, const struct oxl_onboard *o)
{
    struct oxl_json *j = begin(w, "frozen");
    char text[6];
    oxl_dtc_text(o->freeze_frame_dtc, text);
    oxl_json_member_bool(j, "known", o->frozen_known);
    oxl_json_member_word(j, "code", o->frozen_known && o->freeze_frame_dtc ? text : NULL);
    values(j, o->frozen, o->frozen_n);
    end(w);
}

static void pids(struct oxl_json *j, const struct oxl_support *s)
{
    oxl_json_member_open(j, "items", '[');
    for (unsigned pid = 1; pid < 0x100; pid++) {
        char text[4];
        snprintf(text, sizeof text, "%02X", pid);
        if (pid % 0x20 && oxl_supports(s, (uint8_t)pid))
            oxl_json_text(j, text);
    }
    oxl_json_close(j, ']');
}

static void summary(struct writer *w, const struct oxl_inspection *v)
{
    unsigned of[4] = {0};
    for (size_t i = 0; i < v->checks_n; i++)
        of[v->checks[i].grade & 3]++;
    struct oxl_json *j = begin(w, "inspection");
    oxl_json_member_text(j, "worst", oxl_grade_name(v->worst));
    oxl_json_member_integer(j, "bank", v->bank);
    oxl_json_member_integer(j, "passed", of[OXL_GRADE_PASS]);
    oxl_json_member_integer(j, "cautions", of[OXL_GRADE_CAUTION]);
    oxl_json_member_integer(j, "stops", of[OXL_GRADE_STOP]);
    oxl_json_member_integer(j, "unknown", of[OXL_GRADE_UNKNOWN]);
    oxl_json_member_number(j, "front_hz", v->front_hz);
    oxl_json_member_number(j, "rear_hz", v->rear_hz);
    oxl_json_member_number(j, "round_ms", v->round_ms);
    pids(j, &v->vehicle.support);
    end(w);
}

void oxl_inspection_json(const struct oxl_inspection *v, int64_t t_us,
                         void (*line)(void *ctx, const char *text, size_t n), void *ctx)
{
    struct writer w = {.t_us = t_us, .line = line, .ctx = ctx};
    const struct oxl_onboard *o = &v->onboard;
    for (size_t i = 0; i < o->ecus_n; i++)
        ecu(&w, v, &o->ecus[i]);
    for (size_t i = 0; i < o->ecus_n; i++)
        for (unsigned kind = 0; kind < OXL_DTC_KINDS; kind++)
            codes(&w, &o->ecus[i], (enum oxl_dtc_kind)kind);
    for (size_t i = 0; i < o->results_n; i++)
        result(&w, &o->results[i]);
    frozen(&w, o);
    struct oxl_json *j = begin(&w, "readings");
    values(j, v->reading, v->readings_n);
    end(&w);
    summary(&w, v);
}
