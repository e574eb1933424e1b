/* The pre-check list, and why a test stopped. */
#include "view.h"

#include <math.h>
#include <stdio.h>

#include "headline.h"

static const struct {
    const char *lead;
    enum oxl_ink ink;
} grades[] = {
    [OXL_GRADE_UNKNOWN] = {"? UNKNOWN", OXL_INK_DIM},
    [OXL_GRADE_PASS] = {"+ PASS", OXL_INK_GOOD},
    [OXL_GRADE_CAUTION] = {"! CAUTION", OXL_INK_CAUTION},
    [OXL_GRADE_STOP] = {"x STOP", OXL_INK_BAD},
};
enum { LEAD_COLS = 10 };

static void write_check(struct oxl_flow *f, const struct oxl_check *check)
{
    unsigned g = (unsigned)check->grade <= OXL_GRADE_STOP ? (unsigned)check->grade : 0;
    oxl_flow_text(f, grades[g].ink, grades[g].lead, LEAD_COLS, OXL_INK_TEXT,
                  check->found[0] ? check->found : check->id);
    if (check->advice[0] && g != OXL_GRADE_PASS)
        oxl_flow_text(f, OXL_INK_DIM, "      do:", LEAD_COLS, OXL_INK_KEY, check->advice);
}

static void write_grade(struct oxl_flow *f, const struct oxl_model *m, enum oxl_grade grade)
{
    for (size_t i = 0; i < m->record->checks_n; i++)
        if (m->record->checks[i].grade == grade)
            write_check(f, &m->record->checks[i]);
}

/* Worst first, so that what needs a hand is never on a later part. */
static void write_checks(struct oxl_flow *f, const void *ctx)
{
    const struct oxl_model *m = ctx;
    const struct oxl_test_record *r = m->record;
    double left_s = oxl_model_checks_left_s(m);
    char text[160];
    if (left_s > 0) {
        snprintf(text, sizeof text, "Read this first: goes on in %.0f s, or with any key.",
                 ceil(left_s));
        oxl_flow_text(f, OXL_INK_KEY, "pre-check", LEAD_COLS, OXL_INK_KEY, text);
    }
    if (r->checks_n == 0)
        oxl_flow_text(f, OXL_INK_TITLE, "link", LEAD_COLS, OXL_INK_TEXT,
                      m->link_text[0] ? m->link_text : oxl_link_state_name(m->link));
    write_grade(f, m, OXL_GRADE_STOP);
    write_grade(f, m, OXL_GRADE_CAUTION);
    write_grade(f, m, OXL_GRADE_UNKNOWN);
    write_grade(f, m, OXL_GRADE_PASS);
    if (r->profile_why[0]) {
        snprintf(text, sizeof text, "%s: %s", r->profile.name, r->profile_why);
        oxl_flow_text(f, OXL_INK_DIM, "profile", LEAD_COLS, OXL_INK_DIM, text);
    }
    if (r->vehicle.vin[0])
        oxl_flow_text(f, OXL_INK_DIM, "VIN", LEAD_COLS, OXL_INK_DIM, r->vehicle.vin);
}

void oxl_view_checks(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a)
{
    int below = a.rows >= 26 ? 14 : a.rows >= 8 ? 2 : 0;
    /* What holds the test up, with what to do about it, needs the room more than values do. After
     * the end the lines stand as they were judged: the values have gone on. */
    bool over = m->state == OXL_STATE_DONE || m->state == OXL_STATE_STOPPED;
    if (over || (a.rows < 26 && oxl_headline_advice(m) == OXL_ADV_CHECK_STOPS))
        below = 0;
    struct oxl_area list = {a.row, a.col, a.rows - below, a.cols};
    oxl_flow_pages(c, list, m->screenful, write_checks, m);
    struct oxl_area rest = {a.row + a.rows - below + 1, a.col, below - 1, a.cols};
    if (below > 2)
        oxl_view_traces(m, c, rest);
    else if (below)
        oxl_view_values(m, c, rest);
}

static void write_stopped(struct oxl_flow *f, const void *ctx)
{
    const struct oxl_model *m = ctx;
    char text[320];
    oxl_flow_text(f, OXL_INK_KEY, "now", LEAD_COLS, OXL_INK_TITLE,
                  "Shut valve and cylinder, pull the hose clear, refit hoses and ports.");
    bool ended = m->has_action && (m->action == OXL_ADV_ABORTED || m->action == OXL_ADV_UNSUITABLE);
    oxl_flow_text(f, OXL_INK_BAD, "why", LEAD_COLS, OXL_INK_TEXT,
                  ended && m->action_detail[0]
                      ? m->action_detail
                      : oxl_advice_text(ended ? m->action : OXL_ADV_ABORTED));
    if (m->record->has_result) { /* nothing that counted is thrown away */
        oxl_view_result_words(&m->record->result, text, sizeof text);
        oxl_flow_text(f, OXL_INK_KEY, "result", LEAD_COLS, OXL_INK_TITLE, text);
    }
    snprintf(text, sizeof text, m->run > 0 ? "It was in %s, run %d." : "It was in %s.",
             oxl_state_name(m->stopped_in), m->run);
    oxl_flow_text(f, OXL_INK_TITLE, "where", LEAD_COLS, OXL_INK_TEXT, text);
    snprintf(text, sizeof text, "%s%s%s", oxl_link_state_name(m->link), m->link_text[0] ? ": " : "",
             m->link_text);
    oxl_flow_text(f, OXL_INK_TITLE, "link", LEAD_COLS, OXL_INK_TEXT, text);
    write_grade(f, m, OXL_GRADE_STOP);
    write_grade(f, m, OXL_GRADE_CAUTION);
    bool silent = m->link == OXL_LINK_LOST || m->link == OXL_LINK_NO_ADAPTER ||
                  m->link == OXL_LINK_NO_VEHICLE || m->link == OXL_LINK_STALLED;
    oxl_flow_text(f, OXL_INK_KEY, "then", LEAD_COLS, OXL_INK_TEXT,
                  silent ? "Check the connector, the adapter and the ignition; start again."
                         : "Fix what is named above; start again.");
    if (m->around.recording)
        oxl_flow_text(f, OXL_INK_DIM, "", LEAD_COLS, OXL_INK_DIM,
                      "What was recorded so far is kept, with the runs that were finished.");
}

void oxl_view_stopped(const struct oxl_model *m, struct oxl_canvas *c, struct oxl_area a)
{
    int made = (int)m->record->runs_n, runs = made ? (made < 4 ? made : 4) + 2 : 0;
    if (a.rows < runs + 10)
        runs = 0;
    struct oxl_area text = {a.row, a.col, a.rows - runs, a.cols};
    oxl_flow_pages(c, text, m->screenful, write_stopped, m);
    struct oxl_area table = {a.row + a.rows - runs + 1, a.col, runs - 1, a.cols};
    if (runs)
        oxl_view_runs(m, c, table);
}
