/* Events as plain lines, for pipes, logs and terminals that cannot draw. */

#include "event_sinks.h"
#include "oxylag/safe.h"

static void number(struct oxl_buf *out, const char *what, double v, int decimals, const char *unit)
{
    char text[OXL_FIGURE_TEXT];
    oxl_figure_number(v, decimals, unit, text);
    oxl_buf_add(out, "%s%s", what, text);
}

static void span(struct oxl_buf *out, const char *what, struct oxl_span v, int decimals,
                 const char *unit)
{
    char text[OXL_FIGURE_TEXT];
    oxl_figure_span(&v, decimals, unit, text);
    oxl_buf_add(out, "%s%s", what, text);
}

/* What a rear that fell first did says more than a delay could. */
static void run(const struct oxl_run_result *r, const struct oxl_profile *profile,
                struct oxl_buf *out)
{
    const struct oxl_run_figures f = oxl_run_as_judged(r, NULL, profile);
    oxl_buf_add(out, "run %d%s: %s%s", r->run, r->deeper ? " (deeper)" : "",
                !r->valid    ? "not counted"
                : r->dropped ? "rear went lean"
                             : "rear held",
                oxl_reasons_has(r->reasons, OXL_R_REAR_LEAN_FIRST)
                    ? ", rear went lean before the front"
                    : "");
    span(out, ", delay ", f.delay_s, 2, "s");
    span(out, ", at target ", f.delay_at_target_s, 2, "s");
    span(out, ", oxygen ", f.o2_mg, 0, "mg");
    number(out, ", shift ", r->shift_pct, 1, "%");
    number(out, ", air ", r->air_g_s, 2, "g/s");
    oxl_buf_add(out, "\n");
    for (enum oxl_reason i = 0; i < OXL_R_COUNT; i++)
        if (oxl_reasons_has(r->reasons, i))
            oxl_buf_add(out, "            - %s\n", oxl_reason_sentence(i));
}

static void result(const struct oxl_result *r, struct oxl_buf *out)
{
    char lead[OXL_RESULT_LEAD];
    enum oxl_reason step;
    oxl_buf_add(out, "RESULT: %s, %d of %d runs counted", oxl_conclusion_name(r->conclusion),
                r->valid_runs, r->runs);
    if (oxl_result_agreed(r))
        oxl_buf_add(out, ": they agree");
    if (r->ended_early)
        oxl_buf_add(out, ", ended early");
    if (r->ended_early && r->runs_wanted > 0)
        oxl_buf_add(out, " (%d were wanted)", r->runs_wanted);
    span(out, ", delay ", r->delay_s, 2, "s");
    span(out, ", at target ", r->delay_at_target_s, 2, "s");
    span(out, ", oxygen ", r->o2_mg, 0, "mg");
    oxl_o2_run_text(r, lead);
    oxl_buf_add(out, "%s", lead);
    if (r->aside_run > 0)
        oxl_buf_add(out, ", run %d set aside", r->aside_run);
    oxl_buf_add(out, "\n");
    oxl_result_lead(r, lead);
    if (lead[0])
        oxl_buf_add(out, "            %s\n", lead);
    for (size_t i = 0; (step = oxl_next_step(r, i)) != OXL_R_COUNT; i++)
        oxl_buf_add(out, "            next: %s\n", oxl_reason_next(step));
    for (size_t i = 0; (step = oxl_nth_reason(r, i)) != OXL_R_COUNT; i++)
        oxl_buf_add(out, "            - %s\n", oxl_reason_sentence(step));
}

static void advice(const struct oxl_event *ev, struct oxl_buf *out)
{
    enum oxl_advice a = ev->u.advice.advice;
    oxl_buf_add(out, "%s%s%s%s\n", oxl_advice_is_caution(a) ? "! " : "> ", oxl_advice_text(a),
                ev->u.advice.detail[0] ? "  " : "", ev->u.advice.detail);
}

static void words(const struct oxl_event *ev, const struct oxl_profile *profile,
                  struct oxl_buf *out)
{
    oxl_buf_add(out, "%9.3f  ", (double)ev->t_us / 1e6);
    switch (ev->kind) {
    case OXL_EV_STATE:
        oxl_buf_add(out, "== %s", oxl_state_name(ev->u.state.state));
        oxl_buf_add(out, ev->u.state.run ? ", run %d\n" : "\n", ev->u.state.run);
        break;
    case OXL_EV_ADVICE:
        advice(ev, out);
        break;
    case OXL_EV_CHECK:
        oxl_buf_add(out, "[%s] %s: %s%s%s\n", oxl_grade_name(ev->u.check.grade), ev->u.check.id,
                    ev->u.check.found, ev->u.check.advice[0] ? " -> " : "", ev->u.check.advice);
        break;
    case OXL_EV_RUN:
        run(&ev->u.run, profile, out);
        break;
    case OXL_EV_RESULT:
        result(&ev->u.result, out);
        break;
    case OXL_EV_LINK:
        oxl_buf_add(out, "link %s%s%s\n", oxl_link_state_name(ev->u.link.state),
                    ev->u.link.text[0] ? ": " : "", ev->u.link.text);
        break;
    case OXL_EV_VEHICLE:
        oxl_buf_add(out, "vehicle: %s%s\n", oxl_protocol_name(ev->u.vehicle->protocol),
                    ev->u.vehicle->survey_done ? ", survey done" : "");
        break;
    case OXL_EV_PROFILE:
        oxl_buf_add(out, "profile %s, %s\n", ev->u.profile.name, ev->u.profile.why);
        break;
    case OXL_EV_BASELINE:
        number(out, "baseline: total trim ", ev->u.baseline.trim_pct, 1, "%");
        number(out, ", ", ev->u.baseline.rpm, 0, "rpm");
        oxl_buf_add(out, "\n");
        break;
    case OXL_EV_MARK:
        oxl_buf_add(out, "mark: %s\n", ev->u.mark.text);
        break;
    case OXL_EV_SAMPLE:
        break;
    }
}

void oxl_plain_event(const struct oxl_event *ev, const struct oxl_profile *profile,
                     struct oxl_buf *out)
{
    if (ev->kind == OXL_EV_SAMPLE)
        return;
    size_t start = out->len;
    words(ev, profile, out);
    if (out->data)
        oxl_make_safe(out->data + start, "\n");
}
