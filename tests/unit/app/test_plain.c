/* Plain lines: what a person reads in a pipe. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <string.h>

#include "app/event_sinks.h"

static struct oxl_profile profile;

static void said(const struct oxl_event *ev, const char *want)
{
    struct oxl_buf b = {0};
    oxl_profile_defaults(&profile);
    oxl_plain_event(ev, &profile, &b);
    assert_non_null(b.data);
    if (!strstr(b.data, want))
        fail_msg("\"%s\" is not in: %s", want, b.data);
    oxl_buf_free(&b);
}

static void a_test_cut_short_says_so(void **state)
{
    (void)state;
    const struct oxl_span none = {NAN, NAN, NAN};
    struct oxl_event ev = {.kind = OXL_EV_RESULT};
    ev.u.result = (struct oxl_result){.conclusion = OXL_CONCLUSION_GOOD,
                                      .runs = 2,
                                      .valid_runs = 2,
                                      .delay_s = none,
                                      .delay_at_target_s = none,
                                      .o2_mg = none};
    said(&ev, "RESULT: good, 2 of 2 runs counted, delay not known");
    ev.u.result.ended_early = true;
    said(&ev, "RESULT: good, 2 of 2 runs counted, ended early, delay not known");
    ev.u.result.runs_wanted = 3;
    ev.u.result.ended_early = false;
    said(&ev, "RESULT: good, 2 of 2 runs counted: they agree, delay not known");
    ev.u.result.conclusion = OXL_CONCLUSION_NOT_BAD;
    said(&ev, "RESULT: not bad, 2 of 2 runs counted, delay not known");
    ev.u.result.conclusion = OXL_CONCLUSION_GOOD;
    ev.u.result.ended_early = true;
    said(&ev, "RESULT: good, 2 of 2 runs counted, ended early (3 were wanted), delay not known");
}

/* As the page prints them: the one formatter, the lead with its limit, each step once and before
 * the reasons. */
static void a_result_reads_as_on_the_page(void **state)
{
    (void)state;
    struct oxl_event ev = {.kind = OXL_EV_RESULT};
    ev.u.result = (struct oxl_result){.conclusion = OXL_CONCLUSION_GOOD,
                                      .lead = {OXL_LEAD_OXYGEN, {NAN, 541, INFINITY}, 138, 411, 4},
                                      .runs = 4,
                                      .valid_runs = 4,
                                      .delay_s = {0.42, 0.34, 0.5},
                                      .delay_at_target_s = {NAN, 12.44, INFINITY},
                                      .o2_mg = {642, 541, INFINITY},
                                      .reasons = OXL_REASON_BIT(OXL_R_TRIM_AT_LIMIT) |
                                                 OXL_REASON_BIT(OXL_R_GOOD_STORAGE),
                                      .next = OXL_REASON_BIT(OXL_R_TRIM_AT_LIMIT)};
    said(&ev, ", delay 0.42 s (0.34 to 0.50), at target at least 12.44 s, oxygen at least 541 mg\n"
              "            decided by: stored oxygen at least 541 mg (good above 411 mg), run 4\n"
              "            next: ");
    said(&ev,
         "\n            - The converter stored plenty of oxygen.\n            - The trim reached");
    ev.u.result.lead.span.low = NAN; /* nothing of it is known: not said */
    struct oxl_buf b = {0};
    oxl_plain_event(&ev, &profile, &b);
    assert_null(strstr(b.data, "decided by"));
    oxl_buf_free(&b);
}

/* What the judge takes for a bound is one here, and a bound of nothing is not given. */
static void a_run_reads_as_it_is_judged(void **state)
{
    (void)state;
    struct oxl_event ev = {.kind = OXL_EV_RUN};
    ev.u.run = (struct oxl_run_result){.run = 2,
                                       .valid = true,
                                       .dropped = true,
                                       .delay_s = {1.87, 1.8, 1.92},
                                       .delay_at_target_s = {3.2, 1.86, 3.94},
                                       .o2_mg = {190, 178, INFINITY},
                                       .shift_pct = -20,
                                       .air_g_s = 3,
                                       .reasons = OXL_REASON_BIT(OXL_R_PART_EMPTIED)};
    said(&ev, "run 2: rear went lean, delay at least 1.80 s, at target at least 1.86 s, oxygen at "
              "least 178 mg, shift");
    ev.u.run.reasons = OXL_REASON_BIT(OXL_R_REAR_LEAN_FIRST);
    ev.u.run.valid = false;
    ev.u.run.delay_s = (struct oxl_span){-1.1, -1.14, -1.0};
    ev.u.run.delay_at_target_s = (struct oxl_span){NAN, 0, INFINITY};
    ev.u.run.o2_mg = (struct oxl_span){0, 0, 0};
    said(&ev, "run 2: not counted, rear went lean before the front, delay not known, at target not "
              "known, oxygen not known, shift");
}

static void nothing_measured_is_said(void **state)
{
    (void)state;
    struct oxl_event ev = {.kind = OXL_EV_RESULT};
    ev.u.result = (struct oxl_result){.runs = 2};
    said(&ev, "\n            nothing was measured\n");
}

static void what_the_hand_must_do_is_a_caution(void **state)
{
    (void)state;
    struct oxl_event ev = {.kind = OXL_EV_ADVICE};
    ev.u.advice.advice = OXL_ADV_SHUT_VALVE;
    said(&ev, "! Shut the gas valve now.\n");
    ev.u.advice.advice = OXL_ADV_ABORT_AGAIN;
    said(&ev, "! Press a once more to end the test.\n");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_test_cut_short_says_so),
        cmocka_unit_test(a_result_reads_as_on_the_page),
        cmocka_unit_test(a_run_reads_as_it_is_judged),
        cmocka_unit_test(nothing_measured_is_said),
        cmocka_unit_test(what_the_hand_must_do_is_a_caution),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
