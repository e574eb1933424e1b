/* The arithmetic of the pictures. */
#include "page/plot.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "page/words.h"

static struct oxl_drawing drawing;

static void near_to(double a, double b)
{
    if (fabs(a - b) > 1e-6)
        fail_msg("%.9g, expected %.9g", a, b);
}

/* ---- arithmetic ----------------------------------------------------------------------------- */

static void steps_are_tidy(void **state)
{
    (void)state;
    static const struct {
        double span;
        unsigned most;
        double step;
    } cases[] = {{10, 5, 2},    {10, 10, 1}, {11, 5, 5},  {23, 4, 10},
                 {0.9, 3, 0.5}, {70, 7, 10}, {71, 7, 20}, {0.03, 3, 0.01}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++)
        near_to(oxl_nice_step(cases[i].span, cases[i].most), cases[i].step);
    near_to(oxl_nice_step(0, 4), 1);
    near_to(oxl_nice_step(NAN, 4), 1);
}

static struct oxl_track track;
static struct oxl_run_result run;
static struct oxl_profile profile;

/* Front-lean at 20 s, rear-lean at 24 s, samples from 0 to 40 s ten times a second. */
static void made_up_run(void)
{
    memset(&track, 0, sizeof track);
    oxl_profile_defaults(&profile);
    track.front_kind = OXL_SENSOR_SWITCHING;
    track.rear_kind = OXL_SENSOR_SWITCHING;
    track.baseline_trim_pct = 0;
    track.cut_us = 19000000;
    for (size_t i = 0; i <= 400; i++) {
        const double t = (double)i / 10, values[] = {t < 20 ? 0.8 : 0.1, t < 24 ? 0.8 : 0.1, -20};
        for (size_t l = 0; l < OXL_LANE_COUNT; l++) {
            track.lanes[l].t_s[i] = t;
            track.lanes[l].value[i] = values[l];
            track.lanes[l].n = i + 1;
        }
    }
    run = (struct oxl_run_result){.run = 1,
                                  .dropped = true,
                                  .valid = true,
                                  .front_lean = {true, 20000000, 19900000, 20200000},
                                  .rear_lean = {true, 24000000, 23500000, 24100000},
                                  .delay_s = {4, 3.5, 4.2}};
}

static const struct oxl_shape *shape(enum oxl_shape_kind kind, enum oxl_ink ink, size_t which)
{
    for (size_t i = 0; i < drawing.shapes_n; i++)
        if (drawing.shapes[i].kind == kind && drawing.shapes[i].ink == ink && which-- == 0)
            return &drawing.shapes[i];
    fail_msg("no shape %d %d", (int)kind, (int)ink);
    return NULL;
}

static const struct oxl_shape *words(const char *text)
{
    for (size_t i = 0; i < drawing.shapes_n; i++)
        if (drawing.shapes[i].kind == OXL_SHAPE_TEXT && strcmp(drawing.shapes[i].text, text) == 0)
            return &drawing.shapes[i];
    return NULL;
}

/* By hand: the axis runs from 6 s before the call to cut (19 - 6 = 13 s; the timing of 4 s is less
 * than the least lead of 6 s) to 1 s past rear-lean (25 s): 12 s on 225 - 22 - 3 = 200 points, from
 * x = 22. So t stands at 22 + (t - 13) * 200 / 12. */
static double hand_x(double t_s)
{
    return 22 + (t_s - 13) * 200 / 12;
}

static void marks_stand_where_the_moments_are(void **state)
{
    (void)state;
    made_up_run();
    oxl_plot_run(&run, &run.delay_s, &track, &profile, "Run 1", 225, 120, &drawing);
    assert_false(drawing.full);
    const struct oxl_shape *grey = shape(OXL_SHAPE_RECT, OXL_INK_SHADE, 0);
    near_to(grey->x, hand_x(20));
    near_to(grey->w, hand_x(24) - hand_x(20));
    near_to(drawing.x[shape(OXL_SHAPE_LINE, OXL_INK_CUT, 0)->first], hand_x(19));
    /* Of each moment: its line, then the interval's beam and two ends. */
    near_to(drawing.x[shape(OXL_SHAPE_LINE, OXL_INK_MARK, 0)->first], hand_x(20));
    near_to(drawing.x[shape(OXL_SHAPE_LINE, OXL_INK_MARK, 2)->first], hand_x(19.9));
    near_to(drawing.x[shape(OXL_SHAPE_LINE, OXL_INK_MARK, 3)->first], hand_x(20.2));
    near_to(drawing.x[shape(OXL_SHAPE_LINE, OXL_INK_MARK, 4)->first], hand_x(24));
    near_to(drawing.x[shape(OXL_SHAPE_LINE, OXL_INK_MARK, 6)->first], hand_x(23.5));
    near_to(drawing.x[shape(OXL_SHAPE_LINE, OXL_INK_MARK, 7)->first], hand_x(24.1));
    near_to(words("F")->x, hand_x(20));
    near_to(words("R")->x, hand_x(24));
    near_to(words("-2")->x, hand_x(18)); /* seconds count from front-lean */
    near_to(words("4")->x, hand_x(24));
    assert_non_null(words("Run 1: 4.00 s (3.50 to 4.20)"));
}

/* A switching lane reaches from 0 to 1 V over its height; lanes are (120 - 10 - 26 - 6) / 3 = 26
 * points high, the first begins at 26, the second at 26 + 26 + 3. */
static void values_stand_at_their_height(void **state)
{
    (void)state;
    made_up_run();
    oxl_plot_run(&run, &run.delay_s, &track, &profile, "Run 1", 225, 120, &drawing);
    const struct oxl_shape *front = shape(OXL_SHAPE_LINE, OXL_INK_FRONT, 0);
    near_to(drawing.y[front->first], 26 + 26 * (1 - 0.8));
    near_to(drawing.y[front->first + front->n - 1], 26 + 26 * (1 - 0.1));
    const struct oxl_shape *rear = shape(OXL_SHAPE_LINE, OXL_INK_REAR, 0);
    near_to(drawing.y[rear->first], 55 + 26 * (1 - 0.8));
    near_to(drawing.x[rear->first], hand_x(13));
    near_to(drawing.y[shape(OXL_SHAPE_LINE, OXL_INK_LEVEL, 0)->first], 26 + 26 * (1 - 0.45));
}

static void both_peaks_are_drawn(void)
{
    const struct oxl_shape *rear = shape(OXL_SHAPE_LINE, OXL_INK_REAR, 0);
    double top = INFINITY, bottom = -INFINITY;
    assert_false(drawing.full);
    for (size_t i = 0; i < rear->n; i++) {
        top = fmin(top, drawing.y[rear->first + i]);
        bottom = fmax(bottom, drawing.y[rear->first + i]);
    }
    near_to(top, 55 + 26 * (1 - 0.95));
    near_to(bottom, 55 + 26 * (1 - 0.05));
    assert_true(rear->n < 1400); /* thinned to what 200 points of width can show */
}

/* A spike of one sample among many must not vanish, and no gap is bridged. */
static void peaks_and_gaps_stay(void **state)
{
    (void)state;
    made_up_run();
    /* No front samples from 15 to 18 s. */
    size_t kept = 0;
    for (size_t i = 0; i <= 400; i++)
        if (i <= 150 || i >= 180) {
            track.lanes[OXL_LANE_FRONT].t_s[kept] = (double)i / 10;
            track.lanes[OXL_LANE_FRONT].value[kept++] = 0.5;
        }
    track.lanes[OXL_LANE_FRONT].n = kept;
    /* Two peaks, in turn at every place within a column of the paper. */
    for (size_t at = 700; at < 720; at++) {
        for (size_t i = 0; i < OXL_TRACK_POINTS; i++) {
            track.lanes[OXL_LANE_REAR].t_s[i] = 13 + (double)i * 12 / OXL_TRACK_POINTS;
            track.lanes[OXL_LANE_REAR].value[i] = i == at ? 0.95 : i == at + 200 ? 0.05 : 0.5;
        }
        track.lanes[OXL_LANE_REAR].n = OXL_TRACK_POINTS;
        oxl_plot_run(&run, &run.delay_s, &track, &profile, "Run 1", 225, 120, &drawing);
        both_peaks_are_drawn();
    }
    const struct oxl_shape *one = shape(OXL_SHAPE_LINE, OXL_INK_FRONT, 0);
    const struct oxl_shape *two = shape(OXL_SHAPE_LINE, OXL_INK_FRONT, 1);
    near_to(drawing.x[one->first + one->n - 1], hand_x(15));
    near_to(drawing.x[two->first], hand_x(18));
}
static void nothing_kept_is_said(void **state)
{
    (void)state;
    made_up_run();
    oxl_plot_run(&run, &run.delay_s, NULL, &profile, "Run 1", 225, 120, &drawing);
    assert_non_null(words("no samples kept"));
    memset(&track, 0, sizeof track);
    run.front_lean.found = run.rear_lean.found = run.dropped = false;
    run.delay_s = (struct oxl_span){NAN, NAN, NAN};
    oxl_plot_run(&run, &run.delay_s, &track, &profile, "Run 1", 225, 120, &drawing);
    assert_non_null(words("no samples kept"));
    assert_non_null(words("Run 1: not known"));
}

/* Every size that a page asks for, with the most samples there can be, fits its drawing. */
static void the_most_fits(void **state)
{
    (void)state;
    made_up_run();
    for (size_t l = 0; l < OXL_LANE_COUNT; l++) {
        for (size_t i = 0; i < OXL_TRACK_POINTS; i++) {
            track.lanes[l].t_s[i] = 13 + (double)i * 12 / OXL_TRACK_POINTS;
            track.lanes[l].value[i] = (double)(i * 7919 % 100) / 100;
        }
        track.lanes[l].n = OXL_TRACK_POINTS;
    }
    for (double w = 80; w < 560; w *= 1.3) {
        oxl_plot_run(&run, &run.delay_s, &track, &profile, "Before, run 12", w, 92, &drawing);
        assert_false(drawing.full);
        for (size_t i = 0; i < drawing.points_n; i++)
            assert_true(drawing.x[i] > -1 && drawing.x[i] < w + 1 && drawing.y[i] > -1 &&
                        drawing.y[i] < 93);
    }
}

/* The scale: 0 to 1.6 times the good limit on the width less 2 and 3 points. */
static void scale_shows_the_interval(void **state)
{
    (void)state;
    struct oxl_ruler s = {.quantity = "Delay at target",
                          .unit = "s",
                          .bad = 2,
                          .good = 7,
                          .figures = {{4, 3, 5.6}},
                          .names = {""},
                          .n = 1};
    const double per_s = (117 - 5) / 11.2;
    oxl_plot_scale(&s, 117, 36, &drawing);
    near_to(drawing.x[shape(OXL_SHAPE_LINE, OXL_INK_MARK, 0)->first], 2 + 2 * per_s);
    near_to(drawing.x[shape(OXL_SHAPE_LINE, OXL_INK_MARK, 1)->first], 2 + 7 * per_s);
    near_to(drawing.x[shape(OXL_SHAPE_LINE, OXL_INK_MARK, 2)->first], 2 + 3 * per_s);
    near_to(drawing.x[shape(OXL_SHAPE_LINE, OXL_INK_MARK, 2)->first + 1], 2 + 5.6 * per_s);
    near_to(shape(OXL_SHAPE_DOT, OXL_INK_TEXT, 0)->x, 2 + 4 * per_s);
    s.figures[0] = (struct oxl_span){NAN, 9, INFINITY}; /* an arrow to the right end */
    oxl_plot_scale(&s, 117, 36, &drawing);
    near_to(drawing.x[shape(OXL_SHAPE_LINE, OXL_INK_MARK, 3)->first + 1], 114);
    s.good = NAN;
    oxl_plot_scale(&s, 117, 36, &drawing);
    assert_non_null(words("not known"));
}

static void overfull_is_told(void **state)
{
    (void)state;
    oxl_drawing_start(&drawing, 10, 10, "");
    for (int i = 0; i < OXL_DRAWING_SHAPES; i++)
        oxl_draw_dot(&drawing, OXL_INK_TEXT, 1, 1, 1);
    assert_false(drawing.full);
    oxl_draw_line(&drawing, OXL_INK_MARK, 0, 0, 1, 1);
    assert_true(drawing.full);
}

/* XML 1.0, 2.2: which characters a document may hold; Unicode 15, 9.2: those that turn writing. */
static void text_from_outside_is_harmless(void **state)
{
    (void)state;
    static const struct {
        const char *in, *clean;
    } cases[] = {
        {"<script>&\"'", "<script>&\"'"},
        {"a\nb\tc\r", "a b c "},
        {"\x01\x1b[2J\x7f", "??[2J?"},
        {"\xff\xc3\xc3\xa9", "??\xc3\xa9"},
        {"\xc2\x85|\xe2\x80\xa8|\xef\xbf\xbe|\xef\xb7\x90", "?|?|?|?"},
        {"\xe2\x80\xae"
         "cba\xe2\x81\xa6",
         "?cba?"},
        {"\xf0\x9f\x99\x82\xe4\xb8\xad", "\xf0\x9f\x99\x82\xe4\xb8\xad"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char text[64];
        snprintf(text, sizeof text, "%s", cases[i].in);
        oxl_clean(text);
        assert_string_equal(text, cases[i].clean);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(steps_are_tidy),
        cmocka_unit_test(marks_stand_where_the_moments_are),
        cmocka_unit_test(values_stand_at_their_height),
        cmocka_unit_test(peaks_and_gaps_stay),
        cmocka_unit_test(nothing_kept_is_said),
        cmocka_unit_test(the_most_fits),
        cmocka_unit_test(scale_shows_the_interval),
        cmocka_unit_test(overfull_is_told),
        cmocka_unit_test(text_from_outside_is_harmless),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
