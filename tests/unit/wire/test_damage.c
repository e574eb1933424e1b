/* Lines that an adapter or a serial line has damaged, and what tells of lost settings. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "help_wire.h"

static const char *const padded = "7E804410C1AF8AAAAAA\r";

/* Two digits lost in the data: the padding moves in and the length still fits. */
static void a_cut_frame_of_a_unit_that_pads_is_dropped(void **state)
{
    (void)state;
    struct tap *t = tap_new(OXL_PROTO_CAN11_500);
    for (int i = 0; i < 4; i++)
        tap_feed(t, padded, 1);
    tap_clear(t);
    tap_feed(t, "7E804410CF8AAAAAA\r", 2);
    assert_string_equal(t->log, "");
    assert_int_equal(oxl_wire_stats(t->wire)->cut_frames, 1);
    tap_feed(t, padded, 3);
    assert_string_equal(t->log, "M 7E8 410C1AF8\n");
    /* Another ECU has its own habit; a long message's last frame may be short as well. */
    tap_clear(t);
    tap_feed(t, "7E904410C1AF8\r", 4);
    assert_string_equal(t->log, "M 7E9 410C1AF8\n");
    tap_free(t);
}

static void short_frames_stay_welcome_where_they_are_the_habit(void **state)
{
    (void)state;
    struct tap *t = tap_new(OXL_PROTO_CAN11_500);
    for (int i = 0; i < 20; i++)
        tap_feed(t, i % 2 ? "7E804410C1AF8\r" : "7E807410C1AF8112233\r", 1);
    assert_int_equal(oxl_wire_stats(t->wire)->cut_frames, 0);
    assert_int_equal(oxl_wire_stats(t->wire)->messages, 20);
    tap_free(t);
}

/* An ECU that pads one kind of answer and not the other: four bare ones in a row are its habit, and
 * then a padded frame that lost a byte is still cut. Likewise the last frames of long messages. */
static void some_frames_are_padded_and_others_never(void **state)
{
    (void)state;
    struct tap *t = tap_new(OXL_PROTO_CAN11_500);
    for (int i = 0; i < 10; i++) {
        tap_feed(t, padded, 1);
        tap_feed(t, "7E806410034800080\r", 1);
    }
    assert_int_equal(oxl_wire_stats(t->wire)->cut_frames, 3);
    assert_int_equal(oxl_wire_stats(t->wire)->messages, 17);
    tap_feed(t, "7E804410CF8AAAAAA\r", 2);
    assert_int_equal(oxl_wire_stats(t->wire)->cut_frames, 4);
    for (int i = 0; i < 10; i++) {
        tap_feed(t, "7E81009413480008000\r", 3);
        tap_feed(t, "7E821155AFF\r", 3);
    }
    assert_int_equal(oxl_wire_stats(t->wire)->cut_frames, 7);
    assert_int_equal(oxl_wire_stats(t->wire)->messages, 24);
    tap_free(t);
}

/* Each ECU has its own habit: that the first one pads says nothing of the second, and the second's
 * cut frame is known by the second's own. */
static void each_ecu_pads_for_itself(void **state)
{
    (void)state;
    struct tap *t = tap_new(OXL_PROTO_CAN11_500);
    for (int i = 0; i < 10; i++) {
        tap_feed(t, padded, 1);
        tap_feed(t, "7E904410C1AF8\r", 1);
    }
    assert_int_equal(oxl_wire_stats(t->wire)->cut_frames, 0);
    for (int i = 0; i < 10; i++)
        tap_feed(t, "7EA04410C1AF8AAAAAA\r", 1);
    tap_feed(t, "7EA04410CF8AAAAAA\r", 1);
    assert_int_equal(oxl_wire_stats(t->wire)->cut_frames, 1);
    tap_free(t);
}

/* Bytes lost at random from frames that are padded make no habit. */
static void lost_bytes_make_no_habit(void **state)
{
    (void)state;
    struct tap *t = tap_new(OXL_PROTO_CAN11_500);
    for (int i = 0; i < 60; i++)
        tap_feed(t, i % 3 ? "7E8064114588015A0AA\r" : "7E80641148015A0AA\r", 1);
    assert_int_equal(oxl_wire_stats(t->wire)->cut_frames, 18);
    tap_free(t);
    /* Nor do three in a row, time and again: each whole one begins the count anew. */
    t = tap_new(OXL_PROTO_CAN11_500);
    for (int i = 0; i < 4; i++)
        tap_feed(t, padded, 1);
    for (int i = 0; i < 40; i++)
        tap_feed(t, i % 4 < 3 ? "7E80641148015A0AA\r" : "7E8064114588015A0AA\r", 1);
    assert_int_equal(oxl_wire_stats(t->wire)->cut_frames, 30);
    tap_free(t);
}

/* The link comes back with another vehicle on it: habits are forgotten. */
static void reset_forgets_the_habit(void **state)
{
    (void)state;
    struct tap *t = tap_new(OXL_PROTO_CAN11_500);
    for (int i = 0; i < 8; i++)
        tap_feed(t, padded, 1);
    oxl_wire_reset(t->wire);
    tap_clear(t);
    tap_feed(t, "7E804410C1AF8\r", 2);
    assert_string_equal(t->log, "M 7E8 410C1AF8\n");
    tap_free(t);
}

static void echoes_and_answers_without_header_are_counted(void **state)
{
    (void)state;
    struct tap *t = tap_new(OXL_PROTO_CAN11_500);
    oxl_wire_expect_echo(t->wire, "010C1");
    tap_feed(t, "010C1\r410C1AF8\r7F0122\r7E804410C1AF8AAAAAA\r", 1);
    assert_int_equal(oxl_wire_stats(t->wire)->echoes, 1);
    assert_int_equal(oxl_wire_stats(t->wire)->headless, 2);
    assert_string_equal(t->log, "M 7E8 410C1AF8\n");
    tap_free(t);
    /* A part of a long answer, as it is shown without headers: its number and a colon. */
    t = tap_new(OXL_PROTO_CAN11_500);
    tap_feed(t, "0:490201314139\r1:4242304344304546\r", 1);
    assert_int_equal(oxl_wire_stats(t->wire)->headless, 2);
    tap_free(t);
    /* 48 6B 10 41 .. on K-line has its header. ISO 9141-2: the sum of all bytes is the last. */
    t = tap_new(OXL_PROTO_ISO9141);
    tap_feed(t, "486B10410C1AF822\r410C1AF8\r", 1);
    assert_int_equal(oxl_wire_stats(t->wire)->headless, 1);
    assert_string_equal(t->log, "M 10 410C1AF8\n");
    tap_free(t);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_cut_frame_of_a_unit_that_pads_is_dropped),
        cmocka_unit_test(some_frames_are_padded_and_others_never),
        cmocka_unit_test(each_ecu_pads_for_itself),
        cmocka_unit_test(lost_bytes_make_no_habit),
        cmocka_unit_test(short_frames_stay_welcome_where_they_are_the_habit),
        cmocka_unit_test(reset_forgets_the_habit),
        cmocka_unit_test(echoes_and_answers_without_header_are_counted),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
