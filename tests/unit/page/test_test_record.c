/* What is kept of the events, the growing buffer, the report in JSON, and CSV. */
#define _XOPEN_SOURCE 700 /* popen */
#include "oxylag/report.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>
#include <jansson.h>

#include "help_record.h"

static void events_are_collected(void **state)
{
    (void)state;
    const struct oxl_test_record *s = story_low();
    assert_int_equal(s->checks_n, 5); /* closed-loop came twice */
    assert_string_equal(s->checks[0].id, "closed-loop");
    assert_int_equal(s->checks[0].grade, OXL_GRADE_PASS);
    assert_int_equal(s->runs_n, 3);
    assert_int_equal(s->run_t_us[1], 120000000);
    assert_true(s->has_result);
    assert_int_equal(s->last_state, OXL_STATE_DONE);
    assert_int_equal(s->notes_n, 2);
    assert_string_equal(s->notes[0].text, "Passed by hand.");
    assert_string_equal(s->notes[1].text, "wet cloth on the flange");
    assert_string_equal(s->profile_why, "given by the user");
    assert_true(s->baseline_trim_pct == 2.34375);
    s = story_stopped();
    assert_false(s->has_result);
    assert_int_equal(s->last_state, OXL_STATE_STOPPED);
    assert_non_null(strstr(s->stopped_why, "switch the ignition on"));
    assert_true(isnan(s->baseline_trim_pct));
}

/* A profile that the session chose by itself comes with its own numbers. */
static void chosen_profile_is_found(void **state)
{
    (void)state;
    static struct oxl_test_record s;
    struct oxl_record_header h = {.version = OXL_RECORD_VERSION};
    oxl_profile_defaults(&h.profile);
    assert_true(oxl_profile_builtin_count() > 0);
    for (size_t i = 0; i < oxl_profile_builtin_count(); i++) {
        struct oxl_profile p;
        oxl_profile_defaults(&p);
        assert_int_equal(oxl_profile_parse(oxl_profile_builtin_text(i), "built-in", &p, NULL),
                         OXL_OK);
        p.bad_s += 0.25; /* not what the program has built in */
        struct oxl_event ev = {.kind = OXL_EV_PROFILE};
        ev.u.profile.profile = &p;
        strcpy(ev.u.profile.name, oxl_profile_builtin_name(i));
        strcpy(ev.u.profile.why, "chosen");
        oxl_test_record_init(&s, &h);
        oxl_test_record_event(&s, &ev);
        assert_string_equal(s.profile.name, p.name);
        assert_true(s.profile.bad_s == p.bad_s);
    }
}

/* Said again under its number, it takes the place of what was said before. */
static void a_run_that_is_taken_back_stands_once(void **state)
{
    (void)state;
    struct oxl_test_record *s = story_low();
    struct oxl_event ev = {.kind = OXL_EV_RUN, .t_us = 1, .u.run = s->runs[2]};
    ev.u.run.reasons = OXL_REASON_BIT(OXL_R_BASELINE_DRIFT);
    oxl_test_record_event(s, &ev);
    assert_int_equal(s->runs_n, 3);
    assert_false(oxl_reasons_has(s->runs[1].reasons, OXL_R_BASELINE_DRIFT));
    assert_int_equal(s->runs[2].reasons, OXL_REASON_BIT(OXL_R_BASELINE_DRIFT));
    assert_true(s->run_t_us[2] > 1); /* when it was over */
}

/* More of anything than there is room for: the first ones stay, nothing is overrun. */
static void floods_are_bounded(void **state)
{
    (void)state;
    static struct oxl_test_record s;
    oxl_test_record_init(&s, NULL);
    for (int i = 0; i < 200; i++) {
        struct oxl_event ev = {.kind = OXL_EV_RUN, .t_us = i};
        ev.u.run.run = i + 1;
        oxl_test_record_event(&s, &ev);
        ev = (struct oxl_event){.kind = OXL_EV_CHECK};
        snprintf(ev.u.check.id, sizeof ev.u.check.id, "check-%d", i);
        oxl_test_record_event(&s, &ev);
        ev = (struct oxl_event){.kind = OXL_EV_MARK, .t_us = i};
        memset(ev.u.mark.text, 'm', sizeof ev.u.mark.text - 1);
        oxl_test_record_event(&s, &ev);
        ev = (struct oxl_event){.kind = OXL_EV_ADVICE, .t_us = i};
        ev.u.advice.advice = OXL_ADV_OVERRIDE;
        memset(ev.u.advice.detail, 'd', sizeof ev.u.advice.detail - 1);
        oxl_test_record_event(&s, &ev);
    }
    assert_int_equal(s.runs_n, OXL_RECORD_MAX_RUNS);
    assert_int_equal(s.runs[OXL_RECORD_MAX_RUNS - 1].run, OXL_RECORD_MAX_RUNS);
    assert_int_equal(s.checks_n, OXL_RECORD_MAX_CHECKS);
    assert_int_equal(s.notes_n, OXL_RECORD_MAX_NOTES);
    assert_int_equal(strlen(s.notes[1].text), sizeof s.notes[1].text - 1);
    struct oxl_buf b = {0};
    oxl_report_json(&s, &b);
    assert_false(b.failed);
    oxl_buf_free(&b);
}

static void buffer_grows(void **state)
{
    (void)state;
    struct oxl_buf b = {0};
    for (int i = 0; i < 5000; i++)
        oxl_buf_add(&b, "%d,", i);
    oxl_buf_add(&b, "%s", "");
    assert_false(b.failed);
    assert_int_equal(b.len, 10 * 2 + 90 * 3 + 900 * 4 + 4000 * 5);
    assert_int_equal(strlen(b.data), b.len);
    assert_memory_equal(b.data, "0,1,2,3,", 8);
    assert_string_equal(b.data + b.len - 5, "4999,");
    oxl_buf_free(&b);
    assert_null(b.data);
}

static json_t *report(const struct oxl_test_record *s)
{
    struct oxl_buf b = {0};
    json_error_t e;
    oxl_report_json(s, &b);
    assert_false(b.failed);
    json_t *root = json_loadb(b.data, b.len, JSON_REJECT_DUPLICATES, &e);
    if (!root)
        fail_msg("%s", e.text);
    oxl_buf_free(&b);
    return root;
}

static const json_t *at(const json_t *root, const char *a, const char *b)
{
    const json_t *v = json_object_get(root, a);
    v = b ? json_object_get(v, b) : v;
    if (!v)
        fail_msg("no %s %s", a, b ? b : "");
    return v;
}

static void json_holds_the_story(void **state)
{
    (void)state;
    json_t *root = report(story_low());
    assert_string_equal(json_string_value(at(root, "format", NULL)), "oxylag-report");
    assert_true(json_is_false(at(root, "simulated", NULL)));
    assert_string_equal(json_string_value(at(root, "header", "order")), "R.O. 4711");
    assert_string_equal(json_string_value(at(root, "vehicle", "vin")), "ZZZTEST0X00000042");
    assert_string_equal(json_string_value(at(root, "result", "verdict")), "bad");
    assert_true(json_real_value(at(root, "result", "delay_s")) == 1.26);
    assert_string_equal(json_string_value(at(root, "profile", "name")), "made-up");
    assert_int_equal(json_array_size(at(root, "runs", NULL)), 3);
    assert_int_equal(json_array_size(at(root, "checks", NULL)), 5);
    assert_int_equal(json_array_size(at(root, "notes", NULL)), 2);
    assert_int_equal(json_array_size(at(root, "cautions", NULL)), OXL_CAUTIONS);
    const json_t *run = json_array_get(at(root, "runs", NULL), 1);
    assert_true(json_real_value(json_object_get(run, "t_s")) == 120.0);
    assert_true(json_real_value(json_object_get(run, "delay_s")) == 1.24);
    json_decref(root);
}

static void json_keeps_unknown_unknown(void **state)
{
    (void)state;
    json_t *root = report(story_stopped());
    static const char *const nulls[] = {"result", "recording", "sha256", "baseline_trim_pct"};
    for (size_t i = 0; i < sizeof nulls / sizeof nulls[0]; i++)
        assert_true(json_is_null(at(root, nulls[i], NULL)));
    assert_true(json_is_null(at(root, "vehicle", "vin")));
    assert_string_equal(json_string_value(at(root, "last_state", NULL)), "stopped");
    json_decref(root);
    root = report(story_held());
    assert_true(json_is_null(at(root, "result", "delay_s")));
    assert_true(json_is_null(at(root, "result", "rpm")));
    assert_true(json_is_null(at(root, "result", "good_limit_mg")));
    assert_string_equal(json_string_value(at(root, "vehicle", "vin")), "ZZZTEST0*********");
    json_decref(root);
}

/* jq, a reader that is not ours, finds the verdict. */
static void jq_reads_it(void **state)
{
    (void)state;
    char path[] = "/tmp/oxl-report-XXXXXX", command[200], line[200] = "";
    struct oxl_buf b = {0};
    oxl_report_json(story_low(), &b);
    int fd = mkstemp(path);
    assert_true(fd >= 0);
    assert_int_equal(write(fd, b.data, b.len), b.len);
    close(fd);
    oxl_buf_free(&b);
    snprintf(command, sizeof command,
             "jq -r '[.result.verdict, (.runs|length), .runs[2].reasons[0]] | join(\" \")' %s",
             path);
    FILE *p = popen(command, "r");
    assert_non_null(p);
    char *got = fgets(line, sizeof line, p);
    int status = pclose(p);
    unlink(path);
    if (status == 127 << 8)
        skip(); /* no jq here */
    assert_non_null(got);
    assert_string_equal(line, "bad 3 rpm-unsteady\n");
}

static void csv_has_a_row_a_sample(void **state)
{
    (void)state;
    struct oxl_buf b = {0};
    struct oxl_sample s = {.channel = oxl_channel(OXL_Q_LAMBDA, 1, 1),
                           .value = 0.1 + 0.2,
                           .sent_us = 1000000,
                           .recv_us = 1034567,
                           .ecu = 0x7e8};
    oxl_report_csv_header(&b);
    oxl_report_csv_sample(&s, OXL_STATE_TIMING, 2, "a.jsonl", &b);
    s.channel = oxl_channel(OXL_Q_STFT_PCT, 1, 0);
    s.value = NAN;
    oxl_report_csv_sample(&s, OXL_STATE_PRECHECK, 0, "a,\"b\".jsonl", &b);
    assert_string_equal(b.data,
                        "recv_s,sent_s,channel,value,unit_address,state,run,recording\n"
                        "1.034567,1.000000,lambda_b1s1,0.30000000000000004,0x7E8,timing,2,a.jsonl\n"
                        "1.034567,1.000000,stft_b1_pct,,0x7E8,precheck,0,"
                        "\"a,\"\"b\"\".jsonl\"\n");
    oxl_buf_free(&b);
}

/* docs/exports.md: no name of a file is computed by a spreadsheet, none hides anything. */
static void csv_names_of_files_are_text(void **state)
{
    (void)state;
    static const struct {
        const char *name, *field;
    } rows[] = {{"=1+1.jsonl", "'=1+1.jsonl"},
                {"+1", "'+1"},
                {"-1", "'-1"},
                {"@a", "'@a"},
                {"\t=a", "\"' =a\""},
                {"\r=a", "\"' =a\""},
                {" =a", "\"' =a\""},
                {"'a", "''a"},
                {"\xEF\xBC\x9D"
                 "1",
                 "'\xEF\xBC\x9D"
                 "1"},
                {"=a,\"b\"", "\"'=a,\"\"b\"\"\""},
                {"a;=1", "\"a;=1\""},
                {"a=1-2@b", "a=1-2@b"},
                {"a\x1b[2J\nb\xF3\xA0\x81\xA1"
                 "c\xFE",
                 "a?[2J b?c?"},
                {"M\xC3\xBCller", "M\xC3\xBCller"},
                {"", ""}};
    struct oxl_sample s = {.channel = oxl_channel(OXL_Q_STFT_PCT, 1, 0), .value = -1.5};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct oxl_buf b = {0};
        char want[160];
        snprintf(want, sizeof want, "0.000000,0.000000,stft_b1_pct,-1.5,0x0,timing,1,%s\n",
                 rows[i].field);
        oxl_report_csv_sample(&s, OXL_STATE_TIMING, 1, rows[i].name, &b);
        assert_string_equal(b.data, want);
        oxl_buf_free(&b);
    }
}

/* No channel's name needs quoting. */
static void csv_names_are_plain(void **state)
{
    (void)state;
    for (unsigned q = 0; q < OXL_Q_COUNT; q++) {
        char name[32];
        oxl_channel_name(oxl_channel((enum oxl_quantity)q, 4, 4), name, sizeof name);
        assert_int_equal(strcspn(name, ",\"\r\n "), strlen(name));
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(events_are_collected),
        cmocka_unit_test(chosen_profile_is_found),
        cmocka_unit_test(a_run_that_is_taken_back_stands_once),
        cmocka_unit_test(floods_are_bounded),
        cmocka_unit_test(buffer_grows),
        cmocka_unit_test(json_holds_the_story),
        cmocka_unit_test(json_keeps_unknown_unknown),
        cmocka_unit_test(jq_reads_it),
        cmocka_unit_test(csv_has_a_row_a_sample),
        cmocka_unit_test(csv_names_of_files_are_text),
        cmocka_unit_test(csv_names_are_plain),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
