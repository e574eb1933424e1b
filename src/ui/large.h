/* Letters and digits several rows high. One glyph is 3 to 5 by 5 points; a point at scale k is k
 * columns by k half rows, so it is about square: 3 rows high at scale 1, 5 at 2, 8 at 3, 10 at 4.
 * In ASCII scale 1 exists for figures only (as strokes), larger scales are made of '#'. */
#ifndef OXYLAG_UI_LARGE_H
#define OXYLAG_UI_LARGE_H

#include <stdbool.h>

#include "oxylag/ui.h"

int oxl_large_rows(int scale);
int oxl_large_cols(const char *text, int scale);
/* Can every character be drawn at this scale? */
bool oxl_large_can(const char *text, int scale, bool ascii);
/* Returns the columns used. Characters without a shape leave a space. */
int oxl_large_draw(struct oxl_canvas *c, int row, int col, const char *text, int scale,
                   enum oxl_ink ink, bool ascii);

#endif
