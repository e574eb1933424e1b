/* The page of a vehicle: every test on it, in all settings, however many; nothing that is masked.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "../page/help_record.h"
#include "page/page.h"

static struct oxl_test_record records[OXL_HISTORY_MAX];
static const struct oxl_test_record *list[OXL_HISTORY_MAX];

static struct oxl_vehicle_tests history(size_t n)
{
    for (size_t i = 0; i < n; i++) {
        records[i] = i % 3 == 1 ? *story_held() : i % 3 == 2 ? *story_stopped() : *story_low();
        records[i].header.bank = i % 3 == 1 ? 2 : 1;
        snprintf(records[i].header.started, sizeof records[i].header.started,
                 "20%02zu-11-30T07:35:00+01:00", i % 100);
        snprintf(records[i].recording_name, sizeof records[i].recording_name, "file%zu.jsonl", i);
        list[i] = &records[i];
    }
    return (struct oxl_vehicle_tests){list, n};
}

static void must_say(const char *text, const char *word)
{
    if (!strstr(text, word))
        fail_msg("the page does not say \"%s\"", word);
}

static void as_text(void **state)
{
    (void)state;
    struct oxl_buf b = {0};
    const struct oxl_vehicle_tests h = history(OXL_HISTORY_MAX);
    const struct oxl_report_input input = {.record = h.tests[h.n - 1], .history = &h};
    oxl_report_text(&input, 1, &b);
    assert_false(b.failed);
    for (size_t i = 0; i < OXL_HISTORY_MAX; i++) { /* nothing is left out */
        char name[32];
        snprintf(name, sizeof name, "file%zu.jsonl", i);
        must_say(b.data, name);
    }
    must_say(b.data, "no result");
    must_say(b.data, "BAD");
    must_say(b.data, "SIMULATED"); /* one of them is */
    must_say(b.data, "100, from 2000-11-30 to 2099-11-30");
    assert_null(strstr(b.data, "nan"));
    assert_null(strstr(b.data, "are in the report as text"));
    oxl_buf_free(&b);
}

/* One sheet, with one test and with as many as there may be. */
static void as_sheets(void **state)
{
    (void)state;
    static const size_t counts[] = {1, 2, 12, 13, OXL_HISTORY_MAX};
    for (size_t i = 0; i < sizeof counts / sizeof counts[0]; i++)
        for (int masked = 0; masked < 2; masked++) {
            struct oxl_buf html = {0}, pdf = {0};
            const struct oxl_vehicle_tests h = history(counts[i]);
            struct oxl_test_record *newest = &records[counts[i] - 1];
            *newest = *story_low();
            newest->header.mask_vin = masked;
            strcpy(newest->header.plate, "AB-CD 12");
            strcpy(newest->header.vehicle, "blue estate");
            const struct oxl_report_input input = {.record = newest, .history = &h};
            oxl_report_html(&input, 1, OXL_PAPER_LETTER, &html);
            oxl_report_pdf(&input, 1, OXL_PAPER_A4, &pdf);
            assert_false(html.failed || pdf.failed);
            must_say(html.data, "Delay at target, s");
            must_say(html.data, "Oxygen stored, mg");
            must_say(html.data, masked ? "<dd>***</dd>" : "blue estate");
            assert_int_equal(masked, !strstr(html.data, "AB-CD 12"));
            assert_int_equal(masked, !strstr(html.data, newest->vehicle.vin));
            oxl_buf_free(&html);
            oxl_buf_free(&pdf);
        }
}

/* Where each figure stands: a dot between the ends of its interval, an arrow on the open side. */
static void drawing(void **state)
{
    (void)state;
    static struct oxl_drawing d;
    static struct oxl_tests_plot s = {.quantity = "Delay at target",
                                      .unit = "s",
                                      .bad = 2,
                                      .good = 7,
                                      .n = 3,
                                      .points = {{{4, 3, 5}, "2026-11-28", "1"},
                                                 {{NAN, 8, NAN}, "2026-11-29", "2"},
                                                 {{NAN, NAN, NAN}, "2026-11-30", "3"}}};
    oxl_plot_tests(&s, 500, 130, &d);
    assert_false(d.full);
    size_t dots = 0, unknown = 0;
    double y_dot = 0, y_bad = 0, y_good = 0;
    for (size_t i = 0; i < d.shapes_n; i++) {
        const struct oxl_shape *k = &d.shapes[i];
        if (k->kind == OXL_SHAPE_DOT) {
            dots++;
            y_dot = k->y;
        }
        if (k->kind == OXL_SHAPE_LINE && k->ink == OXL_INK_LEVEL) {
            y_good = y_bad > 0 ? d.y[k->first] : 0;
            y_bad = y_bad > 0 ? y_bad : d.y[k->first];
        }
        unknown += k->kind == OXL_SHAPE_TEXT && strcmp(k->text, "?") == 0;
        for (size_t j = 0; k->kind == OXL_SHAPE_LINE && j < k->n; j++)
            assert_true(d.x[k->first + j] >= 0 && d.x[k->first + j] <= 500 &&
                        d.y[k->first + j] >= 0 && d.y[k->first + j] <= 130);
    }
    assert_int_equal(dots, 1);
    assert_int_equal(unknown, 1);
    assert_true(y_good < y_dot && y_dot < y_bad); /* upwards is more */
    /* Linear between the limits: 4 s is two fifths of the way from 2 to 7. */
    assert_true(fabs(y_bad - y_dot - 0.4 * (y_bad - y_good)) < 1e-6);
    s.bad = NAN;
    oxl_plot_tests(&s, 500, 130, &d);
    assert_false(d.full);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(as_text),
        cmocka_unit_test(as_sheets),
        cmocka_unit_test(drawing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
