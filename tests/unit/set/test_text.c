/* The page as text: whole pages are kept in tests/data/report and compared. After a wanted
 * change, run once with OXL_ACCEPT=1 and read the difference. */
#include "oxylag/report.h"

#include <ctype.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "accepted.h"
#include "unit/page/help_record.h"

static void compare_with(const char *name, const char *text)
{
    char path[512];
    snprintf(path, sizeof path, "%s/report/%s", OXL_TEST_DATA, name);
    accepted_compare(path, text);
}

static char *page(const struct oxl_test_record *s, struct oxl_buf *b)
{
    *b = (struct oxl_buf){0};
    const struct oxl_report_input input = {.record = s};
    oxl_report_text(&input, 1, b);
    assert_false(b->failed);
    assert_int_equal(strlen(b->data), b->len);
    return b->data;
}

static void kept_pages(void **state)
{
    (void)state;
    struct oxl_buf b;
    compare_with("low.txt", page(story_low(), &b));
    oxl_buf_free(&b);
    compare_with("held.txt", page(story_held(), &b));
    oxl_buf_free(&b);
    compare_with("stopped.txt", page(story_stopped(), &b));
    oxl_buf_free(&b);
}

static size_t columns(const char *line, size_t n)
{
    size_t c = 0;
    for (size_t i = 0; i < n; i++)
        c += ((unsigned char)line[i] & 0xc0) != 0x80;
    return c;
}

static void no_line_is_wider_than_80(const char *text)
{
    for (const char *p = text; *p;) {
        size_t n = strcspn(p, "\n");
        if (columns(p, n) > 80)
            fail_msg("%zu columns: %.*s", columns(p, n), (int)n, p);
        for (size_t i = 0; i < n; i++)
            assert_true((unsigned char)p[i] >= 0x20 && p[i] != 0x7f);
        p += n + (p[n] == '\n');
    }
}

static void width_and_controls(void **state)
{
    (void)state;
    struct oxl_buf b;
    struct oxl_test_record *s = story_low();
    no_line_is_wider_than_80(page(s, &b));
    oxl_buf_free(&b);
    /* Text from outside: escape sequences, invalid UTF-8, no blanks, wide letters. */
    memset(s->header.order, 'W', sizeof s->header.order - 1);
    strcpy(s->header.note, "\x1b[2Jred \xff\xfe \xc2\x9b"
                           "31m tab\there");
    strcpy(s->header.technician, "Zo\xc3\xab \xe2\x80\x93 bay 3");
    memset(s->recording_name, 'r', sizeof s->recording_name - 1);
    strcpy(s->checks[0].found, "a\nb");
    char *text = page(s, &b);
    no_line_is_wider_than_80(text);
    assert_non_null(strstr(text, "?[2Jred ?? ?31m tab here"));
    assert_non_null(strstr(text, "Zo\xc3\xab \xe2\x80\x93 bay 3"));
    oxl_buf_free(&b);
}

static bool says(const char *text, const char *words)
{
    return strstr(text, words) != NULL;
}

/* The page speaks of storage: no verdict calls a part failed or judges a legal test. */
static void no_verdict_condemns(void **state)
{
    (void)state;
    static const char *const headlines[] = {
        "\nConverter oxygen storage: INCONCLUSIVE\n", "\nConverter oxygen storage: BAD\n",
        "\nConverter oxygen storage: NOT GOOD\n",     "\nConverter oxygen storage: QUESTIONABLE\n",
        "\nConverter oxygen storage: NOT BAD\n",      "\nConverter oxygen storage: GOOD\n"};
    for (int v = 0; v < OXL_CONCLUSIONS; v++) {
        struct oxl_buf b;
        struct oxl_test_record *s = story_low();
        s->result.conclusion = (enum oxl_conclusion)v;
        char *text = page(s, &b);
        assert_true(says(text, headlines[v]));
        assert_true(says(text, "Verify locally"));
        assert_true(says(text, "no emission test"));
        for (char *c = text; *c; c++)
            *c = (char)tolower((unsigned char)*c);
        assert_false(says(text, "fail"));
        assert_false(says(text, "defect"));
        oxl_buf_free(&b);
    }
}

static void simulated_is_said_first(void **state)
{
    (void)state;
    struct oxl_buf b;
    struct oxl_test_record *s = story_held();
    const char *at = strstr(page(s, &b), "*** SIMULATED");
    assert_non_null(at);
    assert_true(at - b.data < 200);
    oxl_buf_free(&b);
    s->header.simulated = false;
    assert_null(strstr(page(s, &b), "SIMULATED"));
    oxl_buf_free(&b);
}

/* Is the word there, neither part of another word nor of a number? */
static bool has_word(const char *text, const char *word)
{
    for (const char *p = text; (p = strstr(p, word)) != NULL; p++) {
        bool starts = p == text || (!isalnum((unsigned char)p[-1]) && p[-1] != '.');
        char after = p[strlen(word)];
        if (starts && !isalnum((unsigned char)after) && after != '.')
            return true;
    }
    return false;
}

/* What is not known is said so. The record of a held run has no air, rpm, shift, limits in mg. */
static void unknown_is_never_zero(void **state)
{
    (void)state;
    struct oxl_buf b;
    char *text = page(story_held(), &b);
    assert_true(says(text, "\n1   yes    at least 12.3 at least 8.50      at least 181      "
                           "--     --   --\n"));
    assert_true(says(text, "\nDelay measured   at least 12.34 s, the rear sensor held\n"));
    assert_true(says(text, "\nOxygen stored    not known\n"));
    assert_true(says(text, "\nConditions       air not known, engine not known\n"));
    assert_true(says(text, "not known: no air flow; 0.044 and 0.137 g"));
    assert_true(says(text, "stored P0420; pending none; permanent not known; lamp on"));
    assert_true(says(text, "\nBaseline    not known\n"));
    assert_false(has_word(text, "0"));
    assert_false(has_word(text, "nan"));
    assert_false(has_word(text, "inf"));
    oxl_buf_free(&b);
}

static void number_of_the_vehicle_is_masked(void **state)
{
    (void)state;
    struct oxl_buf b;
    char *text = page(story_held(), &b);
    assert_true(says(text, "ZZZTEST0*********"));
    assert_false(says(text, "0042"));
    oxl_buf_free(&b);
    assert_true(says(page(story_low(), &b), "ZZZTEST0X00000042"));
    oxl_buf_free(&b);
}

static void cautions_are_one_line_each(void **state)
{
    (void)state;
    assert_true(OXL_CAUTIONS >= 8);
    bool defers = false, gas = false, monoxide = false;
    for (size_t i = 0; i < OXL_CAUTIONS; i++) {
        const char *c = oxl_cautions[i];
        assert_null(strchr(c, '\n'));
        assert_true(strlen(c) > 20);
        defers |= says(c, "service information") && says(c, "local") && says(c, "only reads");
        gas |= says(c, "heavier than air");
        monoxide |= says(c, "Carbon monoxide");
    }
    assert_true(defers && gas && monoxide);
}

/* What was read has names and units for people, whatever it is; codes are words. */
static void readings_have_names(void **state)
{
    (void)state;
    static struct oxl_inspection v;
    static const struct oxl_test_record head;
    const struct oxl_report_input input = {.record = &head, .inspection = &v};
    struct oxl_buf b = {0};
    v.sections_n = 1;
    v.sections[0].title = "Engine now";
    for (unsigned q = OXL_Q_STFT_PCT; q < OXL_Q_COUNT; q++, v.readings_n++) {
        v.reading[v.readings_n].channel = oxl_channel((enum oxl_quantity)q, q % 2, 0);
        v.reading[v.readings_n].value = 2;
    }
    v.reading[0] = (struct oxl_sample){.channel = oxl_channel(OXL_Q_O2_V, 1, 2), .value = 0.125};
    oxl_report_text(&input, 1, &b);
    assert_true(has_word(b.data, "oxygen sensor B1S2"));
    assert_true(has_word(b.data, "0.125 V"));
    assert_true(has_word(b.data, "closed loop"));
    assert_true(has_word(b.data, "methanol"));
    assert_null(strchr(b.data, '_'));
    assert_null(strstr(b.data, "null"));
    oxl_buf_free(&b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(kept_pages),
        cmocka_unit_test(width_and_controls),
        cmocka_unit_test(no_verdict_condemns),
        cmocka_unit_test(simulated_is_said_first),
        cmocka_unit_test(unknown_is_never_zero),
        cmocka_unit_test(readings_have_names),
        cmocka_unit_test(number_of_the_vehicle_is_masked),
        cmocka_unit_test(cautions_are_one_line_each),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
