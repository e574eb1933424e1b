/* The technician: hears and acts with a person's delay, or works alone by his own gauge. */

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "help_plant.h"

struct shop {
    struct oxl_scenario *s;
    struct oxl_plant *p;
    struct oxl_technician t;
    double now_s;
};

static struct shop open_shop(const char *name, enum oxl_tech_mode mode, uint64_t seed)
{
    struct shop shop = {.s = help_scenario(name)};
    shop.p = oxl_plant_new(&shop.s->plant, &shop.s->ecu, seed);
    oxl_technician_init(&shop.t, &shop.s->technician, mode, seed);
    return shop;
}

static void close_shop(struct shop *shop)
{
    oxl_plant_free(shop->p);
    oxl_scenario_free(shop->s);
}

static void work(struct shop *shop, double for_s)
{
    long from = lround(shop->now_s * 100), to = lround((shop->now_s + for_s) * 100);
    for (long i = from + 1; i <= to; i++) {
        help_run_s(shop->p, (double)i / 100);
        oxl_technician_step(&shop->t, shop->p, i * 10000);
    }
    shop->now_s = (double)to / 100;
}

static void say(struct shop *shop, enum oxl_advice advice)
{
    struct oxl_event ev = {.kind = OXL_EV_ADVICE};
    ev.u.advice.advice = advice;
    oxl_technician_hear(&shop->t, &ev, (int64_t)llround(shop->now_s * 1e6));
}

static void enter(struct shop *shop, enum oxl_state state)
{
    struct oxl_event ev = {.kind = OXL_EV_STATE};
    ev.u.state.state = state;
    oxl_technician_hear(&shop->t, &ev, (int64_t)llround(shop->now_s * 1e6));
}

static double valve(const struct shop *shop)
{
    return shop->p->gas.opening;
}

static void test_reaction_time(void **state)
{
    (void)state;
    double soonest = 9, latest = 0;
    for (uint64_t seed = 1; seed <= 40; seed++) {
        struct shop shop = open_shop("good", OXL_TECH_GUIDED, seed);
        work(&shop, 1);
        assert_true(valve(&shop) == 0);
        say(&shop, OXL_ADV_ADD_GAS);
        double wait_s = 0;
        while (valve(&shop) <= 0 && wait_s < 3) {
            work(&shop, 0.01);
            wait_s += 0.01;
        }
        soonest = fmin(soonest, wait_s);
        latest = fmax(latest, wait_s);
        close_shop(&shop);
    }
    assert_true(soonest >= 0.3 && soonest < 0.45);
    assert_true(latest <= 0.83 && latest > 0.65);
}

static void test_opens_slowly_shuts_quickly(void **state)
{
    (void)state;
    struct shop shop = open_shop("good", OXL_TECH_GUIDED, 1);
    say(&shop, OXL_ADV_ADD_GAS);
    work(&shop, 2);
    assert_true(valve(&shop) > 0.05 && valve(&shop) < 0.2);
    work(&shop, 10);
    double usual = shop.s->technician.usual_opening;
    assert_true(valve(&shop) > 0.85 * usual && valve(&shop) < 1.2 * usual);
    say(&shop, OXL_ADV_CUT);
    enter(&shop, OXL_STATE_RELEASE);
    work(&shop, 0.29);
    assert_true(valve(&shop) > 0.3);
    work(&shop, 0.75);
    assert_true(valve(&shop) == 0);
    work(&shop, 30);
    assert_true(valve(&shop) == 0);
    close_shop(&shop);
}

static void test_holds_and_nudges(void **state)
{
    (void)state;
    struct shop shop = open_shop("good", OXL_TECH_GUIDED, 1);
    say(&shop, OXL_ADV_ADD_GAS);
    work(&shop, 8);
    say(&shop, OXL_ADV_HOLD);
    work(&shop, 1);
    double held = valve(&shop);
    work(&shop, 20);
    assert_true(valve(&shop) == held && held > 0.2);
    say(&shop, OXL_ADV_MORE);
    work(&shop, 2);
    help_near(valve(&shop), held + 0.03, 1e-9);
    say(&shop, OXL_ADV_TOO_MUCH);
    work(&shop, 2);
    help_near(valve(&shop), held - 0.01, 1e-9);
    say(&shop, OXL_ADV_BACK_OFF);
    work(&shop, 2);
    help_near(valve(&shop), held - 0.11, 1e-9);
    close_shop(&shop);
}

/* The stubborn one goes on with too much until he is told to cut. */
static void test_stubborn(void **state)
{
    (void)state;
    struct shop shop = open_shop("over-propane", OXL_TECH_GUIDED, 1);
    say(&shop, OXL_ADV_ADD_GAS);
    work(&shop, 7);
    double held = valve(&shop);
    say(&shop, OXL_ADV_TOO_MUCH);
    say(&shop, OXL_ADV_BACK_OFF);
    work(&shop, 6);
    assert_true(held > 0.6 && valve(&shop) >= held);
    say(&shop, OXL_ADV_CUT);
    work(&shop, 5);
    assert_true(valve(&shop) == 0);
    close_shop(&shop);
}

/* Any of these ends the gas, whatever was said before. */
static void test_shuts_when_it_must(void **state)
{
    (void)state;
    const enum oxl_advice advice[] = {OXL_ADV_CUT,          OXL_ADV_CUT_HEAT, OXL_ADV_STUMBLE,
                                      OXL_ADV_LINK_TROUBLE, OXL_ADV_ABORTED,  OXL_ADV_FINISHED,
                                      OXL_ADV_RUN_INVALID,  OXL_ADV_RECOVER,  OXL_ADV_UNSUITABLE};
    for (size_t i = 0; i < sizeof advice / sizeof advice[0]; i++) {
        struct shop shop = open_shop("good", OXL_TECH_GUIDED, 2);
        say(&shop, OXL_ADV_ADD_GAS);
        work(&shop, 6);
        assert_true(valve(&shop) > 0.2);
        say(&shop, OXL_ADV_MORE);
        say(&shop, advice[i]);
        work(&shop, 2);
        assert_true(valve(&shop) == 0);
        close_shop(&shop);
    }
    const enum oxl_state states[] = {OXL_STATE_RELEASE, OXL_STATE_RECOVERY, OXL_STATE_DONE,
                                     OXL_STATE_STOPPED};
    for (size_t i = 0; i < 4; i++) {
        struct shop shop = open_shop("good", OXL_TECH_GUIDED, 2);
        say(&shop, OXL_ADV_ADD_GAS);
        work(&shop, 6);
        enter(&shop, states[i]);
        work(&shop, 2);
        assert_true(valve(&shop) == 0);
        close_shop(&shop);
    }
}

static void test_throttle(void **state)
{
    (void)state;
    struct shop shop = open_shop("good", OXL_TECH_GUIDED, 1);
    work(&shop, 5);
    say(&shop, OXL_ADV_WAIT_WARM);
    work(&shop, 8);
    assert_true(shop.p->engine.rpm > 1800 && shop.p->engine.rpm < 2700);
    say(&shop, OXL_ADV_STEADY);
    work(&shop, 20);
    assert_true(fabs(shop.p->engine.rpm - 750) < 60);
    say(&shop, OXL_ADV_PROVE_REAR);
    double fastest = 0;
    for (int i = 0; i < 300; i++) {
        work(&shop, 0.01);
        fastest = fmax(fastest, shop.p->engine.rpm);
    }
    assert_true(fastest > 2000);
    work(&shop, 20);
    say(&shop, OXL_ADV_ADD_GAS); /* never with gas flowing */
    work(&shop, 5);
    say(&shop, OXL_ADV_PROVE_REAR);
    for (int i = 0; i < 300; i++) {
        work(&shop, 0.01);
        assert_true(shop.p->engine.rpm < 900);
    }
    close_shop(&shop);
}

static void test_corrects_when_told(void **state)
{
    (void)state;
    struct shop drip = open_shop("valve-not-shut", OXL_TECH_GUIDED, 1);
    work(&drip, 3);
    help_near(valve(&drip), 0.15, 1e-9);
    say(&drip, OXL_ADV_RESIDUAL_GAS);
    work(&drip, 2);
    assert_true(valve(&drip) == 0);
    close_shop(&drip);
    struct shop port = open_shop("opened-port", OXL_TECH_GUIDED, 1);
    work(&port, 40);
    assert_true(oxl_plant_trim(port.p, 0) > 0.18);
    say(&port, OXL_ADV_OPENING_TOO_LARGE);
    work(&port, 60);
    assert_true(oxl_plant_trim(port.p, 0) < 0.10);
    close_shop(&port);
}

static void test_by_hand_and_alone_hear_nothing(void **state)
{
    (void)state;
    const enum oxl_tech_mode modes[] = {OXL_TECH_BY_HAND, OXL_TECH_ALONE};
    for (size_t i = 0; i < 2; i++) {
        struct shop shop = open_shop("good", modes[i], 1);
        say(&shop, OXL_ADV_ADD_GAS);
        work(&shop, 20);
        assert_true(valve(&shop) == 0);
        close_shop(&shop);
    }
}

/* More at once than he can keep in mind: nothing breaks. */
static void test_a_flood_of_advice(void **state)
{
    (void)state;
    struct shop shop = open_shop("good", OXL_TECH_GUIDED, 1);
    for (int i = 0; i < 200; i++)
        say(&shop, (enum oxl_advice)(i % OXL_ADV_COUNT));
    work(&shop, 5);
    say(&shop, OXL_ADV_CUT);
    work(&shop, 2);
    assert_true(valve(&shop) == 0);
    close_shop(&shop);
}

/* Alone: about 25 s after a tester began to ask, to the depth he works to, again and again. */
static void check_alone(const char *name, double depth, double tolerance)
{
    struct shop shop = open_shop(name, OXL_TECH_ALONE, 3);
    work(&shop, 5);
    double opened_s = NAN;
    for (int i = 0; i < 4000; i++) {
        oxl_technician_asked(&shop.t, (int64_t)(shop.now_s * 1e6));
        work(&shop, 0.1);
        if (isnan(opened_s) && valve(&shop) > 0)
            opened_s = shop.now_s;
    }
    help_near(opened_s, 30, 3);
    assert_true(shop.p->truth.count >= 3);
    for (size_t i = 0; i < shop.p->truth.count; i++)
        help_near(shop.p->truth.list[i].shift_pct, -depth, tolerance);
    close_shop(&shop);
}

static void test_alone(void **state)
{
    (void)state;
    check_alone("good", 20, 2.5);
    check_alone("dead", 20, 2.5);
    check_alone("over-propane", 32, 3);
    check_alone("under-propane", 10, 3);
    check_alone("kline", 20, 3.5);
}

/* A tester that comes back after a while gets its quiet time again. */
static void test_alone_waits_for_a_new_tester(void **state)
{
    (void)state;
    struct shop shop = open_shop("good", OXL_TECH_ALONE, 3);
    for (int i = 0; i < 20; i++) {
        oxl_technician_asked(&shop.t, (int64_t)(shop.now_s * 1e6));
        work(&shop, 0.1);
    }
    work(&shop, 21);
    for (int i = 0; i < 230; i++) {
        oxl_technician_asked(&shop.t, (int64_t)(shop.now_s * 1e6));
        work(&shop, 0.1);
        assert_true(valve(&shop) == 0);
    }
    work(&shop, 5);
    assert_true(valve(&shop) > 0);
    close_shop(&shop);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_reaction_time),
        cmocka_unit_test(test_opens_slowly_shuts_quickly),
        cmocka_unit_test(test_holds_and_nudges),
        cmocka_unit_test(test_stubborn),
        cmocka_unit_test(test_shuts_when_it_must),
        cmocka_unit_test(test_throttle),
        cmocka_unit_test(test_corrects_when_told),
        cmocka_unit_test(test_by_hand_and_alone_hear_nothing),
        cmocka_unit_test(test_a_flood_of_advice),
        cmocka_unit_test(test_alone),
        cmocka_unit_test(test_alone_waits_for_a_new_tester),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
