/* Trouble codes, readiness and the number of the vehicle. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "help_vehicle.h"

static void check_text(uint16_t code, const char *want)
{
    char text[6];
    oxl_dtc_text(code, text);
    assert_string_equal(text, want);
}

/* SAE J2012 / ISO 15031-6: two bits of letter, two of digit, three hexadecimal digits. The first
 * is the example of ISO 15031-5. */
static void texts_of_codes(void **state)
{
    (void)state;
    check_text(0x0143, "P0143");
    check_text(0x0420, "P0420");
    check_text(0x02CD, "P02CD");
    check_text(0x3FFF, "P3FFF");
    check_text(0x4123, "C0123");
    check_text(0x8056, "B0056");
    check_text(0xC158, "U0158");
    check_text(0xFFFF, "U3FFF");
}

static bool decode(const char *hex, bool can, uint16_t *list, size_t *n)
{
    struct help_message h;
    help_message(&h, hex);
    return oxl_decode_dtcs(&h.m, can, list, n, OXL_MAX_DTCS);
}

static void codes_with_a_count(void **state)
{
    (void)state;
    uint16_t list[OXL_MAX_DTCS];
    size_t n = 0;
    assert_true(decode("43 01 0143", true, list, &n));
    assert_int_equal(n, 1);
    assert_int_equal(list[0], 0x0143);
    assert_true(decode("47 02 0420 0171", true, list, &n));
    assert_int_equal(n, 3);
    assert_true(decode("4A 01 0420", true, list, &n)); /* known already */
    assert_int_equal(n, 3);
    assert_true(decode("43 00", true, list, &n));
    assert_int_equal(n, 3);
}

static void codes_in_padded_threes(void **state)
{
    (void)state;
    uint16_t list[OXL_MAX_DTCS];
    size_t n = 0;
    assert_true(decode("43 0133 0000 0000", false, list, &n));
    assert_int_equal(n, 1);
    assert_int_equal(list[0], 0x0133);
    assert_true(decode("43 0143 0196 0234", false, list, &n));
    assert_true(decode("43 02CD 0000 0000", false, list, &n));
    assert_int_equal(n, 5);
    assert_int_equal(list[4], 0x02CD);
    assert_true(decode("43 0000 0000 0000", false, list, &n));
    assert_int_equal(n, 5);
}

static void malformed_codes_add_nothing(void **state)
{
    (void)state;
    static const char *const as_can[] = {"43",
                                         "43 02 0143",
                                         "43 01 0143 00",
                                         "43 01 33",
                                         "410143",
                                         "7F0322",
                                         /* the K-line form: */ "43 0133 0000 0000"};
    static const char *const as_kline[] = {"43 01", "43 00 0143", "43 0143 0196 0234 0357",
                                           "7F0310"};
    uint16_t list[OXL_MAX_DTCS];
    size_t n = 0;
    for (unsigned i = 0; i < sizeof as_can / sizeof as_can[0]; i++)
        assert_false(decode(as_can[i], true, list, &n));
    for (unsigned i = 0; i < sizeof as_kline / sizeof as_kline[0]; i++)
        assert_false(decode(as_kline[i], false, list, &n));
    struct help_message h;
    help_message(&h, "43 0133 0000 0000");
    h.m.bad_checksum = true;
    assert_false(oxl_decode_dtcs(&h.m, false, list, &n, OXL_MAX_DTCS));
    h.m.len = 0;
    assert_false(oxl_decode_dtcs(&h.m, false, list, &n, OXL_MAX_DTCS));
    assert_int_equal(n, 0);
}

static void a_full_list_stays_full(void **state)
{
    (void)state;
    struct help_message h;
    uint16_t list[2];
    size_t n = 0;
    help_message(&h, "43 03 0143 0196 0234");
    assert_true(oxl_decode_dtcs(&h.m, true, list, &n, 2));
    assert_int_equal(n, 2);
}

/* Worded example of ISO 15031-5 (lamp on, three codes, all monitors supported, catalyst, heated
 * catalyst, sensor and sensor heater not complete). */
static void readiness_example(void **state)
{
    (void)state;
    static const uint8_t data[4] = {0x83, 0x07, 0xFF, 0x63};
    struct oxl_readiness r;
    assert_true(oxl_decode_readiness(data, &r));
    assert_true(r.known && r.mil_on && !r.compression_ignition);
    assert_int_equal(r.stored_dtcs, 3);
    for (unsigned i = 0; i <= OXL_MON_EGR; i++) {
        bool open = i == OXL_MON_CATALYST || i == OXL_MON_HEATED_CATALYST ||
                    i == OXL_MON_O2_SENSOR || i == OXL_MON_O2_HEATER;
        assert_true(r.supported[i]);
        assert_int_equal(r.complete[i], !open);
    }
    for (unsigned i = OXL_MON_EGR + 1; i < OXL_MON_COUNT; i++) /* those of the other ignition */
        assert_false(r.supported[i] || r.complete[i]);
    assert_false(oxl_decode_readiness(NULL, &r));
    assert_false(r.known);
}

static bool take(const char *hex, bool can, char vin[18], unsigned *have)
{
    struct help_message h;
    help_message(&h, hex);
    return oxl_decode_vin(&h.m, can, vin, have);
}

static void number_in_one_message(void **state)
{
    (void)state;
    char vin[18] = "xxxxxxxxxxxxxxxxx";
    unsigned have = 0;
    vin[17] = 'x'; /* the end is written, too */
    /* 1 and sixteen of them: every character 1. */
    assert_true(take("490201 3131313131313131313131313131313131", true, vin, &have));
    assert_string_equal(vin, "11111111111111111");
    /* Filled up in front. */
    have = 0;
    assert_true(take("490201 000000 3131313131313131313131313131313132", true, vin, &have));
    assert_string_equal(vin, "11111111111111112");
    /* Too short, an O, a letter of the small alphabet, nothing programmed, another service. */
    vin[0] = '\0';
    have = 0;
    assert_false(take("490201 31313131313131313131313131313131", true, vin, &have));
    assert_false(take("490201 313131313131313131313131313131314F", true, vin, &have));
    assert_false(take("490201 3131313131313131313131313131313161", true, vin, &have));
    assert_false(take("490201 FFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFFF", true, vin, &have));
    assert_false(take("490401 3131313131313131313131313131313131", true, vin, &have));
    assert_false(take("4902", true, vin, &have));
    assert_string_equal(vin, "");
}

static void number_in_five_messages(void **state)
{
    (void)state;
    static const char *const parts[] = {"490201 00000031", "490202 4D384744", "490203 4D394158",
                                        "490204 4B503034", "490205 32373838"};
    static const uint8_t orders[][5] = {{0, 1, 2, 3, 4}, {4, 3, 2, 1, 0}, {2, 0, 4, 1, 3}};
    for (unsigned o = 0; o < 3; o++) {
        char vin[18];
        unsigned have = 0;
        for (unsigned i = 0; i < 5; i++) {
            assert_int_equal(take(parts[orders[o][i]], false, vin, &have), i == 4);
            assert_int_equal(strlen(vin), i == 4 ? 17 : 0); /* half a number is no number */
            if (i < 4)
                assert_false(take(parts[orders[o][i]], false, vin, &have)); /* said twice */
        }
        assert_string_equal(vin, "1M8GDM9AXKP042788");
        assert_true(take(parts[2], false, vin, &have));
        assert_string_equal(vin, "1M8GDM9AXKP042788");
    }
}

static void broken_parts_are_not_counted(void **state)
{
    (void)state;
    char vin[18];
    unsigned have = 0;
    assert_false(take("490201 00000031", false, vin, &have));
    unsigned before = have;
    static const char *const broken[] = {"490200 31313131", "490206 31313131", "490202 31313149",
                                         "490202 313131", "490202 3131313131"};
    for (unsigned i = 0; i < 5; i++)
        assert_false(take(broken[i], false, vin, &have));
    assert_int_equal(have, before);
    assert_string_equal(vin, "");
}

/* 49 CFR 565.15(c): the much-quoted worked example 1M8GDM9AXKP042788 has remainder 10, written X;
 * seventeen ones come out at 1 (both from memory). */
static void check_digit_examples(void **state)
{
    (void)state;
    static const struct {
        char vin[18];
        bool right;
    } cases[] = {{"1M8GDM9AXKP042788", true},
                 {"11111111111111111", true},
                 {"1M8GDM9A1KP042788", false},
                 {"1M8GDM9AXKP042789", false},
                 {"1M8GDM9AXKP04278O", false},
                 {"1M8GDM9AXKP04278", false},
                 {"", false}};
    for (unsigned i = 0; i < sizeof cases / sizeof cases[0]; i++)
        if (oxl_vin_check_digit(cases[i].vin) != cases[i].right)
            fail_msg("%s", cases[i].vin);
    char longer[18];
    memcpy(longer, "111111111111111112", 18); /* no end */
    assert_false(oxl_vin_check_digit(longer));
}

/* Tables III and IV of 49 CFR 565.15(c), from memory, seen one value and one weight at a time. */
static void values_and_weights_of_the_check_digit(void **state)
{
    (void)state;
    static const char values[] = "A1B2C3D4E5F6G7H8J1K2L3M4N5P7R9S2T3U4V5W6X7Y8Z9";
    static const char weights[] = "8765432X098765432";
    static const char digits[] = "0123456789X";
    for (const char *c = values; *c; c += 2) {
        char vin[18] = "00000000000000000";
        vin[16] = c[0]; /* weight 2 */
        vin[8] = digits[(c[1] - '0') * 2 % 11];
        assert_true(oxl_vin_check_digit(vin));
    }
    for (unsigned at = 0; at < 17; at++) {
        char vin[18] = "00000000000000000";
        if (at == 8)
            continue;
        vin[at] = '1';
        vin[8] = weights[at];
        assert_true(oxl_vin_check_digit(vin));
    }
}

/* Changing one digit changes the sum by weight times
 * difference, so the check digit finds every single wrong digit outside its own place. */
static void check_digit_finds_any_single_wrong_digit(void **state)
{
    (void)state;
    for (unsigned at = 0; at < 17; at++) {
        for (char digit = '0'; digit <= '9'; digit++) {
            char vin[18] = "11111111111111111";
            vin[at] = digit;
            assert_int_equal(oxl_vin_check_digit(vin), digit == '1');
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(texts_of_codes),
        cmocka_unit_test(codes_with_a_count),
        cmocka_unit_test(codes_in_padded_threes),
        cmocka_unit_test(malformed_codes_add_nothing),
        cmocka_unit_test(a_full_list_stays_full),
        cmocka_unit_test(readiness_example),
        cmocka_unit_test(number_in_one_message),
        cmocka_unit_test(number_in_five_messages),
        cmocka_unit_test(broken_parts_are_not_counted),
        cmocka_unit_test(check_digit_examples),
        cmocka_unit_test(values_and_weights_of_the_check_digit),
        cmocka_unit_test(check_digit_finds_any_single_wrong_digit),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
