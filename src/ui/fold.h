/* The last step of a drawing in ASCII mode: nothing beyond ASCII stays on the canvas. */
#ifndef OXYLAG_UI_FOLD_H
#define OXYLAG_UI_FOLD_H

#include "oxylag/ui.h"

void oxl_fold_ascii(struct oxl_canvas *c);

#endif
