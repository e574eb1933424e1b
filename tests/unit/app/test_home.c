/* The home screen's menu and forms: how they look, and the command lines that are made of them. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "../ui/help_snapshot.h"
#include "app/home.h"

static struct oxl_settings settings;
static struct oxl_home_form form;

static void draw(struct oxl_screen *s, const char *name, int rows, int cols)
{
    struct oxl_canvas *c = oxl_canvas_new(rows, cols);
    oxl_screen_draw(s, c);
    snapshot_compare(c, name);
    oxl_canvas_free(c);
}

static void the_menu(void **state)
{
    (void)state;
    struct oxl_list l;
    oxl_home_menu(&l);
    struct oxl_screen s = {.title = "OXYLAG",
                           .sentence = "What do you want to do?",
                           .list = &l,
                           .command = oxl_home_command(OXL_HOME_TEST)};
    draw(&s, "home", 24, 80);
    draw(&s, "home", 40, 120);
    s.ascii = true;
    draw(&s, "home-ascii", 24, 80);
    assert_null(oxl_home_command(OXL_HOME_QUIT));
    oxl_home_scenarios(&l);
    s.ascii = false;
    draw(&s, "home-practise", 24, 80);
    oxl_home_practise_menu(&l);
    draw(&s, "home-practise-menu", 24, 80);
}

static void the_lessons_are_in_order_and_show_what_is_done(void **state)
{
    (void)state;
    struct oxl_list l;
    struct oxl_course c = {.best = {[0] = "6 of 12", [2] = "12 of 12"}};
    for (int i = 0; i + 1 < OXL_LESSONS; i++)
        c.there[i] = true;
    oxl_home_course(&l, &c);
    struct oxl_screen s = {.title = "LESSONS",
                           .sentence = "Kim: Take the lessons in order.",
                           .list = &l,
                           .command = "oxylag lessons"};
    draw(&s, "home-lessons", 24, 80);
    draw(&s, "home-lessons", 40, 120);
    s.ascii = true;
    draw(&s, "home-lessons-ascii", 24, 80);
}

/* The best try counts; one of another recording or by somebody else does not. */
static void the_best_try_is_found(void **state)
{
    (void)state;
    struct oxl_class_result tries[] = {
        {.trainee = "Ada", .sha256 = "a", .score = 3},
        {.trainee = "Ben", .sha256 = "a", .score = 9},
        {.trainee = "Ada", .sha256 = "a", .score = 7},
        {.trainee = "Ada", .sha256 = "a", .score = 5},
        {.trainee = "Ada", .sha256 = "b", .score = 12},
    };
    const struct oxl_class c = {.list = tries, .n = 5};
    assert_ptr_equal(oxl_class_best(&c, "Ada", "a"), &tries[2]);
    assert_null(oxl_class_best(&c, "Ben", "b"));
}

static void type(enum oxl_home_field which, const char *text)
{
    struct oxl_field *k = oxl_home_field(&form, which);
    assert_non_null(k);
    snprintf(k->text, sizeof k->text, "%s", text);
}

static const char *line(void)
{
    static char text[2048];
    struct oxl_args a;
    struct oxl_opts o;
    struct oxl_error err;
    oxl_home_args(&form, "/tmp/a b.jsonl", &a);
    oxl_args_shown(&a, text, sizeof text);
    assert_false(a.full);
    assert_int_equal(oxl_opts_parse(a.n, a.argv, &settings, &o, &err), OXL_OK);
    return text;
}

static void draw_form(const char *name)
{
    struct oxl_screen s = {
        .title = "TEST", .sentence = "Fill in what you know.", .form = &form.form};
    draw(&s, name, 24, 80);
}

static const struct oxl_port_info usb = {"/dev/ttyUSB0", "USB serial adapter, vendor 1", true,
                                         false},
                                  own = {"/dev/ttyS0", "built-in serial port", true, true},
                                  shut = {"/dev/ttyUSB1", "USB serial adapter", false, false};

static void a_form_makes_the_command(void **state)
{
    (void)state;
    const struct oxl_port_info ports[] = {own, usb, shut};
    const double age_s[] = {NAN, 5, 7200};
    memset(&form, 0, sizeof form);
    strcpy(settings.value[OXL_SET_TECHNICIAN], "Kim");
    oxl_home_form(&form, OXL_CMD_RUN, false, &settings);
    assert_string_equal(oxl_home_port(&form), "");
    oxl_home_form_ports(&form, ports, age_s, 3);
    assert_string_equal(oxl_home_port(&form), "/dev/ttyUSB0"); /* what is plugged in comes first */
    assert_string_equal(line(), "oxylag run --port /dev/ttyUSB0 --technician Kim --out "
                                "'/tmp/a b.jsonl'");
    draw_form("home-test");
    type(OXL_FIELD_ORDER, "47'11");
    type(OXL_FIELD_PLATE, "AB-CD 12");
    type(OXL_FIELD_ODOMETER, "123456 km");
    type(OXL_FIELD_VEHICLE, "--blue");
    type(OXL_FIELD_INLET, "after the air meter");
    type(OXL_FIELD_ADDRESS, "tcp:10.0.0.1:35000");
    oxl_home_field(&form, OXL_FIELD_BANK)->word = 1;
    assert_string_equal(line(), "oxylag run --port tcp:10.0.0.1:35000 --order '47'\\''11' --plate "
                                "'AB-CD 12' --odometer '123456 km' --vehicle --blue --technician "
                                "Kim --inlet 'after the air meter' --bank 2 --out "
                                "'/tmp/a b.jsonl'");
    draw_form("home-test-filled");
    oxl_home_form(&form, OXL_CMD_INSPECT, true, &settings); /* the same vehicle */
    assert_null(oxl_home_field(&form, OXL_FIELD_INLET));
    assert_non_null(strstr(line(), "oxylag inspect --port tcp:10.0.0.1:35000 --order '47'"));
    draw_form("home-inspect");
    oxl_home_form(&form, OXL_CMD_RUN, false, &settings); /* the next one: nobody else's plate */
    assert_string_equal(line(), "oxylag run --port tcp:10.0.0.1:35000 --technician Kim --out "
                                "'/tmp/a b.jsonl'");
}

/* After a link check the bank is asked for where there are two, and what was typed stays. */
static void the_bank_is_asked_for_where_there_are_two(void **state)
{
    (void)state;
    memset(&form, 0, sizeof form);
    memset(&settings, 0, sizeof settings);
    oxl_home_form(&form, OXL_CMD_INSPECT, false, &settings);
    type(OXL_FIELD_ORDER, "4711");
    oxl_home_field(&form, OXL_FIELD_BANK)->word = 1;
    oxl_home_form_banks(&form, true);
    assert_string_equal(line(), "oxylag inspect --order 4711 --bank 2 --out '/tmp/a b.jsonl'");
    oxl_home_form_banks(&form, false);
    assert_null(oxl_home_field(&form, OXL_FIELD_BANK));
    assert_int_equal(form.fields[form.form.n - 1].id, OXL_FIELD_BEGIN);
    assert_string_equal(line(), "oxylag inspect --order 4711 --out '/tmp/a b.jsonl'");
    oxl_home_form(&form, OXL_CMD_RUN, true, &settings); /* it is still that vehicle */
    assert_null(oxl_home_field(&form, OXL_FIELD_BANK));
    oxl_home_form_banks(&form, true); /* another port */
    assert_int_equal(form.fields[form.form.n - 2].id, OXL_FIELD_BANK);
    assert_int_equal(form.fields[form.form.n - 2].words_n, 2);
    oxl_home_form_banks(&form, false);
    oxl_home_form(&form, OXL_CMD_RUN, false, &settings); /* the next one */
    assert_non_null(oxl_home_field(&form, OXL_FIELD_BANK));
}

/* A port of the computer itself is never taken unasked; what was chosen stays chosen. */
static void ports_come_and_go(void **state)
{
    (void)state;
    const double age_s[] = {NAN, 5, NAN};
    const struct oxl_port_info first[] = {own}, then[] = {own, usb}, last[] = {shut, usb, own};
    memset(&form, 0, sizeof form);
    oxl_home_form(&form, OXL_CMD_RUN, false, &settings);
    oxl_home_form_ports(&form, first, age_s, 1);
    assert_string_equal(oxl_home_port(&form), "");
    draw_form("home-no-adapter");
    oxl_home_form_ports(&form, then, age_s, 2);
    assert_string_equal(oxl_home_port(&form), "/dev/ttyUSB0");
    oxl_home_form_ports(&form, last, age_s, 3);
    assert_string_equal(oxl_home_port(&form), "/dev/ttyUSB0");
    oxl_home_form_ports(&form, NULL, NULL, 0);
    assert_string_equal(oxl_home_port(&form), "");
}

static void a_practice_is_a_demo(void **state)
{
    (void)state;
    memset(&form, 0, sizeof form);
    strcpy(form.scenario, "aged");
    memset(&settings, 0, sizeof settings);
    oxl_home_form(&form, OXL_CMD_DEMO, false, &settings);
    assert_string_equal(line(), "oxylag demo --scenario aged --out '/tmp/a b.jsonl'");
    oxl_home_field(&form, OXL_FIELD_PORT)->word = 1;
    oxl_home_field(&form, OXL_FIELD_PACE)->word = 2;
    assert_string_equal(line(),
                        "oxylag demo --scenario aged --by-hand --rate 4 --out '/tmp/a b.jsonl'");
    draw_form("home-practise-form");
}

/* What the option would refuse is refused while it is typed. */
static void faults_are_those_of_the_options(void **state)
{
    (void)state;
    char why[200];
    memset(&form, 0, sizeof form);
    oxl_home_form(&form, OXL_CMD_RUN, false, &settings);
    assert_false(oxl_form_go_to_fault(&form.form));
    type(OXL_FIELD_ODOMETER, "many");
    assert_true(oxl_field_fault(oxl_home_field(&form, OXL_FIELD_ODOMETER), why, sizeof why));
    assert_string_equal(why, "found \"many\", expected a figure such as 123456 km");
    type(OXL_FIELD_ODOMETER, "");
    type(OXL_FIELD_PLATE, "a plate that is longer than any plate there is");
    assert_true(oxl_form_go_to_fault(&form.form));
    assert_ptr_equal(&form.fields[form.form.at], oxl_home_field(&form, OXL_FIELD_PLATE));
}

static void a_recording_has_a_free_name(void **state)
{
    (void)state;
    char folder[] = "/tmp/oxl-home-XXXXXX", name[200], second[200];
    assert_non_null(mkdtemp(folder));
    assert_true(oxl_home_file_name(folder, "20260101-120000", "47/11 \xC3\xBC", name, sizeof name));
    assert_string_equal(name + strlen(folder), "/20260101-120000-47_11___.jsonl");
    FILE *f = fopen(name, "w");
    assert_non_null(f);
    fclose(f);
    assert_true(
        oxl_home_file_name(folder, "20260101-120000", "47/11 \xC3\xBC", second, sizeof second));
    assert_string_equal(second + strlen(folder), "/20260101-120000-47_11___-2.jsonl");
    assert_true(oxl_home_file_name(folder, "20260101-120000", "", second, sizeof second));
    assert_string_equal(second + strlen(folder), "/20260101-120000.jsonl");
    assert_false(oxl_home_file_name(folder, "20260101-120000", "", second, 20));
    unlink(name);
    rmdir(folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_menu),
        cmocka_unit_test(the_lessons_are_in_order_and_show_what_is_done),
        cmocka_unit_test(the_best_try_is_found),
        cmocka_unit_test(a_form_makes_the_command),
        cmocka_unit_test(ports_come_and_go),
        cmocka_unit_test(a_practice_is_a_demo),
        cmocka_unit_test(faults_are_those_of_the_options),
        cmocka_unit_test(the_bank_is_asked_for_where_there_are_two),
        cmocka_unit_test(a_recording_has_a_free_name),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
