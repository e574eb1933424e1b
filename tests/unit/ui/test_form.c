/* A form: what keys and clicks fill in, what is refused while it is typed, and how it looks. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdio.h>
#include <string.h>

#include "help_snapshot.h"
#include "ui/screen.h"

enum { ORDER, PLATE, BANK, BEGIN, FIELDS };

static bool no_blank(int id, const char *text, char *why, size_t n)
{
    assert_int_equal(id, ORDER);
    snprintf(why, n, "no blank in an order number");
    return !strchr(text, ' ');
}

static bool eight_bytes(int id, const char *text, char *why, size_t n)
{
    assert_int_equal(id, PLATE);
    snprintf(why, n, "too long by %zu: at most 8 bytes are kept", strlen(text) - 8);
    return strlen(text) <= 8;
}

static const char *const banks[] = {"bank 1", "bank 2"};

static void fill(struct oxl_field *f)
{
    memset(f, 0, FIELDS * sizeof *f);
    f[ORDER].label = "Repair order";
    f[ORDER].hint = "Printed on the page; may stay empty.";
    f[ORDER].check = no_blank;
    f[PLATE].label = "Plate";
    f[PLATE].check = eight_bytes;
    f[PLATE].id = PLATE;
    f[BANK] =
        (struct oxl_field){.kind = OXL_FIELD_CHOICE, .label = "Bank", .words = banks, .words_n = 2};
    f[BEGIN] = (struct oxl_field){.kind = OXL_FIELD_BUTTON, .label = "Begin the test"};
}

static void draw(struct oxl_form *f, const char *name, int rows, int cols)
{
    static const char *const keys[][2] = {{"Enter", "next field"}, {"Esc", "back"}, {NULL, NULL}};
    struct oxl_screen s = {.title = "BEFORE THE TEST",
                           .sentence = "Fill in what you know; all of it may stay empty.",
                           .form = f,
                           .command = "oxylag run --port /dev/ttyUSB0 --order 4711",
                           .keys = keys};
    struct oxl_canvas *c = oxl_canvas_new(rows, cols);
    oxl_screen_draw(&s, c);
    if (name)
        snapshot_compare(c, name);
    oxl_canvas_free(c);
}

static void type(struct oxl_form *f, const char *text)
{
    for (; *text; text++)
        assert_int_equal(oxl_form_key(f, (unsigned char)*text), OXL_FORM_USED);
}

static void what_is_typed_goes_into_the_field(void **state)
{
    (void)state;
    struct oxl_field k[FIELDS];
    struct oxl_form f = {.fields = k, .n = FIELDS};
    fill(k);
    type(&f, "4711\n");
    assert_string_equal(k[ORDER].text, "4711");
    assert_int_equal(f.at, PLATE);
    type(&f, "\xC3\x9C 1");
    draw(&f, "form", 24, 80);
    oxl_form_key(&f, OXL_TERM_BACKSPACE);
    oxl_form_key(&f, OXL_TERM_BACKSPACE);
    oxl_form_key(&f, OXL_TERM_BACKSPACE); /* two bytes, one character */
    assert_string_equal(k[PLATE].text, "");
    oxl_form_key(&f, OXL_TERM_BACKSPACE);
    oxl_form_key(&f, '\t');
    oxl_form_key(&f, OXL_TERM_RIGHT);
    assert_int_equal(k[BANK].word, 1);
    oxl_form_key(&f, OXL_TERM_LEFT);
    oxl_form_key(&f, OXL_TERM_LEFT);
    assert_int_equal(k[BANK].word, 1); /* round */
    assert_int_equal(oxl_form_key(&f, 'x'), OXL_FORM_NOTHING);
    draw(&f, "form-choice", 24, 80);
    oxl_form_key(&f, OXL_TERM_DOWN);
    assert_int_equal(oxl_form_key(&f, '\n'), OXL_FORM_PRESSED);
    assert_int_equal(f.at, BEGIN);
    assert_int_equal(oxl_form_key(&f, OXL_TERM_BACK_TAB), OXL_FORM_USED);
    assert_int_equal(f.at, BANK);
    assert_int_equal(oxl_form_key(&f, 27), OXL_FORM_NOTHING); /* the owner's: back */
}

static void a_fault_is_said_as_it_is_typed(void **state)
{
    (void)state;
    struct oxl_field k[FIELDS];
    struct oxl_form f = {.fields = k, .n = FIELDS};
    char why[160];
    fill(k);
    assert_false(oxl_form_go_to_fault(&f));
    type(&f, "47 11\nABC 12345"); /* 9 bytes of 8 */
    draw(&f, "form-fault", 24, 80);
    assert_true(oxl_field_fault(&k[PLATE], why, sizeof why));
    f.at = BEGIN;
    assert_true(oxl_form_go_to_fault(&f));
    assert_int_equal(f.at, ORDER);
    oxl_form_key(&f, 21); /* Ctrl-U */
    assert_true(oxl_form_go_to_fault(&f));
    assert_int_equal(f.at, PLATE);
    oxl_form_key(&f, OXL_TERM_BACKSPACE);
    assert_false(oxl_form_go_to_fault(&f));
}

static void no_key_overruns_a_field(void **state)
{
    (void)state;
    struct oxl_field k[FIELDS];
    struct oxl_form f = {.fields = k, .n = FIELDS};
    fill(k);
    for (int i = 0; i < 2 * OXL_FIELD_BYTES; i++)
        oxl_form_key(&f, 'a' + i % 26);
    assert_int_equal(strlen(k[ORDER].text), OXL_FIELD_BYTES - 1);
    draw(&f, "form-long", 24, 80); /* the end is where one types */
}

static void a_click_goes_to_its_field(void **state)
{
    (void)state;
    struct oxl_field k[FIELDS];
    struct oxl_form f = {.fields = k, .n = FIELDS};
    fill(k);
    draw(&f, NULL, 24, 80);
    assert_int_equal(oxl_form_click(&f, f.rows.row + BANK, 30), OXL_FORM_USED);
    assert_int_equal(f.at, BANK);
    assert_int_equal(k[BANK].word, 0);
    oxl_form_click(&f, f.rows.row + BANK, 30);
    assert_int_equal(k[BANK].word, 1);
    assert_int_equal(oxl_form_click(&f, f.rows.row + BEGIN, 30), OXL_FORM_PRESSED);
    assert_int_equal(oxl_form_click(&f, f.rows.row + FIELDS, 30), OXL_FORM_NOTHING);
}

static void every_size_is_safe(void **state)
{
    (void)state;
    struct oxl_field k[FIELDS];
    struct oxl_form f = {.fields = k, .n = FIELDS};
    fill(k);
    f.at = BEGIN;
    draw(&f, "form", 16, 60);
    draw(&f, "form", 5, 20);
    for (int rows = 1; rows < 30; rows++)
        for (int cols = 1; cols < 90; cols += 7)
            draw(&f, NULL, rows, cols);
    struct oxl_canvas *c = oxl_canvas_new(30, 30);
    for (int rows = -2; rows < 8; rows++)
        for (int cols = -2; cols < 12; cols++) {
            oxl_form_draw(&f, c, (struct oxl_area){3, 3, rows, cols});
            oxl_form_key(&f, OXL_TERM_DOWN);
        }
    oxl_canvas_free(c);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_typed_goes_into_the_field),
        cmocka_unit_test(a_fault_is_said_as_it_is_typed),
        cmocka_unit_test(no_key_overruns_a_field),
        cmocka_unit_test(a_click_goes_to_its_field),
        cmocka_unit_test(every_size_is_safe),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
