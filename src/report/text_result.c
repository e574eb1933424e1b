#include "text_page.h"

#include <stdio.h>
#include <string.h>

#include "say.h"
#include "words.h"

/* ---- the table of runs ---------------------------------------------------------------------- */

static void run_row(struct oxl_buf *out, const struct oxl_run_result *r)
{
    char delay[OXL_SHOWN], target[OXL_SHOWN], o2[OXL_SHOWN];
    char shift[OXL_SHOWN] = "--", air[OXL_SHOWN], rpm[OXL_SHOWN];
    oxl_show_span(&r->delay_s, false, delay);
    oxl_show_span(&r->delay_at_target_s, false, target);
    oxl_show_span(&r->o2_mg, true, o2);
    if (oxl_known(r->shift_pct))
        snprintf(shift, sizeof shift, "%.1f", r->shift_pct);
    oxl_show_number(r->air_g_s, air);
    oxl_show_whole(r->rpm, rpm);
    char run[16];
    snprintf(run, sizeof run, "%d%s", r->run, r->deeper ? "d" : "");
    oxl_buf_add(out, "%3s %-6s%-18s%-18s%-16s%6s%6s%6s\n", run, r->valid ? "yes" : "no", delay,
                target, o2, shift, air, rpm);
}

static void run_reasons(struct oxl_buf *out, const struct oxl_test_record *s)
{
    oxl_reasons all = 0;
    for (size_t i = 0; i < s->runs_n; i++)
        all |= s->runs[i].reasons;
    for (unsigned r = 0; r < OXL_R_COUNT; r++) {
        char runs[OXL_RUNS_SHOWN], text[sizeof runs + 256];
        if (!oxl_reasons_has(all, (enum oxl_reason)r))
            continue;
        oxl_runs_with(s, (enum oxl_reason)r, runs);
        snprintf(text, sizeof text, "%.250s%s", oxl_reason_sentence((enum oxl_reason)r), runs);
        oxl_page_text(out, " - ", text);
    }
}

void oxl_page_runs(struct oxl_buf *out, const struct oxl_test_record *s)
{
    oxl_page_heading(out, "Runs");
    if (s->runs_n == 0) {
        oxl_buf_add(out, "No run was made.\n");
        return;
    }
    oxl_buf_add(out, "%3s %-6s%-18s%-18s%-16s%6s%6s%6s\n", "Run", "Valid", "Delay",
                "Delay at target", "Oxygen stored", "Shift", "Air", "Speed");
    oxl_buf_add(out, "%3s %-6s%-18s%-18s%-16s%6s%6s%6s\n", "", "", "s", "s", "mg", "%", "g/s",
                "1/min");
    for (size_t i = 0; i < s->runs_n; i++)
        run_row(out, &s->runs[i]);
    oxl_page_text(out, "",
                  "\"a (b..c)\": estimate and the interval that holds it; \">= a\": at least a, "
                  "because the rear sensor held or only part of the store was emptied; \"--\": not "
                  "known.");
    for (size_t i = 0; i < s->runs_n; i++)
        if (s->runs[i].deeper) {
            oxl_page_text(out, "", oxl_deeper_words());
            break;
        }
    run_reasons(out, s);
}

/* ---- the result ----------------------------------------------------------------------------- */

static void figures(struct oxl_buf *out, const struct oxl_result *r)
{
    char text[OXL_SHOWN], line[160];
    oxl_show_span(&r->delay_s, false, text);
    snprintf(line, sizeof line, "%s%s", text, r->held ? " s (the rear sensor held)" : " s");
    oxl_page_field(out, "Delay", line);
    oxl_show_span(&r->delay_at_target_s, false, text);
    snprintf(line, sizeof line, "%s s", text);
    oxl_page_field(out, "Delay at target", line);
    oxl_show_span(&r->o2_mg, true, text);
    int used = snprintf(line, sizeof line, "%s mg", text);
    if (r->deeper_run > 0)
        snprintf(line + used, sizeof line - (size_t)used, " (the deeper run %d)", r->deeper_run);
    oxl_page_field(out, "Oxygen stored", line);
    oxl_show_number(r->air_g_s, text);
    snprintf(line, sizeof line, "%s g/s", text);
    oxl_page_field(out, "Air flow", line);
    oxl_show_whole(r->rpm, text);
    snprintf(line, sizeof line, "%s 1/min", text);
    oxl_page_field(out, "Engine speed", line);
    int n = snprintf(line, sizeof line, "%d of %d", r->valid_runs, r->runs);
    oxl_show_number(r->spread_s, text);
    if (oxl_known(r->spread_s))
        n += snprintf(line + n, sizeof line - (size_t)n, "; they differ by %s s", text);
    if (r->aside_run > 0)
        snprintf(line + n, sizeof line - (size_t)n, "; run %d set aside", r->aside_run);
    oxl_say_early(r, line, sizeof line);
    oxl_page_field(out, "Runs counted", line);
}

static void reasons(struct oxl_buf *out, oxl_reasons set)
{
    if (set)
        oxl_page_heading(out, "Why");
    for (unsigned r = 0; r < OXL_R_COUNT; r++)
        if (oxl_reasons_has(set, (enum oxl_reason)r))
            oxl_page_text(out, " - ", oxl_reason_sentence((enum oxl_reason)r));
}

static void next_checks(struct oxl_buf *out, oxl_reasons set)
{
    unsigned n = 0;
    for (unsigned r = 0; r < OXL_R_COUNT; r++) {
        const char *next = oxl_reason_next((enum oxl_reason)r);
        char label[8];
        if (!oxl_reasons_has(set, (enum oxl_reason)r) || !next[0])
            continue;
        if (n++ == 0)
            oxl_page_heading(out, "What to check next");
        snprintf(label, sizeof label, "%2u. ", n % 100);
        oxl_page_text(out, label, next);
    }
}

static void could_be(struct oxl_buf *out, enum oxl_verdict v)
{
    const char *line;
    for (size_t i = 0; (line = oxl_other_cause(v, i)); i++) {
        if (i == 0)
            oxl_page_heading(out, "Could also be (no data of this test show it)");
        oxl_page_text(out, " - ", line);
    }
}

void oxl_page_result(struct oxl_buf *out, const struct oxl_test_record *s)
{
    oxl_page_heading(out, "Result");
    oxl_page_text(out, "", oxl_verdict_headline(s));
    oxl_page_text(out, "", oxl_verdict_sentence(s));
    if (!s->has_result) {
        oxl_page_text(out, "Why: ", s->stopped_why[0] ? s->stopped_why : "not known");
        return;
    }
    oxl_buf_add(out, "\n");
    figures(out, &s->result);
    reasons(out, s->result.reasons);
    next_checks(out, s->result.next);
    could_be(out, s->result.verdict);
}
