/* Splitting an answer into PIDs, and full scales, places and times of the values. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "help_vehicle.h"

static const struct oxl_decoding unknown_layout;
static const struct oxl_decoding two_banks = {.layout = OXL_LAYOUT_13, .sensors = 0x33};
static const struct oxl_decoding three_banks = {.layout = OXL_LAYOUT_1D, .sensors = 0x3F};
static const struct oxl_decoding four_banks = {.layout = OXL_LAYOUT_1D, .sensors = 0xFF};

static void lengths_of_items(void **state)
{
    (void)state;
    assert_int_equal(oxl_pid_length(0x0C, &two_banks, 0), 2);
    assert_int_equal(oxl_pid_length(0x14, &two_banks, 0), 2);
    assert_int_equal(oxl_pid_length(0x34, &two_banks, 0), 4);
    assert_int_equal(oxl_pid_length(0x66, &two_banks, 0), 5);
    assert_int_equal(oxl_pid_length(0x68, &two_banks, 0), 0);
    assert_int_equal(oxl_pid_length(0x8C, &two_banks, 16), 0);
    assert_int_equal(oxl_pid_length(0xFF, &two_banks, 0), 0);
}

static void length_of_trims_follows_the_banks(void **state)
{
    (void)state;
    for (uint8_t pid = 0x06; pid <= 0x09; pid++) {
        bool bank4 = pid >= 0x08;
        assert_int_equal(oxl_pid_length(pid, &unknown_layout, 0), 1);
        assert_int_equal(oxl_pid_length(pid, &two_banks, 0), 1);
        assert_int_equal(oxl_pid_length(pid, &three_banks, 0), bank4 ? 1 : 2);
        assert_int_equal(oxl_pid_length(pid, &four_banks, 0), 2);
        assert_int_equal(oxl_pid_length(pid, &two_banks, 2), 2);
        assert_int_equal(oxl_pid_length(pid, &four_banks, 1), 1);
        /* Not a single PID's length: the layout decides. */
        assert_int_equal(oxl_pid_length(pid, &two_banks, 4), 1);
    }
    for (uint8_t pid = 0x55; pid <= 0x58; pid++) {
        assert_int_equal(oxl_pid_length(pid, &two_banks, 0), 2);
        assert_int_equal(oxl_pid_length(pid, &two_banks, 1), 1);
    }
}

static void any_order_gives_the_same(void **state)
{
    (void)state;
    static const char *const orders[] = {"41 14A080 1596FF 0C1F40 057B 0682",
                                         "41 0682 057B 0C1F40 1596FF 14A080",
                                         "41 0C1F40 0682 14A080 057B 1596FF"};
    for (unsigned i = 0; i < 3; i++) {
        struct help_samples s = help_decode(orders[i], &two_banks);
        assert_true(s.clean);
        assert_int_equal(s.n, 6);
        assert_near(help_value(&s, "o2_b1s1_v"), 0.8, 1e-12);
        assert_near(help_value(&s, "o2_trim_b1s1_pct"), 0, 0);
        assert_near(help_value(&s, "o2_b1s2_v"), 0.75, 1e-12);
        assert_near(help_value(&s, "rpm"), 2000, 0);
        assert_near(help_value(&s, "coolant_c"), 83, 0);
        assert_near(help_value(&s, "stft_b1_pct"), 1.5625, 0);
    }
}

static void two_byte_trims(void **state)
{
    (void)state;
    struct help_samples s = help_decode("4106 8090", &unknown_layout);
    assert_true(s.clean);
    assert_int_equal(s.n, 2);
    assert_near(help_value(&s, "stft_b1_pct"), 0, 0);
    assert_near(help_value(&s, "stft_b3_pct"), 12.5, 0);
    s = help_decode("41 06 7D8A 09 807C 55 8480", &four_banks);
    assert_true(s.clean);
    assert_int_equal(s.n, 6);
    assert_near(help_value(&s, "stft_b3_pct"), 7.8125, 0);
    assert_near(help_value(&s, "ltft_b2_pct"), 0, 0);
    assert_near(help_value(&s, "ltft_b4_pct"), -3.125, 0);
    assert_near(help_value(&s, "rear_stft_b1_pct"), 3.125, 0);
    /* Three banks: 06 has a second byte, 08 has none. */
    s = help_decode("41 06 8081 08 82", &three_banks);
    assert_true(s.clean);
    assert_int_equal(s.n, 3);
    assert_near(help_value(&s, "stft_b2_pct"), 1.5625, 0);
}

static void no_third_bank_on_two_banks(void **state)
{
    (void)state;
    struct help_samples s = help_decode("4155 8400", &two_banks);
    assert_true(s.clean);
    assert_int_equal(s.n, 1);
    assert_near(help_value(&s, "rear_stft_b1_pct"), 3.125, 0);
}

static void open_lengths_are_settled_by_the_end(void **state)
{
    (void)state;
    /* Unknown layout: two-byte trims are seen from what follows. */
    struct help_samples s = help_decode("41 06 8090 0C1AF8", &unknown_layout);
    assert_true(s.clean);
    assert_near(help_value(&s, "stft_b3_pct"), 12.5, 0);
    assert_near(help_value(&s, "rpm"), 1726, 0);
    /* One-byte secondary trims, on their own and in company. */
    s = help_decode("4155 84", &two_banks);
    assert_true(s.clean && s.n == 1);
    s = help_decode("41 55 84 56 7C 0C1AF8", &two_banks);
    assert_true(s.clean);
    assert_int_equal(s.n, 3);
    assert_near(help_value(&s, "rear_ltft_b1_pct"), -3.125, 0);
    /* A second byte without banks 3 and 4 is filling, whatever it holds. */
    s = help_decode("41 06 8090 0C1AF8", &two_banks);
    assert_true(s.clean);
    assert_int_equal(s.n, 2);
    assert_near(help_value(&s, "rpm"), 1726, 0);
    s = help_decode("41 06 8080 07 8480", &two_banks);
    assert_true(s.clean);
    assert_int_equal(s.n, 2);
    assert_near(help_value(&s, "ltft_b1_pct"), 3.125, 0);
    static const struct oxl_decoding two_of_1d = {.layout = OXL_LAYOUT_1D, .sensors = 0x0F};
    s = help_decode("41 06 8080 07 8480", &two_of_1d);
    assert_true(s.clean && s.n == 2);
    /* Four banks that send one byte only. */
    s = help_decode("41 06 80 07 84 0C1AF8", &four_banks);
    assert_true(s.clean && s.n == 3);
}

static void learn(struct oxl_decoding *d, const char *hex, const uint8_t *pids, unsigned n)
{
    struct help_message h;
    help_message(&h, hex);
    oxl_learn_trims(d, &h.m, pids, n);
}

/* Once it has been seen, that length holds: another one is damage. And only what was asked counts:
 * 80 is a PID, too, that of a support mask. */
static void length_of_trims_is_learnt(void **state)
{
    (void)state;
    static const uint8_t trims[] = {0x06, 0x07, 0x55};
    struct oxl_decoding d = two_banks;
    learn(&d, "41 0C1AF8", (const uint8_t[]){0x0C}, 1);
    assert_int_equal(d.trims, OXL_TRIMS_UNSEEN);
    learn(&d, "41 06 8080 07 8480 FF", trims, 3);
    assert_int_equal(d.trims, OXL_TRIMS_UNSEEN);
    learn(&d, "41 06 8080 07 8480", trims, 3);
    assert_int_equal(d.trims, OXL_TRIMS_TWO);
    assert_int_equal(d.rear_trims, OXL_TRIMS_UNSEEN);
    assert_int_equal(oxl_pid_length(0x08, &d, 0), 2);
    assert_false(help_decode("41 06 80 0C1AF8", &d).clean);
    learn(&d, "41 55 81", trims, 3);
    assert_int_equal(d.rear_trims, OXL_TRIMS_ONE);
    d = two_banks;
    learn(&d, "41 06 80 07 84 55 8180", trims, 3);
    assert_int_equal(d.trims, OXL_TRIMS_AS_DUE);
    assert_int_equal(d.rear_trims, OXL_TRIMS_AS_DUE);
    assert_false(help_decode("41 06 8080 07 8480", &d).clean);
    d = unknown_layout;
    learn(&d, "41 06 8080", (const uint8_t[]){0x06}, 1);
    assert_int_equal(d.trims, OXL_TRIMS_TWO);
    /* 06 80 | 80 84 80 0C 1A would be a mask that nobody asked for. */
    size_t bytes;
    struct help_message h;
    help_message(&h, "41 06 80 80 07 84 80");
    assert_int_equal(oxl_find_pids(&h.m, &two_banks, trims, 2, &bytes), 3);
    assert_int_equal(bytes, 6);
}

static void broken_answers_keep_what_came_before(void **state)
{
    (void)state;
    struct help_samples s = help_decode("41 0C1AF8 3480", &two_banks);
    assert_false(s.clean);
    assert_int_equal(s.n, 1);
    assert_near(help_value(&s, "rpm"), 1726, 0);
    s = help_decode("41 0C1AF8 8C0102", &two_banks);
    assert_false(s.clean);
    assert_int_equal(s.n, 1);
    static const char *const nothing[] = {"",       "41",       "410C",  "410C1A",
                                          "7F0112", "42020000", "430143"};
    for (unsigned i = 0; i < sizeof nothing / sizeof nothing[0]; i++) {
        s = help_decode(nothing[i], &two_banks);
        assert_false(s.clean);
        assert_int_equal(s.n, 0);
    }
}

static void items_without_a_channel_are_passed(void **state)
{
    (void)state;
    struct help_samples s =
        help_decode("41 0100076100 1333 4F00000000 5000000000 05 7B", &two_banks);
    assert_true(s.clean);
    assert_int_equal(s.n, 1);
    assert_near(help_value(&s, "coolant_c"), 83, 0);
}

static void a_bad_checksum_is_believed_nowhere(void **state)
{
    (void)state;
    struct help_message h;
    struct oxl_sample out[4];
    bool clean = true;
    size_t len;
    help_message(&h, "410C1AF8");
    assert_int_equal(oxl_decode_live(&h.m, &two_banks, 0, out, 4, &clean), 1);
    assert_non_null(oxl_find_pid(&h.m, &two_banks, 0x0C, &len));
    h.m.bad_checksum = true;
    assert_int_equal(oxl_decode_live(&h.m, &two_banks, 0, out, 4, &clean), 0);
    assert_false(clean);
    assert_null(oxl_find_pid(&h.m, &two_banks, 0x0C, &len));
}

static void samples_carry_times_and_unit(void **state)
{
    (void)state;
    struct help_samples s = help_decode("41145A80159AFF", &two_banks);
    assert_int_equal(s.n, 3);
    for (size_t i = 0; i < s.n; i++) {
        assert_int_equal(s.s[i].sent_us, 1000);
        assert_int_equal(s.s[i].recv_us, 2000);
        assert_int_equal(s.s[i].ecu, 0x7E8);
    }
}

static void too_little_room_is_said(void **state)
{
    (void)state;
    struct help_message h;
    struct oxl_sample out[3];
    bool clean = true;
    help_message(&h, "41145A80159A8A");
    assert_int_equal(oxl_decode_live(&h.m, &two_banks, 0, out, 3, &clean), 3);
    assert_false(clean);
}

static void finding_an_item(void **state)
{
    (void)state;
    struct help_message h;
    size_t len = 0;
    help_message(&h, "41 0C1AF8 4F 040A0033 1333");
    const uint8_t *at = oxl_find_pid(&h.m, &two_banks, 0x4F, &len);
    assert_ptr_equal(at, h.bytes + 5);
    assert_int_equal(len, 4);
    assert_null(oxl_find_pid(&h.m, &two_banks, 0x50, &len));
    assert_null(oxl_find_pid(&h.m, &two_banks, 0x04, &len)); /* data, not an PID */
}

static void finding_several_items(void **state)
{
    (void)state;
    static const uint8_t asked[] = {0x50, 0x4F, 0x0C, 0x04, 0x13};
    struct help_message h;
    size_t bytes = 0;
    help_message(&h, "41 0C1AF8 4F 040A0033 1333");
    assert_int_equal(oxl_find_pids(&h.m, &two_banks, asked, 5, &bytes), 1 << 1 | 1 << 2 | 1 << 4);
    assert_int_equal(bytes, 5 + 3 + 2);
    assert_int_equal(oxl_find_pids(&h.m, &two_banks, asked, 2, &bytes), 1 << 1);
    assert_int_equal(bytes, 5);
    help_message(&h, "41 0C1AF8 0C1AF9"); /* the first of two counts */
    assert_int_equal(oxl_find_pids(&h.m, &two_banks, asked, 5, &bytes), 1 << 2);
    assert_int_equal(bytes, 3);
    h.m.bad_checksum = true;
    assert_int_equal(oxl_find_pids(&h.m, &two_banks, asked, 5, &bytes), 0);
    assert_int_equal(bytes, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lengths_of_items),
        cmocka_unit_test(length_of_trims_follows_the_banks),
        cmocka_unit_test(any_order_gives_the_same),
        cmocka_unit_test(two_byte_trims),
        cmocka_unit_test(no_third_bank_on_two_banks),
        cmocka_unit_test(open_lengths_are_settled_by_the_end),
        cmocka_unit_test(length_of_trims_is_learnt),
        cmocka_unit_test(broken_answers_keep_what_came_before),
        cmocka_unit_test(items_without_a_channel_are_passed),
        cmocka_unit_test(finding_several_items),
        cmocka_unit_test(a_bad_checksum_is_believed_nowhere),
        cmocka_unit_test(samples_carry_times_and_unit),
        cmocka_unit_test(too_little_room_is_said),
        cmocka_unit_test(finding_an_item),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
