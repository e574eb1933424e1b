/* Folders of the user by the XDG base directory specification (from memory): $XDG_DATA_HOME, else
 * ~/.local/share; $XDG_CONFIG_HOME, else ~/.config; $XDG_CACHE_HOME, else ~/.cache. */
#ifndef OXL_APP_FOLDERS_H
#define OXL_APP_FOLDERS_H

#include <stdbool.h>

enum { OXL_FOLDER_MAX = 3000 };
/* Where recordings are kept, and what a class wrote. False: neither variable nor HOME is set. */
bool oxl_folder_data(char out[OXL_FOLDER_MAX]);
/* Settings. */
bool oxl_folder_config(char out[OXL_FOLDER_MAX]);
/* What may be deleted at any time. */
bool oxl_folder_cache(char out[OXL_FOLDER_MAX]);
/* Makes it and the folders above it, for their owner alone. */
bool oxl_folder_make(const char *folder);

#endif
