/* A list: what keys, typed letters and clicks select, and how it looks. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdio.h>
#include <string.h>

#include "help_snapshot.h"
#include "ui/screen.h"

static const char *cell(const void *ctx, size_t row, size_t column)
{
    static char text[64];
    static const char *const verdicts[] = {"good", "questionable", "BAD"};
    (void)ctx;
    if (column == 0)
        snprintf(text, sizeof text, "2026-01-%02zu", row % 28 + 1);
    else if (column == 1)
        snprintf(text, sizeof text, "order %zu M\xC3\xBCller", 4700 + row);
    else if (column == 2)
        snprintf(text, sizeof text, "%6.2f s", (double)row / 7);
    else
        snprintf(text, sizeof text, "%s", verdicts[row % 3]);
    return text;
}

static enum oxl_ink ink(const void *ctx, size_t row)
{
    (void)ctx;
    return row % 3 == 2 ? OXL_INK_BAD : OXL_INK_TEXT;
}

static struct oxl_list list_of(size_t n)
{
    return (struct oxl_list){
        .columns = {{"Date", 10}, {"Order", 0}, {"   Delay", 8}, {"Verdict", 14}},
        .columns_n = 4,
        .rows_n = n,
        .cell = cell,
        .ink = ink,
        .empty = "No recording yet: test a vehicle first.",
        .filters = true};
}

static void draw(struct oxl_list *l, const char *name, int rows, int cols)
{
    static const char *const keys[][2] = {{"Enter", "open"}, {"Esc", "back"}, {NULL, NULL}};
    struct oxl_screen s = {.title = "RECORDINGS",
                           .sentence = "Pick a recording.",
                           .list = l,
                           .note = l->filter[0] ? "1 recording cannot be read" : NULL,
                           .note_ink = OXL_INK_CAUTION,
                           .command = "oxylag recordings",
                           .keys = keys};
    struct oxl_canvas *c = oxl_canvas_new(rows, cols);
    oxl_screen_draw(&s, c);
    if (name)
        snapshot_compare(c, name);
    oxl_canvas_free(c);
}

static void type(struct oxl_list *l, const char *text)
{
    for (; *text; text++)
        assert_int_equal(oxl_list_key(l, (unsigned char)*text), OXL_LIST_USED);
}

static void keys_move_the_selection(void **state)
{
    (void)state;
    struct oxl_list l = list_of(1000);
    assert_int_equal(oxl_list_key(&l, OXL_TERM_UP), OXL_LIST_USED);
    assert_int_equal(l.selected, 0);
    oxl_list_key(&l, OXL_TERM_DOWN);
    assert_int_equal(l.selected, 1);
    draw(&l, NULL, 24, 80);
    oxl_list_key(&l, OXL_TERM_PAGE_DOWN);
    assert_int_equal(l.selected, l.rows.rows);
    oxl_list_key(&l, OXL_TERM_END);
    assert_int_equal(l.selected, 999);
    draw(&l, "list-end", 24, 80);
    oxl_list_key(&l, OXL_TERM_HOME);
    assert_int_equal(l.selected, 0);
    assert_int_equal(oxl_list_key(&l, '\n'), OXL_LIST_OPEN);
    assert_int_equal(oxl_list_key(&l, 27), OXL_LIST_NOTHING); /* the owner's: back */
}

static void what_is_typed_narrows_the_rows(void **state)
{
    (void)state;
    struct oxl_list l = list_of(1000);
    type(&l, "BAD 47 m\xC3\xBCl"); /* three words, each in some cell; capitals do not count */
    assert_true(oxl_list_has(&l));
    assert_int_equal(l.selected % 3, 2);
    draw(&l, "list-filter", 24, 80);
    size_t was = l.selected;
    oxl_list_key(&l, OXL_TERM_DOWN);
    assert_int_equal(l.selected, was + 3);
    oxl_list_key(&l, OXL_TERM_BACKSPACE);
    oxl_list_key(&l, OXL_TERM_BACKSPACE); /* a character of two bytes goes whole */
    assert_string_equal(l.filter, "BAD 47 m");
    type(&l, "q");
    assert_false(oxl_list_has(&l));
    assert_int_equal(oxl_list_key(&l, '\n'), OXL_LIST_NOTHING); /* nothing to open */
    draw(&l, "list-none", 24, 80);
    assert_int_equal(oxl_list_key(&l, 27), OXL_LIST_USED);
    assert_string_equal(l.filter, "");
    assert_true(oxl_list_has(&l));
}

static void a_click_selects_and_a_second_opens(void **state)
{
    (void)state;
    struct oxl_list l = list_of(1000);
    oxl_list_key(&l, OXL_TERM_END);
    draw(&l, NULL, 24, 80); /* scrolled: the first row of the area is not the first row */
    assert_int_equal(oxl_list_click(&l, l.rows.row + 1, 5), OXL_LIST_USED);
    assert_int_equal(l.selected, l.first + 1);
    assert_int_equal(oxl_list_click(&l, l.rows.row + 1, 5), OXL_LIST_OPEN);
    assert_int_equal(oxl_list_click(&l, l.rows.row - 1, 5), OXL_LIST_NOTHING);
    assert_int_equal(oxl_list_click(&l, l.rows.row + l.rows.rows, 5), OXL_LIST_NOTHING);
}

static void it_stays_on_a_row_when_rows_go(void **state)
{
    (void)state;
    struct oxl_list l = list_of(10);
    l.selected = 9;
    l.rows_n = 4;
    oxl_list_changed(&l);
    assert_int_equal(l.selected, 3);
    l.rows_n = 0;
    oxl_list_changed(&l);
    assert_false(oxl_list_has(&l));
    draw(&l, "list-empty", 24, 80);
    oxl_list_key(&l, OXL_TERM_DOWN);
    oxl_list_key(&l, OXL_TERM_PAGE_UP);
}

static void a_menu_opens_by_number(void **state)
{
    (void)state;
    struct oxl_list l = list_of(3);
    l.filters = false;
    assert_int_equal(oxl_list_key(&l, '4'), OXL_LIST_NOTHING);
    assert_int_equal(oxl_list_key(&l, 'x'), OXL_LIST_NOTHING);
    assert_int_equal(oxl_list_key(&l, '3'), OXL_LIST_OPEN);
    assert_int_equal(l.selected, 2);
    assert_int_equal(oxl_list_key(&l, ' '), OXL_LIST_OPEN);
    draw(&l, "list-menu", 24, 80);
}

static void a_text_scrolls_to_its_end_and_no_further(void **state)
{
    (void)state;
    struct oxl_list l = list_of(50);
    l.filters = false;
    l.text = true;
    draw(&l, NULL, 24, 80);
    oxl_list_key(&l, OXL_TERM_END);
    draw(&l, "list-text", 24, 80);
    assert_int_equal(l.selected, 50 - (size_t)l.rows.rows);
    assert_int_equal(oxl_list_key(&l, '\n'), OXL_LIST_NOTHING);
}

static void every_size_is_safe(void **state)
{
    (void)state;
    struct oxl_list l = list_of(1000);
    l.selected = 500;
    draw(&l, "list", 40, 120);
    draw(&l, "list", 16, 60);
    draw(&l, "list", 10, 40);
    for (int rows = 1; rows < 30; rows++)
        for (int cols = 1; cols < 90; cols += 7)
            draw(&l, NULL, rows, cols);
    struct oxl_canvas *c = oxl_canvas_new(30, 30);
    for (int rows = -2; rows < 5; rows++) /* and every area */
        for (int cols = -2; cols < 12; cols++) {
            oxl_list_draw(&l, c, (struct oxl_area){3, 3, rows, cols});
            oxl_list_key(&l, OXL_TERM_PAGE_DOWN);
        }
    oxl_canvas_free(c);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(keys_move_the_selection),
        cmocka_unit_test(what_is_typed_narrows_the_rows),
        cmocka_unit_test(a_click_selects_and_a_second_opens),
        cmocka_unit_test(it_stays_on_a_row_when_rows_go),
        cmocka_unit_test(a_menu_opens_by_number),
        cmocka_unit_test(a_text_scrolls_to_its_end_and_no_further),
        cmocka_unit_test(every_size_is_safe),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
