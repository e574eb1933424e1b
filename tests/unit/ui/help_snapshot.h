/* Pictures of the screen: tests/screen/NAME-COLSxROWS.txt. */
#ifndef HELP_SNAPSHOT_H
#define HELP_SNAPSHOT_H

#include "oxylag/ui.h"

/* Fails when the drawing differs from the file; with OXL_ACCEPT=1 the file is written anew. */
void snapshot_compare(const struct oxl_canvas *c, const char *name);

#endif
