/* The first line of a recording. */
#include "oxylag/record.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <jansson.h>

static struct oxl_record_header example(void)
{
    struct oxl_record_header h = {
        .version = OXL_RECORD_VERSION,
        .program = "0.1.0",
        .started = "2024-06-11T14:03:27+02:00",
        .port = "sim:good",
        .simulated = true,
        .scenario = "good",
        .seed = UINT64_MAX,
        .order = "R.O. 4711 \"loaner\"",
        .inlet = "after the air meter",
        .note = "line one\nline two \xc2\xb5",
        .technician = "bay 3",
        .mask_vin = true,
        .bank = 2,
        .runs = 5,
        .speed_baud = 38400,
        .has_speed = true,
        .profile_given = true,
    };
    oxl_profile_defaults(&h.profile);
    /* Values that do not survive a careless print. */
    h.profile.band_pct = 8.1 + 0.2;
    h.profile.displacement_l = 10.0 / 3.0;
    h.profile.good_g_per_g_s = 0.137000000000000012;
    h.profile.runs = 4;
    return h;
}

static void header_survives(void **state)
{
    (void)state;
    char text[OXL_RECORD_LINE_MAX], first[8192], second[8192];
    struct oxl_record_header in = example(), out;
    struct oxl_error err = {0};
    memset(&out, 0xa5, sizeof out);
    size_t n = oxl_record_encode_header(&in, text, sizeof text);
    assert_true(n > 0);
    assert_int_equal(text[n - 1], '\n');
    assert_null(memchr(text, '\n', n - 1));
    if (oxl_record_decode_header(text, n - 1, &out, "f", &err) != OXL_OK)
        fail_msg("%s", err.text);
    assert_int_equal(out.version, in.version);
    assert_string_equal(out.program, in.program);
    assert_string_equal(out.started, in.started);
    assert_string_equal(out.port, in.port);
    assert_string_equal(out.scenario, in.scenario);
    assert_string_equal(out.order, in.order);
    assert_string_equal(out.inlet, in.inlet);
    assert_string_equal(out.note, in.note);
    assert_string_equal(out.technician, in.technician);
    assert_true(out.simulated && out.mask_vin && out.has_speed && out.profile_given);
    assert_true(out.seed == UINT64_MAX);
    assert_int_equal(out.bank, 2);
    assert_int_equal(out.runs, 5);
    assert_int_equal(out.speed_baud, 38400);
    assert_true(out.profile.band_pct == in.profile.band_pct);
    assert_true(out.profile.displacement_l == in.profile.displacement_l);
    assert_true(out.profile.good_g_per_g_s == in.profile.good_g_per_g_s);
    assert_int_equal(out.profile.runs, 4);
    assert_true(isnan(out.profile.balance_v) == isnan(in.profile.balance_v));
    oxl_profile_format(&in.profile, first, sizeof first);
    oxl_profile_format(&out.profile, second, sizeof second);
    assert_string_equal(first, second);
}

static void small_buffer_is_refused(void **state)
{
    (void)state;
    static char text[OXL_RECORD_LINE_MAX];
    struct oxl_record_header h = example();
    size_t n = oxl_record_encode_header(&h, text, sizeof text);
    for (size_t room = 0; room <= n; room += 37) {
        char *small = malloc(room ? room : 1);
        assert_non_null(small);
        assert_int_equal(oxl_record_encode_header(&h, small, room), 0);
        free(small);
    }
}

static json_t *example_json(void)
{
    char text[OXL_RECORD_LINE_MAX];
    struct oxl_record_header h = example();
    size_t n = oxl_record_encode_header(&h, text, sizeof text);
    json_t *root = json_loadb(text, n, 0, NULL);
    assert_non_null(root);
    return root;
}

/* Decodes after one member was replaced (or dropped, when value is NULL); says must be said. */
static void expect_refusal(const char *member, json_t *value, const char *says)
{
    struct oxl_record_header out;
    struct oxl_error err = {0};
    json_t *root = example_json();
    if (value)
        json_object_set_new(root, member, value);
    else
        json_object_del(root, member);
    char *text = json_dumps(root, JSON_COMPACT);
    json_decref(root);
    memset(&out, 0x5a, sizeof out);
    enum oxl_status s = oxl_record_decode_header(text, strlen(text), &out, "x.jsonl", &err);
    free(text);
    if (s != OXL_ERR_FORMAT)
        fail_msg("accepted with wrong %s", member);
    assert_non_null(strstr(err.text, "x.jsonl"));
    if (!strstr(err.text, says))
        fail_msg("%s gave: %s", member, err.text);
    for (size_t i = 0; i < sizeof out; i++) /* unchanged on error */
        assert_int_equal(((const unsigned char *)&out)[i], 0x5a);
}

static void every_member_is_needed(void **state)
{
    (void)state;
    json_t *root = example_json(), *value;
    const char *name;
    unsigned members = 0;
    json_object_foreach(root, name, value)
    {
        if (strcmp(name, "schedule") != 0 && strcmp(name, "procedure") != 0)
            expect_refusal(name, NULL, name);
        expect_refusal(name, json_real(1.5), name);
        members++;
    }
    assert_int_equal(members, 21);
    json_decref(root);
}

/* Each procedure by its number, and none that this program does not know. */
static void each_procedure_by_its_number(void **state)
{
    (void)state;
    struct oxl_record_header out;
    struct oxl_error err;
    for (int k = OXL_PROCEDURE_1; k <= OXL_PROCEDURE + 1; k++) {
        json_t *root = example_json();
        json_object_set_new(root, "procedure", json_integer(k));
        char *text = json_dumps(root, JSON_COMPACT);
        enum oxl_status st = oxl_record_decode_header(text, strlen(text), &out, "x.jsonl", &err);
        assert_int_equal(st == OXL_OK, k <= OXL_PROCEDURE);
        if (st == OXL_OK)
            assert_int_equal(out.procedure, k);
        free(text);
        json_decref(root);
    }
}

/* The first rules had no number in recordings; what is written new has today's. */
static void rules_that_are_missing_are_the_first(void **state)
{
    (void)state;
    struct oxl_record_header out;
    struct oxl_error err;
    json_t *root = example_json();
    for (int missing = 0; missing < 2; missing++) {
        char *text = json_dumps(root, JSON_COMPACT);
        assert_int_equal(oxl_record_decode_header(text, strlen(text), &out, "x.jsonl", &err),
                         OXL_OK);
        assert_int_equal(out.schedule, missing ? OXL_SCHEDULE_1 : OXL_SCHEDULE);
        assert_int_equal(out.procedure, missing ? OXL_PROCEDURE_1 : OXL_PROCEDURE);
        free(text);
        json_object_del(root, "schedule");
        json_object_del(root, "procedure");
    }
    json_decref(root);
}

/* A recording of before a key was made: the profile has that key's default. */
static void a_profile_with_a_key_missing(void **state)
{
    (void)state;
    struct oxl_record_header out;
    struct oxl_profile usual;
    struct oxl_error err;
    json_t *root = example_json();
    json_object_set_new(root, "profile", json_string("[baseline]\nband_pct = 3.5\n"));
    char *text = json_dumps(root, JSON_COMPACT);
    assert_int_equal(oxl_record_decode_header(text, strlen(text), &out, "x.jsonl", &err), OXL_OK);
    oxl_profile_defaults(&usual);
    assert_true(out.profile.band_pct == 3.5);
    assert_true(out.profile.target_pct == usual.target_pct && out.profile.bad_s == usual.bad_s);
    assert_int_equal(out.profile.runs, usual.runs);
    free(text);
    json_decref(root);
}

static void wrong_values_are_told(void **state)
{
    (void)state;
    char longer[200];
    memset(longer, 'y', sizeof longer - 1);
    longer[sizeof longer - 1] = '\0';
    expect_refusal("format", json_string("other"), "is not a recording");
    expect_refusal("version", json_integer(2), "version 2");
    expect_refusal("bank", json_integer(0), "from 1 to 2");
    expect_refusal("bank", json_integer(3), "from 1 to 2");
    expect_refusal("runs", json_integer(-1), "from 0 to 99");
    expect_refusal("seed", json_string("-1"), "below 2^64");
    expect_refusal("seed", json_string(""), "below 2^64");
    expect_refusal("seed", json_string("18446744073709551616"), "below 2^64");
    expect_refusal("order", json_string(longer), "at most 127 bytes");
    expect_refusal("port", json_stringn("a\0b", 3), "a text");
    expect_refusal("profile", json_string("[baseline]\nband_pct = many\n"), "band_pct");
}

static void what_is_no_recording_is_told(void **state)
{
    (void)state;
    static const char *const texts[] = {
        "", "t_s,value", "[]", "{}", "{\"format\":1}", "{\"t\":1,\"tick\":true}", "null"};
    for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) {
        struct oxl_record_header out;
        struct oxl_error err = {0};
        assert_int_equal(
            oxl_record_decode_header(texts[i], strlen(texts[i]), &out, "notes.txt", &err),
            OXL_ERR_FORMAT);
        assert_non_null(strstr(err.text, "notes.txt is not a recording"));
    }
}

static void unknown_members_are_ignored(void **state)
{
    (void)state;
    struct oxl_record_header out;
    struct oxl_error err = {0};
    json_t *root = example_json();
    json_object_set_new(root, "later", json_true());
    char *text = json_dumps(root, 0);
    json_decref(root);
    assert_int_equal(oxl_record_decode_header(text, strlen(text), &out, "f", &err), OXL_OK);
    free(text);
}

/* Made from a table: the channels and steps survive; nonsense is refused. */
/* Written only where it is so: a test's header stays as it was. */
static void inspection_survives(void **state)
{
    (void)state;
    static char text[OXL_RECORD_LINE_MAX];
    struct oxl_record_header in = example(), out;
    for (int is = 0; is < 2; is++) {
        in.inspection = is;
        size_t n = oxl_record_encode_header(&in, text, sizeof text);
        assert_true(n > 0);
        assert_int_equal(strstr(text, "\"inspection\":true") != NULL, is);
        assert_int_equal(oxl_record_decode_header(text, n - 1, &out, "f", NULL), OXL_OK);
        assert_int_equal(out.inspection, is);
    }
    expect_refusal("inspection", json_integer(1), "true or false");
}

static void the_customers_vehicle_survives(void **state)
{
    (void)state;
    static char text[OXL_RECORD_LINE_MAX];
    struct oxl_record_header in = example(), out;
    size_t n = oxl_record_encode_header(&in, text, sizeof text);
    assert_null(strstr(text, "\"plate\"")); /* what was not given is as it was before */
    strcpy(in.plate, "M\xC3\x9C-T 12");
    strcpy(in.odometer, "123456 km");
    strcpy(in.vehicle, "blue estate, 2008");
    in.mask_vin = false;
    n = oxl_record_encode_header(&in, text, sizeof text);
    assert_int_equal(oxl_record_decode_header(text, n - 1, &out, "f", NULL), OXL_OK);
    assert_string_equal(out.plate, in.plate);
    assert_string_equal(out.odometer, in.odometer);
    assert_string_equal(out.vehicle, in.vehicle);
    in.mask_vin = true;
    n = oxl_record_encode_header(&in, text, sizeof text);
    assert_int_equal(oxl_record_decode_header(text, n - 1, &out, "f", NULL), OXL_OK);
    assert_string_equal(out.plate, "***");
    assert_string_equal(out.odometer, in.odometer);
    assert_string_equal(out.vehicle, "***");
    expect_refusal("plate", json_integer(1), "a text");
    expect_refusal("odometer", json_string("123456789012345678901234567890 km"), "31 bytes");
}

static void imported_survives(void **state)
{
    (void)state;
    static char text[OXL_RECORD_LINE_MAX], bad[OXL_RECORD_LINE_MAX];
    struct oxl_record_header in = example(), out;
    struct oxl_error err = {0};
    in.imported = (struct oxl_imported){.on = true,
                                        .resampled = true,
                                        .table = "log \"3\".csv",
                                        .table_sha256 = "ab12",
                                        .channels_n = 3,
                                        .row_us = 126000};
    in.imported.channels[0] = oxl_channel(OXL_Q_LAMBDA, 2, 1);
    in.imported.channels[1] = oxl_channel(OXL_Q_O2_V, 2, 2);
    in.imported.channels[2] = oxl_channel(OXL_Q_RPM, 0, 0);
    in.imported.step_us[1] = 400000;
    size_t n = oxl_record_encode_header(&in, text, sizeof text);
    assert_true(n > 0);
    if (oxl_record_decode_header(text, n - 1, &out, "f", &err) != OXL_OK)
        fail_msg("%s", err.text);
    assert_memory_equal(&out.imported, &in.imported, sizeof in.imported);
    static const char *const wrongs[][2] = {{"lambda_b2s1", "lambda_b9s1"},
                                            {"[0,400000,0]", "[0,400000]"},
                                            {"[0,400000,0]", "[0,-4,0]"},
                                            {"\"resampled\":true", "\"resampled\":1"},
                                            {"\"row_us\":126000", "\"row_us\":-1"}};
    for (size_t i = 0; i < sizeof wrongs / sizeof wrongs[0]; i++) {
        const char *at = strstr(text, wrongs[i][0]);
        assert_non_null(at);
        int len = snprintf(bad, sizeof bad, "%.*s%s%s", (int)(at - text), text, wrongs[i][1],
                           at + strlen(wrongs[i][0]));
        assert_int_equal(oxl_record_decode_header(bad, (size_t)len - 1, &out, "f", &err),
                         OXL_ERR_FORMAT);
    }
}

/* ---- memory ---- */

static int held; /* pieces that jansson holds */

static void *take(size_t n)
{
    held++;
    return malloc(n);
}

static void give_back(void *p)
{
    held -= p != NULL;
    free(p);
}

/* Read or refused: nothing of it stays in memory. A folder of recordings has thousands of them. */
static void no_header_stays_in_memory(void **state)
{
    (void)state;
    char text[OXL_RECORD_LINE_MAX];
    struct oxl_record_header in = example(), out;
    struct oxl_error err = {0};
    size_t n = oxl_record_encode_header(&in, text, sizeof text);
    json_set_alloc_funcs(take, give_back);
    assert_int_equal(oxl_record_decode_header(text, n - 1, &out, "f", &err), OXL_OK);
    int after_one = held;
    assert_int_equal(oxl_record_decode_header("{\"oxylag\":0}", 12, &out, "f", &err),
                     OXL_ERR_FORMAT);
    assert_int_equal(oxl_record_decode_header("{", 1, &out, "f", &err), OXL_ERR_FORMAT);
    json_set_alloc_funcs(malloc, free);
    assert_int_equal(after_one, 0);
    assert_int_equal(held, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(inspection_survives),
        cmocka_unit_test(imported_survives),
        cmocka_unit_test(the_customers_vehicle_survives),
        cmocka_unit_test(no_header_stays_in_memory),
        cmocka_unit_test(header_survives),
        cmocka_unit_test(small_buffer_is_refused),
        cmocka_unit_test(every_member_is_needed),
        cmocka_unit_test(each_procedure_by_its_number),
        cmocka_unit_test(rules_that_are_missing_are_the_first),
        cmocka_unit_test(a_profile_with_a_key_missing),
        cmocka_unit_test(wrong_values_are_told),
        cmocka_unit_test(what_is_no_recording_is_told),
        cmocka_unit_test(unknown_members_are_ignored),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
