/* The pre-check of a test and the inspection, asked about the same vehicle: the same line says the
 * same in both. Every trouble code that there can be goes through both, on either bank. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "help_car.h"
#include "long.h"
#include "oxylag/inspect.h"
#include "proc/inspect.h"

/* Two banks, each with a front of wide range and a switching rear. */
static struct car *car_of_two_banks(unsigned bank)
{
    static const uint8_t rears[4] = {0x01, 0x80, 0x08, 0x80}; /* 15 and 19; 08 and 09, the trims */
    static const uint8_t fronts[4] = {0x11, 0, 0, 0};         /* 24 and 28 */
    struct car *c = car_new();
    oxl_support_add(&c->vehicle.support, 0x20, fronts);
    oxl_support_add(&c->vehicle.support, 0x00, rears);
    c->vehicle.decoding.sensors = 0x33;
    c->vehicle.dtcs[OXL_DTC_PERMANENT].known = true;
    c->proc.bank = bank;
    car_survey(c);
    return c;
}

static struct oxl_inspection *inspection_of(const struct oxl_vehicle *v, unsigned bank)
{
    struct oxl_inspection *i = calloc(1, sizeof *i);
    assert_non_null(i);
    i->bank = bank;
    i->vehicle = *v;
    i->front_hz = i->rear_hz = i->round_ms = NAN;
    for (unsigned b = 1; b <= 2; b++)
        i->pair[b - 1] = oxl_vehicle_pair(v, b);
    i->onboard.ecus_n = 1;
    i->onboard.ecus[0].ecu = v->ecu;
    return i;
}

static void inspect_again(struct oxl_inspection *i, const struct oxl_profile *profile)
{
    const struct oxl_session_config config = {.profile = *profile, .bank = i->bank};
    i->checks_n = i->sections_n = 0;
    i->worst = OXL_GRADE_UNKNOWN;
    oxl_inspect_lines(i, &config);
}

static const struct oxl_check *line_of(const struct oxl_inspection *i, const char *id)
{
    for (size_t n = 0; n < i->checks_n; n++)
        if (strcmp(i->checks[n].id, id) == 0)
            return &i->checks[n];
    return NULL;
}

/* ---- trouble codes --------------------------------------------------------------------------- */
static struct oxl_check said_of(struct car *c, const char *list, uint16_t *codes, size_t *n,
                                uint16_t code)
{
    char id[24];
    snprintf(id, sizeof id, "codes-%s", list);
    codes[0] = code;
    *n = 1;
    c->log_n = 0;
    c->proc.kept.reasons = 0;
    c->proc.gates.stop.id[0] = '\0';
    oxl_precheck_survey(&c->proc);
    struct oxl_check said = *car_check(c, id);
    *n = 0;
    return said;
}

static const struct oxl_check *shown_of(struct oxl_inspection *i, const char *list,
                                        struct oxl_dtc_list *codes, uint16_t code,
                                        const struct oxl_profile *profile)
{
    char text[6], id[24];
    oxl_dtc_text(code, text);
    snprintf(id, sizeof id, "%s-%s", list, text);
    codes->codes[0] = code;
    codes->n = 1;
    inspect_again(i, profile);
    codes->n = 0;
    return line_of(i, id);
}

static void same(uint16_t code, const struct oxl_check *run, const struct oxl_check *inspected)
{
    const char *next = oxl_dtc_family(code)->next;
    char text[6];
    oxl_dtc_text(code, text);
    if (!inspected) {
        fail_msg("%s: no line in the inspection", text);
        return;
    }
    if (run->grade != inspected->grade)
        fail_msg("%s: run %s, inspect %s", text, oxl_grade_name(run->grade),
                 oxl_grade_name(inspected->grade));
    assert_non_null(strstr(run->found, text));
    if (run->grade == OXL_GRADE_PASS)
        return;
    /* The same words, before which the list names the code. */
    assert_int_equal(strncmp(run->advice, text, 5), 0);
    assert_string_equal(run->advice + strlen("P0420: "), inspected->advice);
    assert_true(strlen(next) > 8 && strstr(inspected->advice, next));
}

static void every_code_is_graded_alike(void **state)
{
    (void)state;
    static const char *const lists[] = {"stored", "pending", "permanent"};
    for (unsigned bank = 1; bank <= 2; bank++) {
        struct car *c = car_of_two_banks(bank);
        struct oxl_vehicle *v = &c->vehicle;
        struct oxl_inspection *i = inspection_of(v, bank);
        struct oxl_ecu_info *e = &i->onboard.ecus[0];
        uint16_t *codes[] = {v->dtcs[OXL_DTC_STORED].codes, v->dtcs[OXL_DTC_PENDING].codes,
                             v->dtcs[OXL_DTC_PERMANENT].codes};
        size_t *counts[] = {&v->dtcs[OXL_DTC_STORED].n, &v->dtcs[OXL_DTC_PENDING].n,
                            &v->dtcs[OXL_DTC_PERMANENT].n};
        struct oxl_dtc_list *shown[] = {&e->dtcs[OXL_DTC_STORED], &e->dtcs[OXL_DTC_PENDING],
                                        &e->dtcs[OXL_DTC_PERMANENT]};
        assert_int_equal(c->proc.pair.rear.bank, bank);
        for (unsigned l = 0; l < 3; l++) {
            unsigned graded[4] = {0};
            /* All of them stored; powertrain codes in the other lists, too. (By default every
             * powertrain code stored before a test of bank 1, and one in 17 of the rest.) */
            unsigned some = long_or(1, 17), each = l == 0 && bank == 1 ? 1 : some;
            for (unsigned code = 1; code < (l == 0 ? 0x10000u : 0x4000u);
                 code += code < 0x4000u ? each : some) {
                struct oxl_check run = said_of(c, lists[l], codes[l], counts[l], (uint16_t)code);
                same((uint16_t)code, &run,
                     shown_of(i, lists[l], shown[l], (uint16_t)code, &c->proc.profile));
                graded[run.grade]++;
                assert_int_equal(oxl_reasons_has(c->proc.kept.reasons, OXL_R_CODES_PRESENT),
                                 run.grade >= OXL_GRADE_CAUTION);
            }
            assert_true(graded[OXL_GRADE_CAUTION] > 300 / some &&
                        graded[OXL_GRADE_PASS] > 4000 / some);
            assert_int_equal(graded[OXL_GRADE_STOP] > 0, l == 0);
        }
        free(i);
        car_free(c);
    }
}

/* What a code says of the test: a direction of its own, and whether it says it of this bank. */
static void codes_with_a_direction(void **state)
{
    (void)state;
    static const struct {
        uint16_t code;
        enum oxl_reason reason;
        bool second; /* names bank 2 */
    } rows[] = {
        {0x0133, OXL_R_FRONT_SLOW, false}, {0x0153, OXL_R_FRONT_SLOW, true},
        {0x014C, OXL_R_FRONT_SLOW, false}, {0x015B, OXL_R_FRONT_SLOW, false},
        {0x0139, OXL_R_REAR_SLOW, false},  {0x0159, OXL_R_REAR_SLOW, true},
        {0x013A, OXL_R_REAR_SLOW, false},  {0x013F, OXL_R_REAR_SLOW, false},
        {0x014A, OXL_R_REAR_SLOW, true},   {0x0036, OXL_R_REAR_SLOW, false},
        {0x0037, OXL_R_REAR_SLOW, false},  {0x0054, OXL_R_REAR_SLOW, false},
        {0x0141, OXL_R_REAR_SLOW, false},  {0x0161, OXL_R_REAR_SLOW, true},
        {0x0031, OXL_R_FRONT_SLOW, false}, {0x0135, OXL_R_FRONT_SLOW, false},
    };
    for (unsigned bank = 1; bank <= 2; bank++) {
        struct car *c = car_of_two_banks(bank);
        struct oxl_vehicle *v = &c->vehicle;
        for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
            bool own = (bank == 2) == rows[i].second;
            struct oxl_check said = said_of(c, "stored", v->dtcs[OXL_DTC_STORED].codes,
                                            &v->dtcs[OXL_DTC_STORED].n, rows[i].code);
            assert_int_equal(said.grade, own ? OXL_GRADE_CAUTION : OXL_GRADE_PASS);
            assert_int_equal(oxl_reasons_has(c->proc.kept.reasons, rows[i].reason), own);
            said_of(c, "permanent", v->dtcs[OXL_DTC_PERMANENT].codes, &v->dtcs[OXL_DTC_PERMANENT].n,
                    rows[i].code);
            assert_false(oxl_reasons_has(c->proc.kept.reasons, rows[i].reason));
        }
        assert_int_equal(
            said_of(c, "stored", v->dtcs[OXL_DTC_STORED].codes, &v->dtcs[OXL_DTC_STORED].n, 0x0351)
                .grade,
            OXL_GRADE_STOP); /* an ignition coil */
        assert_true(oxl_reasons_has(c->proc.kept.reasons, OXL_R_MISFIRE));
        said_of(c, "pending", v->dtcs[OXL_DTC_PENDING].codes, &v->dtcs[OXL_DTC_PENDING].n, 0x0304);
        assert_true(oxl_reasons_has(c->proc.kept.reasons, OXL_R_MISFIRE));
        assert_int_equal(
            said_of(c, "stored", v->dtcs[OXL_DTC_STORED].codes, &v->dtcs[OXL_DTC_STORED].n, 0x0040)
                .grade,
            OXL_GRADE_STOP); /* swapped, which what they show has to prove */
        assert_int_equal(c->proc.kept.reasons, OXL_REASON_BIT(OXL_R_CODES_PRESENT));
        said_of(c, "stored", v->dtcs[OXL_DTC_STORED].codes, &v->dtcs[OXL_DTC_STORED].n,
                0x4133); /* C0133 is no P code */
        assert_int_equal(c->proc.kept.reasons, 0);
        car_free(c);
    }
}

/* docs/patterns.md: with a stored P013A a long delay is no proof of a good converter. */
static void a_slow_rear_by_its_code_makes_good_conditional(void **state)
{
    (void)state;
    for (unsigned with = 0; with < 2; with++) {
        struct car *c = car_new();
        c->vehicle.dtcs[OXL_DTC_STORED].codes[0] = 0x013A;
        c->vehicle.dtcs[OXL_DTC_STORED].n = with;
        car_survey(c);
        car_run(c, 1);
        for (int i = 0; i < 3; i++)
            assert_true(car_pulse(c, -20, 9.0));
        car_run(c, 90);
        const struct oxl_event *r = car_last(c, OXL_EV_RESULT);
        assert_non_null(r);
        assert_int_equal(oxl_reasons_has(r->u.result.reasons, OXL_R_REAR_SLOW), with);
        assert_int_equal(r->u.result.verdict, with ? OXL_VERDICT_INCONCLUSIVE : OXL_VERDICT_GOOD);
        car_free(c);
    }
}

/* ---- the other lines ------------------------------------------------------------------------- */
static void read_now(struct oxl_inspection *i, enum oxl_quantity q, unsigned bank, double value)
{
    i->reading[i->readings_n++] =
        (struct oxl_sample){.channel = oxl_channel(q, bank, 0), .value = value};
}

static void read_engine(struct oxl_inspection *i, const struct car *c)
{
    i->readings_n = 0;
    read_now(i, OXL_Q_COOLANT_C, 0, c->coolant);
    read_now(i, OXL_Q_RUN_TIME_S, 0, c->run_time);
    read_now(i, OXL_Q_FUEL_SYSTEM, 1, c->fuel_system);
    read_now(i, OXL_Q_SPEED_KMH, 0, c->speed);
    read_now(i, OXL_Q_RPM, 0, c->rpm);
    read_now(i, OXL_Q_STFT_PCT, 1, c->stft);
    read_now(i, OXL_Q_LTFT_PCT, 1, c->ltft);
    i->front_refresh = c->proc.refreshes.front;
    i->rear_refresh = c->proc.refreshes.rear;
    i->trim_refresh = c->proc.refreshes.trim;
}

/* Every id that both have: grade, words and what to do. Returns how many there were. */
static unsigned compare_shared(const struct car *c, const struct oxl_inspection *i)
{
    unsigned shared = 0;
    for (size_t n = 0; n < i->checks_n; n++) {
        const struct oxl_check *line = &i->checks[n];
        const char *id = strcmp(line->id, "engine") == 0           ? "engine-runs"
                         : strcmp(line->id, "sensors-bank-1") == 0 ? "sensors"
                                                                   : line->id;
        for (size_t k = c->log_n; k > 0; k--) { /* the last of that id */
            const struct oxl_check *said = &c->log[k - 1].u.check;
            if (c->log[k - 1].kind != OXL_EV_CHECK || strcmp(said->id, id) != 0)
                continue;
            if (said->grade != line->grade || strcmp(said->found, line->found) != 0 ||
                strcmp(said->advice, line->advice) != 0)
                fail_msg("%s: run %s \"%s\" \"%s\", inspect %s \"%s\" \"%s\"", id,
                         oxl_grade_name(said->grade), said->found, said->advice,
                         oxl_grade_name(line->grade), line->found, line->advice);
            shared++;
            break;
        }
    }
    return shared;
}

static void one_id_says_one_thing(void **state)
{
    (void)state;
    static const struct {
        double coolant, run_time, speed, rpm, stft, ltft;
        uint8_t fuel_system;
        unsigned shared; /* 17; and the trims' room once there is a baseline */
    } rows[] = {
        {90, 600, 0, 750, 0.8, 1, 2, 18},   {45, 600, 0, 750, 0.8, 1, 2, 17},
        {90, 20, 0, 750, 0.8, 1, 2, 17},    {90, 600, 12, 750, 0.8, 1, 2, 17},
        {90, 600, 0, 0, 0.8, 1, 2, 17},     {90, 600, 0, 250, 0.8, 1, 2, 17},
        {90, 600, 0, 750, 0.8, 1, 1, 17},   {90, 600, 0, 750, 0.8, 1, 4, 17},
        {90, 600, 0, 750, 0.8, 1, 8, 17},   {90, 600, 0, 750, 0.8, 1, 0, 17},
        {90, 600, 0, 750, 0.8, 1, 16, 18},  {90, 600, 0, 750, 0.8, 1, 0x42, 18},
        {90, 600, 0, 750, 0.8, -9, 2, 18},  {90, 600, 0, 750, -7, 3, 2, 18},
        {90, 600, 0, 750, 6.3, 7.8, 2, 18}, {90, 600, 0, 750, -8, -4, 2, 18},
    };
    for (size_t r = 0; r < sizeof rows / sizeof *rows; r++) {
        struct car *c = car_new();
        c->coolant = rows[r].coolant;
        c->run_time = rows[r].run_time;
        c->speed = rows[r].speed;
        c->rpm = rows[r].rpm;
        c->stft = rows[r].stft;
        c->ltft = rows[r].ltft;
        c->fuel_system = rows[r].fuel_system;
        car_survey(c);
        car_run(c, 5);
        bool held = c->proc.state == OXL_STATE_PRECHECK;
        if (held)
            car_key(c, OXL_KEY_NOW); /* what was not heard of gets its line as well */
        else
            car_run(c, 12);
        struct oxl_inspection *i = inspection_of(&c->vehicle, 1);
        i->onboard.ecus[0].dtcs[OXL_DTC_STORED].known =
            i->onboard.ecus[0].dtcs[OXL_DTC_PENDING].known = true;
        read_engine(i, c);
        inspect_again(i, &c->proc.profile);
        assert_int_equal(compare_shared(c, i), rows[r].shared);
        assert_int_equal(held, rows[r].shared == 17);
        free(i);
        car_free(c);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_code_is_graded_alike),
        cmocka_unit_test(codes_with_a_direction),
        cmocka_unit_test(a_slow_rear_by_its_code_makes_good_conditional),
        cmocka_unit_test(one_id_says_one_thing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
