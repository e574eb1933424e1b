/* Opens a file with what the desktop has for it (xdg-open), beside this program. */
#ifndef OXL_APP_OPENER_H
#define OXL_APP_OPENER_H

#include <stdbool.h>
#include <stddef.h>

/* Its opener is written to program (n 0: not wanted). False: no desktop, or no opener. */
bool oxl_has_desktop(char *program, size_t n);
/* False: there is no desktop, or no opener. Whether the file was shown nobody says. */
bool oxl_open_on_desktop(const char *path);

#endif
