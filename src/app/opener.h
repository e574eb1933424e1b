/* Opens a file with what the desktop has for it (xdg-open), beside this program. */
#ifndef OXL_APP_OPENER_H
#define OXL_APP_OPENER_H

#include <stdbool.h>

/* False: there is no desktop, or no opener. Whether the file was shown nobody says. */
bool oxl_open_on_desktop(const char *path);

#endif
