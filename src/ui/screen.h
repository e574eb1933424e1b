/* A screen around a list or a form: what it is, what to do now, what came of it, the command that
 * it stands for, and the keys. */
#ifndef OXYLAG_UI_SCREEN_H
#define OXYLAG_UI_SCREEN_H

#include "form.h"
#include "list.h"

struct oxl_screen {
    const char *title;     /* in the band at the top */
    const char *sentence;  /* what to do now */
    struct oxl_list *list; /* one of the two, or none */
    struct oxl_form *form;
    const char *note; /* what came of the last step; NULL: nothing */
    enum oxl_ink note_ink;
    const char *command;          /* the command line that does the same; NULL: none */
    const char *const (*keys)[2]; /* key and what it does, {NULL, NULL} at the end */
    bool ascii;
};

/* Any size is safe; one that is too small says so. */
void oxl_screen_draw(const struct oxl_screen *s, struct oxl_canvas *c);

#endif
