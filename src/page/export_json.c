#include "oxylag/report.h"

#include "record/event_parts.h"

enum { PIECE_MAX = OXL_RECORD_LINE_MAX };

/* A piece that is complete JSON goes in as it is. */
static void piece(struct oxl_buf *out, const char *text, size_t n)
{
    if (n == 0)
        out->failed = true;
    else
        oxl_buf_add(out, "%.*s", (int)n, text);
}

/* An object of an event's members as docs/events.md has them, without its name and time. */
struct object {
    char text[PIECE_MAX];
    struct oxl_json j;
};

static struct oxl_json *begin(struct object *o)
{
    oxl_json_start(&o->j, o->text, sizeof o->text);
    oxl_json_open(&o->j, '{');
    return &o->j;
}

static void end(struct object *o, struct oxl_buf *out)
{
    oxl_json_close(&o->j, '}');
    piece(out, o->text, oxl_json_done(&o->j));
}

static void text_value(struct oxl_buf *out, const char *text)
{
    struct object o;
    oxl_json_start(&o.j, o.text, sizeof o.text);
    oxl_json_text(&o.j, text);
    piece(out, o.text, oxl_json_done(&o.j));
}

static void text_or_null(struct oxl_buf *out, const char *name, const char *text)
{
    oxl_buf_add(out, ",\n\"%s\":", name);
    if (text[0])
        text_value(out, text);
    else
        oxl_buf_add(out, "null");
}

static void header(struct oxl_buf *out, const struct oxl_record_header *h)
{
    char line[PIECE_MAX];
    size_t n = oxl_record_encode_header(h, line, sizeof line);
    oxl_buf_add(out, ",\n\"header\":");
    piece(out, line, n ? n - 1 : 0); /* without its newline */
}

static void checks_and_runs(struct oxl_buf *out, const struct oxl_test_record *s)
{
    struct object o;
    oxl_buf_add(out, ",\n\"checks\":[");
    for (size_t i = 0; i < s->checks_n; i++) {
        oxl_buf_add(out, i ? ",\n" : "\n");
        oxl_json_check(begin(&o), &s->checks[i]);
        end(&o, out);
    }
    oxl_buf_add(out, "],\n\"runs\":[");
    for (size_t i = 0; i < s->runs_n; i++) {
        oxl_buf_add(out, i ? ",\n" : "\n");
        oxl_json_member_seconds(begin(&o), "t_s", s->run_t_us[i]);
        oxl_json_run(&o.j, &s->runs[i]);
        end(&o, out);
    }
    oxl_buf_add(out, "]");
}

static void texts(struct oxl_buf *out, const char *name,
                  const char *(*at)(unsigned which, size_t i), unsigned which)
{
    const char *line;
    oxl_buf_add(out, ",\n\"%s\":[", name);
    for (size_t i = 0; (line = at(which, i)) != NULL; i++) {
        oxl_buf_add(out, i ? ",\n" : "\n");
        text_value(out, line);
    }
    oxl_buf_add(out, "]");
}

static const char *caution_at(unsigned which, size_t i)
{
    (void)which;
    return i < OXL_CAUTIONS ? oxl_cautions[i] : NULL;
}

static void vehicle(struct oxl_buf *out, const struct oxl_test_record *s)
{
    struct object o;
    oxl_buf_add(out, ",\n\"vehicle\":");
    oxl_json_vehicle(begin(&o), &s->vehicle, s->header.mask_vin);
    end(&o, out);
}

static void result(struct oxl_buf *out, const struct oxl_test_record *s)
{
    struct object o;
    oxl_buf_add(out, ",\n\"result\":%s", s->has_result ? "" : "null");
    if (!s->has_result)
        return;
    oxl_json_result(begin(&o), &s->result);
    end(&o, out);
    texts(out, "could_also_be", oxl_other_cause, s->result.conclusion);
}

static void notes(struct oxl_buf *out, const struct oxl_test_record *s)
{
    oxl_buf_add(out, ",\n\"notes\":[");
    for (size_t i = 0; i < s->notes_n; i++) {
        char t[32];
        oxl_seconds_text(s->notes[i].t_us, t);
        oxl_buf_add(out, "%s\n{\"t_s\":%s,\"text\":", i ? "," : "", t);
        text_value(out, s->notes[i].text);
        oxl_buf_add(out, "}");
    }
    oxl_buf_add(out, "]");
}

/* The profile that was used may differ from the header's, when the session chose it. */
static void profile(struct oxl_buf *out, const struct oxl_test_record *s)
{
    char ini[PIECE_MAX / 2];
    oxl_buf_add(out, ",\n\"profile\":{\"name\":");
    text_value(out, s->profile.name);
    oxl_buf_add(out, ",\"why\":");
    text_value(out, s->profile_why);
    if (oxl_profile_format(&s->profile, ini, sizeof ini) >= sizeof ini) {
        out->failed = true;
        return;
    }
    oxl_buf_add(out, ",\"text\":");
    text_value(out, ini);
    oxl_buf_add(out, "}");
}

void oxl_report_json(const struct oxl_test_record *s, struct oxl_buf *out)
{
    char trim[32];
    oxl_number_text(s->baseline_trim_pct, trim);
    oxl_buf_add(out, "{\"format\":\"oxylag-report\",\n\"version\":1,\n\"simulated\":%s",
                s->header.simulated ? "true" : "false");
    header(out, &s->header);
    text_or_null(out, "recording", s->recording_name);
    text_or_null(out, "sha256", s->sha256);
    oxl_buf_add(out, ",\n\"torn\":%s", s->torn ? "true" : "false");
    profile(out, s);
    vehicle(out, s);
    result(out, s);
    oxl_buf_add(out, ",\n\"last_state\":\"%s\"", oxl_state_name(s->last_state));
    text_or_null(out, "stopped_why", s->stopped_why);
    oxl_buf_add(out, ",\n\"baseline_trim_pct\":%s", trim);
    checks_and_runs(out, s);
    notes(out, s);
    texts(out, "cautions", caution_at, 0);
    oxl_buf_add(out, "}\n");
}
