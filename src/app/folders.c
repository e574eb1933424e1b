#include "folders.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

/* A variable that holds no absolute path is ignored, as the specification says. */
static bool folder(const char *variable, const char *below_home, char out[OXL_FOLDER_MAX])
{
    const char *base = getenv(variable), *home = getenv("HOME");
    int n = -1;
    if (base && base[0] == '/')
        n = snprintf(out, OXL_FOLDER_MAX, "%s/oxylag", base);
    else if (home && home[0] == '/')
        n = snprintf(out, OXL_FOLDER_MAX, "%s/%s/oxylag", home, below_home);
    return n > 0 && n < OXL_FOLDER_MAX;
}

bool oxl_folder_data(char out[OXL_FOLDER_MAX])
{
    return folder("XDG_DATA_HOME", ".local/share", out);
}

bool oxl_folder_config(char out[OXL_FOLDER_MAX])
{
    return folder("XDG_CONFIG_HOME", ".config", out);
}

bool oxl_folder_cache(char out[OXL_FOLDER_MAX])
{
    return folder("XDG_CACHE_HOME", ".cache", out);
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
