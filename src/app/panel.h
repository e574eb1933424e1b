/* The terminal between tests: shows a screen of a list or a form and hands on what was done there.
 */
#ifndef OXL_APP_PANEL_H
#define OXL_APP_PANEL_H

#include "opts.h"
#include "oxylag/status.h"
#include "oxylag/ui.h"
#include "ui/screen.h"

struct oxl_panel {
    struct oxl_term *term;
    struct oxl_canvas *canvas;
    bool ascii;
    int key; /* the last one */
};

enum oxl_panel_did {
    OXL_PANEL_NOTHING, /* a second went by, or something was moved or typed: draw again */
    OXL_PANEL_OPEN,    /* the list's selected row was opened, or the form's button pressed */
    OXL_PANEL_BACK,    /* Esc, or q where no text is typed; a signal, or the terminal is gone */
    OXL_PANEL_KEY      /* another key: p->key */
};

/* Of the options the theme and ASCII count. After a command had the terminal it is opened again. */
enum oxl_status oxl_panel_open(struct oxl_panel *p, const struct oxl_opts *o,
                               struct oxl_error *err) OXL_MUST_CHECK;
void oxl_panel_close(struct oxl_panel *p); /* restores the terminal */
void oxl_panel_show(struct oxl_panel *p, struct oxl_screen *s);
/* Shows the screen and waits up to a second for a key; list or form get it first. */
enum oxl_panel_did oxl_panel_step(struct oxl_panel *p, struct oxl_screen *s);
/* A key that is there already, and no waiting: for work that goes on meanwhile. */
enum oxl_panel_did oxl_panel_poll(struct oxl_panel *p, struct oxl_screen *s);

#endif
