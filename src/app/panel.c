#include "panel.h"

#include <stdlib.h>
#include <unistd.h>

#include "clock.h"
#include "event_sinks.h"
#include "output.h"

enum { FRAME_US = 100000, STEP_US = 1000000, ESC = 27 };

enum oxl_status oxl_panel_open(struct oxl_panel *p, const struct oxl_opts *o, struct oxl_error *err)
{
    const char *term = getenv("TERM");
    *p = (struct oxl_panel){.ascii = o->ascii || !oxl_draws_utf8()};
    oxl_final_output_pass(); /* what a command printed comes before the screen */
    oxl_signals_catch();
    p->canvas = oxl_canvas_new(24, 80);
    if (!p->canvas)
        return oxl_fail(err, OXL_ERR_NOMEM, "no memory for the screen");
    p->term = oxl_term_open(o->theme);
    if (!p->term) {
        oxl_panel_close(p);
        return oxl_fail(err, OXL_ERR_USAGE,
                        "the terminal \"%.40s\" is not known here: set TERM, or give a command "
                        "(oxylag --help)",
                        term ? term : "");
    }
    oxl_term_mouse(p->term);
    return OXL_OK;
}

void oxl_panel_close(struct oxl_panel *p)
{
    (void)oxl_term_close(p->term);
    oxl_canvas_free(p->canvas);
    p->term = NULL;
    p->canvas = NULL;
}

void oxl_panel_show(struct oxl_panel *p, struct oxl_screen *s)
{
    int rows, cols;
    if (oxl_was_stopped())
        oxl_term_again(p->term);
    oxl_term_size(p->term, &rows, &cols);
    if (!oxl_canvas_resize(p->canvas, rows, cols))
        return;
    s->ascii = p->ascii;
    oxl_screen_draw(s, p->canvas);
    oxl_term_show(p->term, p->canvas);
}

/* What a list or a form does with a key, in the panel's words; KEY: nothing. */
static enum oxl_panel_did feed(struct oxl_panel *p, struct oxl_screen *s, int key)
{
    int row = 0, col = 0;
    bool click = key == OXL_TERM_CLICK;
    if (click)
        oxl_term_clicked(p->term, &row, &col);
    if (s->list) {
        enum oxl_list_did did =
            click ? oxl_list_click(s->list, row, col) : oxl_list_key(s->list, key);
        if (did != OXL_LIST_NOTHING)
            return did == OXL_LIST_OPEN ? OXL_PANEL_OPEN : OXL_PANEL_NOTHING;
    }
    if (s->form) {
        enum oxl_form_did did =
            click ? oxl_form_click(s->form, row, col) : oxl_form_key(s->form, key);
        if (did != OXL_FORM_NOTHING)
            return did == OXL_FORM_PRESSED ? OXL_PANEL_OPEN : OXL_PANEL_NOTHING;
    }
    return click ? OXL_PANEL_NOTHING : OXL_PANEL_KEY;
}

enum oxl_panel_did oxl_panel_poll(struct oxl_panel *p, struct oxl_screen *s)
{
    if (oxl_signal_seen())
        return OXL_PANEL_BACK;
    int key = oxl_term_key(p->term);
    if (key == OXL_TERM_NONE || key == OXL_TERM_RESIZED)
        return OXL_PANEL_NOTHING;
    enum oxl_panel_did did = feed(p, s, key);
    p->key = key;
    return did == OXL_PANEL_KEY && (key == ESC || (key == 'q' && !s->form)) ? OXL_PANEL_BACK : did;
}

enum oxl_panel_did oxl_panel_step(struct oxl_panel *p, struct oxl_screen *s)
{
    int64_t until_us = oxl_wall_us() + STEP_US;
    while (!oxl_signal_seen() && oxl_wall_us() < until_us) {
        oxl_panel_show(p, s); /* ten a second: a frame that was skipped comes, and a new size */
        if (oxl_wait(-1, 0, STDIN_FILENO, oxl_wall_us() + FRAME_US))
            break;
    }
    return oxl_panel_poll(p, s);
}
