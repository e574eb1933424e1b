/* The printed page in both forms, by its words (test_page_fit.c: by its size). What poppler and a
 * browser say of it is in tests/e2e. */
#include "set/layout.h"

#include <ctype.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "unit/page/help_record.h"

static struct oxl_test_record first, second;
static struct oxl_tracks tracks;
static struct oxl_report_input told[2] = {{.record = &first, .tracks = &tracks},
                                          {.record = &second}};

static char *html(size_t n, struct oxl_buf *b)
{
    *b = (struct oxl_buf){0};
    oxl_report_html(told, n, OXL_PAPER_A4, b);
    assert_false(b->failed);
    assert_int_equal(strlen(b->data), b->len);
    return b->data;
}

static bool says(const char *text, const char *words)
{
    return strstr(text, words) != NULL;
}

static void must_say(const char *text, const char *words)
{
    if (!says(text, words))
        fail_msg("the page does not say \"%s\"", words);
}

static void everything_is_there(void **state)
{
    (void)state;
    struct oxl_buf b;
    first = *story_low();
    char *t = html(1, &b);
    static const char *const words[] = {
        "R.O. 4711",
        "bay 3",
        "2024-06-11 14:03:27",
        "ZZZTEST0X00000042",
        "after the air meter",
        "<h1>Converter oxygen storage: BAD</h1>",
        "1.31 s (1.10 to 1.46)",
        "82 mg (70 to 95)",
        "stored P0420; pending none; permanent not known; lamp on",
        "engine 704 rpm; the ECU refreshes front, rear and trims every 0.1 s",
        "Repeat with the leak check before the converter is replaced.",
        "The engine speed was not steady during the timing. (run 3)",
        "coolant 88 C",
        "common practice, no published source",
        "made-up (given by the user)",
        "0.2314 x air flow",
        "speed density with displacement 1.8 l",
        "Verify locally",
        "no emission test",
        "emission warranty",
        "Propane burns",
        "wet cloth on the flange",
        "Passed by hand.",
        "4711.jsonl, oxylag 0.1.0, SHA-256 ba7816bf8f01cfea414140de5dae2223",
        "Technician, date",
        "Customer, date",
        "Run 3, not counted"};
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++)
        must_say(t, words[i]);
    assert_false(says(t, "SIMULATED"));
    oxl_buf_free(&b);
}

static void unknown_is_said(void **state)
{
    (void)state;
    struct oxl_buf b;
    first = *story_held();
    char *t = html(1, &b);
    must_say(t, "SIMULATED - no vehicle was tested: scenario &quot;dead-rear&quot;, seed 7");
    must_say(t, "at least 12.34 s, the rear sensor held");
    must_say(t, "<dt>Oxygen stored</dt>\n<dd>not known</dd>");
    must_say(t, "air not known, engine not known");
    must_say(t, "not known: no air flow; 0.044 and 0.137 g");
    must_say(t, "ZZZTEST0*********");
    must_say(t, "its last line cut off");
    for (char *c = t; *c; c++)
        *c = (char)tolower((unsigned char)*c);
    assert_false(says(t, ">nan") || says(t, " nan") || says(t, ">inf") || says(t, " inf "));
    oxl_buf_free(&b);
    first = *story_stopped();
    t = html(1, &b);
    must_say(t, "No verdict: the test was not finished");
    must_say(t, "switch the ignition on");
    must_say(t, "No run was made");
    must_say(t, "No check was made.");
    must_say(t, "<dd class=\"blank\">"); /* lines to write on */
    assert_false(says(t, "<table"));
    oxl_buf_free(&b);
}

/* What was typed before the test; masked, nothing of it. */
static void the_customers_vehicle_is_on_the_page(void **state)
{
    (void)state;
    struct oxl_buf b;
    static struct oxl_inspection found;
    const struct oxl_report_input inspected = {.record = &first, .inspection = &found};
    for (int mask = 0; mask < 2; mask++) {
        first = *story_low();
        first.header.mask_vin = mask;
        strcpy(first.header.plate, "AB-CD 12");
        strcpy(first.header.odometer, "123456 km");
        strcpy(first.header.vehicle, "blue estate, 2008");
        char *t = html(1, &b);
        must_say(t, mask ? "<dd>123456 km, ***</dd>" : "<dd>123456 km, AB-CD 12</dd>");
        must_say(t, mask ? "<dt>Make, model, year</dt>\n<dd>***</dd>" : "blue estate, 2008");
        assert_int_equal(!mask, says(t, "AB-CD") && says(t, "blue estate"));
        oxl_buf_free(&b);
        b = (struct oxl_buf){0};
        oxl_report_html(&inspected, 1, OXL_PAPER_A4, &b);
        must_say(b.data, mask ? "123456 km, ***" : "123456 km, AB-CD 12");
        must_say(b.data, "R.O. 4711");
        assert_int_equal(mask, !says(b.data, "blue estate"));
        oxl_buf_free(&b);
    }
}

/* Storage is spoken of, no part is condemned and no legal test judged. */
static void no_verdict_condemns(void **state)
{
    (void)state;
    static const char *const headlines[] = {"<h1>Converter oxygen storage: INCONCLUSIVE</h1>",
                                            "<h1>Converter oxygen storage: BAD</h1>",
                                            "<h1>Converter oxygen storage: NOT GOOD</h1>",
                                            "<h1>Converter oxygen storage: QUESTIONABLE</h1>",
                                            "<h1>Converter oxygen storage: NOT BAD</h1>",
                                            "<h1>Converter oxygen storage: GOOD</h1>"};
    for (int v = 0; v < OXL_CONCLUSIONS; v++) {
        struct oxl_buf b;
        first = *story_low();
        first.result.conclusion = (enum oxl_conclusion)v;
        char *t = html(1, &b);
        must_say(t, headlines[v]);
        for (char *c = t; *c; c++)
            *c = (char)tolower((unsigned char)*c);
        assert_false(says(t, "fail"));
        assert_false(says(t, "defect"));
        oxl_buf_free(&b);
    }
}

/* Text from outside in every place where it may stand. */
static void nothing_gets_in(void **state)
{
    (void)state;
    static const char bad[] = "<script>x</script>&\"'\x1b\xff<img src=x onerror=y>";
    struct oxl_buf b;
    first = *story_low();
    strcpy(first.header.order, bad);
    strcpy(first.header.technician, bad);
    strcpy(first.header.inlet, bad);
    strcpy(first.header.note, bad);
    strcpy(first.header.started, "<script>x</script>");
    strcpy(first.header.program, "<script>x</script>");
    strcpy(first.header.scenario, "<script>x</script>");
    first.header.simulated = true;
    strcpy(first.recording_name, bad);
    strcpy(first.stopped_why, bad);
    strcpy(first.checks[0].found, bad);
    strcpy(first.checks[0].advice, bad);
    strcpy(first.checks[1].id, "<script>");
    strcpy(first.notes[0].text, bad);
    strcpy(first.profile.limits_origin, bad);
    strcpy(first.profile.name, "<script>");
    strcpy(first.profile_why, bad);
    strcpy(first.vehicle.vin, "<script>&\"'");
    second = first;
    strcpy(second.header.order, "</title><script>");
    for (size_t n = 1; n <= 2; n++) {
        char *t = html(n, &b);
        assert_false(says(t, "<script") || says(t, "<img") || says(t, "</script"));
        must_say(t, "&lt;script&gt;x&lt;/script&gt;&amp;&quot;&#39;??&lt;img");
        for (const char *c = t; *c; c++)
            assert_true((unsigned char)*c >= 0x20 || *c == '\n');
        /* Nothing is fetched: the name space is the only address. */
        for (const char *u = t; (u = strstr(u, "http")) != NULL; u++)
            assert_true(strncmp(u, "http://www.w3.org/2000/svg\"", 27) == 0 ||
                        strncmp(u, "http-equiv", 10) == 0);
        oxl_buf_free(&b);
    }
}

static void pdf_is_the_same_each_time(void **state)
{
    (void)state;
    struct oxl_buf a = {0}, b = {0};
    first = *story_low();
    oxl_report_pdf(told, 1, OXL_PAPER_A4, &a);
    oxl_report_pdf(told, 1, OXL_PAPER_A4, &b);
    assert_false(a.failed || b.failed);
    assert_memory_equal(a.data, "%PDF-1.", 7);
    assert_int_equal(a.len, b.len);
    assert_memory_equal(a.data, b.data, a.len);
    oxl_buf_free(&a);
    oxl_buf_free(&b);
}

static void two_tests_side_by_side(void **state)
{
    (void)state;
    struct oxl_buf b;
    first = *story_low();
    second = first;
    strcpy(second.sha256, "another");
    second.result.delay_at_target_s = (struct oxl_span){8.31, 8, 8.7};
    second.result.o2_mg = (struct oxl_span){320, 300, 344};
    char *t = html(2, &b);
    must_say(t, "before and after");
    must_say(t, "Converter oxygen storage: MORE THAN BEFORE");
    must_say(t, "Delay at target: difference 7.00 s (6.66 to 7.44)"); /* test_compare.c */
    must_say(t, "Before, run 1");
    must_say(t, "After, run 2");
    oxl_buf_free(&b);
    second.header.bank = 2;
    t = html(2, &b);
    must_say(t, "two tests");
    must_say(t, "no difference is given");
    must_say(t, "They are of different banks.");
    must_say(t, "bank 1 / bank 2");
    assert_false(says(t, "difference 7.00"));
    assert_false(says(t, "Before, run"));
    oxl_buf_free(&b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(everything_is_there),
        cmocka_unit_test(unknown_is_said),
        cmocka_unit_test(the_customers_vehicle_is_on_the_page),
        cmocka_unit_test(no_verdict_condemns),
        cmocka_unit_test(nothing_gets_in),
        cmocka_unit_test(pdf_is_the_same_each_time),
        cmocka_unit_test(two_tests_side_by_side),
    };
    oxl_tracks_init(&tracks, 1);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
