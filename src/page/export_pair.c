/* The comparison of two tests as one JSON object; docs/exports.md. */
#include "oxylag/compare.h"
#include "record/event_parts.h"

static void test(struct oxl_json *j, const char *key, const struct oxl_test_record *s)
{
    oxl_json_member_open(j, key, '{');
    oxl_json_member_word(j, "recording", s->recording_name);
    oxl_json_member_word(j, "sha256", s->sha256);
    oxl_json_member_word(j, "started", s->header.started);
    oxl_json_member_bool(j, "simulated", s->header.simulated);
    oxl_json_member_word(j, "verdict", s->has_result ? oxl_verdict_name(s->result.verdict) : "");
    oxl_json_member_word(j, "conclusion",
                         s->has_result ? oxl_conclusion_name(s->result.conclusion) : "");
    oxl_json_close(j, '}');
}

static void difference(struct oxl_json *j, const char *key, const struct oxl_difference *d)
{
    oxl_json_member_open(j, key, '{');
    oxl_json_member_number(j, "difference", d->span.value);
    oxl_json_member_number(j, "low", d->span.low);
    oxl_json_member_number(j, "high", d->span.high);
    oxl_json_member_number(j, "spread", d->spread);
    oxl_json_member_text(j, "change", oxl_change_name(d->change));
    oxl_json_close(j, '}');
}

void oxl_report_pair_json(const struct oxl_test_record *first, const struct oxl_test_record *second,
                          struct oxl_buf *out)
{
    char text[8192];
    struct oxl_comparison c;
    struct oxl_json j;
    oxl_compare(first, second, &c);
    oxl_json_start(&j, text, sizeof text);
    oxl_json_open(&j, '{');
    oxl_json_member_text(&j, "format", "oxylag-comparison");
    oxl_json_member_integer(&j, "version", 1);
    test(&j, "first", first);
    test(&j, "second", second);
    oxl_json_member_bool(&j, "compared", c.allowed);
    oxl_json_member_open(&j, "unlike", '[');
    for (unsigned u = 0; u < OXL_UNLIKE_COUNT; u++)
        if (c.unlikes >> u & 1u)
            oxl_json_text(&j, oxl_unlikes[u].code);
    oxl_json_close(&j, ']');
    difference(&j, "delay_at_target_s", &c.delay_at_target_s);
    difference(&j, "o2_mg", &c.o2_mg);
    oxl_json_close(&j, '}');
    const size_t n = oxl_json_done(&j);
    out->failed = out->failed || n == 0;
    oxl_buf_put(out, text, n);
    oxl_buf_add(out, "\n");
}
