/* A drawing as SVG. */
#include "set/layout.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

static struct oxl_drawing drawing;

static void svg_says_the_same(void **state)
{
    (void)state;
    struct oxl_buf b = {0};
    oxl_drawing_start(&drawing, 100, 50, "a < b");
    oxl_draw_line(&drawing, OXL_INK_TRIM, 1, 2, 3.456, 4);
    oxl_draw_rect(&drawing, OXL_INK_SHADE, 10, 20, 30, 5);
    oxl_draw_dot(&drawing, OXL_INK_TEXT, 7, 8, 1.5);
    oxl_draw_text(&drawing, 5, 6, 7, OXL_ANCHOR_END, true, "<&>");
    oxl_drawing_svg(&drawing, 10, &b);
    assert_string_equal(
        b.data,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" viewBox=\"0 0 100 50\" "
        "style=\"width:10.0000em;height:5.0000em\">\n<title>a &lt; b</title>\n"
        "<polyline points=\"1.00,2.00 3.46,4.00\" fill=\"none\" stroke=\"#8a3a00\" "
        "stroke-width=\"0.9\" stroke-dasharray=\"3.2 1.2\" stroke-linejoin=\"round\"/>\n"
        "<rect x=\"10.00\" y=\"20.00\" width=\"30.00\" height=\"5.00\" fill=\"#d4d4d4\"/>\n"
        "<circle cx=\"7.00\" cy=\"8.00\" r=\"1.5\" fill=\"#000000\"/>\n"
        "<text x=\"5.00\" y=\"6.00\" font-size=\"7\" text-anchor=\"end\" font-weight=\"bold\">"
        "&lt;&amp;&gt;</text>\n</svg>\n");
    oxl_buf_free(&b);
}

static void marks_become_references(void **state)
{
    (void)state;
    struct oxl_buf b = {0};
    oxl_markup_add(&b, "a<script>&\"'z");
    assert_string_equal(b.data, "a&lt;script&gt;&amp;&quot;&#39;z");
    oxl_buf_free(&b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(svg_says_the_same),
                                       cmocka_unit_test(marks_become_references)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
