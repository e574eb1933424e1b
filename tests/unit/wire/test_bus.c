/* K-line and J1850 lines. */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <setjmp.h>

#include <cmocka.h>

#include "help_wire.h"
#include "wire/frame.h"

/* The check value of CRC-8/SAE-J1850 in public CRC catalogues: "123456789" gives 4Bh. */
static void j1850_check_value(void **state)
{
    (void)state;
    assert_int_equal(oxl_checksum_j1850((const uint8_t *)"123456789", 9), 0x4B);
}

/* A second way, not ours: a message with its CRC behind it leaves the residue C4h (the register
 * before inversion), a closed property of the polynomial 1Dh with an inverted CRC. */
static uint8_t j1850_register(const uint8_t *p, size_t n)
{
    uint8_t reg = 0xFF;
    for (size_t i = 0; i < 8 * n; i++) {
        unsigned in = (unsigned)p[i / 8] >> (7 - i % 8) & 1U;
        unsigned out = (unsigned)reg >> 7;
        reg = (uint8_t)(reg << 1);
        if (in ^ out)
            reg ^= 0x1D;
    }
    return reg;
}

static void j1850_residue(void **state)
{
    (void)state;
    uint32_t seed = 9;
    for (size_t n = 1; n <= 11; n++) {
        uint8_t b[12];
        for (size_t i = 0; i < n; i++)
            b[i] = (uint8_t)tap_random(&seed);
        b[n] = oxl_checksum_j1850(b, n);
        assert_int_equal(j1850_register(b, n + 1), 0xC4);
    }
}

static void iso9141(void **state)
{
    (void)state;
    /* 48+6B+10+41+0C+1A+F8 = 222h, by hand */
    tap_check(OXL_PROTO_ISO9141, "486B10410C1AF822\r", "M 10 410C1AF8\n");
    tap_check(OXL_PROTO_ISO9141, "48 6B 10 41 0C 1A F8 22 \r", "M 10 410C1AF8\n");
    tap_check(OXL_PROTO_UNKNOWN, "48 6B 10 41 0C 1A F8 22 \r", "M 10 410C1AF8\n");
    /* Two ECUs, one after the other: 48+6B+11+44 = 108h */
    tap_check(OXL_PROTO_ISO9141, "486B10410C1AF822\r486B114408\r\r>",
              "M 10 410C1AF8\nM 11 44\nP\n");
    /* Seven data bytes, the most: 48+6B+10+43+01+33+00+00+00+00 = 13Ah */
    tap_check(OXL_PROTO_ISO9141, "486B10430133000000003A\r", "M 10 43013300000000\n");
}

static void iso9141_wrong_checksum_is_for_the_record(void **state)
{
    (void)state;
    struct tap *t = tap_new(OXL_PROTO_ISO9141);
    tap_feed(t, "486B10410C1AF823\r", 1);
    assert_string_equal(t->log, "M 10 410C1AF8 BAD\n");
    assert_int_equal(oxl_wire_stats(t->wire)->bad_checksums, 1);
    tap_free(t);
    /* Without a known protocol a wrong checksum leaves only text. */
    tap_check(OXL_PROTO_UNKNOWN, "486B10410C1AF823\r", "T 486B10410C1AF823\n");
}

static void iso9141_what_is_no_answer(void **state)
{
    (void)state;
    struct tap *t = tap_new(OXL_PROTO_ISO9141);
    /* The request itself: 68+6A+F1+01+0C = 1D0h */
    tap_feed(t, "686AF1010CD0\r", 1);
    assert_int_equal(oxl_wire_stats(t->wire)->frames, 1);
    assert_int_equal(oxl_wire_stats(t->wire)->bad_lines, 0);
    /* no data; odd digits; eight data bytes; another header */
    tap_feed(t, "486B10C3\r486B10410C1AF82\r486B10430133000000000085\r496B10410C1AF823\r", 1);
    assert_string_equal(t->log, "");
    assert_int_equal(oxl_wire_stats(t->wire)->bad_lines, 4);
    tap_free(t);
}

/* A request is known by its header, 61 6A on J1850 PWM only (SAE J1979). */
static void a_request_of_the_bus_is_known(void **state)
{
    (void)state;
    static const struct {
        enum oxl_protocol protocol;
        const char *line;
        enum oxl_frame_kind kind;
    } rows[] = {{OXL_PROTO_J1850_PWM, "616AF1010C00", OXL_FRAME_OTHER},
                {OXL_PROTO_J1850_VPW, "686AF1010C00", OXL_FRAME_OTHER},
                {OXL_PROTO_J1850_PWM, "626AF1010C00", OXL_FRAME_NONE},
                {OXL_PROTO_ISO9141, "686AF1010C00", OXL_FRAME_OTHER},
                {OXL_PROTO_ISO9141, "616AF1010C00", OXL_FRAME_NONE},
                {OXL_PROTO_ISO9141, "416B10410C00", OXL_FRAME_NONE},
                {OXL_PROTO_J1850_PWM, "416B10410C00", OXL_FRAME_WHOLE}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct oxl_frame f;
        oxl_frame_read(rows[i].protocol, rows[i].line, strlen(rows[i].line), &f);
        if (f.kind != rows[i].kind)
            fail_msg("%s: kind %d", rows[i].line, (int)f.kind);
    }
}

static void marked_data_are_dropped(void **state)
{
    (void)state;
    tap_check(OXL_PROTO_ISO9141, "48 6B 10 41 0C 1A F8 22 <DATA ERROR\r>", "W <DATA ERROR\nP\n");
    tap_check(OXL_PROTO_UNKNOWN, "486B10410C1AF822<RX ERROR\r>", "W <RX ERROR\nP\n");
}

static void iso14230_length_in_the_format_byte(void **state)
{
    (void)state;
    /* 84+F1+10+41+0C+1A+F8 = 2E4h; C4 gives 324h */
    tap_check(OXL_PROTO_KWP_FAST, "84F110410C1AF8E4\r", "M 10 410C1AF8\n");
    tap_check(OXL_PROTO_KWP_SLOW, "84 F1 10 41 0C 1A F8 E4 \r", "M 10 410C1AF8\n");
    tap_check(OXL_PROTO_KWP_FAST, "C4F110410C1AF824\r", "M 10 410C1AF8\n");
    tap_check(OXL_PROTO_UNKNOWN, "84F110410C1AF8E4\r", "M 10 410C1AF8\n");
    tap_check(OXL_PROTO_KWP_FAST, "84F110410C1AF8E5\r", "M 10 410C1AF8 BAD\n");
    tap_check(OXL_PROTO_UNKNOWN, "84F110410C1AF8E5\r", "T 84F110410C1AF8E5\n");
}

static void iso14230_length_byte(void **state)
{
    (void)state;
    /* 80+F1+10+04+41+0C+1A+F8 = 2E4h */
    tap_check(OXL_PROTO_KWP_FAST, "80F11004410C1AF8E4\r", "M 10 410C1AF8\n");
    tap_check(OXL_PROTO_UNKNOWN, "C0F11004410C1AF824\r", "M 10 410C1AF8\n");
    /* The longest: 255 data bytes. */
    char line[600];
    char want[600];
    size_t at = (size_t)sprintf(line, "80F110FF");
    size_t w = (size_t)sprintf(want, "M 10 ");
    unsigned sum = 0x80 + 0xF1 + 0x10 + 0xFF;
    for (unsigned i = 0; i < 255; i++) {
        at += (size_t)sprintf(line + at, "%02X", i);
        w += (size_t)sprintf(want + w, "%02X", i);
        sum += i;
    }
    sprintf(line + at, "%02X\r", sum & 0xFF);
    sprintf(want + w, "\n");
    tap_check(OXL_PROTO_KWP_FAST, line, want);
}

static void iso14230_impossible_lengths(void **state)
{
    (void)state;
    struct tap *t = tap_new(OXL_PROTO_KWP_FAST);
    tap_feed(t, "85F110410C1AF8E5\r83F110410C1AF8E3\r80F11005410C1AF8E5\r80F1100081\r", 1);
    assert_string_equal(t->log, "");
    assert_int_equal(oxl_wire_stats(t->wire)->broken_messages, 4);
    tap_free(t);
    /* A request of the tester is a frame, a header without addresses is none. */
    t = tap_new(OXL_PROTO_KWP_FAST);
    tap_feed(t, "C233F1010CF3\r02010C0F00\r", 1);
    assert_string_equal(t->log, "");
    assert_int_equal(oxl_wire_stats(t->wire)->frames, 1);
    assert_int_equal(oxl_wire_stats(t->wire)->bad_lines, 1);
    tap_free(t);
}

/* Five messages of a vehicle number come one by one: joining them is not the wire's business. */
static void several_messages_of_one_unit(void **state)
{
    (void)state;
    tap_check(OXL_PROTO_KWP_FAST, "87F1104902010000005428\r87F1104902024553545657\r",
              "M 10 49020100000054\nM 10 49020245535456 BAD\n");
}

static void j1850(void **state)
{
    (void)state;
    static const enum oxl_protocol both[] = {OXL_PROTO_J1850_PWM, OXL_PROTO_J1850_VPW};
    static const uint8_t vpw[] = {0x48, 0x6B, 0x10, 0x41, 0x0C, 0x1A, 0xF8};
    static const uint8_t pwm[] = {0x41, 0x6B, 0x10, 0x41, 0x0C, 0x1A, 0xF8};
    const uint8_t *heads[] = {vpw, pwm};
    for (size_t h = 0; h < 2; h++) {
        /* The checksum comes from the bit-serial register above, not from src/wire. */
        unsigned crc = j1850_register(heads[h], 7) ^ 0xFFU;
        char line[64];
        size_t at = 0;
        for (size_t i = 0; i < 7; i++)
            at += (size_t)sprintf(line + at, "%02X ", heads[h][i]);
        sprintf(line + at, "%02X\r", crc);
        tap_check(both[0], line, "M 10 410C1AF8\n");
        tap_check(both[1], line, "M 10 410C1AF8\n");
        tap_check(OXL_PROTO_UNKNOWN, line, "M 10 410C1AF8\n");
        sprintf(line + at, "%02X\r", crc ^ 1U);
        tap_check(both[h], line, "M 10 410C1AF8 BAD\n");
    }
}

static void j1850_and_k_line_checksums_are_not_mixed_up(void **state)
{
    (void)state;
    tap_check(OXL_PROTO_J1850_VPW, "486B10410C1AF822\r", "M 10 410C1AF8 BAD\n");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(j1850_check_value),
        cmocka_unit_test(j1850_residue),
        cmocka_unit_test(iso9141),
        cmocka_unit_test(iso9141_wrong_checksum_is_for_the_record),
        cmocka_unit_test(iso9141_what_is_no_answer),
        cmocka_unit_test(a_request_of_the_bus_is_known),
        cmocka_unit_test(marked_data_are_dropped),
        cmocka_unit_test(iso14230_length_in_the_format_byte),
        cmocka_unit_test(iso14230_length_byte),
        cmocka_unit_test(iso14230_impossible_lengths),
        cmocka_unit_test(several_messages_of_one_unit),
        cmocka_unit_test(j1850),
        cmocka_unit_test(j1850_and_k_line_checksums_are_not_mixed_up),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
