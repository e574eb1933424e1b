#include "settings.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

/* A variable that holds no absolute path is ignored, as the specification says. */
bool oxl_folder(enum oxl_folder which, char out[OXL_FOLDER_MAX])
{
    static const char *const names[][2] = {[OXL_FOLDER_DATA] = {"XDG_DATA_HOME", ".local/share"},
                                           [OXL_FOLDER_CONFIG] = {"XDG_CONFIG_HOME", ".config"},
                                           [OXL_FOLDER_CACHE] = {"XDG_CACHE_HOME", ".cache"}};
    const char *base = getenv(names[which][0]), *home = getenv("HOME");
    int n = -1;
    if (base && base[0] == '/')
        n = snprintf(out, OXL_FOLDER_MAX, "%s/oxylag", base);
    else if (home && home[0] == '/')
        n = snprintf(out, OXL_FOLDER_MAX, "%s/%s/oxylag", home, names[which][1]);
    return n > 0 && n < OXL_FOLDER_MAX;
}

bool oxl_folder_make(const char *path)
{
    char part[OXL_FOLDER_MAX];
    for (const char *slash = strchr(path + 1, '/'); slash; slash = strchr(slash + 1, '/')) {
        snprintf(part, sizeof part, "%.*s", (int)(slash - path), path);
        if (mkdir(part, 0700) != 0 && errno != EEXIST)
            return false;
    }
    return mkdir(path, 0700) == 0 || errno == EEXIST;
}
