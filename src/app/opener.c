#include "home.h"

#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

static bool find(const char *program, char *out, size_t n)
{
    const char *path = getenv("PATH");
    while (path && *path) {
        size_t len = strcspn(path, ":");
        int used = snprintf(out, n, "%.*s/%s", (int)len, path, program);
        if (len && used > 0 && (size_t)used < n && access(out, X_OK) == 0)
            return true;
        path += len;
        path += *path == ':';
    }
    return false;
}

static bool is_set(const char *name)
{
    const char *value = getenv(name);
    return value && value[0];
}

/* The grandchild has no terminal to write on and is nobody's to wait for. */
static void start(const char *program, const char *path)
{
    int null = open("/dev/null", O_RDWR);
    if (fork() != 0)
        _exit(0);
    setsid();
    for (int fd = 0; fd <= 2; fd++)
        dup2(null, fd);
    execl(program, program, path, (char *)NULL);
    _exit(127);
}

bool oxl_has_desktop(char *program, size_t n)
{
    char found[4096];
    if ((!is_set("DISPLAY") && !is_set("WAYLAND_DISPLAY")) ||
        !find("xdg-open", found, sizeof found))
        return false;
    snprintf(program, n, "%s", found);
    return true;
}

bool oxl_open_on_desktop(const char *path)
{
    char program[4096];
    if (!oxl_has_desktop(program, sizeof program))
        return false;
    pid_t child = fork();
    if (child == 0)
        start(program, path);
    return child > 0 && waitpid(child, NULL, 0) == child;
}
