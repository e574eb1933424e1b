/* Every word of the dialect: alone, in lower case, behind SEARCHING..., in front of a prompt. */
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <setjmp.h>

#include <cmocka.h>

#include "help_wire.h"
#include "wire/words.h"

static const struct {
    const char *said, *token;
} words[] = {
    {"OK", "W OK\n"},
    {"?", "W ?\n"},
    {"NO DATA", "W NO DATA\n"},
    {"SEARCHING...", "W SEARCHING\n"},
    {"SEARCHING", "W SEARCHING\n"},
    {"SEARCHING: ", "W SEARCHING\n"},
    {"BUS INIT: ...OK", "W BUS INIT\n"},
    {"BUS INIT: OK", "W BUS INIT\n"},
    {"BUS INIT: ...", "W BUS INIT\n"},
    {"BUS INIT: ...ERROR", "W BUS INIT\nW BUS INIT ERROR\n"},
    {"BUS INIT: ERROR", "W BUS INIT ERROR\n"},
    {"UNABLE TO CONNECT", "W UNABLE TO CONNECT\n"},
    {"CAN ERROR", "W CAN ERROR\n"},
    {"BUS BUSY", "W BUS BUSY\n"},
    {"BUS ERROR", "W BUS ERROR\n"},
    {"FB ERROR", "W FB ERROR\n"},
    {"DATA ERROR", "W DATA ERROR\n"},
    {"<DATA ERROR", "W <DATA ERROR\n"},
    {"<RX ERROR", "W <RX ERROR\n"},
    {"BUFFER FULL", "W BUFFER FULL\n"},
    {"STOPPED", "W STOPPED\n"},
    {"ACT ALERT", "W ACT ALERT\n"},
    {"!ACT ALERT", "W ACT ALERT\n"},
    {"LV RESET", "W LV RESET\n"},
    {"LP ALERT", "W LP ALERT\n"},
    {"!LP ALERT", "W LP ALERT\n"},
    {"ERR94", "W ERR\n"},
};
enum { WORDS = sizeof words / sizeof *words };

static void each_word_under_each_protocol(void **state)
{
    (void)state;
    for (size_t i = 0; i < WORDS; i++)
        for (int p = OXL_PROTO_UNKNOWN; p <= OXL_PROTO_CAN29_250; p++) {
            char line[64];
            char want[128];
            snprintf(line, sizeof line, "%s\r\r>", words[i].said);
            snprintf(want, sizeof want, "%sP\n", words[i].token);
            tap_check((enum oxl_protocol)p, line, want);
        }
}

static void every_word_of_the_header_is_reached(void **state)
{
    (void)state;
    char all[4096] = "";
    struct tap *t = tap_new(OXL_PROTO_UNKNOWN);
    for (size_t i = 0; i < WORDS; i++) {
        tap_clear(t);
        tap_feed(t, words[i].said, 0);
        tap_feed(t, "\r", 0);
        strncat(all, t->log, sizeof all - strlen(all) - 1);
    }
    tap_free(t);
    /* One table row at least for each word from OK to INTERNAL_ERROR. */
    size_t seen = 0;
    static const char *const names[] = {"W OK\n",
                                        "W ?\n",
                                        "W NO DATA\n",
                                        "W SEARCHING\n",
                                        "W BUS INIT\n",
                                        "W BUS INIT ERROR\n",
                                        "W UNABLE TO CONNECT\n",
                                        "W CAN ERROR\n",
                                        "W BUS BUSY\n",
                                        "W BUS ERROR\n",
                                        "W FB ERROR\n",
                                        "W DATA ERROR\n",
                                        "W <DATA ERROR\n",
                                        "W <RX ERROR\n",
                                        "W BUFFER FULL\n",
                                        "W STOPPED\n",
                                        "W ACT ALERT\n",
                                        "W LV RESET\n",
                                        "W LP ALERT\n",
                                        "W ERR\n"};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++)
        seen += strstr(all, names[i]) != NULL;
    assert_int_equal(seen, OXL_WORD_INTERNAL_ERROR);
}

static void lower_case_and_strewn_blanks(void **state)
{
    (void)state;
    tap_check(OXL_PROTO_UNKNOWN, "no data\r", "W NO DATA\n");
    tap_check(OXL_PROTO_UNKNOWN, "  NODATA  \r", "W NO DATA\n");
    tap_check(OXL_PROTO_UNKNOWN, "Unable  to\tconnect\r\n", "W UNABLE TO CONNECT\n");
}

static void words_that_are_only_alike_are_text(void **state)
{
    (void)state;
    tap_check(OXL_PROTO_UNKNOWN, "OKAY\r", "T OKAY\n");
    tap_check(OXL_PROTO_UNKNOWN, "ERRORS\r", "T ERRORS\n");
    tap_check(OXL_PROTO_UNKNOWN, "ERR9\r", "T ERR9\n");
    tap_check(OXL_PROTO_UNKNOWN, "ERR945\r", "T ERR945\n");
    tap_check(OXL_PROTO_UNKNOWN, "??\r", "T ??\n");
    tap_check(OXL_PROTO_UNKNOWN, "C0OK\r", "T C0OK\n");
    tap_check(OXL_PROTO_UNKNOWN, "engine STOPPED\r", "T engine STOPPED\n");
    tap_check(OXL_PROTO_CAN11_500, "12.6V\rA6\r", "T 12.6V\nT A6\n");
}

static void words_glued_in_front(void **state)
{
    (void)state;
    tap_check(OXL_PROTO_CAN11_500, "SEARCHING...7E8064100BE1FA813\r\r>",
              "W SEARCHING\nM 7E8 4100BE1FA813\nP\n");
    tap_check(OXL_PROTO_UNKNOWN, "SEARCHING.....7E8 06 41 00 BE 1F A8 13 \r\r>",
              "W SEARCHING\nM 7E8 4100BE1FA813\nP\n");
    tap_check(OXL_PROTO_UNKNOWN, "SEARCHING... \r\n7E8064100BE1FA813\r\n>",
              "W SEARCHING\nM 7E8 4100BE1FA813\nP\n");
    tap_check(OXL_PROTO_UNKNOWN, "SEARCHING...UNABLE TO CONNECT\r\r>",
              "W SEARCHING\nW UNABLE TO CONNECT\nP\n");
    tap_check(OXL_PROTO_UNKNOWN, "SEARCHING...STOPPED>", "W SEARCHING\nW STOPPED\nP\n");
    tap_check(OXL_PROTO_UNKNOWN, "SEARCHING7E8064100BE1FA813\r",
              "W SEARCHING\nM 7E8 4100BE1FA813\n");
    tap_check(OXL_PROTO_UNKNOWN, "SEARCHING...BUS INIT: ...OK\r", "W SEARCHING\nW BUS INIT\n");
    tap_check(OXL_PROTO_UNKNOWN, "SEARCHING...BUS INIT: ...ERROR\r",
              "W SEARCHING\nW BUS INIT\nW BUS INIT ERROR\n");
    /* 48+6B+10+41+0C+1A+F8 = 222h */
    tap_check(OXL_PROTO_ISO9141, "BUS INIT: ...OK\r486B10410C1AF822\r\r>",
              "W BUS INIT\nM 10 410C1AF8\nP\n");
    tap_check(OXL_PROTO_ISO9141, "BUS INIT: ...OK486B10410C1AF822\r>",
              "W BUS INIT\nM 10 410C1AF8\nP\n");
    tap_check(OXL_PROTO_ISO9141, "BUS INIT: OK486B10410C1AF822\r>",
              "W BUS INIT\nM 10 410C1AF8\nP\n");
    tap_check(OXL_PROTO_UNKNOWN, "BUS INIT: ...?\r", "W BUS INIT\nW ?\n");
}

/* Data in front of such a word were spoilt or cut off and must never come through. */
static void words_behind_data(void **state)
{
    (void)state;
    static const struct {
        const char *behind, *token;
    } rows[] = {
        {"<DATA ERROR", "W <DATA ERROR\n"}, {"<RX ERROR", "W <RX ERROR\n"},
        {"BUFFER FULL", "W BUFFER FULL\n"}, {"STOPPED", "W STOPPED\n"},
        {"CAN ERROR", "W CAN ERROR\n"},     {"DATA ERROR", "W DATA ERROR\n"},
        {"LV RESET", "W LV RESET\n"},       {"ACT ALERT", "W ACT ALERT\n"},
        {"FB ERROR", "W FB ERROR\n"},       {"BUS ERROR", "W BUS ERROR\n"},
        {"NO DATA", "W NO DATA\n"},         {"ERR94", "W ERR\n"},
        {"BUS BUSY", "W BUS BUSY\n"},       {"LP ALERT", "W LP ALERT\n"},
        {"!LP ALERT", "W LP ALERT\n"},      {"!ACT ALERT", "W ACT ALERT\n"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct tap *t = tap_new(OXL_PROTO_CAN11_500);
        tap_feed(t, "7E804410C1AF8 ", 1);
        tap_feed(t, rows[i].behind, 2);
        tap_feed(t, "\r", 3);
        assert_string_equal(t->log, rows[i].token);
        assert_int_equal(oxl_wire_stats(t->wire)->bad_lines, 1);
        assert_int_equal(oxl_wire_stats(t->wire)->messages, 0);
        tap_free(t);
    }
}

/* A search lasts seconds; it is told before its line ends. */
static void progress_is_told_at_once(void **state)
{
    (void)state;
    struct tap *t = tap_new(OXL_PROTO_UNKNOWN);
    t->times = true;
    tap_feed(t, "SEARCHING..", 5);
    assert_string_equal(t->log, "");
    tap_feed(t, ".", 6);
    assert_string_equal(t->log, "W SEARCHING @6\n");
    tap_feed(t, "7E8064100BE1FA813\r", 3000000);
    assert_string_equal(t->log, "W SEARCHING @6\nM 7E8 4100BE1FA813 @3000000-3000000\n");
    assert_int_equal(oxl_wire_stats(t->wire)->lines, 1);
    tap_free(t);
}

static void each_word_has_its_sentence(void **state)
{
    (void)state;
    for (int i = OXL_WORD_NONE; i <= OXL_WORD_INTERNAL_ERROR; i++) {
        const char *s = oxl_word_text((enum oxl_word)i);
        assert_true(strlen(s) > 3);
        assert_string_not_equal(s, "unknown word");
        for (int k = OXL_WORD_NONE; k < i; k++)
            assert_string_not_equal(s, oxl_word_text((enum oxl_word)k));
    }
}

static void protocols_have_their_names(void **state)
{
    (void)state;
    for (int i = OXL_PROTO_UNKNOWN; i <= OXL_PROTO_CAN29_250; i++) {
        enum oxl_protocol p = (enum oxl_protocol)i;
        assert_int_equal(oxl_protocol_is_can(p), i >= 6);
        assert_int_equal(oxl_protocol_is_can29(p), i == 7 || i == 9);
        for (int k = OXL_PROTO_UNKNOWN; k < i; k++)
            assert_string_not_equal(oxl_protocol_name(p), oxl_protocol_name((enum oxl_protocol)k));
    }
    assert_non_null(strstr(oxl_protocol_name(OXL_PROTO_CAN29_250), "29 bit, 250 kbit/s"));
}

/* How much of a line the leading word takes: its dots as well, the colon in front of them, and what
 * BUS INIT came to. */
static void a_leading_word_takes_its_dots(void **state)
{
    (void)state;
    static const struct {
        const char *line;
        enum oxl_word before, word;
        size_t takes;
    } rows[] = {{"SEARCHING....7E8", OXL_WORD_NONE, OXL_WORD_SEARCHING, 13},
                {"SEARCHING:..7E8", OXL_WORD_NONE, OXL_WORD_SEARCHING, 12},
                {"SEARCHING7E8", OXL_WORD_NONE, OXL_WORD_SEARCHING, 9},
                {"BUSINIT:....OK", OXL_WORD_NONE, OXL_WORD_BUS_INIT, 14},
                {"BUSINIT...ERROR", OXL_WORD_NONE, OXL_WORD_BUS_INIT_ERROR, 15},
                {"OK86F110", OXL_WORD_BUS_INIT, OXL_WORD_NONE, 2},
                {"OK86F110", OXL_WORD_NONE, OXL_WORD_NONE, 0}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        enum oxl_word word;
        assert_int_equal(oxl_words_lead(rows[i].line, rows[i].before, &word), rows[i].takes);
        assert_int_equal(word, rows[i].word);
    }
}

/* What stands in front of a word that ends data: that many characters, and the word itself is none
 * of them. */
static void what_stands_in_front_is_measured(void **state)
{
    (void)state;
    static const char *const behind[] = {"NODATA", "<RXERROR", "STOPPED", "!LPALERT", "ERR94"};
    for (size_t i = 0; i < sizeof behind / sizeof *behind; i++) {
        char line[40];
        size_t prefix = 0, len = (size_t)snprintf(line, sizeof line, "7E804410C%s", behind[i]);
        assert_int_not_equal(oxl_words_behind(line, len, &prefix), OXL_WORD_NONE);
        assert_int_equal(prefix, strlen("7E804410C"));
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_word_under_each_protocol),
        cmocka_unit_test(every_word_of_the_header_is_reached),
        cmocka_unit_test(lower_case_and_strewn_blanks),
        cmocka_unit_test(words_that_are_only_alike_are_text),
        cmocka_unit_test(words_glued_in_front),
        cmocka_unit_test(words_behind_data),
        cmocka_unit_test(what_stands_in_front_is_measured),
        cmocka_unit_test(progress_is_told_at_once),
        cmocka_unit_test(each_word_has_its_sentence),
        cmocka_unit_test(a_leading_word_takes_its_dots),
        cmocka_unit_test(protocols_have_their_names),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
