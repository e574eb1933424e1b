/* Reasons, pre-check, notes; limits, method, assumptions, cautions. */
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "page.h"
#include "words.h"

static void heading(struct oxl_page *p, struct oxl_list *l, const char *words, const char *name)
{
    char text[96];
    snprintf(text, sizeof text, "%s%s%s", words, name[0] ? ": " : "", name);
    oxl_list_heading(p, l, text);
}

static oxl_reasons all_reasons(const struct oxl_test_record *s)
{
    oxl_reasons all = s->has_result ? s->result.reasons : 0;
    for (size_t i = 0; i < s->runs_n; i++)
        all |= s->runs[i].reasons;
    return all;
}

/* How many points of one kind a page has room for. */
static size_t most(enum oxl_detail detail, size_t least)
{
    return detail == OXL_DETAIL_CLIPPED ? least / 2 : detail == OXL_DETAIL_LEAST ? least : SIZE_MAX;
}

static void more(struct oxl_page *p, struct oxl_list *l, size_t n, size_t shown)
{
    char text[64];
    if (n <= shown)
        return;
    snprintf(text, sizeof text, "%zu more are in the report as text.", n - shown);
    oxl_list_text(p, l, text);
}

/* Reasons of the result, then those that only runs have, each with its runs. */
static void reasons(struct oxl_page *p, struct oxl_list *l, const struct oxl_test_record *s,
                    enum oxl_detail detail)
{
    const oxl_reasons of_result = s->has_result ? s->result.reasons : 0;
    size_t n = 0;
    for (int pass = 0; pass < 2; pass++)
        for (unsigned r = 0; r < OXL_R_COUNT; r++) {
            const enum oxl_reason reason = (enum oxl_reason)r;
            char runs[OXL_RUNS_SHOWN] = "", text[sizeof runs + 256];
            if (!oxl_reasons_has(all_reasons(s), reason) ||
                oxl_reasons_has(of_result, reason) != (pass == 0))
                continue;
            if (n++ >= most(detail, 7))
                continue;
            if (pass == 1)
                oxl_runs_with(s, reason, runs);
            snprintf(text, sizeof text, "%.250s%.200s", oxl_reason_sentence(reason), runs);
            oxl_list_point(p, l, "-", text);
        }
    more(p, l, n, most(detail, 7));
}

static void next_checks(struct oxl_page *p, struct oxl_list *l, oxl_reasons set,
                        enum oxl_detail detail)
{
    size_t n = 0;
    for (unsigned r = 0; r < OXL_R_COUNT; r++) {
        const char *next = oxl_reason_next((enum oxl_reason)r);
        char label[8];
        if (!oxl_reasons_has(set, (enum oxl_reason)r) || !next[0])
            continue;
        if (n++ >= most(detail, 5))
            continue;
        snprintf(label, sizeof label, "%zu.", n % 100);
        oxl_list_point(p, l, label, next);
    }
    if (n == 0)
        oxl_list_text(p, l, "No further check follows from this test.");
    more(p, l, n, most(detail, 5));
}

void oxl_part_why(struct oxl_page *p, struct oxl_list *l, const struct oxl_test_record *s,
                  const char *name, enum oxl_detail detail)
{
    if (all_reasons(s)) {
        heading(p, l, "Why", name);
        reasons(p, l, s, detail);
    }
    if (s->has_result) {
        heading(p, l, "What to check next", name);
        next_checks(p, l, s->result.next, detail);
    }
}

/* ---- pre-check ------------------------------------------------------------------------------ */

static void codes(struct oxl_page *p, struct oxl_list *l, const struct oxl_vehicle *v)
{
    char stored[8 * OXL_MAX_DTCS], pending[8 * OXL_MAX_DTCS], permanent[8 * OXL_MAX_DTCS];
    char text[sizeof stored * 3 + 64];
    oxl_dtcs_shown(v->stored_known, v->stored, v->stored_n, stored, sizeof stored);
    oxl_dtcs_shown(v->pending_known, v->pending, v->pending_n, pending, sizeof pending);
    oxl_dtcs_shown(v->permanent_known, v->permanent, v->permanent_n, permanent, sizeof permanent);
    snprintf(text, sizeof text, "stored %s; pending %s; permanent %s; lamp %s", stored, pending,
             permanent,
             !v->readiness.known   ? "not known"
             : v->readiness.mil_on ? "on"
                                   : "off");
    oxl_list_field(p, l, "Codes", text);
}

/* Codes that do no harm stand in the line of codes already. */
static bool said_already(const struct oxl_check *c)
{
    return c->grade == OXL_GRADE_PASS && strncmp(c->id, "codes-", 6) == 0;
}

/* "catalyst-temperature" names the check where what was found does not begin with it. */
static void check_words(const struct oxl_check *c, char *out, size_t n)
{
    char id[sizeof c->id];
    memcpy(id, c->id, sizeof id);
    for (char *h = id; (h = strchr(h, '-')) != NULL;)
        *h = ' ';
    const size_t first = strcspn(id, " ");
    const bool named = strncmp(c->found, id, first) == 0;
    snprintf(out, n, "%s%s%s%s%s", named ? "" : id, named ? "" : ": ",
             c->found[0] ? c->found : "not known", c->advice[0] ? "; " : "", c->advice);
}

static void one_check(struct oxl_page *p, struct oxl_list *l, const struct oxl_check *c)
{
    char text[sizeof c->found + sizeof c->advice + sizeof c->id + 8];
    check_words(c, text, sizeof text);
    oxl_list_field(p, l, oxl_grade_name(c->grade), text);
}

/* All that passed in one go: the closer look is kept for what did not. */
static void passed(struct oxl_page *p, struct oxl_list *l, const struct oxl_test_record *s)
{
    char text[1000] = "";
    size_t at = 0;
    for (size_t i = 0; i < s->checks_n && at + 260 < sizeof text; i++)
        if (s->checks[i].grade == OXL_GRADE_PASS && !said_already(&s->checks[i])) {
            at += (size_t)snprintf(text + at, sizeof text - at, "%s", at ? "; " : "");
            check_words(&s->checks[i], text + at, 256);
            at += strlen(text + at);
        }
    if (at)
        oxl_list_field(p, l, "pass", text);
}

void oxl_part_checks(struct oxl_page *p, struct oxl_list *l, const struct oxl_test_record *s,
                     const char *name, enum oxl_detail detail)
{
    heading(p, l, "Pre-check", name);
    codes(p, l, &s->vehicle);
    if (s->checks_n == 0)
        oxl_list_text(p, l, "No check was made.");
    size_t n = 0;
    for (size_t i = 0; i < s->checks_n; i++)
        if (!said_already(&s->checks[i]) &&
            (detail == OXL_DETAIL_FULL || s->checks[i].grade != OXL_GRADE_PASS) &&
            n++ < most(detail, 7))
            one_check(p, l, &s->checks[i]);
    more(p, l, n, most(detail, 7));
    if (detail != OXL_DETAIL_FULL)
        passed(p, l, s);
}

void oxl_part_notes(struct oxl_page *p, struct oxl_list *l, const struct oxl_test_record *s,
                    const char *name, enum oxl_detail detail)
{
    const size_t shown = detail == OXL_DETAIL_FULL ? 16 : detail == OXL_DETAIL_SHORT ? 6 : 2;
    char text[160];
    if (s->notes_n == 0 && !s->header.note[0])
        return;
    heading(p, l, "Marks and notes", name);
    if (s->header.note[0])
        oxl_list_point(p, l, "-", s->header.note);
    for (size_t i = 0; i < s->notes_n && i < shown; i++) {
        snprintf(text, sizeof text, "%.1f s: %s", (double)s->notes[i].t_us / 1e6, s->notes[i].text);
        oxl_list_point(p, l, "-", text);
    }
    if (s->notes_n > shown)
        oxl_list_text(p, l, "More of them are in the recording.");
}

/* ---- what it rests on ----------------------------------------------------------------------- */

static void limits(struct oxl_page *p, struct oxl_list *l, const struct oxl_test_record *s,
                   const char *name)
{
    char line[OXL_BASIS];
    heading(p, l, "Limits used", name);
    oxl_limits_words(s, line);
    oxl_list_field(p, l, "Seconds", line);
    oxl_limits_mg_words(s, line);
    if (!s->has_result || !oxl_known(s->result.bad_limit_mg))
        snprintf(line, sizeof line, "not known: no air flow; %g and %g g for each g/s",
                 s->profile.bad_g_per_g_s, s->profile.good_g_per_g_s);
    oxl_list_field(p, l, "Milligrams", line);
    oxl_origin_words(s, line);
    oxl_list_field(p, l, "Origin", line);
    oxl_profile_words(s, line);
    oxl_list_field(p, l, "Profile", line);
}

static void baseline(struct oxl_page *p, struct oxl_list *l, const struct oxl_test_record *s)
{
    char text[64] = "not known";
    if (oxl_known(s->baseline_trim_pct))
        snprintf(text, sizeof text, "%.1f %% total trim before the last run", s->baseline_trim_pct);
    oxl_list_field(p, l, "Baseline", text);
}

void oxl_part_basis(struct oxl_page *p, const struct oxl_report_input *tests, size_t n)
{
    const struct oxl_test_record *s = tests[n - 1].story;
    struct oxl_comparison c = {0};
    char line[OXL_BASIS];
    if (n > 1)
        oxl_compare(tests[0].story, s, &c);
    struct oxl_list *l = n > 1 ? &p->low_left : &p->right;
    const bool both = c.unlikes >> OXL_UNLIKE_LIMITS & 1u ||
                      (n > 1 && strcmp(tests[0].story->profile.name, s->profile.name) != 0);
    if (both)
        limits(p, l, tests[0].story, oxl_test_name(tests, n, 0));
    limits(p, l, s, both ? oxl_test_name(tests, n, 1) : "");
    oxl_list_heading(p, l, "Method and assumptions");
    oxl_list_text(p, l, oxl_method_words);
    if (n > 1)
        oxl_list_text(p, l, oxl_compared_method);
    oxl_assumed_words(s, line);
    oxl_list_field(p, l, "Assumed", line);
    if (n == 1)
        baseline(p, l, s);
    l = n > 1 ? &p->low_right : &p->low_left;
    oxl_list_heading(p, l, "Cautions");
    oxl_list_text(p, l, oxl_cautions_short);
    oxl_list_heading(p, &p->low_right, "Emission warranty and documents");
    oxl_list_text(p, &p->low_right, oxl_verify_words);
}
