/* Which PIDs are front and rear: what the masks announce, held against what answers. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "help_rig.h"

static const struct oxl_poll_config config = {.bank = 1, .has_speed = true};

static struct rig *vehicle(const char *pids, const char *no_data, bool kline)
{
    struct rig *r = rig_new();
    if (kline)
        fake_kline(&r->fake);
    r->fake.ecus[0].pids = pids;
    r->fake.no_data = no_data;
    rig_start(r, &config);
    assert_true(rig_until(r, OXL_LINK_READY, 30));
    rig_run(r, 8);
    return r;
}

static void check_replay(struct rig *r)
{
    struct rig *again = rig_replay(r, &config);
    assert_string_equal(r->out, again->out);
    rig_free(again);
    rig_free(r);
}

/* Announced twice, and the form that is preferred never answers: the other one is used, and a
 * replay of the inputs says the same. */
static void the_form_that_answers_is_used(void **state)
{
    (void)state;
    for (int kline = 0; kline < 2; kline++) {
        struct rig *r = vehicle("01 03 05 06 07 0C 0D 10 13 14 15 1F 20 25", "25", kline);
        const struct oxl_vehicle *v = oxl_poll_vehicle(r->poll);
        assert_int_equal(oxl_poll_pair(r->poll).rear_pid, 0x15);
        assert_int_equal(oxl_poll_pair(r->poll).front_pid, 0x14);
        assert_true(oxl_supports(&v->silent, 0x25) && !oxl_supports(&v->support, 0x25));
        assert_int_equal(v->multi_pid, !kline);
        assert_int_equal(r->vehicles, 3); /* masks, survey, and the other choice */
        unsigned asked = fake_count(&r->fake, "0125", 0);
        rig_run(r, 25);
        assert_int_equal(fake_count(&r->fake, "0125", 0), asked);
        assert_true(rig_count(r, oxl_channel(OXL_Q_O2_V, 1, 2), r->samples_n - 60) >= 6);
        check_replay(r);
    }
}

/* No form answers: there is no rear, and that is said once. */
static void a_sensor_that_never_answers_is_none(void **state)
{
    (void)state;
    for (int kline = 0; kline < 2; kline++) {
        struct rig *r = vehicle("01 03 05 06 07 0C 0D 10 13 14 15 1F", "15", kline);
        assert_int_equal(oxl_poll_pair(r->poll).rear_kind, OXL_SENSOR_NONE);
        assert_int_equal(oxl_poll_pair(r->poll).front_pid, 0x14);
        assert_int_equal(r->vehicles, 3);
        check_replay(r);
    }
}

/* It answered before: an ignition that is off, or a line that fails, makes no sensor silent. */
static void a_sensor_that_has_answered_stays(void **state)
{
    (void)state;
    struct rig *r = vehicle("01 03 05 06 07 0C 0D 10 13 14 15 1F", NULL, false);
    r->fake.no_data = "15";
    rig_run(r, 30);
    assert_int_equal(oxl_poll_pair(r->poll).rear_pid, 0x15);
    r->fake.no_data = NULL;
    rig_run(r, 5);
    assert_true(rig_flows(r));
    assert_int_equal(r->vehicles, 2);
    rig_free(r);
}

/* A vehicle whose masks are right is asked nothing more: each sensor's PID alone not once. */
static void sound_masks_cost_nothing(void **state)
{
    (void)state;
    struct rig *r = vehicle("01 03 05 06 07 0C 0D 10 13 14 15 1F 20 34", NULL, false);
    static const char *const alone[] = {"01141", "01151", "01342", "0114", "0115", "0134"};
    for (unsigned i = 0; i < sizeof alone / sizeof alone[0]; i++)
        for (unsigned n = 0; n < r->fake.log_n; n++)
            assert_string_not_equal(r->fake.log[n], alone[i]);
    assert_int_equal(r->vehicles, 2);
    rig_free(r);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_form_that_answers_is_used),
        cmocka_unit_test(a_sensor_that_never_answers_is_none),
        cmocka_unit_test(a_sensor_that_has_answered_stays),
        cmocka_unit_test(sound_masks_cost_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
