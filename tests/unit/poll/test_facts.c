/* What is learnt of a vehicle's ECUs and PIDs, and what may be asked: the limits of each. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include "poll/poll_parts.h"

static void on_nothing(void *ctx)
{
    (void)ctx;
}

static int setup_as(void **state, bool unproven)
{
    const struct oxl_poll_config config = {.bank = 1, .unproven = unproven};
    const struct oxl_poll_out out = {.vehicle = on_nothing};
    struct oxl_poll *p = oxl_poll_new(&config, &out);
    p->vehicle.protocol = OXL_PROTO_CAN11_500;
    *state = p;
    return 0;
}

static int setup(void **state)
{
    return setup_as(state, false);
}

static int setup_unproven(void **state)
{
    return setup_as(state, true);
}

static int teardown(void **state)
{
    oxl_poll_free(*state);
    return 0;
}

/* The mask of PIDs 01 to 20, as this ECU sends it. */
static void mask_of(struct oxl_poll *p, uint32_t ecu, uint8_t pid, uint8_t first, size_t len)
{
    const uint8_t data[] = {0x41, pid, first, 0x18, 0, 0};
    const struct oxl_message m = {.ecu = ecu, .data = data, .len = len};
    oxl_poll_ecu_mask(p, &m, 0x00);
}

static void ecus_are_kept_as_far_as_there_is_room(void **state)
{
    struct oxl_poll *p = *state;
    mask_of(p, 0x7E8, 0x20, 0x80, 6); /* another mask than was asked for */
    mask_of(p, 0x7E8, 0x00, 0x80, 5); /* a byte short */
    assert_int_equal(p->ecus.n, 0);
    for (uint32_t i = 0; i < OXL_POLL_ECUS; i++)
        mask_of(p, 0x7E8 + i, 0x00, 0x80, 6);
    mask_of(p, 0x7E8, 0x00, 0x80, 6); /* once more */
    mask_of(p, 0x700, 0x00, 0x80, 6); /* one too many */
    assert_int_equal(p->ecus.n, OXL_POLL_ECUS);
    assert_int_equal(oxl_poll_ecu_bit(p, 0x7E9), 2);
    assert_int_equal(oxl_poll_ecu_bit(p, 0x700), 0);
    assert_true(oxl_poll_any_ecu_supports(p, 0x01));
    assert_false(oxl_poll_any_ecu_supports(p, 0x02));
    p->vehicle.ecu = 0x700; /* nobody's mask */
    assert_false(oxl_poll_announced(p, 0x01));
    p->vehicle.ecu = 0x7E8;
    assert_true(oxl_poll_announced(p, 0x01));
}

/* What answers although no mask names it, and what is named and does not. */
static void a_pid_is_what_asking_shows(void **state)
{
    struct oxl_poll *p = *state;
    mask_of(p, 0x7E8, 0x00, 0x80, 6);
    oxl_poll_vehicle_ecu(p, &p->ecus.list[0]);
    oxl_poll_vehicle_silent(p, 0x01);
    assert_true(oxl_supports(&p->vehicle.silent, 0x01) && !oxl_supports(&p->vehicle.support, 0x01));
    oxl_poll_vehicle_answers(p, 0x01);
    assert_true(!oxl_supports(&p->vehicle.silent, 0x01) && oxl_supports(&p->vehicle.support, 0x01));
    assert_false(oxl_supports(&p->vehicle.unannounced, 0x01)); /* its mask names it */
    oxl_poll_vehicle_answers(p, 0x15);
    oxl_poll_vehicle_answers(p, 0x15);
    assert_true(oxl_supports(&p->vehicle.unannounced, 0x15));
    assert_true(oxl_supports(&p->vehicle.support, 0x15));
}

/* Its lambda stands still and its voltage moves, or neither; when nothing moves, none of it counts.
 */
static void a_pid_that_stands_still(void **state)
{
    struct oxl_poll *p = *state;
    oxl_poll_vehicle_still(p, 0x34, false);
    assert_int_equal(p->vehicle.volts_pid, 0);
    oxl_poll_vehicle_still(p, 0x24, true);
    assert_int_equal(p->vehicle.volts_pid, 0x24);
    oxl_poll_vehicle_moves(p);
    assert_int_equal(p->vehicle.volts_pid, 0);
    assert_false(oxl_supports(&p->vehicle.still, 0x34));
}

/* The rule of the time before proof: PID 04, and sensor 40 of service 05, only over a line of which
 * nothing bad is known: 0104 that loses two characters is 04. */
static void before_proof_a_doubted_line_was_not_asked_everything(void **state)
{
    struct oxl_poll *p = *state;
    static const struct {
        uint8_t service, pids[2];
        unsigned n;
        bool doubtful;
    } rows[] = {{0x01, {0x04}, 1, true},        {0x01, {0x0C}, 1, false},
                {0x05, {0x01, 0x40}, 2, true},  {0x05, {0x01, 0x04}, 2, true},
                {0x05, {0x01, 0x01}, 2, false}, {0x02, {0x04, 0x00}, 2, true}};
    for (int doubted = 0; doubted < 2; doubted++) {
        p->survey.line_doubted = doubted;
        p->survey.spoilt_before = oxl_poll_spoilt_so_far(p);
        for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
            assert_int_equal(oxl_poll_may_send(p, rows[i].service, rows[i].pids, rows[i].n),
                             !(doubted && rows[i].doubtful));
    }
    static const uint8_t load = 0x04;
    p->survey.line_doubted = false;
    p->survey.spoilt_before = oxl_poll_spoilt_so_far(p) + 1; /* something was spoilt since */
    assert_false(oxl_poll_may_send(p, 0x01, &load, 1));
}

/* Each PID of a request that stays unanswered is missed, but for those that have answered before:
 * of these it may be the number that is not answered. */
static void each_pid_that_never_answered_is_missed(void **state)
{
    struct oxl_poll *p = *state;
    static const uint8_t pids[] = {0x0C, 0x06, 0x07};
    for (unsigned i = 0; i < 3; i++)
        p->schedule.pids[i] = (struct oxl_poll_pid){.pid = pids[i], .miss_reply = UINT64_MAX};
    p->schedule.n = 3;
    oxl_support_put(&p->sensors.answered, 0x06, true);
    oxl_poll_request_pids(p, 0x01, pids, 3);
    oxl_poll_schedule_unanswered(p);
    assert_int_equal(p->schedule.multi_fails, 1);
    assert_int_equal(p->schedule.pids[0].misses, 1);
    assert_int_equal(p->schedule.pids[1].misses, 0);
    assert_int_equal(p->schedule.pids[2].misses, 1);
}

static unsigned told;

static void on_link(void *ctx, enum oxl_link_state s, const char *text)
{
    (void)ctx, (void)s, (void)text;
    told++;
}

/* The same state in the same words is told once; said again, once more. */
static void the_same_words_are_told_once(void **state)
{
    struct oxl_poll *p = *state;
    told = 0;
    p->out.link = on_link;
    oxl_poll_set_state(p, OXL_LINK_LOST, "gone");
    oxl_poll_set_state(p, OXL_LINK_LOST, "gone");
    assert_int_equal(told, 1);
    oxl_poll_say_again(p, OXL_LINK_LOST, "gone");
    assert_int_equal(told, 2);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(ecus_are_kept_as_far_as_there_is_room, setup, teardown),
        cmocka_unit_test_setup_teardown(a_pid_is_what_asking_shows, setup, teardown),
        cmocka_unit_test_setup_teardown(a_pid_that_stands_still, setup, teardown),
        cmocka_unit_test_setup_teardown(each_pid_that_never_answered_is_missed, setup, teardown),
        cmocka_unit_test_setup_teardown(the_same_words_are_told_once, setup, teardown),
        cmocka_unit_test_setup_teardown(before_proof_a_doubted_line_was_not_asked_everything,
                                        setup_unproven, teardown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
