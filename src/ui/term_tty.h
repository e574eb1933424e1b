/* The terminal below curses: its modes, its size, and the bytes on their way to it. Curses draws on
 * a page in memory; what lies there goes to a writer that waits for the terminal in our place. */
#ifndef OXYLAG_TERM_TTY_H
#define OXYLAG_TERM_TTY_H

#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <termios.h>

#include "oxylag/out.h"
#include "oxylag/ui.h"

struct oxl_tty {
    FILE *page; /* what curses writes to: a file in memory, so that it never waits */
    struct oxl_writer *writer;
    struct termios before, during;
    struct sigaction on_stop, on_resize; /* as they were */
    int rows, cols;
    int skipped; /* frames in a row that found the last one not yet taken */
};

/* Standard input and output are terminals; nothing is changed yet. False: no memory, no thread. */
bool oxl_tty_open(struct oxl_tty *t);
/* Before curses: size and signals. */
void oxl_tty_begin(struct oxl_tty *t);
/* After curses, which ends the process when it has no memory to start: keys one by one, unseen, and
 * none of them stops the output, the program or its screen. */
void oxl_tty_modes(struct oxl_tty *t);
/* The size has changed since the last call, or since the beginning. */
bool oxl_tty_resized(struct oxl_tty *t);
/* The last frame is on its way to whoever looks. False: it is not, and a frame is skipped. */
bool oxl_tty_free(struct oxl_tty *t);
/* The terminal takes nothing for longer than a busy machine explains. */
bool oxl_tty_stalled(const struct oxl_tty *t);
/* Sends what curses has written; false: it did not fit and is lost. */
bool oxl_tty_send(struct oxl_tty *t);
/* Sends the last of it and puts all back as it was. Takes no more than 0.2 s; false: the terminal
 * did not take it by then. */
bool oxl_tty_end(struct oxl_tty *t);
/* Frees; after _open alone too. */
void oxl_tty_close(struct oxl_tty *t);

/* ---- ink.c: which look a role has: a table, without a terminal, so that it can be checked. */
enum { OXL_LOOK_BOLD = 1, OXL_LOOK_DIM = 2, OXL_LOOK_REVERSE = 4, OXL_LOOK_UNDERLINE = 8 };

struct oxl_paint {
    short fg, bg; /* colour numbers, -1 the terminal's own */
    unsigned look;
};

/* For a terminal with that many colours. With OXL_THEME_MONO the colours are both -1. */
struct oxl_paint oxl_ink_paint(enum oxl_ink ink, enum oxl_theme theme, int colours);

#endif
