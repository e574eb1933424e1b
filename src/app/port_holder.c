/* Who has a port open: every process's descriptors, where they may be read (proc(5)). */
#include "inspect_run.h"

#include <dirent.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* fd: /proc/PID/fd */
static bool has_open(const char *fds, const char *real)
{
    char path[PATH_MAX], to[PATH_MAX];
    DIR *d = opendir(fds);
    bool found = false;
    for (struct dirent *e; d && !found && (e = readdir(d));) {
        snprintf(path, sizeof path, "%s/%s", fds, e->d_name);
        ssize_t n = readlink(path, to, sizeof to - 1);
        to[n > 0 ? n : 0] = '\0';
        found = n > 0 && strcmp(to, real) == 0;
    }
    if (d)
        closedir(d);
    return found;
}

static void name_of(const char *pid, char *out, size_t n)
{
    char path[64], name[64] = "a program";
    snprintf(path, sizeof path, "/proc/%.20s/comm", pid);
    FILE *f = fopen(path, "r");
    if (f && fgets(name, sizeof name, f))
        name[strcspn(name, "\n")] = '\0';
    if (f)
        fclose(f);
    snprintf(out, n, "%s (process %.20s)", name, pid);
}

bool oxl_port_holder(const char *path, char *out, size_t n)
{
    char fds[64], own[24];
    char *real = realpath(path, NULL);
    DIR *d = real ? opendir("/proc") : NULL;
    bool found = false;
    snprintf(own, sizeof own, "%ld", (long)getpid());
    for (struct dirent *e; d && !found && (e = readdir(d));) {
        if (e->d_name[0] < '1' || e->d_name[0] > '9' || strcmp(e->d_name, own) == 0)
            continue;
        snprintf(fds, sizeof fds, "/proc/%.20s/fd", e->d_name);
        found = has_open(fds, real);
        if (found)
            name_of(e->d_name, out, n);
    }
    if (d)
        closedir(d);
    free(real);
    return found;
}
