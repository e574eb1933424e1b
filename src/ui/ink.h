/* Which look a role has: a table, without a terminal, so that it can be checked. */
#ifndef OXYLAG_UI_INK_H
#define OXYLAG_UI_INK_H

#include "oxylag/ui.h"

enum { OXL_LOOK_BOLD = 1, OXL_LOOK_DIM = 2, OXL_LOOK_REVERSE = 4, OXL_LOOK_UNDERLINE = 8 };

struct oxl_paint {
    short fg, bg; /* colour numbers, -1 the terminal's own */
    unsigned look;
};

/* For a terminal with that many colours. With OXL_THEME_MONO the colours are both -1. */
struct oxl_paint oxl_ink_paint(enum oxl_ink ink, enum oxl_theme theme, int colours);

#endif
