#include "oxylag/report.h"

#include <string.h>

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

static void text_value(struct oxl_buf *out, const char *text)
{
    char escaped[PIECE_MAX];
    struct oxl_json j;
    oxl_json_start(&j, escaped, sizeof escaped);
    oxl_json_text(&j, text);
    piece(out, escaped, oxl_json_done(&j));
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

/* The members of an event as docs/events.md has them, without its name and time. */
static void checks(struct oxl_buf *out, const struct oxl_test_record *s)
{
    char text[PIECE_MAX];
    oxl_buf_add(out, ",\n\"checks\":[");
    for (size_t i = 0; i < s->checks_n; i++) {
        struct oxl_json j;
        oxl_json_start(&j, text, sizeof text);
        oxl_json_open(&j, '{');
        oxl_json_check(&j, &s->checks[i]);
        oxl_json_close(&j, '}');
        oxl_buf_add(out, i ? ",\n" : "\n");
        piece(out, text, oxl_json_done(&j));
    }
    oxl_buf_add(out, "]");
}

static void runs(struct oxl_buf *out, const struct oxl_test_record *s)
{
    char text[PIECE_MAX];
    oxl_buf_add(out, ",\n\"runs\":[");
    for (size_t i = 0; i < s->runs_n; i++) {
        struct oxl_json j;
        oxl_json_start(&j, text, sizeof text);
        oxl_json_open(&j, '{');
        oxl_json_member_seconds(&j, "t_s", s->run_t_us[i]);
        oxl_json_run(&j, &s->runs[i]);
        oxl_json_close(&j, '}');
        oxl_buf_add(out, i ? ",\n" : "\n");
        piece(out, text, oxl_json_done(&j));
    }
    oxl_buf_add(out, "]");
}

static void vehicle(struct oxl_buf *out, const struct oxl_test_record *s)
{
    char text[PIECE_MAX];
    struct oxl_json j;
    oxl_json_start(&j, text, sizeof text);
    oxl_json_open(&j, '{');
    oxl_json_vehicle(&j, &s->vehicle, s->header.mask_vin);
    oxl_json_close(&j, '}');
    oxl_buf_add(out, ",\n\"vehicle\":");
    piece(out, text, oxl_json_done(&j));
}

static void result(struct oxl_buf *out, const struct oxl_test_record *s)
{
    char text[PIECE_MAX];
    struct oxl_json j;
    oxl_buf_add(out, ",\n\"result\":");
    if (!s->has_result) {
        oxl_buf_add(out, "null");
        return;
    }
    oxl_json_start(&j, text, sizeof text);
    oxl_json_open(&j, '{');
    oxl_json_result(&j, &s->result);
    oxl_json_close(&j, '}');
    piece(out, text, oxl_json_done(&j));
    oxl_buf_add(out, ",\n\"could_also_be\":[");
    const char *line;
    for (size_t i = 0; (line = oxl_other_cause(s->result.verdict, i)); i++) {
        oxl_buf_add(out, i ? ",\n" : "\n");
        text_value(out, line);
    }
    oxl_buf_add(out, "]");
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

static void caution_list(struct oxl_buf *out)
{
    oxl_buf_add(out, ",\n\"cautions\":[");
    for (size_t i = 0; i < oxl_cautions_count(); i++) {
        oxl_buf_add(out, i ? ",\n" : "\n");
        text_value(out, oxl_caution(i));
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
    checks(out, s);
    runs(out, s);
    notes(out, s);
    caution_list(out);
    oxl_buf_add(out, "}\n");
}
