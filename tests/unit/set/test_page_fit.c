/* The printed page: whatever there is to say, it is one page. */
#include "set/layout.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "long.h"
#include "unit/page/help_record.h"

static struct oxl_test_record first, second;
static struct oxl_tracks tracks;
static struct oxl_report_input told[2] = {{.record = &first, .tracks = &tracks},
                                          {.record = &second}};

static void must_say(const char *text, const char *words)
{
    if (!strstr(text, words))
        fail_msg("the page does not say \"%s\"", words);
}

/* Everything at its longest. */
static void stuff(struct oxl_test_record *s)
{
    *s = *story_low();
    memset(s->header.order, 'W', sizeof s->header.order - 1);
    memset(s->header.inlet, 'W', sizeof s->header.inlet - 1);
    memset(s->header.note, 'W', sizeof s->header.note - 1);
    memset(s->header.technician, 'W', sizeof s->header.technician - 1);
    memset(s->recording_name, 'W', sizeof s->recording_name - 1);
    memset(s->profile.limits_origin, 'W', sizeof s->profile.limits_origin - 1);
    memset(s->profile_why, 'W', sizeof s->profile_why - 1);
    s->result.reasons = s->result.next = ~(oxl_reasons)0;
    for (size_t i = 0; i < OXL_RECORD_MAX_RUNS; i++) {
        s->runs[i] = s->runs[i % 3];
        s->runs[i].run = (int)i + 1;
        s->runs[i].reasons = ~(oxl_reasons)0;
    }
    s->runs_n = OXL_RECORD_MAX_RUNS;
    for (size_t i = 0; i < 20; i++) {
        s->checks[i] = s->checks[i % 4];
        s->checks[i].grade = OXL_GRADE_CAUTION;
        memset(s->checks[i].advice, 'W', sizeof s->checks[i].advice - 1);
    }
    s->checks_n = 20;
    for (size_t i = 0; i < OXL_RECORD_MAX_NOTES; i++)
        memset(s->notes[i].text, 'W', sizeof s->notes[i].text - 1);
    s->notes_n = OXL_RECORD_MAX_NOTES;
    s->vehicle.dtcs[OXL_DTC_STORED].n = 8;
}

static void all_kinds_fit_one_page(void **state)
{
    (void)state;
    struct oxl_test_record *(*const kinds[])(void) = {story_low, story_held, story_stopped};
    for (int paper = OXL_PAPER_A4; paper <= OXL_PAPER_LETTER; paper++)
        for (size_t i = (size_t)paper % long_or(1, 2); i < 3; i += long_or(1, 2)) {
            struct oxl_layout l; /* by default each kind on one paper */
            first = *kinds[i]();
            second = *kinds[(i + 1) % 3]();
            assert_true(oxl_layout_fit(told, 1, (enum oxl_paper)paper, 0, &l));
            assert_int_equal(l.detail, OXL_DETAIL_FULL);
            assert_true(l.font > 6.95); /* easy to read */
            assert_true(oxl_layout_fit(told, 2, (enum oxl_paper)paper, 0, &l));
            assert_true(l.font > 5.75);
        }
}

/* An inspection as well: lines that passed give way, then all but the first of a section. */
static void the_fullest_inspection_is_one_page(void **state)
{
    (void)state;
    static struct oxl_inspection v;
    const struct oxl_report_input input = {.record = &first, .inspection = &v};
    struct oxl_layout l;
    struct oxl_buf b = {0};
    first = *story_low();
    v.worst = OXL_GRADE_CAUTION;
    v.sections_n = OXL_INSPECT_SECTIONS;
    for (size_t s = 0; s < v.sections_n; s++) {
        v.sections[s].title = "Trouble codes";
        v.sections[s].first = s * OXL_INSPECT_CHECKS / OXL_INSPECT_SECTIONS;
    }
    v.checks_n = OXL_INSPECT_CHECKS;
    for (size_t i = 0; i < v.checks_n; i++) {
        v.checks[i].grade = OXL_GRADE_CAUTION;
        memset(v.checks[i].found, 'W', sizeof v.checks[i].found - 1);
        memset(v.checks[i].advice, 'W', sizeof v.checks[i].advice - 1);
    }
    /* A4 is what the two pages below are laid out for. */
    for (int paper = (int)long_or(OXL_PAPER_A4, OXL_PAPER_LETTER); paper <= OXL_PAPER_LETTER;
         paper++)
        assert_true(oxl_layout_fit(&input, 1, (enum oxl_paper)paper, 0.05, &l));
    oxl_report_pdf(&input, 1, OXL_PAPER_A4, &b);
    assert_false(b.failed);
    oxl_buf_free(&b);
    oxl_report_html(&input, 1, OXL_PAPER_A4, &b);
    assert_false(b.failed);
    must_say(b.data, "<h1>The test can be done: watch the cautions below</h1>");
    must_say(b.data, "more are in the report as text.");
    oxl_buf_free(&b);
}

/* Whatever there is: smaller print, then less detail, never a second page and never a refusal. */
static void the_fullest_is_one_page(void **state)
{
    (void)state;
    struct oxl_layout l;
    struct oxl_buf b = {0};
    stuff(&first);
    stuff(&second);
    /* A4 is what the page below is laid out for. */
    for (int paper = (int)long_or(OXL_PAPER_A4, OXL_PAPER_LETTER); paper <= OXL_PAPER_LETTER;
         paper++)
        for (size_t n = long_or(1, 2); n <= 2; n++) {
            if (!oxl_layout_fit(told, n, (enum oxl_paper)paper, 0.05, &l))
                fail_msg("%zu tests on paper %d do not fit", n, paper);
            assert_int_equal(l.detail, OXL_DETAIL_CLIPPED);
        }
    oxl_report_html(told, 1, OXL_PAPER_A4, &b);
    assert_false(b.failed);
    must_say(b.data, "more are in the report as text.");
    must_say(b.data, "24 more are in the report as text.");
    oxl_buf_free(&b);
    /* Twelve runs with ordinary texts do fit. */
    first = *story_low();
    for (size_t i = 0; i < 12; i++) {
        first.runs[i] = first.runs[i % 3];
        first.runs[i].run = (int)i + 1;
    }
    first.runs_n = 12;
    assert_true(oxl_layout_fit(told, 1, OXL_PAPER_LETTER, 0, &l));
    assert_int_equal(l.plots_across, 6);
    assert_int_equal(l.plot_rows, 2);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(all_kinds_fit_one_page),
        cmocka_unit_test(the_fullest_inspection_is_one_page),
        cmocka_unit_test(the_fullest_is_one_page),
    };
    oxl_tracks_init(&tracks, 1);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
