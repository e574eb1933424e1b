/* Whole conversations, held against files that a person has read: every request, its moment, what
 * is said meanwhile and what is known at the end. When a conversation was changed on purpose: run
 * this program with OXL_ACCEPT=1 and read the difference. docs/testing.md */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "help_transcript.h"

static char text[1 << 17];

/* What happens in a conversation, in the order of its members. */
struct situation {
    const char *name;
    void (*prepare)(struct fake *f);
    struct oxl_poll_config config; /* all zero: bank 1, a line with speeds */
    double first_s;                /* runs so long from the link on */
    void (*then)(struct rig *r);   /* NULL: nothing more */
    double second_s;
};

static const struct oxl_poll_config usual = {.bank = 1, .has_speed = true};

static int64_t live_since(const struct rig *r)
{
    for (unsigned i = 0; i < r->states_n; i++)
        if (r->states[i] == OXL_LINK_READY)
            return r->states_us[i];
    return INT64_MAX;
}

static void converse(const struct situation *s)
{
    struct rig *r = rig_new();
    text[0] = '\0';
    if (s->prepare)
        s->prepare(&r->fake);
    rig_start(r, s->config.bank ? &s->config : &usual);
    rig_run(r, s->first_s);
    transcript_add(text, sizeof text, r->out, live_since(r));
    if (s->then) {
        size_t from = r->out_n;
        int64_t live_us = r->now_us + 4000000; /* then live data are counted, too */
        s->then(r);
        rig_run(r, s->second_s);
        snprintf(text + strlen(text), sizeof text - strlen(text), "\nthen\n");
        transcript_add(text, sizeof text, r->out + from, live_us);
    }
    transcript_facts(text, sizeof text, r->poll, r->now_us);
    if (s->config.inspection)
        transcript_onboard(text, sizeof text, oxl_poll_onboard(r->poll));
    assert_int_equal(r->dishonest, 0);
    rig_free(r);
    transcript_compare(s->name, text);
}

static void kline(struct fake *f)
{
    fake_kline(f);
}
static void two_ecus(struct fake *f)
{
    f->ecus[1] = f->ecus[0];
    f->ecus[1].id = "7EA";
    f->ecus[0] = (struct fake_ecu){"7E8", "01 05 0C 0D 1F", NULL};
    f->ecus_n = 2;
}
static void long_identifiers(struct fake *f)
{
    f->protocol = 7;
    f->ecus[0].id = "18DAF110";
}
static void wide_front(struct fake *f)
{
    f->ecus[0].pids = "01 03 04 05 06 07 0B 0C 0D 0F 10 11 13 15 1F 20 34 40 4F 60 66";
}
static void another_speed(struct fake *f)
{
    f->baud = 230400;
}
static void slow_speed(struct fake *f)
{
    f->baud = 9600;
}
static void no_adapter(struct fake *f)
{
    f->silent = true;
}
static void garbage(struct fake *f)
{
    f->garbage = true;
}
static void ignition_off(struct fake *f)
{
    f->vehicle_off = true;
}
static void long_search(struct fake *f)
{
    f->search_us = 16000000;
}
static void hanging_search(struct fake *f)
{
    f->hangs_in_search = true;
    f->hang_us = 8500000;
}
static void plain_dialect(struct fake *f)
{
    f->unknown = "ATI ATE0 ATL0 ATS0 ATAT1 ATSP0 ATDPN";
}
static void stuck_settings(struct fake *f)
{
    f->stuck_echo = f->stuck_spaces = f->stuck_linefeeds = true;
}
static void no_headers(struct fake *f)
{
    f->stuck_headers_off = true;
}
static void without_echo(struct fake *f)
{
    f->no_echo = true;
}
static void without_count(struct fake *f)
{
    f->count_refused = true;
    f->wait_us = 200000;
}
static void cutting_count(struct fake *f)
{
    f->count_cuts = true;
}
static void single_pid(struct fake *f)
{
    f->first_pid_only = true;
}
static void short_buffer(struct fake *f)
{
    f->most_pids = 2;
}
static void silent_rear(struct fake *f)
{
    f->no_data = "15";
}
static void silent_temperature(struct fake *f)
{
    f->no_data = "05 0D";
}
static void late_mask(struct fake *f)
{
    f->withheld = 4;
    f->promised_first = true;
}
static void working_off(struct fake *f)
{
    f->queues = true;
}

static void hung_for_good(struct fake *f)
{
    f->hangs_in_search = true;
}
static void slow_ecu(struct fake *f)
{
    f->latency_us = 750000; /* half as long again is longer than any wait on offer */
}
static void hasty(struct fake *f)
{
    f->count_refused = true;
    f->wait_us = 200000;
    f->adaptive_wait_us = 30000;
    f->loses_every = 60;
}
static void long_freeze_frame(struct fake *f)
{
    f->frozen = "02 04 0C 11 20 33 40 42";
}

static void own_scaling(struct fake *f)
{
    f->scaling = "\x04\x0A\x80\x14";
}

static void rear_by_volts(struct fake *f)
{
    f->ecus[0].pids = "01 03 04 05 06 07 0B 0C 0D 0F 10 11 13 14 1F 20 25 3C 40 4F";
}
static void dummy_rear(struct fake *f)
{
    f->ecus[0].pids = "01 03 04 05 06 07 0B 0C 0D 0F 10 11 13 14 15 1F 20 35 3C 40 4F";
}

static void one_pid_rests(struct rig *r)
{
    r->fake.no_data = "05";
    rig_run(r, 12);
    r->fake.no_data = NULL;
}
static void one_pid_now_and_then(struct rig *r)
{
    for (unsigned i = 0; i < 16; i++) {
        r->fake.no_data = i % 2 ? NULL : "10";
        rig_run(r, 0.25);
    }
}
static void plug_into_another(struct rig *r)
{
    rig_unplug(r);
    rig_run(r, 2);
    r->fake.ecus[0].vin = "2B3CC4DE5FG654321";
    r->fake.ecus[0].pids = "01 03 04 05 06 07 0B 0C 0D 0F 11 13 15 1F 20 34 40";
    fake_power(&r->fake);
    rig_plug(r);
}
static void spoil_echoes(struct rig *r)
{
    static const struct {
        int hurt, at;
    } rows[] = {{0, 3}, {8, 3}, {9, 3}, {8, 4}, {8, 5}, {8, 6}, {8, 7}};
    r->fake.hurt_echo = true;
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        r->fake.hurt = rows[i].hurt;
        r->fake.hurt_at = rows[i].at;
        rig_run(r, 0.5);
    }
}
/* Each refusal alone is forgiven by the answers that follow. */
static void refuse_now_and_then(struct rig *r)
{
    for (unsigned i = 0; i < 8; i++) {
        r->fake.count_refused = true;
        rig_run(r, 0.012);
        r->fake.count_refused = false;
        rig_run(r, 0.4);
    }
}
static void loose_connector(struct rig *r)
{
    rig_unplug(r);
    rig_run(r, 3);
    rig_plug(r);
    rig_run(r, 0.05);
    rig_unplug(r);
    rig_run(r, 2);
    rig_plug(r);
}
static void adapter_without_power(struct rig *r)
{
    r->fake.silent = true;
    rig_run(r, 20);
    r->fake.silent = false;
    fake_power(&r->fake);
}
static void pull_and_plug(struct rig *r)
{
    rig_unplug(r);
    rig_run(r, 3);
    rig_plug(r);
}
static void reset_itself(struct rig *r)
{
    r->fake.self_reset = true;
}
static void lose_a_prompt(struct rig *r)
{
    r->fake.lose_prompt = true;
}
static void answer_late(struct rig *r)
{
    r->fake.late_us = 1800000;
}
static void switch_ignition_off(struct rig *r)
{
    r->fake.vehicle_off = true;
    r->fake.searched = false;
}
static void spoil_a_line(struct rig *r)
{
    r->fake.spoil = true;
    rig_run(r, 0.5);
    r->fake.can_error = true;
    rig_run(r, 0.5);
    r->fake.answer_pending = true;
    rig_run(r, 0.5);
    r->fake.answer_busy = true;
}
static void time_it(struct rig *r)
{
    rig_focus(r, OXL_FOCUS_TRIMS);
    rig_run(r, 3);
    rig_focus(r, OXL_FOCUS_TIMING);
}

static const struct situation situations[] = {
    {"can", NULL, {0}, 4, time_it, 3},
    {"can-inspection", NULL, {.bank = 1, .has_speed = true, .inspection = true}, 6, NULL, 0},
    {"can-no-identity", NULL, {.bank = 1, .has_speed = true, .no_identity = true}, 3, NULL, 0},
    {"can-bank-2", NULL, {.bank = 2, .has_speed = true}, 3, NULL, 0},
    {"can-known-speed", NULL, {.bank = 1, .has_speed = true, .speed_baud = 115200}, 3, NULL, 0},
    {"network", NULL, {.bank = 1}, 3, NULL, 0},
    {"kline", kline, {0}, 12, time_it, 8},
    {"kline-inspection", kline, {.bank = 1, .has_speed = true, .inspection = true}, 25, NULL, 0},
    {"two-ecus", two_ecus, {0}, 4, NULL, 0},
    {"two-ecus-inspection",
     two_ecus,
     {.bank = 1, .has_speed = true, .inspection = true},
     8,
     NULL,
     0},
    {"long-identifiers", long_identifiers, {0}, 4, NULL, 0},
    {"wide-front", wide_front, {0}, 4, time_it, 2},
    {"another-speed", another_speed, {0}, 9, NULL, 0},
    {"slow-speed", slow_speed, {0}, 9, NULL, 0},
    {"no-adapter", no_adapter, {0}, 40, NULL, 0},
    {"garbage", garbage, {0}, 40, NULL, 0},
    {"ignition-off", ignition_off, {0}, 60, NULL, 0},
    {"give-up-soon", ignition_off, {.bank = 1, .has_speed = true, .give_up_ms = 3000}, 20, NULL, 0},
    {"long-search", long_search, {0}, 25, NULL, 0},
    {"hanging-search", hanging_search, {0}, 30, NULL, 0},
    {"plain-dialect", plain_dialect, {0}, 10, NULL, 0},
    {"stuck-settings", stuck_settings, {0}, 4, NULL, 0},
    {"no-headers", no_headers, {0}, 6, NULL, 0},
    {"no-echo", without_echo, {0}, 6, NULL, 0},
    {"no-count", without_count, {0}, 10, NULL, 0},
    {"cutting-count", cutting_count, {0}, 6, NULL, 0},
    {"single-pid", single_pid, {0}, 6, NULL, 0},
    {"short-buffer", short_buffer, {0}, 6, NULL, 0},
    {"silent-rear", silent_rear, {0}, 6, NULL, 0},
    {"silent-temperature", silent_temperature, {0}, 8, NULL, 0},
    {"late-mask", late_mask, {0}, 10, NULL, 0},
    {"working-off", working_off, {0}, 4, answer_late, 5},
    {"unplugged", NULL, {0}, 3, pull_and_plug, 6},
    {"reset", NULL, {0}, 3, reset_itself, 4},
    {"lost-prompt", NULL, {0}, 3, lose_a_prompt, 4},
    {"late-answer", NULL, {0}, 3, answer_late, 5},
    {"silent-vehicle", NULL, {0}, 3, switch_ignition_off, 30},
    {"hung-for-good", hung_for_good, {0}, 90, NULL, 0},
    {"slow-ecu", slow_ecu, {0}, 30, NULL, 0},
    {"hasty", hasty, {0}, 40, NULL, 0},
    {"long-freeze-frame",
     long_freeze_frame,
     {.bank = 1, .has_speed = true, .inspection = true},
     8,
     NULL,
     0},
    {"own-scaling", own_scaling, {0}, 3, NULL, 0},
    {"rear-by-volts", rear_by_volts, {0}, 12, NULL, 0},
    {"dummy-rear", dummy_rear, {0}, 12, NULL, 0},
    {"one-pid-rests", NULL, {0}, 3, one_pid_rests, 20},
    {"one-pid-now-and-then", NULL, {0}, 3, one_pid_now_and_then, 4},
    {"another-vehicle", NULL, {0}, 3, plug_into_another, 8},
    {"spoilt-echoes", kline, {0}, 12, spoil_echoes, 2},
    {"refusals-now-and-then", NULL, {0}, 3, refuse_now_and_then, 1},
    {"loose-connector", NULL, {0}, 3, loose_connector, 8},
    {"adapter-without-power", NULL, {0}, 3, adapter_without_power, 12},
    {"mishaps", NULL, {0}, 3, spoil_a_line, 2},
};

static void every_conversation_is_as_it_was_read(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof situations / sizeof *situations; i++)
        converse(&situations[i]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(every_conversation_is_as_it_was_read)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
