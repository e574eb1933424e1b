/* The comparison of two tests as one JSON object; docs/exports.md. */
#include "oxylag/compare.h"
#include "record/event_parts.h"

static void text_or_null(struct oxl_json *j, const char *key, const char *text)
{
    oxl_json_key(j, key);
    if (text[0])
        oxl_json_text(j, text);
    else
        oxl_json_null(j);
}

static void test(struct oxl_json *j, const char *key, const struct oxl_test_record *s)
{
    oxl_json_key(j, key);
    oxl_json_open(j, '{');
    text_or_null(j, "recording", s->recording_name);
    text_or_null(j, "sha256", s->sha256);
    text_or_null(j, "started", s->header.started);
    oxl_json_member_bool(j, "simulated", s->header.simulated);
    text_or_null(j, "verdict", s->has_result ? oxl_verdict_name(s->result.verdict) : "");
    oxl_json_close(j, '}');
}

static void difference(struct oxl_json *j, const char *key, const struct oxl_difference *d)
{
    oxl_json_key(j, key);
    oxl_json_open(j, '{');
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
    oxl_json_key(&j, "unlike");
    oxl_json_open(&j, '[');
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
