/* The simulated adapter's dialect (common practice, from memory), line by line. In transcripts
 * '|' is CR and '/' is LF. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "help_unit.h"

static struct rig rig;

static int setup(void **state)
{
    (void)state;
    rig_defaults(&rig);
    return 0;
}

static int teardown(void **state)
{
    (void)state;
    rig_close(&rig);
    rig.adapter = NULL;
    return 0;
}

struct turn {
    const char *say, *reply;
};

static void hold(const struct turn *turns, size_t n)
{
    for (size_t i = 0; i < n; i++) {
        const char *reply = rig_ask(&rig, turns[i].say);
        if (strcmp(reply, turns[i].reply) != 0)
            fail_msg("turn %zu: '%s' gave '%s', not '%s'", i, turns[i].say, reply, turns[i].reply);
    }
}
#define HOLD(turns) hold(turns, sizeof(turns) / sizeof((turns)[0]))

static void test_first_talk(void **state)
{
    (void)state;
    static const struct turn turns[] = {
        {"", "|/|/>"}, /* nothing to repeat yet */
        {"ATZ", "ATZ|/|/|/OXYSIM adapter, simulated|/|/>"},
        {"ATI", "ATI|/OXYSIM adapter, simulated|/|/>"},
        {"010C", "010C|/SEARCHING...|/41 0C 0B 99 |/|/>"},
        {"ATE0", "ATE0|/OK|/|/>"},
        {"ATL0", "OK||>"},
        {"010C", "41 0C 0B 99 ||>"},
        {"ATS0", "OK||>"},
        {"010C", "410C0B99||>"},
        {"ATH1", "OK||>"},
        {"010C", "7E804410C0B99AAAAAA||>"},
        {"ATS1", "OK||>"},
        {"010C", "7E8 04 41 0C 0B 99 AA AA AA ||>"},
        {"ATE1", "OK||>"},
        {"ATL1", "ATL1|OK|/|/>"},
        {"ATWS", "ATWS|/|/|/OXYSIM adapter, simulated|/|/>"},
        {"010C", "010C|/SEARCHING...|/41 0C 0B 99 |/|/>"},
    };
    rig_open(&rig);
    HOLD(turns);
}

static void test_case_and_spaces_do_not_count(void **state)
{
    (void)state;
    static const struct turn turns[] = {
        {"at h 1", "OK||>"},          {" A t\tH 0 ", "OK||>"}, {"01 0c", "410C0B99||>"},
        {"0 1 0 c 1", "410C0B99||>"}, {"at dp n", "A6||>"},
    };
    rig_ready(&rig);
    HOLD(turns);
}

static void test_what_it_does_not_know(void **state)
{
    (void)state;
    static const struct turn turns[] = {
        {"ATXX", "?||>"},    {"AT", "?||>"},
        {"ATE2", "?||>"},    {"ATE", "?||>"},
        {"ATE00", "?||>"},   {"ATSPB", "?||>"},
        {"ATSP", "?||>"},    {"ATSPAA", "?||>"},
        {"ATST1", "?||>"},   {"ATSTXY", "?||>"},
        {"ATSH12", "?||>"},  {"ATAT3", "?||>"},
        {"ATZZ", "?||>"},    {"ATRV1", "?||>"},
        {"ATSHXYZ", "?||>"}, {"ATDPNN", "?||>"},
        {"1", "?||>"},       {"01 0G", "?||>"},
        {"hello", "?||>"},   {"0102030405060708", "?||>"}, /* more than a frame holds */
        {"ATCRA12", "?||>"}, {"010C", "7E804410C0B99AAAAAA||>"},
    };
    rig_ready(&rig);
    HOLD(turns);
    char longest[200];
    memset(longest, '0', sizeof longest - 1);
    longest[sizeof longest - 1] = '\0';
    assert_string_equal(rig_ask(&rig, longest), "?||>");
    assert_string_equal(rig_ask(&rig, "010C1"), "7E804410C0B99AAAAAA||>");
}

static void test_settings_are_taken(void **state)
{
    (void)state;
    static const struct turn turns[] = {
        {"ATAT0", "OK||>"},  {"ATAT1", "OK||>"},   {"ATAT2", "OK||>"},        {"ATST32", "OK||>"},
        {"ATST00", "OK||>"}, {"ATCAF1", "OK||>"},  {"ATSH7DF", "OK||>"},      {"ATCRA7E8", "OK||>"},
        {"ATCRA", "OK||>"},  {"ATRV", "14.1V||>"}, {"ATSH18DB33F1", "OK||>"}, {"ATTP6", "OK||>"},
        {"ATSPA6", "OK||>"}, {"ATPC", "OK||>"},
    };
    rig_ready(&rig);
    HOLD(turns);
    assert_string_equal(rig_ask(&rig, "ATD"), "OK|/|/>"); /* linefeeds are on again */
    assert_string_equal(rig_ask(&rig, "ATI"), "ATI|/OXYSIM adapter, simulated|/|/>");
}

static void test_long_answers(void **state)
{
    (void)state;
    static const struct turn turns[] = {
        {"0902", "7E81014490201305859|7E8214C4147534D3452|7E82230303030303033||>"},
        {"011415", "7E80741145A73158CFF||>"}, /* seven bytes just fit one frame */
        {"09023", "7E81014490201305859|7E8214C4147534D3452|7E82230303030303033||>"},
        {"09022", "7E81014490201305859|7E8214C4147534D3452||>"}, /* the count cuts it off */
        {"ATH0", "OK||>"},
        {"0902", "014|0:490201305859|1:4C4147534D3452|2:30303030303033||>"},
        {"ATS1", "OK||>"},
        {"0902", "014|0: 49 02 01 30 58 59 |1: 4C 41 47 53 4D 34 52 |2: 30 30 30 30 30 30 33 ||>"},
    };
    rig_ready(&rig);
    HOLD(turns);
}

static void test_raw_frames(void **state)
{
    (void)state;
    static const struct turn turns[] = {
        {"ATCAF0", "OK||>"},
        {"02010C", "7E804410C0B99AAAAAA||>"},
        {"ATH0", "OK||>"},
        {"02010C", "04410C0B99AAAAAA||>"},
        {"02010C0000000000", "04410C0B99AAAAAA||>"},
        {"010C", "NO DATA||>"},   /* one byte, 0C: no such service */
        {"09010C", "NO DATA||>"}, /* says more than there is */
    };
    rig_ready(&rig);
    HOLD(turns);
}

static void test_empty_command_repeats_the_request(void **state)
{
    (void)state;
    rig_ready(&rig);
    assert_string_equal(rig_ask(&rig, "010C1"), "7E804410C0B99AAAAAA||>");
    assert_string_equal(rig_ask(&rig, ""), "7E804410C0B99AAAAAA||>");
    rig.readout.rpm = 782;
    assert_string_equal(rig_ask(&rig, ""), "7E804410C0C38AAAAAA||>");
    rig_ask(&rig, "ATE0");
    assert_string_equal(rig_ask(&rig, ""), "7E804410C0C38AAAAAA||>");
}

static void test_wrong_counts_cost_time_not_data(void **state)
{
    (void)state;
    rig_ready(&rig);
    int64_t t = rig.t_us;
    assert_string_equal(rig_ask(&rig, "010C3"), "7E804410C0B99AAAAAA||>");
    int64_t with_three = rig.t_us - t;
    t = rig.t_us;
    rig_ask(&rig, "010C1");
    assert_true(with_three > rig.t_us - t + 5000);
}

static void test_a_character_while_busy_stops_it(void **state)
{
    (void)state;
    rig_ready(&rig);
    rig_send(&rig, "010C\r");
    assert_false(rig_wait(&rig, 3000)); /* the request is on its way */
    assert_string_equal(rig.reply, "");
    rig_send(&rig, "X");
    assert_true(rig_wait(&rig, 1000000));
    assert_string_equal(rig.reply, "|STOPPED||>");
    /* The ECU's answer to the stopped request is not shown; the next one works. */
    assert_false(rig_wait(&rig, 1000000));
    assert_string_equal(rig.reply, "");
    assert_string_equal(rig_ask(&rig, "010D1"), "7E803410D00AAAAAAAA||>");
    /* Without waiting for the prompt, the second request's first character is eaten. */
    rig_send(&rig, "010C\r010D\r");
    assert_true(rig_wait(&rig, 1000000));
    assert_string_equal(rig.reply, "|STOPPED||>");
}

static void test_stopping_cuts_the_answer_short(void **state)
{
    (void)state;
    rig.set.baud = rig.baud = 9600;
    rig_ready(&rig);
    rig_send(&rig, "0902\r");
    rig_wait(&rig, 30000); /* some of the first line has come */
    size_t got = rig.raw_len;
    assert_true(got > 0 && got < 40);
    rig_send(&rig, "X");
    assert_true(rig_wait(&rig, 1000000));
    const char *stopped = strstr(rig.reply, "|STOPPED||>");
    assert_non_null(stopped);
    assert_true(stopped - rig.reply <= 2); /* what was on the line already */
}

static void test_vehicle_that_never_answers(void **state)
{
    (void)state;
    rig.ecu.answers = false;
    rig_ready(&rig);
    static const struct turn turns[] = {
        {"0100", "SEARCHING...|UNABLE TO CONNECT||>"}, {"ATDPN", "A0||>"}, {"ATSPA6", "OK||>"},
        {"0100", "SEARCHING...|UNABLE TO CONNECT||>"}, {"ATSP6", "OK||>"}, {"0100", "NO DATA||>"},
    };
    HOLD(turns);
    rig_close(&rig);
    rig.set.protocol = 4;
    rig_ready(&rig);
    rig_ask(&rig, "ATSP4");
    assert_string_equal(rig_ask(&rig, "0100"), "BUS INIT: ...ERROR||>");
}

static void test_search_needs_an_answer(void **state)
{
    (void)state;
    rig_ready(&rig);
    rig_ask(&rig, "ATSP0");
    assert_string_equal(rig_ask(&rig, "015D"), "SEARCHING...|UNABLE TO CONNECT||>");
    assert_string_equal(rig_ask(&rig, "0100"), "SEARCHING...|7E8064100BE3BB813AA||>");
    assert_string_equal(rig_ask(&rig, "015D"), "NO DATA||>");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_first_talk, setup, teardown),
        cmocka_unit_test_setup_teardown(test_case_and_spaces_do_not_count, setup, teardown),
        cmocka_unit_test_setup_teardown(test_what_it_does_not_know, setup, teardown),
        cmocka_unit_test_setup_teardown(test_settings_are_taken, setup, teardown),
        cmocka_unit_test_setup_teardown(test_long_answers, setup, teardown),
        cmocka_unit_test_setup_teardown(test_raw_frames, setup, teardown),
        cmocka_unit_test_setup_teardown(test_empty_command_repeats_the_request, setup, teardown),
        cmocka_unit_test_setup_teardown(test_wrong_counts_cost_time_not_data, setup, teardown),
        cmocka_unit_test_setup_teardown(test_a_character_while_busy_stops_it, setup, teardown),
        cmocka_unit_test_setup_teardown(test_stopping_cuts_the_answer_short, setup, teardown),
        cmocka_unit_test_setup_teardown(test_vehicle_that_never_answers, setup, teardown),
        cmocka_unit_test_setup_teardown(test_search_needs_an_answer, setup, teardown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
