/* Bytes to lines: splits, times, echo, NULs, over-long lines, noise. */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <setjmp.h>

#include <cmocka.h>

#include "help_wire.h"

/* A connection from reset to live data as a badly behaved adapter would write it. The NULs are
 * part of it, so its length is sizeof - 1. Simulated. */
static const char transcript[] =
    "\0ATZ\r\r\rGENERIC ADAPTER V1\r\r>ATE0\rOK\r\r>OK\r\n\r\n>12.6V\r\r>"
    "SEARCHING...7E8 06 41 00 BE 1F A8 13 \r7E9 06 41 00 80 08 00 00 \r\r>A6\r\r>"
    "010C1\r7E804410C1AF8\r\r>"
    "7E8101449020131\r" /* a first frame of six bytes: impossible */
    "7E81014490201544553\r7E91013490401544553\r7E82154564548\0"
    "49434C\r"
    "7E9215443414C2D3030\r7E82245303030303031\r7E92230303030303100\r>"
    "7E804410C1AF8<DATA ERROR\rNO DATA\r\n>?\r>\r\r>STOPPED\r\n>"
    "BUS INIT: ...OK\r\xFF\xC3\x81 garbage\rCAN ERROR\r>"
    "18DAF11004410C1AF8\r7DF02010C\r7EF037F0178\r7EF04410C1AF8\r\r>BUFFER FULL\r>";

static struct tap *run_transcript(size_t cut1, size_t cut2)
{
    struct tap *t = tap_new(OXL_PROTO_CAN11_500);
    size_t n = sizeof transcript - 1;
    oxl_wire_expect_echo(t->wire, "010C1");
    oxl_wire_feed(t->wire, transcript, cut1, 7);
    oxl_wire_feed(t->wire, transcript + cut1, cut2 - cut1, 7);
    oxl_wire_feed(t->wire, transcript + cut2, n - cut2, 7);
    return t;
}

static void every_split_gives_the_same_tokens(void **state)
{
    (void)state;
    size_t n = sizeof transcript - 1;
    struct tap *whole = run_transcript(n, n);
    /* The whole is right in itself: counted by hand. */
    assert_non_null(strstr(whole->log, "W SEARCHING\nM 7E8 4100BE1FA813\nM 7E9 410080080000\nP\n"));
    assert_non_null(strstr(whole->log, "P\nM 7E8 410C1AF8\nP\n"));
    assert_non_null(strstr(whole->log, "M 7E8 4902015445535456454849434C45303030303031\n"
                                       "M 7E9 49040154455354"
                                       "43414C2D3030303030303031\nP\n"));
    assert_non_null(strstr(whole->log, "M 7EF 7F0178\nM 7EF 410C1AF8\n"));
    const struct oxl_wire_stats *s = oxl_wire_stats(whole->wire);
    assert_int_equal(s->bytes, n);
    assert_int_equal(s->nul_bytes, 2);
    assert_int_equal(s->broken_messages, 1);
    assert_int_equal(s->bad_lines, 3); /* spoilt by mark, garbage, 29-bit line under 11-bit */
    for (size_t cut = 0; cut <= n; cut++) {
        struct tap *t = run_transcript(cut, n);
        assert_string_equal(t->log, whole->log);
        assert_memory_equal(oxl_wire_stats(t->wire), s, sizeof *s);
        tap_free(t);
    }
    tap_free(whole);
}

static void every_pair_of_splits_around_each_byte(void **state)
{
    (void)state;
    size_t n = sizeof transcript - 1;
    struct tap *whole = run_transcript(n, n);
    for (size_t cut = 0; cut < n; cut++) {
        struct tap *t = run_transcript(cut, cut + 1);
        assert_string_equal(t->log, whole->log);
        tap_free(t);
    }
    tap_free(whole);
}

static void byte_by_byte(void **state)
{
    (void)state;
    size_t n = sizeof transcript - 1;
    struct tap *whole = run_transcript(n, n);
    struct tap *t = tap_new(OXL_PROTO_CAN11_500);
    oxl_wire_expect_echo(t->wire, "010C1");
    for (size_t i = 0; i < n; i++)
        oxl_wire_feed(t->wire, transcript + i, 1, 7);
    assert_string_equal(t->log, whole->log);
    tap_free(t);
    tap_free(whole);
}

/* With the time of each byte fixed (1 ms per block of `block` bytes), feeding block by block and
 * byte by byte must give the same times. */
static void times_do_not_depend_on_the_split(void **state)
{
    (void)state;
    size_t n = sizeof transcript - 1;
    for (size_t block = 1; block <= 40; block++) {
        struct tap *a = tap_new(OXL_PROTO_CAN11_500);
        struct tap *b = tap_new(OXL_PROTO_CAN11_500);
        a->times = b->times = true;
        for (size_t at = 0; at < n; at += block)
            oxl_wire_feed(a->wire, transcript + at, at + block < n ? block : n - at,
                          (int64_t)(at / block) * 1000);
        for (size_t i = 0; i < n; i++)
            oxl_wire_feed(b->wire, transcript + i, 1, (int64_t)(i / block) * 1000);
        assert_string_equal(a->log, b->log);
        tap_free(a);
        tap_free(b);
    }
}

static void a_message_bears_the_times_of_its_first_and_last_byte(void **state)
{
    (void)state;
    struct tap *t = tap_new(OXL_PROTO_CAN11_500);
    t->times = true;
    tap_feed(t, "\r\n ", 10);
    oxl_wire_feed(t->wire, "\0", 1, 15); /* no byte of the line */
    tap_feed(t, "7", 20);
    tap_feed(t, "E804410C1A", 30);
    tap_feed(t, "F8", 40);
    tap_feed(t, " \r", 50);
    tap_feed(t, ">", 60);
    assert_string_equal(t->log, "M 7E8 410C1AF8 @20-40\nP @60\n");
    tap_clear(t);
    /* Several lines: from the first line's first byte to the last line's last. */
    tap_feed(t, "7E8100A4601", 100);
    tap_feed(t, "018AF000\r", 110);
    tap_feed(t, "7E821E0", 120);
    tap_feed(t, "002000", 130);
    tap_feed(t, "555555\r", 140);
    assert_string_equal(t->log, "M 7E8 4601018AF000E0002000 @100-140\n");
    tap_clear(t);
    tap_feed(t, "NO ", 200);
    tap_feed(t, "DATA", 210);
    tap_feed(t, "\r12.6", 220);
    tap_feed(t, "V", 230);
    tap_feed(t, "\r", 240);
    assert_string_equal(t->log, "W NO DATA @210\nT 12.6V @230\n");
    tap_free(t);
}

static void line_ends_and_the_prompt(void **state)
{
    (void)state;
    tap_check(OXL_PROTO_UNKNOWN, "OK\r", "W OK\n");
    tap_check(OXL_PROTO_UNKNOWN, "OK\n", "W OK\n");
    tap_check(OXL_PROTO_UNKNOWN, "OK\r\n\r\n>", "W OK\nP\n");
    tap_check(OXL_PROTO_UNKNOWN, "OK>", "W OK\nP\n");
    tap_check(OXL_PROTO_UNKNOWN, ">>> >", "P\nP\nP\nP\n");
    tap_check(OXL_PROTO_UNKNOWN, "OK", "");
    tap_check(OXL_PROTO_CAN11_500, "7E804410C1AF8>", "M 7E8 410C1AF8\nP\n");
    tap_check(OXL_PROTO_CAN11_500, ">7E804410C1AF8\r", "P\nM 7E8 410C1AF8\n");
}

static void echo_is_dropped_once(void **state)
{
    (void)state;
    struct tap *t = tap_new(OXL_PROTO_UNKNOWN);
    oxl_wire_expect_echo(t->wire, "ATE0");
    tap_feed(t, "ATE0\rOK\r\r>", 1);
    assert_string_equal(t->log, "W OK\nP\n");
    tap_clear(t);
    tap_feed(t, "ATE0\r", 2);
    assert_string_equal(t->log, "T ATE0\n");
    tap_clear(t);
    /* Spaces and case are the adapter's choice. */
    oxl_wire_expect_echo(t->wire, "ATSP0");
    tap_feed(t, "at sp 0\r", 3);
    oxl_wire_expect_echo(t->wire, "at dp n");
    tap_feed(t, "ATDPN\r", 3);
    assert_string_equal(t->log, "");
    /* None came: the answer is not taken for it. */
    oxl_wire_expect_echo(t->wire, "ATRV");
    tap_feed(t, "12.6V\r>", 4);
    assert_string_equal(t->log, "T 12.6V\nP\n");
    tap_clear(t);
    oxl_wire_expect_echo(t->wire, "");
    tap_feed(t, "ATRV\r", 5);
    assert_string_equal(t->log, "T ATRV\n");
    tap_free(t);
}

/* 010C1 has the shape of an 11-bit frame, and a K-line request sent raw that of a message. */
static void echo_that_could_be_data(void **state)
{
    (void)state;
    struct tap *t = tap_new(OXL_PROTO_CAN11_500);
    oxl_wire_expect_echo(t->wire, "010C1");
    tap_feed(t, "010C1\r7E804410C1AF8\r\r>", 1);
    assert_string_equal(t->log, "M 7E8 410C1AF8\nP\n");
    assert_int_equal(oxl_wire_stats(t->wire)->frames, 1);
    assert_int_equal(oxl_wire_stats(t->wire)->bad_lines, 0);
    tap_clear(t);
    oxl_wire_expect_echo(t->wire, "7E8 04 41 0C 1A F8");
    tap_feed(t, "7E804410C1AF8\r7E804410C1AF8\r", 2);
    assert_string_equal(t->log, "M 7E8 410C1AF8\n");
    tap_free(t);
}

static void an_echo_too_long_to_keep_is_not_cut(void **state)
{
    (void)state;
    char command[300];
    memset(command, 'A', sizeof command - 1);
    command[sizeof command - 1] = '\0';
    struct tap *t = tap_new(OXL_PROTO_UNKNOWN);
    oxl_wire_expect_echo(t->wire, command);
    command[127] = '\0';
    tap_feed(t, command, 1);
    tap_feed(t, "\r", 1);
    assert_int_equal(t->log[0], 'T');
    tap_free(t);
}

/* The longest echo that is kept whole is known again. */
static void the_longest_echo_is_taken_for_one(void **state)
{
    (void)state;
    char command[128];
    memset(command, 'A', sizeof command - 1);
    command[sizeof command - 1] = '\0';
    struct tap *t = tap_new(OXL_PROTO_UNKNOWN);
    oxl_wire_expect_echo(t->wire, command);
    tap_feed(t, command, 1);
    tap_feed(t, "\r", 1);
    assert_string_equal(t->log, "");
    tap_free(t);
}

/* A question mark alone is "unknown command"; behind data it says nothing about them. */
static void a_question_mark_behind_data_ends_none(void **state)
{
    (void)state;
    struct tap *t = tap_new(OXL_PROTO_CAN11_500);
    tap_feed(t, "7E804410C1AF8?\r\r>", 1);
    assert_null(strstr(t->log, "W ?"));
    assert_null(strstr(t->log, "M "));
    tap_free(t);
}

static void nuls_are_dropped_anywhere(void **state)
{
    (void)state;
    static const char bytes[] = "\0\0007E8\0044410C1\0AF8\0\r\0>";
    /* "\0044" is the octal escape 004 and a 4: a control byte, to see that only NULs go. */
    struct tap *t = tap_new(OXL_PROTO_CAN11_500);
    oxl_wire_feed(t->wire, bytes, sizeof bytes - 1, 1);
    assert_string_equal(t->log, "P\n");
    assert_int_equal(oxl_wire_stats(t->wire)->bad_lines, 1);
    tap_clear(t);
    static const char good[] = "\0"
                               "7E8"
                               "\0"
                               "04410C1"
                               "\0\0"
                               "AF8"
                               "\0"
                               "\r"
                               "\0"
                               ">";
    oxl_wire_feed(t->wire, good, sizeof good - 1, 1);
    assert_string_equal(t->log, "M 7E8 410C1AF8\nP\n");
    assert_int_equal(oxl_wire_stats(t->wire)->nul_bytes, 5 + 6);
    tap_free(t);
}

static void overlong_lines_are_counted_and_dropped(void **state)
{
    (void)state;
    char *big = malloc(100000);
    assert_non_null(big);
    memset(big, '4', 100000);
    struct tap *t = tap_new(OXL_PROTO_CAN11_500);
    oxl_wire_feed(t->wire, big, 100000, 1);
    oxl_wire_feed(t->wire, big, 100000, 1);
    tap_feed(t, "\r7E804410C1AF8\r", 2);
    assert_string_equal(t->log, "M 7E8 410C1AF8\n");
    assert_int_equal(oxl_wire_stats(t->wire)->overlong_lines, 1);
    tap_clear(t);
    /* The longest line that is kept, and the shortest that is not; a prompt ends it too. */
    memset(big, 'x', 100000);
    oxl_wire_feed(t->wire, big, 1023, 3);
    tap_feed(t, ">", 3);
    assert_int_equal(strlen(t->log), 2 + 1023 + 1 + 2);
    tap_clear(t);
    oxl_wire_feed(t->wire, big, 1024, 3);
    tap_feed(t, ">", 3);
    assert_string_equal(t->log, "P\n");
    assert_int_equal(oxl_wire_stats(t->wire)->overlong_lines, 2);
    tap_free(t);
    free(big);
}

static void noise_is_no_text(void **state)
{
    (void)state;
    tap_check(OXL_PROTO_UNKNOWN, "\xF0\x9F\x98\x80\r\x1b[2J\rA\x7f\r>", "P\n");
    tap_check(OXL_PROTO_CAN11_500,
              "\x80"
              "7E804410C1AF8\r",
              "");
}

/* What an adapter writes that ignores "headers on" is never taken for data. */
static void lines_without_header_are_no_data(void **state)
{
    (void)state;
    static const char *const lines[] = {"410C1AF8\r",       "41 0C 1A F8 \r", "4100BE1FA813\r",
                                        "41145A80159AFF\r", "4300\r",         "7F0178\r"};
    for (int p = OXL_PROTO_J1850_PWM; p <= OXL_PROTO_CAN29_250; p++)
        for (size_t i = 0; i < sizeof lines / sizeof *lines; i++) {
            struct tap *t = tap_new((enum oxl_protocol)p);
            tap_feed(t, lines[i], 1);
            assert_string_equal(t->log, "");
            assert_int_equal(oxl_wire_stats(t->wire)->bad_lines, 1);
            tap_free(t);
        }
    tap_check(OXL_PROTO_UNKNOWN, "41 0C 1A F8 \r", "T 41 0C 1A F8\n");
    tap_check(OXL_PROTO_CAN11_500, "014\r0:490201314434\r1:47503030523535\r",
              "T 014\nT 0:490201314434\nT 1:47503030523535\n");
}

static void reset_forgets_halves(void **state)
{
    (void)state;
    struct tap *t = tap_new(OXL_PROTO_CAN11_500);
    tap_feed(t, "7E8100A4601018AF000\r7E821E00020", 1);
    oxl_wire_expect_echo(t->wire, "010C");
    oxl_wire_reset(t->wire);
    tap_feed(t, "7E821E0002000555555\r7E804410C1AF8\r", 2);
    assert_string_equal(t->log, "M 7E8 410C1AF8\n");
    assert_int_equal(oxl_wire_stats(t->wire)->broken_messages, 1);
    assert_int_equal(oxl_wire_stats(t->wire)->bad_lines, 0);
    tap_clear(t);
    tap_feed(t, "010C\r", 3);
    assert_int_equal(oxl_wire_stats(t->wire)->bad_lines, 1); /* no echo is expected any more */
    tap_feed(t, "SEARCHING...", 3);
    oxl_wire_reset(t->wire);
    tap_feed(t, "...\r", 4);
    assert_string_equal(t->log, "W SEARCHING\nT ...\n");
    tap_free(t);
}

static void free_takes_null(void **state)
{
    (void)state;
    oxl_wire_free(NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_split_gives_the_same_tokens),
        cmocka_unit_test(every_pair_of_splits_around_each_byte),
        cmocka_unit_test(byte_by_byte),
        cmocka_unit_test(times_do_not_depend_on_the_split),
        cmocka_unit_test(a_message_bears_the_times_of_its_first_and_last_byte),
        cmocka_unit_test(line_ends_and_the_prompt),
        cmocka_unit_test(echo_is_dropped_once),
        cmocka_unit_test(echo_that_could_be_data),
        cmocka_unit_test(an_echo_too_long_to_keep_is_not_cut),
        cmocka_unit_test(the_longest_echo_is_taken_for_one),
        cmocka_unit_test(a_question_mark_behind_data_ends_none),
        cmocka_unit_test(nuls_are_dropped_anywhere),
        cmocka_unit_test(overlong_lines_are_counted_and_dropped),
        cmocka_unit_test(noise_is_no_text),
        cmocka_unit_test(lines_without_header_are_no_data),
        cmocka_unit_test(reset_forgets_halves),
        cmocka_unit_test(free_takes_null),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
