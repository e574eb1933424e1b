/* Folders of the user by the XDG base directory specification (from memory): $XDG_DATA_HOME, else
 * ~/.local/share; $XDG_CONFIG_HOME, else ~/.config; $XDG_CACHE_HOME, else ~/.cache. */
#ifndef OXL_APP_FOLDERS_H
#define OXL_APP_FOLDERS_H

#include <stdbool.h>

enum { OXL_FOLDER_MAX = 3000 };
enum oxl_folder {
    OXL_FOLDER_DATA,   /* where recordings are kept, and what a class wrote */
    OXL_FOLDER_CONFIG, /* settings */
    OXL_FOLDER_CACHE   /* what may be deleted at any time */
};
/* False: neither its variable nor HOME is set. */
bool oxl_folder(enum oxl_folder which, char out[OXL_FOLDER_MAX]);
/* Makes it and the folders above it, for their owner alone. */
bool oxl_folder_make(const char *folder);

#endif
