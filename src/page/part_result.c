/* The verdict, what to do next, why, and the figures; of two tests their difference. */
#include <ctype.h>
#include <math.h>
#include <stdio.h>

#include "oxylag/safe.h"
#include "page.h"
#include "words.h"

/* ---- rulers --------------------------------------------------------------------------------- */

/* The same in words, for those who cannot see the drawing. */
static void ruler_words(const struct oxl_ruler *r, char *out, size_t n)
{
    const int decimals = r->unit[0] == 's' ? 2 : 0;
    snprintf(out, n, "%s against the shop limits: ", r->quantity);
    for (size_t i = 0; i < r->n; i++) {
        char text[OXL_FIGURE_TEXT];
        oxl_figure_span(&r->figures[i], decimals, r->unit, text);
        oxl_append(out, n, "%s%s%s; ", r->names[i], r->names[i][0] ? " " : "", text);
    }
    if (oxl_known(r->bad) && oxl_known(r->good))
        oxl_append(out, n, "bad below %.*f %s, good above %.*f %s", r->bad < 20, r->bad, r->unit,
                   r->good < 20, r->good, r->unit);
    else
        oxl_append(out, n, "limits not known");
}

/* One figure, or two with the names of their tests. */
static void ruler(struct oxl_page *p, const char *quantity, const char *unit, double bad,
                  double good, const struct oxl_span *a, const struct oxl_span *b)
{
    struct oxl_ruler r = {.quantity = quantity,
                          .unit = unit,
                          .bad = bad,
                          .good = good,
                          .figures = {*a, b ? *b : *a},
                          .names = {p->names[0], p->names[1]},
                          .n = b ? 2 : 1};
    char words[400];
    ruler_words(&r, words, sizeof words);
    p->area = OXL_AREA_RULERS;
    oxl_page_block(p, OXL_BLOCK_RULER, "", words);
    p->rulers[p->rulers_n++] = r;
}

static void rulers(struct oxl_page *p, const struct oxl_test_record *s)
{
    const struct oxl_result *r = &s->result;
    const bool at_target =
        oxl_known(r->delay_at_target_s.low) || oxl_known(r->delay_at_target_s.value);
    ruler(p, at_target ? "Delay at target" : "Delay", "s", s->profile.bad_s, s->profile.good_s,
          at_target ? &r->delay_at_target_s : &r->delay_s, NULL);
    ruler(p, "Oxygen stored", "mg", r->bad_limit_mg, r->good_limit_mg, &r->o2_mg, NULL);
}

/* ---- the verdict, what carried it, what to do next ------------------------------------------- */

static void lead(struct oxl_page *p, const struct oxl_result *r)
{
    char text[OXL_RESULT_LEAD];
    oxl_result_lead(r, text);
    text[0] = (char)toupper((unsigned char)text[0]);
    if (text[0])
        oxl_page_block(p, OXL_BLOCK_LEAD, "", text);
}

/* The steps from `from` on, numbered as they are in the list. */
static void steps(struct oxl_page *p, const struct oxl_result *r, size_t from)
{
    enum oxl_reason step;
    size_t n = from;
    for (; (step = oxl_next_step(r, n)) != OXL_R_COUNT; n++) {
        char label[8];
        snprintf(label, sizeof label, "%zu.", (n + 1) % 100);
        if (n < oxl_page_most(p, 5))
            oxl_page_point(p, label, "%s", oxl_reason_next(step));
    }
    oxl_page_more(p, n, oxl_page_most(p, 5));
}

void oxl_part_next(struct oxl_page *p, const struct oxl_test_record *s, const char *name)
{
    if (!s->has_result)
        return;
    oxl_page_heading(p, "What to do next", name);
    if (oxl_next_step(&s->result, 0) == OXL_R_COUNT)
        oxl_page_text(p, "Nothing further follows from this test.");
    steps(p, &s->result, 0);
}

/* Without a verdict the first thing to do stands before any figure. */
static void inconclusive(struct oxl_page *p, const struct oxl_result *r)
{
    const enum oxl_reason first = oxl_next_step(r, 0);
    char text[300];
    if (first != OXL_R_COUNT) {
        snprintf(text, sizeof text, "Do this next: %.250s", oxl_reason_next(first));
        oxl_page_block(p, OXL_BLOCK_LEAD, "", text);
    }
    lead(p, r);
    if (oxl_next_step(r, 1) == OXL_R_COUNT)
        return;
    oxl_page_heading(p, "After that", "");
    steps(p, r, 1);
}

void oxl_part_result(struct oxl_page *p, const struct oxl_test_record *s)
{
    char text[64];
    p->area = OXL_AREA_VERDICT;
    snprintf(text, sizeof text, "%s%s",
             s->has_result ? "Converter oxygen storage: " : "No verdict: the test was not finished",
             s->has_result ? oxl_conclusion_shown(s->result.conclusion) : "");
    oxl_page_block(p, OXL_BLOCK_VERDICT, "", text);
    if (!s->has_result) {
        oxl_page_text(p, "Why: %s", s->stopped_why[0] ? s->stopped_why : "not known.");
    } else if (s->result.conclusion == OXL_CONCLUSION_NONE) {
        inconclusive(p, &s->result);
    } else {
        lead(p, &s->result);
        oxl_part_next(p, s, "");
    }
    if (s->has_result)
        rulers(p, s);
    p->area = OXL_AREA_WHY;
    oxl_page_heading(p, "What it means", "");
    oxl_page_text(p, "%s%s", oxl_what_it_is, oxl_verdict_sentence(s));
}

/* ---- why ------------------------------------------------------------------------------------ */

static bool has_reason(const struct oxl_test_record *s, const struct oxl_run_result *r,
                       enum oxl_reason reason)
{
    (void)s;
    return oxl_reasons_has(r->reasons, reason);
}

static oxl_reasons all_reasons(const struct oxl_test_record *s)
{
    oxl_reasons all = s->has_result ? s->result.reasons : 0;
    for (size_t i = 0; i < s->runs_n; i++)
        if (!s->has_result || !s->runs[i].valid)
            all |= s->runs[i].reasons;
    return all;
}

/* Three sentences say why; what else was seen stands apart from them. */
enum { WHY = 3, MOST_REASONS = 7 };
static void nth_reason(struct oxl_page *p, const char *name, size_t n, enum oxl_reason r,
                       const char *runs)
{
    if (n == WHY)
        oxl_page_heading(p, "Also noted", name);
    if (n >= oxl_page_most(p, MOST_REASONS))
        return;
    oxl_page_point(p, "-", "%s%s%s%s", oxl_reason_sentence(r), runs[0] ? " (" : "", runs,
                   runs[0] ? ")" : "");
}

/* The reasons of the result in their order, then those why runs do not count, each with its runs.
 * What the result left out of a run that counts is beside the point (measure/judge.c). */
static size_t reasons(struct oxl_page *p, const struct oxl_test_record *s, const char *name)
{
    const oxl_reasons of_result = s->has_result ? s->result.reasons : 0;
    const oxl_reasons of_runs = all_reasons(s) & ~of_result;
    enum oxl_reason r;
    size_t n = 0;
    for (; of_result && (r = oxl_nth_reason(&s->result, n)) != OXL_R_COUNT; n++)
        nth_reason(p, name, n, r, "");
    for (r = 0; r < OXL_R_COUNT; r++) {
        char runs[OXL_RUNS_SHOWN];
        if (!oxl_reasons_has(of_runs, r))
            continue;
        oxl_runs_listed(s, has_reason, r, runs);
        nth_reason(p, name, n++, r, runs);
    }
    return n;
}

static void could_be(struct oxl_page *p, enum oxl_conclusion c, const char *name)
{
    const char *line;
    for (size_t i = 0; (line = oxl_other_cause(c, i)) != NULL; i++) {
        if (i == 0)
            oxl_page_heading(p, "Could also be (no data of this test show it)", name);
        oxl_page_point(p, "-", "%s", line);
    }
}

void oxl_part_why(struct oxl_page *p, const struct oxl_test_record *s, const char *name)
{
    if (all_reasons(s)) {
        oxl_page_heading(p, "Why", name);
        oxl_page_more(p, reasons(p, s, name), oxl_page_most(p, MOST_REASONS));
    }
    if (s->has_result)
        could_be(p, s->result.conclusion, name);
}

/* ---- figures -------------------------------------------------------------------------------- */

static void measured(struct oxl_page *p, const char *name, const struct oxl_span *v, int decimals,
                     const char *unit, const char *more)
{
    char text[OXL_FIGURE_TEXT];
    oxl_figure_span(v, decimals, unit, text);
    oxl_page_field(p, name, "%s%s", text, more);
}

void oxl_part_figures(struct oxl_page *p, const struct oxl_test_record *s)
{
    const struct oxl_result *r = &s->result;
    char air[OXL_FIGURE_TEXT], rpm[OXL_FIGURE_TEXT], text[OXL_COUNTED] = "";
    if (!s->has_result)
        return;
    oxl_page_heading(p, "Figures", "");
    measured(p, "Delay at target", &r->delay_at_target_s, 2, "s", "");
    measured(p, "Delay measured", &r->delay_s, 2, "s", r->held ? ", the rear sensor held" : "");
    oxl_o2_run_text(r, text);
    measured(p, "Oxygen stored", &r->o2_mg, 0, "mg", text);
    oxl_counted_words(s, text);
    oxl_page_field(p, "Runs counted", "%s", text);
    oxl_figure_number(r->air_g_s, 2, "g/s", air);
    oxl_figure_number(r->rpm, 0, "rpm", rpm);
    const struct oxl_check *refresh = oxl_test_record_check(s, "refresh");
    oxl_page_field(p, "Conditions", "air %s, engine %s%s%s", air, rpm, refresh ? "; " : "",
                   refresh ? refresh->found : "");
}

/* ---- two tests ------------------------------------------------------------------------------ */

/* What decided, and where there is room the other figures, which the rulers have too. */
static void side(struct oxl_page *p, const struct oxl_test_record *s, const char *name)
{
    const struct oxl_result *r = &s->result;
    char lead[OXL_RESULT_LEAD], target[OXL_FIGURE_TEXT], o2[OXL_FIGURE_TEXT];
    if (!s->has_result) {
        oxl_page_field(p, name, "no result");
        return;
    }
    oxl_result_lead(r, lead);
    oxl_figure_span(&r->delay_at_target_s, 2, "s", target);
    oxl_figure_span(&r->o2_mg, 0, "mg", o2);
    const bool room = p->detail < OXL_DETAIL_LEAST,
               delay = room && r->lead.figure != OXL_LEAD_DELAY_AT_TARGET,
               oxygen = room && r->lead.figure != OXL_LEAD_OXYGEN;
    const struct oxl_check *refresh = room ? oxl_test_record_check(s, "refresh") : NULL;
    oxl_page_field(p, name, "%s%s%s%s%s%s%s; %d of %d runs%s%s",
                   oxl_conclusion_shown(r->conclusion), lead[0] ? ", " : "", lead,
                   delay ? "; delay at target " : "", delay ? target : "",
                   oxygen ? "; oxygen stored " : "", oxygen ? o2 : "", r->valid_runs, r->runs,
                   refresh ? "; " : "", refresh ? refresh->found : "");
}

static void why_not(struct oxl_page *p, const struct oxl_comparison *c)
{
    for (unsigned u = 0; u < OXL_UNLIKE_COUNT; u++)
        if (c->unlikes >> u & 1u)
            oxl_page_field(p, c->allowed ? "Note" : "Not compared", "%s", oxl_unlikes[u].sentence);
}

/* Limits in grams follow the air flow; those of the second test stand for both. */
static void pair_rulers(struct oxl_page *p, const struct oxl_report_input *tests)
{
    static const struct oxl_span none = {NAN, NAN, NAN};
    const struct oxl_test_record *s = tests[0].record, *t = tests[1].record;
    const struct oxl_result *a = &s->result, *b = &t->result;
    const struct oxl_profile *f = &s->profile;
    const struct oxl_comparison *c = &p->comparison;
    const double known = c->unlikes >> OXL_UNLIKE_LIMITS & 1u ? NAN : 1; /* alike in both */
    ruler(p, "Delay at target", "s", known * f->bad_s, known * f->good_s,
          s->has_result ? &a->delay_at_target_s : &none,
          t->has_result ? &b->delay_at_target_s : &none);
    if (c->allowed)
        ruler(p, "Oxygen stored", "mg", known * b->bad_limit_mg, known * b->good_limit_mg,
              &a->o2_mg, &b->o2_mg);
}

void oxl_part_difference(struct oxl_page *p, const struct oxl_report_input *tests)
{
    char text[OXL_COMPARED];
    p->area = OXL_AREA_VERDICT;
    oxl_page_block(p, OXL_BLOCK_VERDICT, "", oxl_compared_headline(&p->comparison));
    for (size_t i = 0; i < 2; i++)
        side(p, tests[i].record, p->names[i]);
    why_not(p, &p->comparison);
    oxl_compared_words(&p->comparison, text);
    oxl_page_text(p, "%s%s", p->detail < OXL_DETAIL_LEAST ? oxl_what_it_is : "", text);
    pair_rulers(p, tests);
}
