/* The whole inspection against the simulated vehicle, in virtual time. The simulated unit is
 * written from the standards' tables in the other direction and shares nothing with the decoders.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "oxylag/inspect.h"
#include "oxylag/sim.h"

struct bench {
    struct oxl_sim *sim;
    struct oxl_inspect *core;
    int64_t now_us;
    char sent[20000]; /* everything that was sent, '\r' as '\n' */
    size_t sent_n;
    unsigned checks;
    bool out; /* the adapter, of its socket */
};

static void on_send(void *ctx, const char *bytes, size_t n, int64_t t_us)
{
    struct bench *b = ctx;
    oxl_sim_write(b->sim, bytes, n, 0, t_us);
    for (size_t i = 0; i < n && b->sent_n + 1 < sizeof b->sent; i++)
        b->sent[b->sent_n++] = bytes[i] == '\r' ? '\n' : bytes[i];
}

static void on_speed(void *ctx, unsigned baud, int64_t t_us)
{
    (void)ctx, (void)baud, (void)t_us;
}

static void on_reopen(void *ctx, int64_t t_us)
{
    (void)ctx, (void)t_us;
}

static void on_event(void *ctx, const struct oxl_event *ev)
{
    struct bench *b = ctx;
    b->checks += ev->kind == OXL_EV_CHECK;
}

static void feed(struct bench *b, enum oxl_input_kind kind, const char *bytes, size_t n)
{
    struct oxl_input in = {.kind = kind, .t_us = b->now_us, .bytes = bytes, .n = n};
    oxl_inspect_step(b->core, &in);
}

/* The port goes and comes with the adapter. */
static void follow_plug(struct bench *b)
{
    bool in = oxl_sim_plugged(b->sim, b->now_us);
    if (in == !b->out)
        return;
    b->out = !in;
    feed(b, in ? OXL_IN_LINK_UP : OXL_IN_LINK_DOWN, NULL, 0);
}

/* Inspects a scenario given as INI text. */
static const struct oxl_inspection *inspect_with(struct bench *b, const char *ini,
                                                 const struct oxl_inspect_config *config,
                                                 uint64_t seed)
{
    struct oxl_scenario *scenario;
    struct oxl_error err = {OXL_OK, ""};
    if (oxl_scenario_parse(ini, "test.ini", &scenario, &err) != OXL_OK)
        fail_msg("%s", err.text);
    memset(b, 0, sizeof *b);
    b->sim = oxl_sim_new(scenario, seed, OXL_TECH_BY_HAND);
    oxl_scenario_free(scenario);
    const struct oxl_session_out out = {b, on_send, on_speed, on_reopen, on_event};
    b->core = oxl_inspect_new(config, &out);
    assert_non_null(b->core);
    feed(b, OXL_IN_LINK_UP, NULL, 0);
    while (!oxl_inspect_over(b->core) && b->now_us < 300000000) {
        char buf[512];
        int64_t sim_us = oxl_sim_due_us(b->sim), due_us = oxl_inspect_due_us(b->core);
        int64_t next_us = sim_us < due_us ? sim_us : due_us;
        if (next_us > b->now_us)
            b->now_us = next_us;
        follow_plug(b);
        size_t n = oxl_sim_read(b->sim, buf, sizeof buf, b->now_us);
        if (n)
            feed(b, OXL_IN_RX, buf, n);
        feed(b, OXL_IN_TICK, NULL, 0);
    }
    assert_true(oxl_inspect_over(b->core));
    return oxl_inspect_found(b->core);
}

static const struct oxl_inspection *inspect_seed(struct bench *b, const char *ini, unsigned bank,
                                                 uint64_t seed)
{
    struct oxl_inspect_config config = {.bank = bank};
    oxl_profile_defaults(&config.profile);
    return inspect_with(b, ini, &config, seed);
}

static const struct oxl_inspection *inspect_bank(struct bench *b, const char *ini, unsigned bank)
{
    return inspect_seed(b, ini, bank, 1);
}

static const struct oxl_inspection *inspect(struct bench *b, const char *ini)
{
    return inspect_bank(b, ini, 1);
}

static enum oxl_status outcome(const struct bench *b)
{
    const char *text;
    return oxl_inspect_outcome(b->core, &text);
}

/* A line that loses its first characters must not begin with the service that clears codes: such a
 * line begins with four spaces, which are lost first and mean nothing. */
static void harmless(const char *line)
{
    if (strstr(line + 1, "04"))
        assert_memory_equal(line, "    ", 4);
}

/* Whatever was inspected: nothing but readings was asked for. */
static void done(struct bench *b)
{
    char *rest = b->sent;
    for (char *line; (line = strtok_r(NULL, "\n", &rest));) {
        const char *word = line + strspn(line, " ");
        if (strncmp(word, "AT", 2) == 0)
            continue;
        assert_non_null(strstr("01 02 03 05 06 07 09 0A", (char[]){word[0], word[1], 0}));
        harmless(line);
    }
    oxl_inspect_free(b->core);
    oxl_sim_free(b->sim);
}

static const struct oxl_check *check_of(const struct oxl_inspection *v, const char *id)
{
    for (size_t i = 0; i < v->checks_n; i++)
        if (strcmp(v->checks[i].id, id) == 0)
            return &v->checks[i];
    fail_msg("no line \"%s\"", id);
    return NULL;
}

static void graded(const struct oxl_inspection *v, const char *id, enum oxl_grade grade)
{
    const struct oxl_check *c = check_of(v, id);
    if (c->grade != grade)
        fail_msg("%s is %s: %s", id, oxl_grade_name(c->grade), c->found);
    /* Whoever reads a caution or a stop is told what to do. */
    assert_true(c->found[0]);
    if (grade >= OXL_GRADE_CAUTION)
        assert_true(strlen(c->advice) > 8);
}

static const struct oxl_monitor_result *result_of(const struct oxl_inspection *v, unsigned monitor,
                                                  unsigned test, unsigned component)
{
    for (size_t i = 0; i < v->onboard.results_n; i++) {
        const struct oxl_monitor_result *r = &v->onboard.results[i];
        if (r->monitor == monitor && r->test == test && r->component == component)
            return r;
    }
    return NULL;
}

/* ---- CAN ---- */

static void sound_vehicle(void **state)
{
    (void)state;
    struct bench b;
    const struct oxl_inspection *v = inspect(&b, "[unit]\nfront = wide-current\n");
    assert_int_equal(outcome(&b), OXL_OK);
    assert_int_equal(v->worst, OXL_GRADE_PASS);
    assert_int_equal(b.checks, v->checks_n);
    graded(v, "sensors-bank-1", OXL_GRADE_PASS);
    graded(v, "codes-stored", OXL_GRADE_PASS);
    graded(v, "codes-permanent", OXL_GRADE_PASS);
    graded(v, "monitor-21-80", OXL_GRADE_PASS);
    graded(v, "freeze-frame", OXL_GRADE_PASS);
    graded(v, "closed-loop", OXL_GRADE_PASS);
    graded(v, "identity", OXL_GRADE_PASS);
    graded(v, "sample-rate", OXL_GRADE_PASS);
    assert_true(v->onboard.done && v->onboard.frozen_known && v->onboard.frozen_code == 0);
    assert_string_equal(v->onboard.units[0].name, "ECM-SimulatedUnit");
    assert_string_equal(v->onboard.units[0].calibration[0], "OXYLAG SIM CAL1");
    assert_int_equal(v->onboard.units[0].verification[0], 0x0A513D01);
    /* 33h of 256ths, at most C0h. */
    const struct oxl_monitor_result *r = result_of(v, 0x21, 0x80, 0);
    assert_non_null(r);
    assert_true(fabs(oxl_monitor_figures(r).value - 51.0 / 256) < 1e-9);
    assert_true(fabs(oxl_monitor_figures(r).max - 0.75) < 1e-9);
    done(&b);
}

/* Two units, answers put off, a code that forbids, one that is why one tests, one elsewhere. */
static void codes_of_two_units(void **state)
{
    (void)state;
    struct bench b;
    const struct oxl_inspection *v = inspect(
        &b, "[unit]\nstored = P0420 P0301\npending = P0171 P0174\npermanent = P0420\n"
            "second_unit = yes\nsecond_stored = P0700\npending_pct = 30\npending_ms = 60\n");
    assert_int_equal(outcome(&b), OXL_OK);
    assert_int_equal(v->worst, OXL_GRADE_STOP);
    graded(v, "stored-P0420", OXL_GRADE_PASS);
    graded(v, "stored-P0301", OXL_GRADE_STOP);
    graded(v, "stored-P0700", OXL_GRADE_PASS);
    graded(v, "pending-P0171", OXL_GRADE_CAUTION);
    graded(v, "pending-P0174", OXL_GRADE_PASS); /* of the bank that is not tested */
    graded(v, "permanent-P0420", OXL_GRADE_PASS);
    graded(v, "lamp", OXL_GRADE_CAUTION);
    graded(v, "monitor-21-80", OXL_GRADE_CAUTION);
    assert_int_equal(v->onboard.units_n, 2);
    assert_int_equal(v->onboard.units[0].unit, 0x7E8);
    assert_int_equal(v->onboard.units[0].stored.n, 2);
    assert_int_equal(v->onboard.units[1].stored.n, 1);
    assert_int_equal(v->vehicle.stored_n, 2); /* those of the unit that is listened to */
    assert_string_equal(v->onboard.units[1].name, "TCM-SimulatedGear");
    assert_int_equal(v->onboard.frozen_code, 0x0420);
    assert_int_equal(v->onboard.frozen_n, 9); /* as many as the unit froze */
    done(&b);
}

/* Whichever unit puts its answer off: it is waited for, and what comes twice is kept once. */
static void no_answer_is_lost_when_put_off(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 40; seed++) {
        struct bench b;
        const struct oxl_inspection *v =
            inspect_seed(&b,
                         "[unit]\nstored = P0420 P0141\nsecond_unit = yes\nsecond_stored = P0700\n"
                         "pending_pct = 30\npending_ms = 60\n",
                         1, seed);
        const struct oxl_unit_info *u = v->onboard.units;
        assert_int_equal(v->onboard.units_n, 2);
        assert_int_equal(u[0].stored.n, 2);
        assert_int_equal(u[1].stored.n, 1);
        assert_string_equal(u[0].name, "ECM-SimulatedUnit");
        assert_string_equal(u[1].name, "TCM-SimulatedGear");
        assert_int_equal(u[0].calibration_n, 1);
        assert_int_equal(v->onboard.frozen_n, 9);
        done(&b);
    }
}

/* Calibrations (09 04) and the frozen load (02 04) are not worth the risk on a line that loses
 * characters: what is left of them would clear the codes. */
static void bad_line_is_not_trusted_with_04(void **state)
{
    (void)state;
    struct bench b;
    const struct oxl_inspection *v =
        inspect(&b, "[unit]\nstored = P0420\n[adapter]\ndrop_pct = 0.3\ndouble_pct = 0.3\n");
    assert_non_null(strstr(b.sent, "\n0902"));
    assert_non_null(strstr(b.sent, "\n020500"));
    assert_null(strstr(b.sent, "0904"));
    assert_null(strstr(b.sent, "020400"));
    assert_int_equal(v->onboard.units[0].calibration_n, 0);
    assert_int_equal(v->onboard.frozen_n, 8);
    done(&b);
}

static void other_bank(void **state)
{
    (void)state;
    struct bench b;
    const struct oxl_inspection *v =
        inspect_bank(&b, "[unit]\nstored = P0171 P0430\n[plant]\nbanks = 2\n", 2);
    assert_int_equal(outcome(&b), OXL_OK);
    graded(v, "stored-P0171", OXL_GRADE_PASS);
    graded(v, "monitor-22-80", OXL_GRADE_CAUTION);
    graded(v, "monitor-21-80", OXL_GRADE_PASS);
    graded(v, "sensors-bank-2", OXL_GRADE_PASS);
    graded(v, "closed-loop-2", OXL_GRADE_PASS);
    assert_true(result_of(v, 0x05, 0x05, 0) != NULL); /* B2S1 */
    done(&b);
}

static void no_rear(void **state)
{
    (void)state;
    struct bench b;
    const struct oxl_inspection *v = inspect(&b, "[unit]\nrear = none\n");
    assert_int_equal(outcome(&b), OXL_ERR_UNSUITABLE);
    graded(v, "sensors-bank-1", OXL_GRADE_STOP);
    graded(v, "monitor-catalyst", OXL_GRADE_UNKNOWN);
    done(&b);
}

static void rear_fault_keeps_the_catalyst_waiting(void **state)
{
    (void)state;
    struct bench b;
    const struct oxl_inspection *v = inspect(&b, "[unit]\nstored = P0137\n");
    graded(v, "stored-P0137", OXL_GRADE_CAUTION);
    graded(v, "monitor-21-80", OXL_GRADE_UNKNOWN); /* not run is no pass */
    graded(v, "monitor-02-07", OXL_GRADE_CAUTION);
    graded(v, "ready-catalyst", OXL_GRADE_CAUTION);
    assert_string_equal(oxl_monitor_verdict_name(oxl_monitor_verdict(result_of(v, 0x21, 0x80, 0))),
                        "not run");
    done(&b);
}

static void layout_of_four_banks(void **state)
{
    (void)state;
    struct bench b;
    const struct oxl_inspection *v = inspect(&b, "[unit]\nlayout = 1D\n[plant]\nbanks = 2\n");
    assert_int_equal(outcome(&b), OXL_OK);
    assert_string_equal(check_of(v, "layout")->found, "item 1D: B1S1 B1S2 B2S1 B2S2");
    graded(v, "sensors-bank-2", OXL_GRADE_PASS);
    done(&b);
}

static void cold_engine(void **state)
{
    (void)state;
    struct bench b;
    const struct oxl_inspection *v = inspect(&b, "[plant]\ncoolant_c = 20\nrun_time_s = 10\n");
    assert_int_equal(outcome(&b), OXL_OK);
    graded(v, "coolant", OXL_GRADE_STOP);
    graded(v, "run-time", OXL_GRADE_STOP);
    assert_int_equal(v->worst, OXL_GRADE_STOP);
    done(&b);
}

/* ---- K-line: no counts, padding, several messages to an answer ---- */

static void kline_vehicle(void **state)
{
    (void)state;
    struct bench b;
    const struct oxl_inspection *v =
        inspect(&b, "[unit]\nstored = P0420 P0133 P0171 P0102\nmulti_item = no\n"
                    "[adapter]\nprotocol = 3\n");
    assert_int_equal(outcome(&b), OXL_OK);
    assert_int_equal(v->vehicle.protocol, OXL_PROTO_ISO9141);
    assert_int_equal(v->onboard.units[0].stored.n, 4); /* three in a message, then one */
    graded(v, "stored-P0133", OXL_GRADE_CAUTION);
    graded(v, "stored-P0102", OXL_GRADE_CAUTION);
    graded(v, "codes-pending", OXL_GRADE_PASS);
    graded(v, "codes-permanent", OXL_GRADE_UNKNOWN);
    assert_string_equal(v->vehicle.vin, "0XYLAGSM4R0000003");
    assert_string_equal(v->onboard.units[0].calibration[0], "OXYLAG SIM CAL1");
    assert_int_equal(v->onboard.units[0].verification_n, 1);
    assert_int_equal(v->onboard.frozen_code, 0x0420);
    assert_int_equal(v->onboard.frozen_n, 9);
    /* Two messages of one test: a maximum and a minimum. Service 05: two tests of each sensor. */
    assert_int_equal(v->onboard.results_n, 3 + 4);
    const struct oxl_monitor_result *r = result_of(v, 0, 0x01, 0x11);
    assert_non_null(r);
    assert_int_equal(r->value, 235);
    assert_int_equal(oxl_monitor_verdict(r), OXL_MONITOR_FAILED);
    graded(v, "monitor-test-01-11", OXL_GRADE_CAUTION);
    graded(v, "monitor-test-02-21", OXL_GRADE_PASS);
    graded(v, "monitor-02-08", OXL_GRADE_PASS);
    graded(v, "monitor-01-05", OXL_GRADE_CAUTION); /* as P0133 says */
    assert_non_null(strstr(check_of(v, "monitor-01-05")->found, "0.18 s, at most 0.12"));
    done(&b);
}

/* Item 1D: the front of bank 2 is sensor 04, which is asked behind spaces. */
static void kline_sensors_of_two_banks(void **state)
{
    (void)state;
    struct bench b;
    const struct oxl_inspection *v =
        inspect_bank(&b,
                     "[unit]\nstored = P0153\nlayout = 1D\nmulti_item = no\n[plant]\nbanks = 2\n"
                     "[adapter]\nprotocol = 4\n",
                     2);
    assert_int_equal(outcome(&b), OXL_OK);
    graded(v, "monitor-05-05", OXL_GRADE_CAUTION);
    graded(v, "monitor-06-07", OXL_GRADE_PASS);
    graded(v, "monitor-01-05", OXL_GRADE_PASS);
    assert_non_null(strstr(b.sent, "\n    050504\n"));
    done(&b);
}

static void kline_two_units(void **state)
{
    (void)state;
    struct bench b;
    const struct oxl_inspection *v =
        inspect(&b, "[unit]\nstored = P0300\nsecond_unit = yes\nsecond_stored = P0700\n"
                    "multi_item = no\n[adapter]\nprotocol = 5\n");
    assert_int_equal(outcome(&b), OXL_OK);
    assert_int_equal(v->onboard.units_n, 2);
    assert_int_equal(v->onboard.units[0].stored.codes[0], 0x0300);
    assert_int_equal(v->onboard.units[1].stored.codes[0], 0x0700);
    graded(v, "stored-P0300", OXL_GRADE_STOP);
    done(&b);
}

/* The target is the profile's. */
static void room_for_the_target(void **state)
{
    (void)state;
    struct bench b;
    struct oxl_inspect_config config = {.bank = 1};
    oxl_profile_defaults(&config.profile);
    config.profile.target_pct = -30;
    graded(inspect_with(&b, "", &config, 1), "trim-room", OXL_GRADE_CAUTION);
    done(&b);
    config.profile.target_pct = -15;
    graded(inspect_with(&b, "", &config, 1), "trim-room", OXL_GRADE_PASS);
    done(&b);
}

/* ---- nobody there ---- */

static void nobody(void **state)
{
    (void)state;
    struct bench b;
    inspect(&b, "[unit]\nanswers = no\n");
    assert_int_equal(outcome(&b), OXL_ERR_NO_VEHICLE);
    assert_int_equal(b.checks, 0);
    done(&b);
    inspect(&b, "[adapter]\nsilent = yes\n");
    assert_int_equal(outcome(&b), OXL_ERR_NO_ADAPTER);
    assert_int_equal(b.checks, 0);
    done(&b);
}

/* ---- pulled out while the engine is looked at ---- */

static void pulled_out(void **state)
{
    (void)state;
    struct bench b;
    inspect(&b, "[adapter]\nunplug_at_s = 3\nunplug_s = 1000\n");
    assert_int_equal(outcome(&b), OXL_ERR_LINK_LOST);
    assert_int_equal(b.checks, 0);
    done(&b);
}

static void pulled_out_for_a_while(void **state)
{
    (void)state;
    struct bench b;
    const struct oxl_inspection *v = inspect(&b, "[adapter]\nunplug_at_s = 3\nunplug_s = 6\n");
    assert_int_equal(outcome(&b), OXL_OK);
    graded(v, "sample-rate", OXL_GRADE_PASS);
    /* What is shown as read just now is of the engine after that. */
    size_t sensors = 0;
    for (size_t i = 0; i < v->readings_n; i++)
        if (oxl_channel_same(v->reading[i].channel, v->pair[0].front) ||
            oxl_channel_same(v->reading[i].channel, v->pair[0].rear)) {
            sensors++;
            assert_true(b.now_us - v->reading[i].recv_us < 2000000);
        }
    assert_int_equal(sensors, 2);
    done(&b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sound_vehicle),
        cmocka_unit_test(codes_of_two_units),
        cmocka_unit_test(no_answer_is_lost_when_put_off),
        cmocka_unit_test(bad_line_is_not_trusted_with_04),
        cmocka_unit_test(other_bank),
        cmocka_unit_test(no_rear),
        cmocka_unit_test(rear_fault_keeps_the_catalyst_waiting),
        cmocka_unit_test(layout_of_four_banks),
        cmocka_unit_test(cold_engine),
        cmocka_unit_test(kline_vehicle),
        cmocka_unit_test(kline_two_units),
        cmocka_unit_test(kline_sensors_of_two_banks),
        cmocka_unit_test(room_for_the_target),
        cmocka_unit_test(nobody),
        cmocka_unit_test(pulled_out),
        cmocka_unit_test(pulled_out_for_a_while),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
