/* The record of a test: what of the events is kept, where, and what a later one changes. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "oxylag/test_record.h"

static struct oxl_test_record *record;

static int set_up(void **state)
{
    (void)state;
    record = malloc(sizeof *record);
    memset(record, 0xA5, sizeof *record); /* nothing is taken for granted */
    oxl_test_record_init(record, NULL);
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    free(record);
    return 0;
}

static void check(const char *id, const char *found)
{
    struct oxl_event ev = {.kind = OXL_EV_CHECK, .t_us = 1};
    strcpy(ev.u.check.id, id);
    strcpy(ev.u.check.found, found);
    oxl_test_record_event(record, &ev);
}

static void advise(enum oxl_advice advice, const char *detail)
{
    struct oxl_event ev = {.kind = OXL_EV_ADVICE, .t_us = 7};
    ev.u.advice.advice = advice;
    strcpy(ev.u.advice.detail, detail);
    oxl_test_record_event(record, &ev);
}

static void run(unsigned number, double delay_s, int64_t t_us)
{
    struct oxl_event ev = {.kind = OXL_EV_RUN, .t_us = t_us};
    ev.u.run.run = (int)number;
    ev.u.run.delay_s.value = delay_s;
    oxl_test_record_event(record, &ev);
}

static void it_begins_with_nothing_known(void **state)
{
    (void)state;
    struct oxl_profile defaults;
    oxl_profile_defaults(&defaults);
    assert_true(isnan(record->baseline_trim_pct));
    assert_int_equal(record->checks_n + record->runs_n + record->notes_n, 0);
    assert_false(record->has_result);
    assert_string_equal(record->stopped_why, "");
    assert_true(record->profile.target_pct == defaults.target_pct);
}

static void the_header_brings_its_profile(void **state)
{
    (void)state;
    struct oxl_record_header *header = calloc(1, sizeof *header);
    oxl_profile_defaults(&header->profile);
    header->profile.target_pct = -17;
    strcpy(header->order, "A-1");
    oxl_test_record_init(record, header);
    assert_string_equal(record->header.order, "A-1");
    assert_true(record->profile.target_pct == -17);
    free(header);
}

static void a_check_said_again_keeps_its_place(void **state)
{
    (void)state;
    check("warm", "71 C");
    check("loop", "open");
    check("warm", "84 C");
    assert_int_equal(record->checks_n, 2);
    assert_string_equal(record->checks[0].found, "84 C");
    assert_string_equal(oxl_test_record_check(record, "warm")->found, "84 C");
    assert_string_equal(oxl_test_record_check(record, "lo")->found, "open");
    assert_null(oxl_test_record_check(record, "loops"));
}

static void more_checks_than_there_is_room_for(void **state)
{
    (void)state;
    char id[24];
    for (int i = 0; i < OXL_RECORD_MAX_CHECKS + 3; i++) {
        snprintf(id, sizeof id, "check-%03d", i);
        check(id, "first");
    }
    assert_int_equal(record->checks_n, OXL_RECORD_MAX_CHECKS);
    check("check-063", "again"); /* the last that had room is still changed */
    assert_string_equal(oxl_test_record_check(record, "check-063")->found, "again");
    assert_null(oxl_test_record_check(record, "check-064"));
}

static void a_run_taken_back_is_not_a_second_one(void **state)
{
    (void)state;
    run(1, 2.5, 100);
    run(2, 9.0, 200);
    run(2, 3.5, 300);
    assert_int_equal(record->runs_n, 2);
    assert_true(record->runs[0].delay_s.value == 2.5 && record->runs[1].delay_s.value == 3.5);
    assert_true(record->run_t_us[0] == 100 && record->run_t_us[1] == 200);
    for (unsigned i = 3; i < OXL_RECORD_MAX_RUNS + 3; i++)
        run(i, i, i);
    assert_int_equal(record->runs_n, OXL_RECORD_MAX_RUNS);
}

static void gates_passed_by_hand_are_noted(void **state)
{
    (void)state;
    advise(OXL_ADV_OVERRIDE, "x"); /* as short as can be */
    advise(OXL_ADV_OVERRIDE, "");
    advise(OXL_ADV_HOLD, "-20 %"); /* no note */
    assert_int_equal(record->notes_n, 2);
    assert_string_equal(record->notes[0].text, "Passed by hand: x");
    assert_string_equal(record->notes[1].text, "Passed by hand.");
    assert_true(record->notes[0].t_us == 7);
}

static void a_long_note_is_cut_and_stays_whole_text(void **state)
{
    (void)state;
    struct oxl_event ev = {.kind = OXL_EV_MARK, .t_us = 9};
    memset(ev.u.mark.text, 'm', sizeof ev.u.mark.text - 1);
    for (int i = 0; i < OXL_RECORD_MAX_NOTES + 2; i++)
        oxl_test_record_event(record, &ev);
    assert_int_equal(record->notes_n, OXL_RECORD_MAX_NOTES);
    assert_int_equal(strspn(record->notes[0].text, "m"), strlen(record->notes[0].text));
    assert_true(strlen(record->notes[0].text) >= 80);
}

static void why_it_stopped(void **state)
{
    (void)state;
    advise(OXL_ADV_HOLD, "no reason");
    assert_string_equal(record->stopped_why, "");
    advise(OXL_ADV_ABORTED, "");
    assert_string_equal(record->stopped_why, oxl_advice_text(OXL_ADV_ABORTED));
    advise(OXL_ADV_UNSUITABLE, "no front sensor");
    assert_string_equal(record->stopped_why, "no front sensor");
    advise(OXL_ADV_ABORTED, "X"); /* one letter is a reason as well */
    assert_string_equal(record->stopped_why, "X");
}

static void a_link_that_finds_nothing_is_why(void **state)
{
    (void)state;
    struct oxl_event ev = {.kind = OXL_EV_LINK};
    ev.u.link.state = OXL_LINK_LOST;
    strcpy(ev.u.link.text, "lost for a moment");
    oxl_test_record_event(record, &ev);
    assert_string_equal(record->stopped_why, "");
    ev.u.link.state = OXL_LINK_NO_VEHICLE;
    ev.u.link.text[0] = '\0';
    oxl_test_record_event(record, &ev);
    assert_string_equal(record->stopped_why, oxl_link_state_name(OXL_LINK_NO_VEHICLE));
    ev.u.link.state = OXL_LINK_NO_ADAPTER;
    strcpy(ev.u.link.text, "nothing answers");
    oxl_test_record_event(record, &ev);
    assert_string_equal(record->stopped_why, "nothing answers");
}

static void a_profile_by_name_or_in_full(void **state)
{
    (void)state;
    struct oxl_profile *own = malloc(sizeof *own);
    oxl_profile_defaults(own);
    own->target_pct = -16;
    struct oxl_event ev = {.kind = OXL_EV_PROFILE};
    strcpy(ev.u.profile.why, "only a name");
    oxl_test_record_event(record, &ev);
    assert_true(record->profile.target_pct != -16);
    assert_string_equal(record->profile_why, "only a name");
    ev.u.profile.profile = own;
    oxl_test_record_event(record, &ev);
    assert_true(record->profile.target_pct == -16);
    free(own);
}

static void the_rest_is_kept_as_it_is_said(void **state)
{
    (void)state;
    struct oxl_vehicle *vehicle = calloc(1, sizeof *vehicle);
    strcpy(vehicle->vin, "TESTVEHCL00000001");
    struct oxl_event ev = {.kind = OXL_EV_VEHICLE};
    ev.u.vehicle = vehicle;
    oxl_test_record_event(record, &ev);
    ev = (struct oxl_event){.kind = OXL_EV_BASELINE};
    ev.u.baseline.trim_pct = 4.25;
    oxl_test_record_event(record, &ev);
    ev = (struct oxl_event){.kind = OXL_EV_STATE};
    ev.u.state.state = OXL_STATE_TIMING;
    oxl_test_record_event(record, &ev);
    ev = (struct oxl_event){.kind = OXL_EV_RESULT};
    ev.u.result.valid_runs = 3;
    oxl_test_record_event(record, &ev);
    assert_string_equal(record->vehicle.vin, "TESTVEHCL00000001");
    assert_true(record->baseline_trim_pct == 4.25);
    assert_int_equal(record->last_state, OXL_STATE_TIMING);
    assert_true(record->has_result && record->result.valid_runs == 3);
    free(vehicle);
}

int main(void)
{
#define T(f) cmocka_unit_test_setup_teardown(f, set_up, tear_down)
    const struct CMUnitTest tests[] = {
        T(it_begins_with_nothing_known),
        T(the_header_brings_its_profile),
        T(a_check_said_again_keeps_its_place),
        T(more_checks_than_there_is_room_for),
        T(a_run_taken_back_is_not_a_second_one),
        T(gates_passed_by_hand_are_noted),
        T(a_long_note_is_cut_and_stays_whole_text),
        T(why_it_stopped),
        T(a_link_that_finds_nothing_is_why),
        T(a_profile_by_name_or_in_full),
        T(the_rest_is_kept_as_it_is_said),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
