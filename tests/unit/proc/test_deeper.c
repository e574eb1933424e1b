/* The deeper run, on the scripted car: offered, taken, declined, held, cut for heat. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

#include <math.h>

#include "help_car.h"

static void open_to(struct car *c, double shift_pct, double front)
{
    assert_true(car_wait(c, OXL_STATE_ENRICHMENT, 60));
    assert_int_equal(car_heard(c, OXL_ADV_DEEPER_ADD), 1);
    c->rear = 0.85;
    car_glide(c, 1, c->stft, front);
    car_glide(c, 4, c->stft + shift_pct, front);
}

static void release(struct car *c, double rear_after_s)
{
    car_run(c, 0.4);
    car_glide(c, 0.2, c->stft, 1.3);
    car_run(c, rear_after_s);
    c->rear = 0.04; /* as lean gas of 0.23 puts it */
    car_run(c, 3.5);
}

/* The rear did not show how low it comes, so the usual dose is asked for. */
static struct car *on_offer_without_a_level(void)
{
    struct car *c = car_on_offer();
    for (size_t i = 0; i < c->proc.kept.runs_n; i++)
        c->proc.kept.runs[i].o2_needed_mg = NAN;
    return c;
}

/* What the levels of the runs before ask for, and a tenth. */
static void the_levels_say_how_much(void **state)
{
    (void)state;
    struct car *c = car_on_offer();
    double most_mg = 0;
    for (size_t i = 0; i < c->proc.kept.runs_n; i++)
        most_mg = fmax(most_mg, c->proc.kept.runs[i].o2_needed_mg);
    assert_true(most_mg > 350 && most_mg < 500);
    assert_true(fabs(oxl_deeper_needed_now_mg(&c->proc) - 1.1 * most_mg) < 1e-9);
    open_to(c, -24, 0.90);
    assert_true(car_wait(c, OXL_STATE_RELEASE, 3)); /* 76 mg/s for 5 s were nearly enough */
    release(c, 0.2);
    const struct oxl_run_result *r = &car_last(c, OXL_EV_RUN)->u.run;
    assert_true(r->deeper && r->o2_removed_mg > r->o2_needed_mg);
    assert_true(car_wait(c, OXL_STATE_DONE, 40));
    assert_int_equal(car_last(c, OXL_EV_RESULT)->u.result.verdict, OXL_VERDICT_BAD);
    car_free(c);
}

static void taken_it_empties_and_decides(void **state)
{
    (void)state;
    struct car *c = on_offer_without_a_level();
    open_to(c, -24, 0.90);
    double at_s = 1e-6 * (double)c->t_us;
    assert_true(car_wait(c, OXL_STATE_RELEASE, 20));
    /* 0.2314/1.008 * 3 g/s * (1/0.9 - 1) = 76.5 mg/s: 822 mg take 10.7 s, 5 of them while it
     * opened, the first at half. */
    double took_s = 1e-6 * (double)c->t_us - at_s;
    assert_true(took_s > 5.0 && took_s < 7.5);
    assert_int_equal(car_heard(c, OXL_ADV_CUT_HEAT), 0);
    assert_true(car_heard(c, OXL_ADV_DEEPER_HOLD) > 0);
    release(c, 0.2);
    const struct oxl_run_result *r = &car_last(c, OXL_EV_RUN)->u.run;
    assert_true(r->deeper && r->valid && r->dropped);
    assert_int_equal(r->run, 4);
    assert_true(r->o2_removed_mg > 780 && r->o2_removed_mg < 950);
    assert_false(oxl_reasons_has(r->reasons, OXL_R_PART_EMPTIED));
    assert_true(r->o2_mg.high < 132);
    /* Bad now, so the leak check is offered; nobody takes it. */
    assert_int_equal(car_heard(c, OXL_ADV_LEAK_OFFER), 1);
    assert_true(car_wait(c, OXL_STATE_DONE, 40));
    const struct oxl_result *v = &car_last(c, OXL_EV_RESULT)->u.result;
    assert_int_equal(v->verdict, OXL_VERDICT_BAD);
    assert_int_equal(v->deeper_run, 4);
    car_free(c);
}

/* A pulse before has shown 400 mg: 2.6 times that. */
static void a_store_that_has_shown_much_needs_more(void **state)
{
    (void)state;
    struct car *c = on_offer_without_a_level();
    c->proc.kept.runs[1].dropped = true;
    c->proc.kept.runs[1].o2_mg = (struct oxl_span){400, 380, 420};
    assert_true(fabs(oxl_deeper_needed_now_mg(&c->proc) - 1040) < 1e-9);
    open_to(c, -24, 0.90);
    assert_true(car_wait(c, OXL_STATE_RELEASE, 20));
    release(c, 0.2);
    const struct oxl_run_result *r = &car_last(c, OXL_EV_RUN)->u.run;
    assert_true(r->deeper);
    assert_true(r->o2_removed_mg > 1000);
    car_free(c);
}

/* A switching front says only that it is rich: what is taken out goes by what the trims had yet to
 * take away. For a second the gas is as rich as ever and they have not begun, then they go down by
 * 20 % in 4 s. They are 0.4 s behind, so 18 % of it are told, of 0.7 s (the first means need three
 * samples), 0.4 s and half of 3.6 s: 52 %s, of 0.2314/1.008 * 3 g/s. */
static void a_switching_front_counts_by_the_trims(void **state)
{
    (void)state;
    struct car *c = on_offer_without_a_level();
    assert_true(car_wait(c, OXL_STATE_ENRICHMENT, 60));
    c->proc.pair.front_kind = OXL_SENSOR_SWITCHING;
    c->front = 0.1;
    car_run(c, 4);
    c->rear = 0.85;
    c->front = 0.9;
    car_run(c, 1);
    c->front = 0.8;
    car_glide(c, 4, c->stft - 20, 0.8);
    assert_int_equal(c->proc.state, OXL_STATE_ENRICHMENT);
    assert_true(fabs(c->proc.deeper.now.removed_mg - 358) < 25);
    car_free(c);
}

/* What is to be taken out goes by the air that flows now, and where the meter has said nothing for
 * half a minute by that of the last run: 2 * 137 mg for each g/s. */
static void an_old_air_flow_does_not_count(void **state)
{
    (void)state;
    struct car *c = on_offer_without_a_level();
    c->air = 6;
    car_run(c, 0.1);
    assert_true(fabs(oxl_deeper_needed_now_mg(&c->proc) - 1644) < 1);
    c->mute = true;
    car_run(c, 28);
    car_give(c, OXL_Q_COOLANT_C, 0, 0, 90);
    assert_true(fabs(oxl_deeper_needed_now_mg(&c->proc) - 1644) < 1);
    car_run(c, 4);
    car_give(c, OXL_Q_COOLANT_C, 0, 0, 90);
    assert_true(fabs(oxl_deeper_needed_now_mg(&c->proc) - 822) < 1);
    car_free(c);
}

static void heat_cuts_it_short(void **state)
{
    (void)state;
    struct car *c = on_offer_without_a_level();
    open_to(c, -26, 0.975); /* too little to get there in time */
    double at_s = 1e-6 * (double)c->t_us;
    assert_true(car_wait(c, OXL_STATE_RELEASE, 30));
    double took_s = 1e-6 * (double)c->t_us - at_s;
    /* No catalyst temperature is reported: 10 s from where it passed -25 % or stood still. */
    assert_true(took_s > 8 && took_s < 13);
    assert_int_equal(car_heard(c, OXL_ADV_CUT_HEAT), 1);
    release(c, 2.0); /* too much stored for that dose */
    const struct oxl_run_result *r = &car_last(c, OXL_EV_RUN)->u.run;
    assert_true(r->deeper && r->valid);
    assert_true(oxl_reasons_has(r->reasons, OXL_R_PART_EMPTIED));
    assert_false(oxl_reasons_has(r->reasons, OXL_R_TIME_LIMIT));
    /* Counted once: there is no second offer, and no verdict. */
    assert_true(car_wait(c, OXL_STATE_DONE, 40));
    assert_int_equal(car_heard(c, OXL_ADV_DEEPER_OFFER), 1);
    assert_int_equal(car_last(c, OXL_EV_RESULT)->u.result.verdict, OXL_VERDICT_INCONCLUSIVE);
    car_free(c);
}

static void too_rich_is_said(void **state)
{
    (void)state;
    struct car *c = on_offer_without_a_level();
    open_to(c, -20, 0.80);
    assert_true(car_heard(c, OXL_ADV_TOO_MUCH) > 0);
    car_free(c);
}

static void more_is_asked_for(void **state)
{
    (void)state;
    struct car *c = on_offer_without_a_level();
    open_to(c, -14, 0.99);
    car_run(c, 6);
    assert_true(car_heard(c, OXL_ADV_DEEPER_MORE) > 1); /* again and again */
    assert_int_equal(c->proc.state, OXL_STATE_ENRICHMENT);
    car_free(c);
}

/* Both trims at the limit of their total hand steps to one another; the front is hardly rich. */
static void more_is_asked_for_at_the_limit_of_the_total(void **state)
{
    (void)state;
    struct car *c = on_offer_without_a_level();
    open_to(c, -24, 0.978);
    unsigned asked = car_heard(c, OXL_ADV_DEEPER_MORE);
    for (int i = 0; i < 4; i++) {
        car_run(c, 2);
        c->stft += 0.78;
        c->ltft -= 0.78;
    }
    assert_true(car_heard(c, OXL_ADV_DEEPER_MORE) > asked);
    assert_int_equal(c->proc.state, OXL_STATE_ENRICHMENT);
    car_free(c);
}

static void the_key_declines_it(void **state)
{
    (void)state;
    struct car *c = car_on_offer();
    car_key(c, OXL_KEY_DEEPER);
    assert_int_equal(c->proc.state, OXL_STATE_DONE);
    assert_int_equal(car_last(c, OXL_EV_RESULT)->u.result.valid_runs, 3);
    car_free(c);
}

static void nobody_takes_it(void **state)
{
    (void)state;
    struct car *c = car_on_offer();
    assert_true(car_wait(c, OXL_STATE_ENRICHMENT, 60));
    car_run(c, 59);
    assert_int_equal(c->proc.state, OXL_STATE_ENRICHMENT);
    assert_int_equal(car_heard(c, OXL_ADV_DEEPER_ADD), 1); /* said once each, not in turns */
    assert_int_equal(car_heard(c, OXL_ADV_NO_EFFECT), 1);
    car_run(c, 2);
    assert_int_equal(c->proc.state, OXL_STATE_DONE);
    assert_int_equal(car_last(c, OXL_EV_RESULT)->u.result.runs, 3);
    car_free(c);
}

static void a_lost_link_does_not_lose_the_result(void **state)
{
    (void)state;
    struct car *c = car_on_offer();
    assert_true(car_wait(c, OXL_STATE_ENRICHMENT, 60));
    oxl_proc_link(&c->proc, OXL_LINK_LOST, "", c->t_us);
    c->mute = true;
    car_run(c, 62);
    assert_int_equal(c->proc.state, OXL_STATE_DONE);
    assert_non_null(car_last(c, OXL_EV_RESULT));
    car_free(c);
}

/* The guards before a deeper run, each with the condition just met and just not. */
static void not_behind_a_misfire(void **state)
{
    (void)state;
    struct car *c = car_on_offer();
    assert_true(oxl_deeper_worth(&c->proc));
    c->proc.kept.reasons = oxl_reasons_add(c->proc.kept.reasons, OXL_R_MISFIRE);
    assert_false(oxl_deeper_worth(&c->proc));
    c->proc.kept.reasons = 0;
    /* Seen in one run only, and wished for by key: neither makes it safe. */
    c->proc.kept.runs[1].reasons = oxl_reasons_add(c->proc.kept.runs[1].reasons, OXL_R_MISFIRE);
    assert_false(oxl_deeper_worth(&c->proc));
    c->proc.deeper.choice = OXL_DEEPER_YES;
    assert_false(oxl_deeper_worth(&c->proc));
    car_free(c);
}

static void not_after_a_stumble(void **state)
{
    (void)state;
    struct car *c = car_on_offer();
    c->proc.kept.runs[0].reasons = oxl_reasons_add(c->proc.kept.runs[0].reasons, OXL_R_RPM_DROP);
    assert_false(oxl_deeper_worth(&c->proc));
    c->proc.deeper.choice = OXL_DEEPER_YES;
    assert_false(oxl_deeper_worth(&c->proc));
    car_free(c);
}

/* A run whose gas is never shut is void. It may be tried again, and then not once more: each try
 * heats the converter. */
static void not_a_third_time(void **state)
{
    (void)state;
    struct car *c = on_offer_without_a_level();
    for (unsigned tries = 1; tries <= 2; tries++) {
        assert_int_equal(car_heard(c, OXL_ADV_DEEPER_OFFER), tries);
        assert_true(car_wait(c, OXL_STATE_ENRICHMENT, 60));
        c->rear = 0.85;
        car_glide(c, 1, c->stft, 0.90);
        car_glide(c, 4, c->stft - 24, 0.90);
        assert_true(car_wait(c, OXL_STATE_RELEASE, 20));
        car_run(c, 30);
        const struct oxl_run_result *r = &car_last(c, OXL_EV_RUN)->u.run;
        assert_true(r->deeper && !r->valid);
        car_glide(c, 1, c->stft + 24, 1.0);
        c->rear = 0.7;
        car_run(c, 4);
    }
    assert_int_equal(car_heard(c, OXL_ADV_DEEPER_OFFER), 2);
    assert_int_equal(c->proc.state, OXL_STATE_DONE);
    car_free(c);
}

/* Without a run that counts nothing says that the pulses were too small; nor does the key. */
static void not_without_a_run_that_counts(void **state)
{
    (void)state;
    struct car *c = car_on_offer();
    c->proc.deeper.choice = OXL_DEEPER_YES;
    c->proc.kept.runs[0].valid = c->proc.kept.runs[1].valid = false;
    assert_true(oxl_deeper_worth(&c->proc));
    c->proc.kept.runs[2].valid = false;
    assert_false(oxl_deeper_worth(&c->proc));
    car_free(c);
}

/* What is to be taken out is so much for each gram of air a second: not known, no deeper run. */
static void not_without_air_flow(void **state)
{
    (void)state;
    struct car *c = car_on_offer();
    c->proc.deeper.choice = OXL_DEEPER_YES;
    c->proc.kept.runs[0].air_g_s = c->proc.kept.runs[1].air_g_s = NAN;
    assert_true(oxl_deeper_worth(&c->proc));
    c->proc.kept.runs[2].air_g_s = NAN;
    assert_false(oxl_deeper_worth(&c->proc));
    car_free(c);
}

/* 750 C in every profile. */
static void not_in_a_hot_converter(void **state)
{
    (void)state;
    struct car *c = car_on_offer();
    assert_true(fabs(c->proc.profile.deeper_cat_max_c - 750) < 1e-9);
    car_give(c, OXL_Q_CAT_TEMP_C, 1, 1, 749);
    assert_true(oxl_deeper_worth(&c->proc));
    car_give(c, OXL_Q_CAT_TEMP_C, 1, 1, 751);
    assert_false(oxl_deeper_worth(&c->proc));
    c->proc.deeper.choice = OXL_DEEPER_YES;
    assert_false(oxl_deeper_worth(&c->proc));
    car_free(c);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_levels_say_how_much),
        cmocka_unit_test(taken_it_empties_and_decides),
        cmocka_unit_test(a_store_that_has_shown_much_needs_more),
        cmocka_unit_test(a_switching_front_counts_by_the_trims),
        cmocka_unit_test(an_old_air_flow_does_not_count),
        cmocka_unit_test(heat_cuts_it_short),
        cmocka_unit_test(too_rich_is_said),
        cmocka_unit_test(more_is_asked_for),
        cmocka_unit_test(more_is_asked_for_at_the_limit_of_the_total),
        cmocka_unit_test(the_key_declines_it),
        cmocka_unit_test(nobody_takes_it),
        cmocka_unit_test(a_lost_link_does_not_lose_the_result),
        cmocka_unit_test(not_behind_a_misfire),
        cmocka_unit_test(not_after_a_stumble),
        cmocka_unit_test(not_a_third_time),
        cmocka_unit_test(not_without_a_run_that_counts),
        cmocka_unit_test(not_without_air_flow),
        cmocka_unit_test(not_in_a_hot_converter),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
