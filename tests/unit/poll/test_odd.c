/* Odd adapters: waits that are tuned, settings lost in silence, requests that must stay harmless.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "help_rig.h"
#include "poll/inside.h"

#define FRONT oxl_channel(OXL_Q_O2_V, 1, 1)

static int setup(void **state)
{
    *state = rig_new();
    return 0;
}

static int teardown(void **state)
{
    struct rig *r = *state;
    assert_int_equal(r->dishonest, 0);
    rig_free(r);
    return 0;
}

static unsigned sent_with(const struct rig *r, const char *start, unsigned from)
{
    unsigned n = 0;
    for (unsigned i = from; i < r->fake.log_n; i++)
        n += strncmp(r->fake.log[i], start, strlen(start)) == 0;
    return n;
}

/* The scripted adapter says OK to both settings and does nothing: neither may be kept. */
static void settings_without_effect_are_taken_back(void **state)
{
    struct rig *r = *state;
    r->fake.count_refused = true;
    r->fake.wait_us = 200000;
    rig_ready(r);
    assert_int_equal(fake_count(&r->fake, "ATAT2", 0), 1);
    assert_int_equal(fake_count(&r->fake, "ATAT1", 0), 2); /* at wake, and back again */
    assert_int_equal(sent_with(r, "ATST", 0), 2);
    assert_int_equal(fake_count(&r->fake, "ATST32", 0), 1);
    unsigned from = r->samples_n;
    rig_run(r, 5);
    assert_in_range(rig_count(r, FRONT, from), 20, 25); /* 0.2 s each, as before */
}

static void a_working_reply_count_needs_no_tuning(void **state)
{
    struct rig *r = *state;
    rig_ready(r);
    assert_int_equal(fake_count(&r->fake, "ATAT2", 0), 0);
    assert_int_equal(sent_with(r, "ATST", 0), 0);
}

/* Echo where there was none: the adapter has lost its settings, and says nothing of it. */
static void silent_reset_is_noticed_by_the_echo(void **state)
{
    struct rig *r = *state;
    rig_ready(r);
    unsigned from = r->fake.log_n;
    int64_t t_us = r->now_us;
    r->fake.echo = r->fake.linefeeds = r->fake.spaces = true;
    r->fake.headers = false;
    rig_run(r, 3);
    assert_int_equal(fake_count(&r->fake, "ATH1", from), 1);
    assert_int_equal(fake_count(&r->fake, "ATZ", from), 0);
    assert_true(r->samples[r->samples_n - 1].recv_us > t_us + 2500000);
    assert_true(rig_flows(r));
}

static void silent_reset_with_stuck_echo_is_noticed_by_the_headers(void **state)
{
    struct rig *r = *state;
    r->fake.stuck_echo = r->fake.first_item_only = true;
    rig_ready(r);
    unsigned from = r->fake.log_n;
    r->fake.headers = false;
    rig_run(r, 3);
    assert_int_equal(fake_count(&r->fake, "ATH1", from), 1);
    assert_true(rig_flows(r));
}

/* Whatever is lost from the front of a line that was sent: what is left must not begin with the
 * service that clears codes. Every focus, with and without several items. */
static void no_tail_of_a_request_clears_codes(void **state)
{
    (void)state;
    for (int single = 0; single < 2; single++)
        for (int focus = OXL_FOCUS_ALL; focus <= OXL_FOCUS_TIMING; focus++) {
            struct rig *r = rig_new();
            r->fake.first_item_only = single;
            /* Items 10 and 44 side by side would be ..1044, item 04 is supported. */
            r->fake.units[0].items = "01 03 04 05 06 07 0C 0D 10 13 14 15 1F 20 40 44";
            rig_ready(r);
            rig_focus(r, (enum oxl_focus)focus);
            rig_run(r, 30);
            for (unsigned i = 0; i < r->fake.log_n; i++) {
                const char *line = r->fake.log[i];
                const char *four = strstr(line, "04");
                assert_true(!four || strncmp(line, "AT", 2) == 0);
            }
            assert_true(r->fake.log_n > 100);
            rig_free(r);
        }
}

static void keep_line(void *ctx, const char *bytes, size_t n)
{
    char *line = ctx;
    assert_true(n < 40);
    memcpy(line, bytes, n);
    line[n] = '\0';
}

static struct oxl_poll *poll_into(char *line)
{
    const struct oxl_poll_config config = {.bank = 1};
    const struct oxl_poll_out out = {.ctx = line, .send = keep_line};
    struct oxl_poll *p = oxl_poll_new(&config, &out);
    assert_non_null(p);
    return p;
}

/* Another order, else no digit, else fewer items. */
static void a_request_is_put_in_a_harmless_order(void **state)
{
    (void)state;
    static const struct {
        uint8_t items[3];
        unsigned n, digit;
        const char *sent;
    } cases[] = {
        {{0x10, 0x44}, 2, 0, "014410\r"}, /* not ..1044: 044 */
        {{0x34, 0x10, 0x44}, 3, 2, ""},
        {{0x20}, 1, 4, "0120\r"}, /* not 01204: 04 */
        {{0x14, 0x15}, 2, 1, "0114151\r"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char line[40] = "";
        struct oxl_poll *p = poll_into(line);
        oxl_poll_request(p, 1, cases[i].items, cases[i].n, cases[i].digit, 1000, 1);
        if (cases[i].n < 3)
            assert_string_equal(line, cases[i].sent);
        assert_null(strstr(line + 1, "04"));
        assert_int_equal(strlen(line), 2 + 2 * cases[i].n + 1 + (p->ex.counted ? 1 : 0));
        oxl_poll_free(p);
    }
}

/* Other services have an item 04 as well: it goes behind spaces, which are lost first. */
static void item_04_of_other_services_is_guarded(void **state)
{
    (void)state;
    static const struct {
        uint8_t service, items[2];
        unsigned n, digit;
        const char *sent;
    } cases[] = {
        {0x09, {0x04}, 1, 0, "    0904\r"},
        {0x09, {0x04}, 1, 5, "    0904\r"},
        {0x06, {0x04}, 1, 1, "    0604\r"},
        {0x02, {0x04, 0x00}, 2, 0, "    020400\r"}, /* item and frame keep their order */
        {0x02, {0x05, 0x00}, 2, 0, "020500\r"},
        {0x06, {0x40}, 1, 4, "0640\r"}, /* not 06404: 04 */
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char line[40] = "";
        struct oxl_poll *p = poll_into(line);
        oxl_poll_request(p, cases[i].service, cases[i].items, cases[i].n, cases[i].digit, 1000, 1);
        assert_string_equal(line, cases[i].sent);
        oxl_poll_free(p);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(settings_without_effect_are_taken_back, setup, teardown),
        cmocka_unit_test_setup_teardown(a_working_reply_count_needs_no_tuning, setup, teardown),
        cmocka_unit_test_setup_teardown(silent_reset_is_noticed_by_the_echo, setup, teardown),
        cmocka_unit_test_setup_teardown(silent_reset_with_stuck_echo_is_noticed_by_the_headers,
                                        setup, teardown),
        cmocka_unit_test(a_request_is_put_in_a_harmless_order),
        cmocka_unit_test(item_04_of_other_services_is_guarded),
        cmocka_unit_test(no_tail_of_a_request_clears_codes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
