/* The list of past recordings on the screen: how it looks, what is found by typing, and that no
 * text of a recording steers it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "../ui/help_snapshot.h"
#include "app/home.h"
#include "oxylag/catalogue.h"

enum { ROWS = 4 };
static struct oxl_past rows[ROWS];
static struct oxl_catalogue past = {.rows = rows, .n = ROWS};

static void fill(struct oxl_past *r, const char *file, const char *started, const char *verdict)
{
    struct oxl_record_header h = {.bank = 1};
    snprintf(h.started, sizeof h.started, "%s", started);
    snprintf(h.plate, sizeof h.plate, "AB 123");
    snprintf(h.order, sizeof h.order, "4711");
    oxl_past_header(r, &h);
    snprintf(r->file, sizeof r->file, "%s", file);
    snprintf(r->vin, sizeof r->vin, "0XYLAGSM4R0000003");
    snprintf(r->verdict, sizeof r->verdict, "%s", verdict);
    snprintf(r->lead, sizeof r->lead, "stored oxygen at least 541 mg (good above 411 mg)");
    r->complete = true;
}

static int setup(void **state)
{
    (void)state;
    fill(&rows[0], "after.jsonl", "2026-11-30T07:35:00+01:00", "good");
    snprintf(rows[0].before, sizeof rows[0].before, "before.jsonl");
    fill(&rows[1], "before.jsonl", "2026-11-02T07:35:00+01:00", "not bad");
    rows[1].plate[0] = '\0';
    fill(&rows[2], "stopped.jsonl", "2026-11-01T07:35:00+01:00", "");
    snprintf(rows[2].why, sizeof rows[2].why, "stopped: \x1b[2J\n");
    oxl_past_unreadable(&rows[3], "it is empty");
    snprintf(rows[3].file, sizeof rows[3].file, "x\n\x1b[31m.jsonl");
    return 0;
}

static void draw(struct oxl_list *l, const char *name, int high, int wide, bool ascii)
{
    struct oxl_canvas *c = oxl_canvas_new(high, wide);
    struct oxl_screen s = {
        .title = "PAST RECORDINGS", .sentence = "Pick a recording.", .list = l, .ascii = ascii};
    oxl_screen_draw(&s, c);
    snapshot_compare(c, name);
    oxl_canvas_free(c);
}

static void looks(void **state)
{
    (void)state;
    struct oxl_list l;
    oxl_home_past(&l, &past);
    draw(&l, "past", 24, 80, false);
    draw(&l, "past", 40, 120, false);
    draw(&l, "past", 10, 40, false);
    draw(&l, "past-ascii", 24, 80, true);
    const struct oxl_catalogue none = {0};
    oxl_home_past(&l, &none);
    draw(&l, "past-none", 24, 80, false);
}

static size_t found(const char *typed)
{
    struct oxl_list l;
    size_t n = 0;
    oxl_home_past(&l, &past);
    for (const char *c = typed; *c; c++)
        (void)oxl_list_key(&l, *c);
    for (size_t row = 0; row < past.n && oxl_list_has(&l); row++, n++) {
        const size_t was = l.selected;
        (void)oxl_list_key(&l, OXL_TERM_DOWN);
        if (l.selected == was)
            return n + 1;
    }
    return n;
}

/* Also by what has no room in its column: the file, the order behind a plate. */
static void by_typing(void **state)
{
    (void)state;
    assert_int_equal(found("good"), 2); /* two have it in the figure */
    assert_int_equal(found("not bad"), 1);
    assert_int_equal(found("2026-11-3"), 1);
    assert_int_equal(found("4711"), 3);
    assert_int_equal(found("after.jsonl"), 1);
    assert_int_equal(found("unreadable"), 1);
    assert_int_equal(found("nothing"), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(looks, setup),
        cmocka_unit_test_setup(by_typing, setup),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
