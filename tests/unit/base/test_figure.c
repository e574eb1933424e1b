/* The one rule of what is shown of a value and its interval, in its two forms. */
#include "oxylag/figure.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static const struct {
    struct oxl_span s;
    int decimals;
    const char *unit, *words, *narrow;
} spans[] = {
    {{4.47, 4.25, 4.55}, 2, "s", "4.47 s (4.25 to 4.55)", "4.47 (4.25..4.55)"},
    {{15.4, 15.1, 15.7}, 2, "s", "15.40 s (15.10 to 15.70)", "15.4 (15.1..15.7)"},
    {{1.26, NAN, NAN}, 2, "s", "1.26 s", "1.26"}, /* nothing is known of its error */
    {{NAN, 12.34, INFINITY}, 1, "s", "at least 12.3 s", "at least 12.3"},
    {{NAN, 12.34, NAN}, 2, "s", "at least 12.34 s", "at least 12.3"},
    {{NAN, NAN, 2.1}, 1, "s", "at most 2.1 s", "at most 2.1"},
    {{NAN, -INFINITY, -2.1}, 1, "s", "at most -2.1 s", "at most -2.1"},
    {{NAN, 541, 642}, 0, "mg", "541 to 642 mg", "541..642"},
    {{NAN, NAN, NAN}, 2, "s", "not known", "--"},
    {{NAN, -INFINITY, INFINITY}, 2, "s", "not known", "--"},
    /* An estimate is never shown beside an open or unknown end. */
    {{642, 541, INFINITY}, 0, "mg", "at least 541 mg", "at least 541"},
    {{642, 541, NAN}, 0, "mg", "at least 541 mg", "at least 541"},
    {{2, 0, NAN}, 0, "mg", "at least 0 mg", "at least 0"},
    {{642, NAN, 700}, 0, "mg", "at most 700 mg", "at most 700"},
    {{642, -INFINITY, 700}, 0, "mg", "at most 700 mg", "at most 700"},
    {{642, -INFINITY, INFINITY}, 0, "mg", "not known", "--"},
    {{642, NAN, INFINITY}, 0, "mg", "not known", "--"},
};

static void one_rule_in_two_forms(void **state)
{
    (void)state;
    char text[OXL_FIGURE_TEXT];
    for (size_t i = 0; i < sizeof spans / sizeof spans[0]; i++) {
        oxl_figure_span(&spans[i].s, spans[i].decimals, spans[i].unit, text);
        assert_string_equal(text, spans[i].words);
        oxl_figure_span_short(&spans[i].s, spans[i].decimals, text);
        assert_string_equal(text, spans[i].narrow);
        assert_int_equal(oxl_figure_known(&spans[i].s), strcmp(text, "--") != 0);
    }
}

static void what_is_withheld_is_unknown(void **state)
{
    (void)state;
    const struct oxl_span open = {642, 541, INFINITY}, closed = {642, 541, 700};
    struct oxl_span s = oxl_figure_shown(&open);
    assert_true(isnan(s.value) && s.low > 540 && isnan(s.high));
    s = oxl_figure_shown(&closed);
    assert_true(s.value > 641 && s.low > 540 && s.high > 699);
}

static void numbers_as_people_read_them(void **state)
{
    (void)state;
    static const struct {
        double v;
        const char *words, *narrow;
    } cases[] = {{0.004, "0.00 s", "0.00"},     {-0.001, "0.00 s", "0.00"},
                 {9.994, "9.99 s", "9.99"},     {9.996, "10.00 s", "10.0"},
                 {-20.25, "-20.25 s", "-20.2"}, {NAN, "not known", "--"},
                 {INFINITY, "not known", "--"}};
    char text[OXL_FIGURE_TEXT];
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        oxl_figure_number(cases[i].v, 2, "s", text);
        assert_string_equal(text, cases[i].words);
        const struct oxl_span alone = {cases[i].v, NAN, NAN};
        oxl_figure_span_short(&alone, 2, text);
        assert_string_equal(text, cases[i].narrow);
    }
    const struct oxl_span shift = {-20.25, NAN, NAN}, speed = {704.25, NAN, NAN};
    oxl_figure_span_short(&shift, 1, text);
    assert_string_equal(text, "-20.2");
    oxl_figure_span_short(&speed, 0, text);
    assert_string_equal(text, "704");
}

/* However absurd, it stays inside its buffer (ASan looks on). */
static void absurd_sizes_are_cut(void **state)
{
    (void)state;
    const struct oxl_span absurd = {-1.7e308, -1.7e308, 1.7e308};
    char text[OXL_FIGURE_TEXT];
    oxl_figure_span(&absurd, 2, "a unit that is far too long", text);
    assert_true(strlen(text) < OXL_FIGURE_TEXT);
    oxl_figure_span_short(&absurd, 2, text);
    assert_true(strlen(text) < OXL_FIGURE_TEXT);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_rule_in_two_forms),
        cmocka_unit_test(what_is_withheld_is_unknown),
        cmocka_unit_test(numbers_as_people_read_them),
        cmocka_unit_test(absurd_sizes_are_cut),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
