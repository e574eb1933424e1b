/* Scenario text: every built-in one loads; every slip is named with its line. */

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "help_plant.h"

static void accepts(const char *text)
{
    struct oxl_scenario *s = NULL;
    struct oxl_error err;
    if (oxl_scenario_parse(text, "car.ini", &s, &err) != OXL_OK)
        fail_msg("%s", err.text);
    oxl_scenario_free(s);
}

static void refuses(const char *text, const char *where, const char *what)
{
    struct oxl_scenario *s = (void *)1;
    struct oxl_error err = {0};
    assert_int_equal(oxl_scenario_parse(text, "car.ini", &s, &err), OXL_ERR_FORMAT);
    assert_null(s);
    if (strncmp(err.text, where, strlen(where)) != 0 || !strstr(err.text, what))
        fail_msg("\"%s\" lacks \"%s\" or \"%s\"", err.text, where, what);
}

static void test_builtins_load(void **state)
{
    (void)state;
    const char *wanted[] = {"good",
                            "aged",
                            "dead",
                            "over-propane",
                            "under-propane",
                            "kline",
                            "speed-density",
                            "switching-front",
                            "slow-rear",
                            "dead-rear",
                            "no-rear",
                            "lazy-front",
                            "open-loop",
                            "no-vehicle",
                            "garbage",
                            "silent-adapter",
                            "unplugged",
                            "cold",
                            "opened-port",
                            "residual-propane",
                            "leak-before-rear"};
    for (size_t i = 0; i < sizeof wanted / sizeof wanted[0]; i++)
        oxl_scenario_free(help_scenario(wanted[i]));
    assert_true(oxl_scenario_builtin_count() >= sizeof wanted / sizeof wanted[0]);
    for (size_t i = 0; i < oxl_scenario_builtin_count(); i++) {
        struct oxl_scenario *s = help_scenario(oxl_scenario_builtin_name(i));
        assert_string_equal(s->name, oxl_scenario_builtin_name(i));
        assert_true(strlen(s->title) > 10);
        assert_string_equal(s->title, oxl_scenario_builtin_title(i));
        oxl_scenario_free(s);
    }
    assert_string_equal(oxl_scenario_builtin_name(1000), "");
    assert_string_equal(oxl_scenario_builtin_title(1000), "");
}

static void test_unknown_name(void **state)
{
    (void)state;
    struct oxl_scenario *s;
    struct oxl_error err;
    assert_int_equal(oxl_scenario_load("goood", &s, &err), OXL_ERR_USAGE);
    assert_null(s);
    assert_non_null(strstr(err.text, "goood"));
    assert_non_null(strstr(err.text, "aged"));
}

static void test_values_arrive(void **state)
{
    (void)state;
    struct oxl_scenario *s = NULL;
    assert_int_equal(oxl_scenario_parse("[scenario]\ntitle = One of ours\n"
                                        "[ecu]\nfront = wide-volts\nhas_air = no\n"
                                        "[adapter]\nprotocol = 3\nlatency_ms = 12.5\n"
                                        "; a comment\n# another\n\n"
                                        "[plant]\nidle_rpm = 820\nbanks = 2\nclosed_loop = no\n"
                                        "[technician]\ndepth_pct = 15\n",
                                        "/some/where/my-car.ini", &s, NULL),
                     OXL_OK);
    assert_string_equal(s->name, "my-car");
    assert_string_equal(s->title, "One of ours");
    assert_string_equal(s->ecu.front, "wide-volts");
    assert_false(s->ecu.has_air);
    assert_int_equal(s->adapter.protocol, 3);
    assert_true(s->adapter.latency_ms == 12.5);
    assert_true(s->plant.idle_rpm == 820);
    assert_int_equal(s->plant.banks, 2);
    assert_false(s->plant.closed_loop);
    assert_true(s->plant.capacity_mg == 780); /* the default stands */
    assert_true(s->technician.depth_pct == 15);
    oxl_scenario_free(s);
}

/* Trainers keep scenario files: the words of versions up to 0.2 are read on. */
static void test_words_of_before_are_read(void **state)
{
    (void)state;
    struct oxl_error err = {0};
    struct oxl_scenario *s = NULL;
    static const char text[] =
        "[unit]\nfront = wide-volts\nsecond_unit = yes\ntwin_unit = yes\nmulti_item = no\n";
    assert_int_equal(oxl_scenario_parse(text, "car.ini", &s, &err), OXL_OK);
    assert_string_equal(s->ecu.front, "wide-volts");
    assert_true(s->ecu.second_ecu && s->ecu.twin_ecu && !s->ecu.multi_pid);
    oxl_scenario_free(s);
}

static void test_errors_name_the_line(void **state)
{
    (void)state;
    accepts("");
    refuses("[plant]\nidle_rmp = 800\n", "car.ini:2: ", "idle_rmp");
    refuses("[plant]\nidle_rmp = 800\n", "car.ini:2: ", "idle_rpm"); /* says what there is */
    refuses("# x\n\n[plant]\n# y\nidle_rpm = 99999\n", "car.ini:5: ", "from 400 to 3000");
    refuses("[plant]\nidle_rpm = fast\n", "car.ini:2: ", "a number");
    refuses("[plant]\nidle_rpm = 800 rpm\n", "car.ini:2: ", "a number");
    refuses("[plant]\nidle_rpm = nan\n", "car.ini:2: ", "a number");
    refuses("[plant]\nidle_rpm =\n", "car.ini:2: ", "a number");
    refuses("[plant]\nbanks = 1.5\n", "car.ini:2: ", "a whole number");
    refuses("[plant]\nbanks = -1\n", "car.ini:2: ", "from 1 to 2");
    refuses("[plant]\nclosed_loop = 1\n", "car.ini:2: ", "yes or no");
    refuses("[ecu]\nfront = narrow\n", "car.ini:2: ", "switching wide-volts wide-current");
    refuses("[ecu]\nfront = wide\n", "car.ini:2: ", "wide-volts"); /* no prefixes */
    refuses("[ecu]\nfront =\n", "car.ini:2: ", "switching");
    refuses("[plant]\ncatalyst_model = magic\n", "car.ini:2: ", "plug two-site tanks");
    refuses("[ecu]\nvin = 12345678901234567890\n", "car.ini:2: ", "17 characters");
    refuses("[engine]\nidle_rpm = 800\n", "car.ini:2: ", "plant technician");
    refuses("idle_rpm = 800\n", "car.ini:1: ", "unknown section");
    refuses("[plant]\nnonsense\n", "car.ini:2: ", "key = value");
    refuses("[plant\nidle_rpm = 800\n", "car.ini:1: ", "[section]");
    refuses("[technician]\nopen_per_s = 1e999\n", "car.ini:2: ", "a number");
}

/* The first slip is the one that is told. */
static void test_first_error_wins(void **state)
{
    (void)state;
    refuses("[plant]\nidle_rpm = x\ncells = y\n", "car.ini:2: ", "idle_rpm");
}

static void test_long_lines(void **state)
{
    (void)state;
    static char text[4000];
    memset(text, 'x', sizeof text - 1);
    memcpy(text, "[plant]\n#", 9);
    memcpy(text + 2000, "\nidle_rpm = no", 14);
    text[2014] = '\0';
    struct oxl_scenario *s;
    struct oxl_error err;
    assert_int_equal(oxl_scenario_parse(text, "car.ini", &s, &err), OXL_ERR_FORMAT);
    text[9] = '\n';
    assert_int_equal(oxl_scenario_parse(text, "car.ini", &s, &err), OXL_ERR_FORMAT);
}

static char *read_doc(void)
{
    FILE *f = fopen(OXL_SOURCE_DIR "/docs/scenarios.md", "rb");
    assert_non_null(f);
    char *text = calloc(1, 200000);
    size_t n = fread(text, 1, 199999, f);
    assert_true(n > 1000 && n < 199999);
    fclose(f);
    return text;
}

static void expect_in_doc(const char *doc, const char *word)
{
    char quoted[80];
    snprintf(quoted, sizeof quoted, "`%s`", word);
    if (!strstr(doc, quoted))
        fail_msg("docs/scenarios.md does not explain %s", quoted);
}

/* The manual knows every scenario and every key. */
static void test_manual_is_complete(void **state)
{
    (void)state;
    char *doc = read_doc();
    for (size_t i = 0; i < oxl_scenario_builtin_count(); i++)
        expect_in_doc(doc, oxl_scenario_builtin_name(i));
    for (size_t i = 0; i < oxl_plant_setting_count; i++)
        expect_in_doc(doc, oxl_plant_setting_table[i].key);
    for (size_t i = 0; i < oxl_tech_setting_count; i++)
        expect_in_doc(doc, oxl_tech_setting_table[i].key);
    for (size_t i = 0; i < oxl_ecu_setting_count; i++)
        expect_in_doc(doc, oxl_ecu_setting_table[i].key);
    for (size_t i = 0; i < oxl_adapter_setting_count; i++)
        expect_in_doc(doc, oxl_adapter_setting_table[i].key);
    free(doc);
}

/* Tables and structs agree: each default lies inside its own limits, each field is its own. */
static void check_table(const struct oxl_setting *t, size_t n, const void *base, size_t size)
{
    for (size_t i = 0; i < n; i++) {
        const char *at = (const char *)base + t[i].offset;
        assert_true(t[i].offset + t[i].size <= size);
        if (t[i].kind == 'd') {
            double v;
            memcpy(&v, at, sizeof v);
            if (!isnan(v) && !(v >= t[i].min && v <= t[i].max))
                fail_msg("default of %s", t[i].key);
        } else if (t[i].kind == 'u') {
            unsigned v;
            memcpy(&v, at, sizeof v);
            assert_true(v >= t[i].min && v <= t[i].max);
        } else {
            assert_true(t[i].kind == 'b' || t[i].kind == 't');
        }
        for (size_t k = 0; k < i; k++)
            assert_true(t[k].offset != t[i].offset && strcmp(t[k].key, t[i].key) != 0);
    }
}

static void test_tables(void **state)
{
    (void)state;
    struct oxl_scenario *s = NULL;
    assert_int_equal(oxl_scenario_parse("", "x", &s, NULL), OXL_OK);
    check_table(oxl_plant_setting_table, oxl_plant_setting_count, &s->plant, sizeof s->plant);
    check_table(oxl_tech_setting_table, oxl_tech_setting_count, &s->technician,
                sizeof s->technician);
    check_table(oxl_ecu_setting_table, oxl_ecu_setting_count, &s->ecu, sizeof s->ecu);
    check_table(oxl_adapter_setting_table, oxl_adapter_setting_count, &s->adapter,
                sizeof s->adapter);
    oxl_scenario_free(s);
    oxl_scenario_free(NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_builtins_load),
        cmocka_unit_test(test_unknown_name),
        cmocka_unit_test(test_values_arrive),
        cmocka_unit_test(test_words_of_before_are_read),
        cmocka_unit_test(test_errors_name_the_line),
        cmocka_unit_test(test_first_error_wins),
        cmocka_unit_test(test_long_lines),
        cmocka_unit_test(test_manual_is_complete),
        cmocka_unit_test(test_tables),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
