/* CAN lines and ISO 15765-2 reassembly. */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <setjmp.h>

#include <cmocka.h>

#include "help_wire.h"

static uint64_t broken(const struct tap *t)
{
    return oxl_wire_stats(t->wire)->broken_messages;
}

static void both_widths_with_and_without_spaces(void **state)
{
    (void)state;
    static const char *const narrow[] = {"7E804410C1AF8\r", "7e804410c1af8\r",
                                         "7E8 04 41 0C 1A F8 \r", "7E804410C1AF8000000\r",
                                         "7E8 04 41 0C 1A F8 AA AA AA\r\n"};
    static const char *const wide[] = {"18DAF11004410C1AF8\r", "18 DA F1 10 04 41 0C 1A F8 \r",
                                       "18DAF11004410C1AF8555555\r", "18DAF110 04410C1AF8\r"};
    for (size_t i = 0; i < sizeof narrow / sizeof *narrow; i++) {
        tap_check(OXL_PROTO_CAN11_500, narrow[i], "M 7E8 410C1AF8\n");
        tap_check(OXL_PROTO_CAN11_250, narrow[i], "M 7E8 410C1AF8\n");
        tap_check(OXL_PROTO_UNKNOWN, narrow[i], "M 7E8 410C1AF8\n");
        tap_check(OXL_PROTO_CAN29_500, narrow[i], "");
    }
    for (size_t i = 0; i < sizeof wide / sizeof *wide; i++) {
        tap_check(OXL_PROTO_CAN29_500, wide[i], "M 18DAF110 410C1AF8\n");
        tap_check(OXL_PROTO_CAN29_250, wide[i], "M 18DAF110 410C1AF8\n");
        tap_check(OXL_PROTO_UNKNOWN, wide[i], "M 18DAF110 410C1AF8\n");
        tap_check(OXL_PROTO_CAN11_500, wide[i], "");
    }
}

static void other_identifiers_are_no_answer(void **state)
{
    (void)state;
    struct tap *t = tap_new(OXL_PROTO_CAN11_500);
    tap_feed(t, "7DF02010C\r7E002010C\r7E704410C1AF8\r7F004410C1AF8\r12304410C1AF8\r", 1);
    assert_string_equal(t->log, "");
    assert_int_equal(oxl_wire_stats(t->wire)->frames, 5);
    assert_int_equal(oxl_wire_stats(t->wire)->bad_lines, 0);
    tap_feed(t, "7EF04410C1AF8\r", 1);
    assert_string_equal(t->log, "M 7EF 410C1AF8\n");
    tap_free(t);
    t = tap_new(OXL_PROTO_CAN29_500);
    tap_feed(t, "18DB33F102010C\r18DA10F104410C1AF8\r18DAF21004410C1AF8\r", 1);
    assert_string_equal(t->log, "");
    assert_int_equal(oxl_wire_stats(t->wire)->frames, 3);
    tap_feed(t, "18DAF1FF04410C1AF8\r", 1);
    assert_string_equal(t->log, "M 18DAF1FF 410C1AF8\n");
    tap_free(t);
}

static void lines_that_are_no_frame(void **state)
{
    (void)state;
    struct tap *t = tap_new(OXL_PROTO_CAN11_500);
    /* a half byte; nine bytes; an identifier above 11 bits */
    tap_feed(t, "7E804410C1AF\r7E804410C1AF800000011\rFE804410C1AF8\r", 1);
    assert_string_equal(t->log, "");
    assert_int_equal(oxl_wire_stats(t->wire)->bad_lines, 3);
    assert_int_equal(oxl_wire_stats(t->wire)->frames, 0);
    tap_free(t);
    t = tap_new(OXL_PROTO_CAN29_500);
    tap_feed(t, "18DAF1\r18DAF110\r18DAF1100\rF8DAF11004410C1AF8\r", 1);
    assert_string_equal(t->log, "");
    assert_int_equal(oxl_wire_stats(t->wire)->bad_lines, 4);
    tap_free(t);
}

static void single_frames_of_every_length(void **state)
{
    (void)state;
    const uint8_t full[8] = {0, 0x41, 0x14, 0x5A, 0x80, 0x15, 0x9A, 0xFF};
    for (unsigned l = 0; l < 16; l++)
        for (size_t n = 1; n <= 8; n++) {
            uint8_t b[8];
            char line[64];
            memcpy(b, full, 8);
            b[0] = (uint8_t)l;
            struct tap *t = tap_new(OXL_PROTO_CAN11_500);
            tap_can_line(line, 0x7E8, false, b, n, false);
            tap_feed(t, line, 1);
            bool fits = l >= 1 && l <= 7 && l <= n - 1;
            assert_int_equal(oxl_wire_stats(t->wire)->messages, fits);
            assert_int_equal(broken(t), !fits);
            if (fits) /* M 7E8 + two digits a byte + newline: no padding */
                assert_int_equal(strlen(t->log), 6 + 2 * l + 1);
            tap_free(t);
        }
}

/* ISO 15031-5 example retold in public: FF 10 0F 41 0B 21 0C 0C 38 answering six PIDs. */
static void a_message_in_three_frames(void **state)
{
    (void)state;
    tap_check(OXL_PROTO_CAN29_500,
              "18DAF110100F410B210C0C38\r18DAF110210D000E8A0F4610\r18DAF1102201365555555555\r\r>",
              "M 18DAF110 410B210C0C380D000E8A0F46100136\nP\n");
}

static void flow_control_is_ignored(void **state)
{
    (void)state;
    struct tap *t = tap_new(OXL_PROTO_CAN11_500);
    tap_feed(t,
             "7E8100A4601018AF000\r7E83000000000000000\r7E8300000\r7E03000000000000000\r"
             "7E821E0002000555555\r",
             1);
    assert_string_equal(t->log, "M 7E8 4601018AF000E0002000\n");
    assert_int_equal(broken(t), 0);
    assert_int_equal(oxl_wire_stats(t->wire)->frames, 5);
    tap_free(t);
}

static void eight_units_interleaved(void **state)
{
    (void)state;
    for (int wide = 0; wide <= 1; wide++) {
        uint8_t frames[8][64][9];
        uint8_t payload[8][200];
        size_t count[8];
        uint32_t seed = 5;
        char line[64];
        struct tap *t = tap_new(wide ? OXL_PROTO_CAN29_500 : OXL_PROTO_CAN11_500);
        for (size_t u = 0; u < 8; u++) {
            for (size_t i = 0; i < 200; i++)
                payload[u][i] = (uint8_t)tap_random(&seed);
            count[u] = tap_segment(payload[u], 60 + 15 * u, 0xAA, frames[u], 64);
        }
        /* An ECU further on has more frames, so they finish in this order. */
        for (size_t k = 0; k < 64; k++)
            for (size_t u = 0; u < 8; u++) {
                if (k >= count[u])
                    continue;
                uint32_t id = (wide ? 0x18DAF110 : 0x7E8) + (uint32_t)u;
                tap_can_line(line, id, wide, frames[u][k] + 1, 8, k % 2);
                tap_feed(t, line, (int64_t)k);
            }
        const char *at = t->log;
        for (size_t u = 0; u < 8; u++) {
            char head[32];
            snprintf(head, sizeof head, "M %X ", (wide ? 0x18DAF110 : 0x7E8) + (unsigned)u);
            assert_int_equal(strncmp(at, head, strlen(head)), 0);
            at += strlen(head);
            for (size_t i = 0; i < 60 + 15 * u; i++, at += 2) {
                char two[3];
                snprintf(two, sizeof two, "%02X", payload[u][i]);
                assert_int_equal(strncmp(at, two, 2), 0);
            }
            assert_int_equal(*at++, '\n');
        }
        assert_int_equal(*at, '\0');
        assert_int_equal(broken(t), 0);
        tap_free(t);
    }
}

static void the_longest_message(void **state)
{
    (void)state;
    static uint8_t frames[700][9];
    uint8_t *payload = malloc(4095);
    assert_non_null(payload);
    char line[64];
    uint32_t seed = 77;
    for (size_t i = 0; i < 4095; i++)
        payload[i] = (uint8_t)tap_random(&seed);
    size_t n = tap_segment(payload, 4095, 0, frames, 700);
    struct tap *t = tap_new(OXL_PROTO_CAN11_500);
    for (size_t i = 0; i < n; i++) {
        tap_can_line(line, 0x7E8, false, frames[i] + 1, 8, false);
        tap_feed(t, line, 1);
    }
    assert_int_equal(oxl_wire_stats(t->wire)->messages, 1);
    assert_int_equal(t->n, strlen("M 7E8 ") + 2 * 4095 + 1);
    char last[4];
    snprintf(last, sizeof last, "%02X\n", payload[4094]);
    assert_string_equal(t->log + t->n - 3, last);
    tap_free(t);
    free(payload);
}

/* ISO 15765-2: a wrong number ends the message; what follows of it is ignored. */
static void a_wrong_number_ends_the_message(void **state)
{
    (void)state;
    static const char *const seconds[] = {"7E820", "7E822", "7E829", "7E82F"};
    for (size_t i = 0; i < sizeof seconds / sizeof *seconds; i++) {
        struct tap *t = tap_new(OXL_PROTO_CAN11_500);
        tap_feed(t, "7E81014490201544553\r", 1);
        tap_feed(t, seconds[i], 1);
        tap_feed(t, "54564548494C45\r", 1);
        assert_int_equal(broken(t), 1);
        tap_feed(t, "7E82154564548494C45\r7E82230303030303031\r", 1);
        assert_string_equal(t->log, "");
        assert_int_equal(broken(t), 1);
        /* The next one is whole again. */
        tap_feed(t, "7E8100A4601018AF000\r7E821E0002000555555\r", 1);
        assert_string_equal(t->log, "M 7E8 4601018AF000E0002000\n");
        assert_int_equal(broken(t), 1);
        tap_free(t);
    }
}

static void a_doubled_frame_ends_the_message(void **state)
{
    (void)state;
    struct tap *t = tap_new(OXL_PROTO_CAN11_500);
    tap_feed(t,
             "7E81014490201544553\r7E82154564548494C45\r7E82154564548494C45\r"
             "7E82230303030303031\r",
             1);
    assert_string_equal(t->log, "");
    assert_int_equal(broken(t), 1);
    tap_free(t);
}

static void a_new_message_replaces_the_unfinished(void **state)
{
    (void)state;
    struct tap *t = tap_new(OXL_PROTO_CAN11_500);
    tap_feed(t, "7E81014490201544553\r7E8100A4601018AF000\r7E821E0002000555555\r", 1);
    assert_string_equal(t->log, "M 7E8 4601018AF000E0002000\n");
    assert_int_equal(broken(t), 1);
    tap_clear(t);
    tap_feed(t, "7E81014490201544553\r7E804410C1AF8\r7E82154564548494C45\r", 1);
    assert_string_equal(t->log, "M 7E8 410C1AF8\n");
    assert_int_equal(broken(t), 2);
    tap_free(t);
}

static void impossible_first_frames(void **state)
{
    (void)state;
    static const char *const rows[] = {
        "7E81000490201544553\r", /* length 0 (the escape of classic CAN's successor) */
        "7E81007490201544553\r", /* 7 fits a single frame */
        "7E810144902015445\r",   /* seven bytes */
        "7E810\r",               /* nothing behind the first byte */
        "7E84014490201544553\r", /* reserved kind */
        "7E8F014490201544553\r",
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct tap *t = tap_new(OXL_PROTO_CAN11_500);
        tap_feed(t, rows[i], 1);
        tap_feed(t, "7E82154564548494C45\r7E82230303030303031\r", 1);
        assert_string_equal(t->log, "");
        assert_int_equal(broken(t), 1);
        tap_free(t);
    }
}

static void a_consecutive_frame_too_short(void **state)
{
    (void)state;
    struct tap *t = tap_new(OXL_PROTO_CAN11_500);
    /* Ten bytes: four are left; the last frame may be short, but not shorter. */
    tap_feed(t, "7E8100A4601018AF000\r7E821E0002000\r", 1);
    assert_string_equal(t->log, "M 7E8 4601018AF000E0002000\n");
    tap_clear(t);
    tap_feed(t, "7E8100A4601018AF000\r7E821E00020\r7E821E0002000\r", 1);
    assert_string_equal(t->log, "");
    assert_int_equal(broken(t), 1);
    tap_free(t);
}

/* An adapter that cut a long answer off leaves a half; the next reply must not complete it. */
static void the_prompt_ends_halves(void **state)
{
    (void)state;
    struct tap *t = tap_new(OXL_PROTO_CAN11_500);
    tap_feed(t, "7E81014490201544553\r\r>7E82154564548494C45\r7E82230303030303031\r>", 1);
    assert_string_equal(t->log, "P\nP\n");
    assert_int_equal(broken(t), 1);
    tap_free(t);
}

static void a_lost_line_spoils_only_its_own_unit(void **state)
{
    (void)state;
    struct tap *t = tap_new(OXL_PROTO_CAN11_500);
    tap_feed(t,
             "7E81014490201544553\r7E9100A4601018AF000\r7E82154564548494C45<DATA ERROR\r"
             "7E921E0002000555555\r7E82230303030303031\r>",
             1);
    assert_string_equal(t->log, "W <DATA ERROR\nM 7E9 4601018AF000E0002000\nP\n");
    assert_int_equal(broken(t), 1);
    tap_free(t);
}

/* 29-bit: more ECUs than slots. The one that began first is given up. */
static void a_ninth_unit_takes_the_oldest_slot(void **state)
{
    (void)state;
    struct tap *t = tap_new(OXL_PROTO_CAN29_500);
    char line[64];
    for (unsigned u = 1; u <= 9; u++) {
        snprintf(line, sizeof line, "18DAF1%02X100A4601018AF000\r", u);
        tap_feed(t, line, 1);
    }
    assert_int_equal(broken(t), 1);
    tap_feed(t, "18DAF10121E0002000\r", 1);
    assert_string_equal(t->log, "");
    for (unsigned u = 2; u <= 9; u++) {
        snprintf(line, sizeof line, "18DAF1%02X21E0002000\r", u);
        tap_feed(t, line, 1);
    }
    assert_int_equal(oxl_wire_stats(t->wire)->messages, 8);
    assert_int_equal(broken(t), 1);
    tap_free(t);
}

static void another_protocol_forgets_halves(void **state)
{
    (void)state;
    struct tap *t = tap_new(OXL_PROTO_CAN11_500);
    tap_feed(t, "7E8100A4601018AF000\r", 1);
    oxl_wire_set_protocol(t->wire, OXL_PROTO_CAN11_500);
    assert_int_equal(broken(t), 0);
    oxl_wire_set_protocol(t->wire, OXL_PROTO_CAN11_250);
    tap_feed(t, "7E821E0002000\r", 1);
    assert_string_equal(t->log, "");
    assert_int_equal(broken(t), 1);
    tap_free(t);
}

static void unknown_protocol_leaves_doubt_to_text(void **state)
{
    (void)state;
    tap_check(OXL_PROTO_UNKNOWN, "7E8\r", "T 7E8\n");
    tap_check(OXL_PROTO_UNKNOWN, "7DF02010C\r", "T 7DF02010C\n");
    tap_check(OXL_PROTO_UNKNOWN, "12304410C1AF8\r", "T 12304410C1AF8\n");
    tap_check(OXL_PROTO_UNKNOWN, "18DB33F102010C\r", "T 18DB33F102010C\n");
    tap_check(OXL_PROTO_UNKNOWN, "A6\r6\r", "T A6\nT 6\n");
    tap_check(OXL_PROTO_UNKNOWN, "7E81014490201544553\r7E82154564548494C45\r7E82230303030303031\r",
              "M 7E8 4902015445535456454849"
              "4C4530303030303031\n");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(both_widths_with_and_without_spaces),
        cmocka_unit_test(other_identifiers_are_no_answer),
        cmocka_unit_test(lines_that_are_no_frame),
        cmocka_unit_test(single_frames_of_every_length),
        cmocka_unit_test(a_message_in_three_frames),
        cmocka_unit_test(flow_control_is_ignored),
        cmocka_unit_test(eight_units_interleaved),
        cmocka_unit_test(the_longest_message),
        cmocka_unit_test(a_wrong_number_ends_the_message),
        cmocka_unit_test(a_doubled_frame_ends_the_message),
        cmocka_unit_test(a_new_message_replaces_the_unfinished),
        cmocka_unit_test(impossible_first_frames),
        cmocka_unit_test(a_consecutive_frame_too_short),
        cmocka_unit_test(the_prompt_ends_halves),
        cmocka_unit_test(a_lost_line_spoils_only_its_own_unit),
        cmocka_unit_test(a_ninth_unit_takes_the_oldest_slot),
        cmocka_unit_test(another_protocol_forgets_halves),
        cmocka_unit_test(unknown_protocol_leaves_doubt_to_text),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
