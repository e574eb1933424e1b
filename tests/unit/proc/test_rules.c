/* Each procedure's rules, as the header of a recording names them, and what they do. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdlib.h>

#include "help_car.h"

static struct car *car_by(enum oxl_procedure procedure)
{
    struct car *c = malloc(sizeof *c);
    assert_non_null(c);
    struct oxl_session_config config = {.bank = 1, .procedure = procedure, .profile_given = true};
    oxl_profile_defaults(&config.profile);
    car_start_as(c, &config);
    car_survey(c);
    return c;
}

static const struct {
    enum oxl_procedure procedure;
    bool until_decided, watches_level, proves_rear;
    double leak_offer_s;
} as_documented[] = {
    {OXL_PROCEDURE_1, false, false, false, 20},
    {OXL_PROCEDURE_2, true, false, false, 10},
    {OXL_PROCEDURE, true, true, true, 10},
    {0, true, true, true, 10},
};
enum { ROWS = sizeof as_documented / sizeof as_documented[0] };

static void each_has_its_own(void **state)
{
    (void)state;
    for (size_t i = 0; i < ROWS; i++) {
        struct car *c = car_by(as_documented[i].procedure);
        const struct oxl_rules *r = c->proc.rules;
        assert_int_equal(r->until_decided, as_documented[i].until_decided);
        assert_int_equal(c->proc.until_decided, as_documented[i].until_decided);
        assert_int_equal(r->watches_level, as_documented[i].watches_level);
        assert_int_equal(r->proves_rear, as_documented[i].proves_rear);
        assert_true(r->leak_offer_s == as_documented[i].leak_offer_s);
        car_free(c);
    }
}

/* Seconds from the rear's fall to the end of the timing, and whether the rear was called at once.
 */
static double watched_s(struct car *c, bool *called)
{
    assert_true(car_wait(c, OXL_STATE_ENRICHMENT, 60));
    c->rear = 0.8;
    car_glide(c, 1, c->stft, 0.95);
    car_glide(c, 6, -20, 1.0);
    assert_true(car_wait(c, OXL_STATE_RELEASE, 30));
    car_glide(c, 0.3, -20, 1.24);
    car_run(c, 2);
    c->rear = 0.04;
    car_run(c, 0.1);
    const int64_t fell_us = c->t_us;
    *called = c->proc.state == OXL_STATE_TIMING && car_heard(c, OXL_ADV_REAR_LEAN);
    assert_true(car_wait(c, OXL_STATE_RECOVERY, 20));
    return 1e-6 * (double)(c->t_us - fell_us);
}

static void a_rear_is_watched_on_by_the_third_only(void **state)
{
    (void)state;
    for (size_t i = 0; i < ROWS; i++) {
        struct car *c = car_by(as_documented[i].procedure);
        bool called, level = as_documented[i].watches_level;
        double s = watched_s(c, &called);
        assert_true(level ? s > 2.5 && s < 3.5 : s < 0.5);
        assert_int_equal(called, level);
        assert_int_equal(car_heard(c, OXL_ADV_REAR_LEAN), 1);
        car_free(c);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_has_its_own),
        cmocka_unit_test(a_rear_is_watched_on_by_the_third_only),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
