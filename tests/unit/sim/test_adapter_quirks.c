/* The habits that a scenario can give the simulated adapter and the bus behind it. */
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
    return 0;
}

static void put(char *field, const char *text)
{
    memcpy(field, text, strlen(text) + 1);
}

static void commands_refused_or_hollow(void **state)
{
    (void)state;
    put(rig.set.refuses, "AT ST");
    put(rig.set.hollow, "H S");
    rig_open(&rig);
    rig_ask(&rig, "ATE0");
    rig_ask(&rig, "ATL0");
    assert_string_equal(rig_ask(&rig, "ATAT2"), "?||>");
    assert_string_equal(rig_ask(&rig, "ATST20"), "?||>");
    assert_string_equal(rig_ask(&rig, "ATH1"), "OK||>");
    assert_string_equal(rig_ask(&rig, "ATS0"), "OK||>");
    assert_string_equal(rig_ask(&rig, "ATSP6"), "OK||>"); /* S is not SP */
    assert_string_equal(rig_ask(&rig, "010C"), "41 0C 0B 99 ||>");
}

static void reply_counts(void **state)
{
    (void)state;
    put(rig.set.count_fault, "refused");
    rig_ready(&rig);
    assert_string_equal(rig_ask(&rig, "010C1"), "?||>");
    rig_close(&rig);
    rig_defaults(&rig);
    put(rig.set.count_fault, "short");
    rig_ready(&rig);
    assert_string_equal(rig_ask(&rig, "09023"), "7E81014490201305859|7E8214C4147534D3452||>");
    assert_string_equal(rig_ask(&rig, "010C1"), "7E804410C0B99AAAAAA||>");
    rig_close(&rig);
    rig_defaults(&rig);
    put(rig.set.count_fault, "long");
    rig_ready(&rig);
    rig_ask(&rig, "ATAT0");
    int64_t t_us = rig.t_us;
    assert_string_equal(rig_ask(&rig, "010C1"), "7E804410C0B99AAAAAA||>");
    assert_true(rig.t_us - t_us > 200000);
}

static void a_small_buffer(void **state)
{
    (void)state;
    rig.set.buffer_frames = 2;
    rig_ready(&rig);
    assert_string_equal(rig_ask(&rig, "0902"),
                        "7E81014490201305859|7E8214C4147534D3452|BUFFER FULL||>");
    assert_string_equal(rig_ask(&rig, "010C1"), "7E804410C0B99AAAAAA||>");
}

static void pending_and_late_answers_keep_the_moment_of_reading(void **state)
{
    (void)state;
    rig.ecu.pending_pct = 100;
    rig_ready(&rig);
    rig_ask(&rig, "ATAT0");
    rig_ask(&rig, "ATSTFF"); /* about 1 s */
    rig.t_us += 1000000;     /* what is still owed has come */
    int64_t t_us = rig.t_us;
    assert_string_equal(rig_ask(&rig, "010C2"), "7E8037F0178AAAAAAAA|7E804410C0B99AAAAAA||>");
    assert_true(rig.t_us - t_us > 300000);
    assert_true(rig.asked_us - t_us < 40000);
    rig_close(&rig);
    rig_defaults(&rig);
    rig_ready(&rig);
    rig_close(&rig);
    rig_defaults(&rig);
    rig.ecu.late_pct = 100;
    rig.ecu.late_ms = 300;
    rig_open(&rig);
    rig_ask(&rig, "ATE0");
    rig_ask(&rig, "ATH1");
    rig_ask(&rig, "ATAT0");
    rig_ask(&rig, "ATSP6");
    t_us = rig.t_us;
    assert_non_null(strstr(rig_ask(&rig, "010C"), "NO DATA"));
    /* It is taken for the answer to the next request, and was read during the one before. */
    assert_non_null(strstr(rig_ask(&rig, "010C"), "41 0C"));
    assert_true(rig.t_us - t_us > 300000);
}

static void frames_short_and_padded(void **state)
{
    (void)state;
    rig.ecu.short_frames = true;
    rig_ready(&rig);
    assert_string_equal(rig_ask(&rig, "010C1"), "7E804410C0B99||>");
    rig_close(&rig);
    rig_defaults(&rig);
    put(rig.ecu.padding, "00");
    rig_ready(&rig);
    assert_string_equal(rig_ask(&rig, "010C1"), "7E804410C0B99000000||>");
}

static void a_twin_says_other_values(void **state)
{
    (void)state;
    rig.ecu.twin_ecu = true;
    rig_ready(&rig);
    const char *reply = rig_ask(&rig, "010C2");
    assert_non_null(strstr(reply, "7E804410C0B99AAAAAA"));
    assert_non_null(strstr(reply, "7E904410C3E80555555"));
}

static unsigned lines_without_prompt(unsigned asked)
{
    unsigned missing = 0;
    for (unsigned i = 0; i < asked; i++) {
        rig_send(&rig, "010C1\r");
        missing += !rig_wait(&rig, 3000000);
    }
    return missing;
}

static void prompts_and_characters_get_lost(void **state)
{
    (void)state;
    rig.set.prompt_lost_pct = 10;
    rig_ready(&rig);
    assert_in_range(lines_without_prompt(400), 20, 60);
    rig_close(&rig);
    rig_defaults(&rig);
    rig.set.nul_pct = 100;
    rig_open(&rig);
    assert_non_null(strstr(rig_ask(&rig, "ATI"), "\\x00"));
}

static void restarts_by_itself(void **state)
{
    (void)state;
    rig.set.reset_every_s = 10;
    put(rig.set.reset_kind, "voltage");
    rig_ready(&rig);
    rig_wait(&rig, 10500000 - rig.t_us);
    assert_true(rig_wait(&rig, 2000000));
    assert_non_null(strstr(rig.reply, "OXYSIM"));
    /* Echo, headers and the rest are as after power-up. */
    assert_string_equal(rig_ask(&rig, "ATDPN"), "ATDPN|/A0|/|/>");
    rig_close(&rig);
    rig_defaults(&rig);
    rig.set.banner_every_s = 5;
    rig_ready(&rig);
    rig_wait(&rig, 6000000);
    assert_non_null(strstr(rig.reply, "OXYSIM"));
    assert_string_equal(rig_ask(&rig, "ATDPN"), "A6||>");
}

/* Each character comes back as it was received, before any CR, or not at all. */
static void echo_comes_character_by_character(void **state)
{
    (void)state;
    char back[40];
    for (int never = 0; never < 2; never++) {
        rig.set.no_echo = never;
        rig_ready(&rig);
        rig_ask(&rig, "ATE1");
        oxl_adapter_write(rig.adapter, "0100", 4, 0, rig.t_us);
        rig.t_us += 50000;
        size_t n = oxl_adapter_read(rig.adapter, back, sizeof back, rig.t_us);
        assert_int_equal(n, never ? 0 : 4);
        assert_memory_equal(back, "0100", n);
        assert_int_equal(oxl_adapter_heard(rig.adapter, 0), 1); /* that of rig_ready */
        rig_close(&rig);
        rig_defaults(&rig);
    }
}

static void one_bit_of_a_character_is_wrong(void **state)
{
    (void)state;
    enum { N = 2000 };
    char sent[N], back[N];
    rig.set.flip_pct = 10;
    rig_open(&rig); /* echo is on */
    memset(sent, '0', sizeof sent);
    unsigned wrong = 0, more = 0;
    for (size_t at = 0; at < N; at += 50) {
        oxl_adapter_write(rig.adapter, sent + at, 50, 0, rig.t_us);
        rig.t_us += 50000;
        size_t n = oxl_adapter_read(rig.adapter, back, sizeof back, rig.t_us);
        for (size_t i = 0; i < n; i++) {
            unsigned bits = (unsigned char)back[i] ^ '0';
            wrong += bits != 0;
            more += (bits & (bits - 1)) != 0;
        }
    }
    /* Damaged on the way there and on the way back: two bits are seldom wrong. */
    assert_in_range(wrong, N * 14 / 100, N * 24 / 100);
    assert_true(more < wrong / 5);
}

/* What reached the vehicle is counted by service, and whether it would have changed something. */
static void changing_requests_are_counted(void **state)
{
    (void)state;
    rig_ready(&rig);
    uint64_t heard = oxl_adapter_heard(rig.adapter, 0);
    static const char *const harmless[] = {"010C", "111415", "1415", "2E0101", "3101", "0902"};
    static const char *const changing[] = {"040", "0415", "08033", "1100", "141507", "2E010203"};
    for (size_t i = 0; i < sizeof harmless / sizeof *harmless; i++)
        rig_ask(&rig, harmless[i]);
    assert_int_equal(oxl_adapter_changing(rig.adapter, 0), 1); /* 3101: start a routine */
    assert_int_equal(oxl_adapter_changing(rig.adapter, 0x31), 1);
    for (size_t i = 0; i < sizeof changing / sizeof *changing; i++)
        rig_ask(&rig, changing[i]);
    assert_int_equal(oxl_adapter_changing(rig.adapter, 0x04), 2);
    assert_int_equal(oxl_adapter_changing(rig.adapter, 0x08), 1);
    assert_int_equal(oxl_adapter_changing(rig.adapter, 0), 7);
    assert_int_equal(oxl_adapter_heard(rig.adapter, 0), heard + 12);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(commands_refused_or_hollow, setup, teardown),
        cmocka_unit_test_setup_teardown(reply_counts, setup, teardown),
        cmocka_unit_test_setup_teardown(a_small_buffer, setup, teardown),
        cmocka_unit_test_setup_teardown(pending_and_late_answers_keep_the_moment_of_reading, setup,
                                        teardown),
        cmocka_unit_test_setup_teardown(frames_short_and_padded, setup, teardown),
        cmocka_unit_test_setup_teardown(a_twin_says_other_values, setup, teardown),
        cmocka_unit_test_setup_teardown(prompts_and_characters_get_lost, setup, teardown),
        cmocka_unit_test_setup_teardown(restarts_by_itself, setup, teardown),
        cmocka_unit_test_setup_teardown(echo_comes_character_by_character, setup, teardown),
        cmocka_unit_test_setup_teardown(one_bit_of_a_character_is_wrong, setup, teardown),
        cmocka_unit_test_setup_teardown(changing_requests_are_counted, setup, teardown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
