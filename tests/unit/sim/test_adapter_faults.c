/* The simulated adapter at its worst: settings that do not take, noise, wrong speeds, silence. */
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

static void test_settings_that_stick(void **state)
{
    (void)state;
    rig.set.stuck_echo = rig.set.stuck_spaces = rig.set.stuck_linefeeds = true;
    rig_open(&rig);
    assert_string_equal(rig_ask(&rig, "ATE0"), "ATE0|/OK|/|/>");
    assert_string_equal(rig_ask(&rig, "ATL0"), "ATL0|/OK|/|/>");
    assert_string_equal(rig_ask(&rig, "ATS0"), "ATS0|/OK|/|/>");
    assert_string_equal(rig_ask(&rig, "ATH1"), "ATH1|/OK|/|/>");
    rig_ask(&rig, "010C");
    assert_string_equal(rig_ask(&rig, "010C1"), "010C1|/7E8 04 41 0C 0B 99 AA AA AA |/|/>");
}

static void test_reply_count_without_effect(void **state)
{
    (void)state;
    rig.set.reply_count = false;
    rig_ready(&rig);
    assert_string_equal(rig_ask(&rig, "ATAT0"), "OK||>");
    int64_t t_us = rig.t_us;
    assert_string_equal(rig_ask(&rig, "010C1"), "7E804410C0B99AAAAAA||>");
    assert_true(rig.t_us - t_us > 200000);
    assert_string_equal(rig_ask(&rig, "09021"),
                        "7E81014490201305859|7E8214C4147534D3452|7E82230303030303033||>");
}

static void test_silent(void **state)
{
    (void)state;
    rig.set.silent = true;
    rig_open(&rig);
    rig_send(&rig, "ATZ\r010C\r");
    assert_false(rig_wait(&rig, 20000000));
    assert_int_equal(rig.raw_len, 0);
    oxl_adapter_power_cycle(rig.adapter, rig.t_us);
    assert_false(rig_wait(&rig, 20000000));
    assert_int_equal(rig.raw_len, 0);
}

static void test_wrong_speed_is_unreadable(void **state)
{
    (void)state;
    rig_ready(&rig);
    rig_ask(&rig, "ATE1");
    rig.baud = 38400;
    rig_send(&rig, "ATZ\r010C\r");
    assert_false(rig_wait(&rig, 2000000));
    assert_true(rig.raw_len > 0); /* the echo of what it heard */
    for (const char *c = rig.reply; *c; c += 4)
        assert_int_equal(strncmp(c, "\\x", 2), 0); /* not one printable character */
    /* At the right speed the rubbish is still in front of the first command. */
    rig.baud = 115200;
    assert_string_equal(rig_ask(&rig, "ATI"), "ATI|?||>");
    assert_string_equal(rig_ask(&rig, "ATI"), "ATI|OXYSIM adapter, simulated||>");
    rig.baud = 0; /* a link without a speed always fits */
    assert_string_equal(rig_ask(&rig, "ATE0"), "ATE0|OK||>");
}

static void test_wrong_speed_garbles_what_is_under_way(void **state)
{
    (void)state;
    rig_ready(&rig);
    rig_send(&rig, "ATI\r");
    rig_wait(&rig, 100);
    rig.baud = 9600;
    rig_send(&rig, "");
    assert_false(rig_wait(&rig, 1000000));
    assert_int_equal(rig.raw_len, strlen("OXYSIM adapter, simulated") + 3);
    assert_null(strpbrk(rig.reply, "|>O"));
}

static void test_noise_spares_most_requests_and_never_lies(void **state)
{
    (void)state;
    static const char good[] = "7E804410C0B99AAAAAA|";
    rig.set.garbage = true;
    rig_ready(&rig);
    int whole = 0, clean = 0;
    enum { N = 3000 };
    for (int i = 0; i < N; i++) {
        const char *reply = rig_ask(&rig, "010C1");
        assert_non_null(strchr(reply, '>'));
        const char *frame = strstr(reply, "7E80441");
        whole += strstr(reply, good) != NULL;
        clean += strcmp(reply, "7E804410C0B99AAAAAA||>") == 0;
        /* Nineteen digits that are not the true ones would be a lie. */
        if (frame && strspn(frame, "0123456789ABCDEF") == 19)
            assert_int_equal(strncmp(frame, good, 19), 0);
    }
    assert_true(whole > N * 95 / 100 && whole < N);
    assert_true(clean < N * 97 / 100);
}

static void test_power_cycle(void **state)
{
    (void)state;
    rig_ready(&rig);
    rig_send(&rig, "010C\r");
    rig_wait(&rig, 3000);
    oxl_adapter_power_cycle(rig.adapter, rig.t_us);
    int64_t from_us = rig.t_us;
    assert_true(rig_wait(&rig, 5000000)); /* nothing of the old request, then the banner */
    assert_string_equal(rig.reply, "|/|/OXYSIM adapter, simulated|/|/>");
    assert_true(rig.first_us - from_us >= 500000);
    assert_string_equal(rig_ask(&rig, ""), "|/|/>"); /* no last request */
    assert_string_equal(rig_ask(&rig, "010C"), "010C|/SEARCHING...|/41 0C 0B 99 |/|/>");
}

static void test_characters_during_a_restart_are_lost(void **state)
{
    (void)state;
    rig_ready(&rig);
    rig_send(&rig, "ATZ\r");
    rig_wait(&rig, 100000);
    assert_string_equal(rig_ask(&rig, "ATE0"), "|/|/OXYSIM adapter, simulated|/|/>");
    assert_string_equal(rig_ask(&rig, "ATE0"), "ATE0|/OK|/|/>");
}

static void test_a_flood_does_no_harm(void **state)
{
    (void)state;
    char flood[5000];
    for (size_t i = 0; i < sizeof flood - 1; i++)
        flood[i] = "010C\r\xFF"
                   "AT>\0"[i % 10];
    flood[sizeof flood - 1] = '\0';
    rig_open(&rig);
    for (int i = 0; i < 20; i++) {
        oxl_adapter_write(rig.adapter, flood, sizeof flood, 115200, rig.t_us);
        rig.t_us += 1000000; /* nobody reads */
    }
    uint8_t all[20000];
    assert_true(oxl_adapter_read(rig.adapter, all, sizeof all, rig.t_us + 5000000) < sizeof all);
    rig.t_us += 5000000;
    rig_ask(&rig, "ATZ");
    rig_ask(&rig, "ATZ");
    assert_string_equal(rig_ask(&rig, "ATI"), "ATI|/OXYSIM adapter, simulated|/|/>");
}

static void check_table(const struct oxl_setting *t, size_t n, const char *section, size_t size)
{
    assert_true(n > 0);
    size_t covered = 0;
    for (size_t i = 0; i < n; i++) {
        assert_string_equal(t[i].section, section);
        assert_non_null(strchr("dubt", t[i].kind));
        size_t want = t[i].kind == 'd' ? sizeof(double) : t[i].kind == 'u' ? sizeof(unsigned) : 1;
        assert_true(t[i].kind == 't' ? t[i].size > 1 : t[i].size == want);
        assert_true(t[i].offset + t[i].size <= size);
        assert_true(t[i].kind == 't' || t[i].min < t[i].max);
        covered += t[i].size;
        for (size_t k = 0; k < i; k++)
            assert_true(strcmp(t[i].key, t[k].key) != 0 && t[i].offset != t[k].offset);
    }
    assert_true(covered <= size);
}

static void test_setting_tables(void **state)
{
    (void)state;
    rig_open(&rig);
    check_table(oxl_ecu_setting_table, oxl_ecu_setting_count, "ecu",
                sizeof(struct oxl_ecu_settings));
    check_table(oxl_adapter_setting_table, oxl_adapter_setting_count, "adapter",
                sizeof(struct oxl_adapter_settings));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_settings_that_stick, setup, teardown),
        cmocka_unit_test_setup_teardown(test_reply_count_without_effect, setup, teardown),
        cmocka_unit_test_setup_teardown(test_silent, setup, teardown),
        cmocka_unit_test_setup_teardown(test_wrong_speed_is_unreadable, setup, teardown),
        cmocka_unit_test_setup_teardown(test_wrong_speed_garbles_what_is_under_way, setup,
                                        teardown),
        cmocka_unit_test_setup_teardown(test_noise_spares_most_requests_and_never_lies, setup,
                                        teardown),
        cmocka_unit_test_setup_teardown(test_power_cycle, setup, teardown),
        cmocka_unit_test_setup_teardown(test_characters_during_a_restart_are_lost, setup, teardown),
        cmocka_unit_test_setup_teardown(test_a_flood_does_no_harm, setup, teardown),
        cmocka_unit_test_setup_teardown(test_setting_tables, setup, teardown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
