/* Replies that are late, refused, pending, cut or spoilt, and prompts that get lost. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "help_rig.h"

#define FRONT oxl_channel(OXL_Q_O2_V, 1, 1)

static void test_busy_is_asked_again_after_50_ms(void **state)
{
    struct rig *r = *state;
    rig_ready(r);
    r->fake.answer_busy = true;
    unsigned from = r->fake.log_n;
    rig_run(r, 0.3);
    int64_t longest = 0;
    for (unsigned i = from + 1; i < r->fake.log_n; i++)
        if (r->fake.log_us[i] - r->fake.log_us[i - 1] > longest)
            longest = r->fake.log_us[i] - r->fake.log_us[i - 1];
    assert_true(longest >= 50000 && longest < 75000);
    assert_int_equal(rig_stats(r).negative, 1);
    assert_true(rig_flows(r));
}

/* "Pending" is no failure; a sample keeps the first sending as the moment of its asking. */
static void test_pending_is_waited_for(void **state)
{
    struct rig *r = *state;
    r->fake.count_refused = true; /* then the adapter itself goes on listening */
    rig_ready(r);
    r->fake.answer_pending = true;
    unsigned from = r->samples_n;
    rig_run(r, 1.5);
    assert_int_equal(rig_stats(r).negative, 1);
    assert_int_equal(rig_stats(r).timeouts, 0);
    assert_int_equal(r->fake.interrupts, 0);
    assert_true(rig_widest_us(r, from) > 700000);
    assert_true(rig_flows(r));
}

static void test_digit_takes_pending_for_the_answer(void **state)
{
    struct rig *r = *state;
    rig_ready(r);
    rig_focus(r, OXL_FOCUS_TIMING);
    rig_run(r, 0.5);
    r->fake.answer_pending = true;
    unsigned from = r->fake.log_n, samples = r->samples_n, without = 0;
    rig_run(r, 1.5);
    assert_int_equal(rig_stats(r).negative, 1);
    /* The same request once more, without the digit: an even number of hex digits. It was asked
     * twice, so an answer may be owed: PID 00 in between. */
    for (unsigned i = from; i < r->fake.log_n; i++)
        without += r->fake.log[i][0] == '0' && strlen(r->fake.log[i]) % 2 == 0;
    assert_int_equal(without, 2);
    assert_int_equal(fake_count(&r->fake, "0100", from), 1);
    /* Its sample keeps the first sending as the moment of asking. */
    assert_true(rig_widest_us(r, samples) > 20000);
    assert_true(rig_flows(r));
}

static void test_words_are_survived(void **state)
{
    struct rig *r = *state;
    rig_ready(r);
    r->fake.stop_word = true;
    rig_run(r, 0.2);
    assert_true(rig_flows(r));
    r->fake.can_error = true;
    rig_run(r, 0.2);
    assert_true(rig_flows(r));
    assert_int_equal(rig_stats(r).timeouts, 0);
    assert_false(rig_saw_state(r, OXL_LINK_STALLED));
    assert_int_equal(r->fake.interrupts, 0);
}

static void test_buffer_full_in_the_middle(void **state)
{
    struct rig *r = *state;
    rig_ready(r);
    r->fake.most_pids = 2;
    rig_run(r, 1);
    unsigned from = r->samples_n;
    rig_run(r, 2);
    assert_true(rig_count(r, FRONT, from) > 40);
    assert_true(rig_count(r, oxl_channel(OXL_Q_STFT_PCT, 1, 0), from) > 10);
    assert_true(rig_count(r, oxl_channel(OXL_Q_RPM, 0, 0), from) > 2);
    assert_false(rig_saw_state(r, OXL_LINK_STALLED));
}

/* One spoilt line does not make the tool doubt the digit; a habit of cutting does. */
static void test_accident_and_habit(void **state)
{
    struct rig *r = *state;
    rig_ready(r);
    r->fake.spoil = true;
    rig_run(r, 0.2);
    assert_true(oxl_poll_wire_stats(r->poll)->bad_lines >= 1);
    unsigned from = r->fake.log_n;
    rig_run(r, 1);
    assert_true(fake_count(&r->fake, "01141506072", from) > 40);
    assert_int_equal(fake_count(&r->fake, "0114150607", from), 0);
    r->fake.count_cuts = true;
    rig_run(r, 0.5);
    from = r->fake.log_n;
    rig_run(r, 2); /* throttle rides along once a second */
    assert_int_equal(fake_count(&r->fake, "01141506072", from), 0);
    assert_true(fake_count(&r->fake, "0114150607", from) > 10);
    assert_true(rig_flows(r));
}

/* A prompt gets lost: missed long before a second is over, got back by one CR, and nothing is
 * mixed up. */
static void test_lost_prompt(void **state)
{
    struct rig *r = *state;
    rig_ready(r);
    unsigned from = r->samples_n;
    r->fake.lose_prompt = true;
    rig_run(r, 3);
    assert_false(rig_saw_state(r, OXL_LINK_STALLED));
    assert_false(rig_saw_state(r, OXL_LINK_LOST));
    assert_int_equal(rig_stats(r).timeouts, 1);
    /* Echo on at the start, for PID 00 behind the loss, and for a request now and then that does
     * not stand; off again each time, and once more to flush. */
    unsigned on = fake_count(&r->fake, "ATE1", 0);
    assert_true(on >= 2 && on <= 3);
    assert_int_equal(fake_count(&r->fake, "ATE0", 0), on + 1);
    /* The CR repeated the last request; what that brought is late, not a sample. */
    assert_true(rig_stats(r).late >= 1);
    assert_true(rig_widest_us(r, from) < 50000);
    for (unsigned i = from + 1; i < r->samples_n; i++)
        assert_true(r->samples[i].recv_us - r->samples[i - 1].recv_us < 700000);
    assert_true(rig_flows(r));
}

/* An answer 2 s late, behind it two repetitions that the adapter had buffered: none of them is
 * taken for an answer to a later request. */
static void test_late_reply(void **state)
{
    struct rig *r = *state;
    rig_ready(r);
    rig_focus(r, OXL_FOCUS_TIMING); /* the same request again and again: the hard case */
    rig_run(r, 0.5);
    unsigned from = r->samples_n;
    r->fake.late_us = 2000000;
    rig_run(r, 6);
    assert_true(rig_stats(r).late >= 1);
    assert_true(rig_widest_us(r, from) < 50000);
    assert_true(rig_flows(r));
}

/* The same with an adapter that cannot be interrupted and answers everything in turn: one prompt
 * too many, so that without the flush each answer would pass for that of the next request. */
static void test_late_reply_of_a_queueing_adapter(void **state)
{
    struct rig *r = *state;
    r->fake.queues = true;
    rig_ready(r);
    rig_focus(r, OXL_FOCUS_TIMING);
    rig_run(r, 0.5);
    unsigned from = r->samples_n;
    r->fake.late_us = 2000000;
    rig_run(r, 6);
    assert_true(rig_stats(r).late >= 3);
    assert_true(rig_widest_us(r, from) < 50000);
    assert_true(rig_flows(r));
}

/* A live request has been sent, and nobody but the test answers it. */
static void wait_unanswered(struct rig *r)
{
    rig_ready(r);
    rig_focus(r, OXL_FOCUS_TIMING);
    while (strcmp(r->fake.log[r->fake.log_n - 1], "0115141") != 0)
        rig_run(r, 0.001);
    r->fake.silent = true;
    r->fake.n = 0;
    r->fake.taken_us[60] = r->fake.taken_us[70] = r->now_us + 10;
}

/* What stands behind the prompt in the same chunk came before the next request was sent: neither
 * its data nor its prompt belong to that request. */
static void test_leftovers_in_the_same_chunk(void **state)
{
    static const char chunk[] = "7E80741143C801546FF\r\r>7E80741143C801546FF\r\r>";
    struct rig *r = *state;
    wait_unanswered(r);
    r->now_us += 1000;
    unsigned samples = r->samples_n;
    size_t out = r->out_n;
    uint64_t late = rig_stats(r).late;
    oxl_poll_rx(r->poll, chunk, sizeof chunk - 1, r->now_us);
    assert_int_equal(rig_count(r, FRONT, samples), 1);
    assert_int_equal(rig_stats(r).late, late + 1);
    const char *sent = strstr(r->out + out, " send ");
    assert_non_null(sent);
    assert_null(strstr(sent + 1, " send ")); /* one request, not two */
}

static void test_answer_to_something_else(void **state)
{
    static const char chunk[] = "7E803410582AAAAAAAA\r";
    struct rig *r = *state;
    rig_ready(r);
    rig_focus(r, OXL_FOCUS_TIMING);
    rig_run(r, 0.5);
    while (strcmp(r->fake.log[r->fake.log_n - 1], "0115141") != 0)
        rig_run(r, 0.001);
    unsigned coolant = rig_count(r, oxl_channel(OXL_Q_COOLANT_C, 0, 0), 0);
    uint64_t late = rig_stats(r).late;
    r->now_us += 10;
    oxl_poll_rx(r->poll, chunk, sizeof chunk - 1, r->now_us);
    assert_int_equal(rig_count(r, oxl_channel(OXL_Q_COOLANT_C, 0, 0), 0), coolant);
    assert_int_equal(rig_stats(r).late, late + 1);
    assert_true(rig_flows(r));
}

static void say_line(struct rig *r, const char *line)
{
    r->now_us += 1000;
    oxl_poll_rx(r->poll, line, strlen(line), r->now_us);
}

/* The PID that was asked for, and bytes that belong to none that was: another request's answer, or
 * characters doubled on the line. */
static void test_more_than_was_asked_for(void **state)
{
    struct rig *r = *state;
    wait_unanswered(r);
    unsigned samples = r->samples_n;
    uint64_t late = rig_stats(r).late;
    say_line(r, "7E80641143CFF0582AA\r");
    assert_int_equal(r->samples_n, samples);
    assert_int_equal(rig_stats(r).late, late + 1);
    say_line(r, "7E80741143C801546FF\r");
    assert_int_equal(rig_count(r, FRONT, samples), 1);
}

/* On a K-line the last byte is the sum of those before it (ISO 9141-2): of a line in which it is
 * not, no byte is believed. */
static void test_a_wrong_checksum_is_no_answer(void **state)
{
    struct rig *r = *state;
    fake_kline(&r->fake);
    rig_ready(r);
    rig_focus(r, OXL_FOCUS_TIMING);
    while (strcmp(r->fake.log[r->fake.log_n - 1], "01141") != 0)
        rig_run(r, 0.001);
    r->fake.silent = true;
    r->fake.n = 0;
    r->fake.taken_us[60] = r->now_us + 500;
    unsigned samples = r->samples_n;
    struct oxl_poll_stats before = rig_stats(r);
    say_line(r, "486B1041143CFF54\r"); /* 48+6B+10+41+14+3C+FF = 253 */
    say_line(r, "486B107F011254\r");   /* a refusal: 48+6B+10+7F+01+12 = 155 */
    struct oxl_poll_stats after = rig_stats(r);
    assert_int_equal(r->samples_n, samples);
    assert_int_equal(after.replies, before.replies);
    assert_int_equal(after.negative, before.negative);
    assert_int_equal(after.late, before.late);
    assert_int_equal(oxl_poll_wire_stats(r->poll)->bad_checksums, 2);
    say_line(r, "486B1041143CFF53\r");
    assert_int_equal(rig_count(r, FRONT, samples), 1);
    assert_int_equal(rig_stats(r).replies, before.replies + 1);
}

/* Where PID 00 cannot be asked alone after a late answer, it is asked beside the rear sensor: an
 * answer with that one only is the older one's. */
static void test_the_rest_of_a_late_answer_is_not_the_separator(void **state)
{
    struct rig *r = *state;
    r->fake.no_echo = true;
    rig_ready(r);
    r->fake.spoil = true;
    rig_run(r, 1);
    r->fake.late_us = 500000;
    while (strcmp(r->fake.log[r->fake.log_n - 1], "010015") != 0)
        rig_run(r, 0.001);
    r->fake.silent = true;
    r->fake.n = 0;
    unsigned samples = r->samples_n;
    uint64_t late = rig_stats(r).late;
    say_line(r, "7E804411546FFAAAAAA\r");
    assert_int_equal(r->samples_n, samples);
    assert_int_equal(rig_stats(r).late, late + 1);
    r->fake.silent = false;
    rig_run(r, 3);
    assert_true(rig_flows(r));
}

int main(void)
{
#define T(f) cmocka_unit_test_setup_teardown(f, rig_setup, rig_teardown)
    const struct CMUnitTest tests[] = {
        T(test_busy_is_asked_again_after_50_ms),
        T(test_pending_is_waited_for),
        T(test_digit_takes_pending_for_the_answer),
        T(test_words_are_survived),
        T(test_buffer_full_in_the_middle),
        T(test_accident_and_habit),
        T(test_lost_prompt),
        T(test_late_reply),
        T(test_late_reply_of_a_queueing_adapter),
        T(test_leftovers_in_the_same_chunk),
        T(test_answer_to_something_else),
        T(test_more_than_was_asked_for),
        T(test_a_wrong_checksum_is_no_answer),
        T(test_the_rest_of_a_late_answer_is_not_the_separator),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
