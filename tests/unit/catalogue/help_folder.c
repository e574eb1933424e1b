#include "help_folder.h"

#define _XOPEN_SOURCE 700 /* mkdtemp(3) */
#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

const char *help_path(const char *folder, const char *name)
{
    static char paths[4][600];
    static unsigned turn;
    char *path = paths[turn++ % 4];
    snprintf(path, sizeof paths[0], "%s/%s", folder, name);
    return path;
}

char *help_folder(void)
{
    char *name = strdup("/tmp/oxylag-catalogue-XXXXXX");
    if (!name || !mkdtemp(name))
        abort();
    return name;
}

void help_folder_remove(char *folder)
{
    DIR *d = opendir(folder);
    const struct dirent *e;
    while (d && (e = readdir(d)))
        if (strcmp(e->d_name, ".") != 0 && strcmp(e->d_name, "..") != 0 &&
            unlink(help_path(folder, e->d_name)) != 0)
            (void)rmdir(help_path(folder, e->d_name));
    closedir(d);
    (void)rmdir(folder);
    free(folder);
}

void help_write(const char *folder, const char *name, const char *text, size_t n)
{
    FILE *f = fopen(help_path(folder, name), "w");
    if (!f || fwrite(text, 1, n, f) != n || fclose(f) != 0)
        abort();
}

struct oxl_record_header help_header(const char *started, const char *order)
{
    struct oxl_record_header h = {.version = OXL_RECORD_VERSION, .bank = 1};
    oxl_profile_defaults(&h.profile);
    snprintf(h.started, sizeof h.started, "%s", started);
    snprintf(h.order, sizeof h.order, "%s", order);
    snprintf(h.program, sizeof h.program, "0.2.0");
    return h;
}

void help_recording(const char *folder, const char *name, const struct oxl_record_header *h,
                    const char *lines)
{
    char header[OXL_RECORD_LINE_MAX];
    size_t n = oxl_record_encode_header(h, header, sizeof header), all = n + strlen(lines);
    char *text = malloc(all + 1);
    if (!text)
        abort();
    memcpy(text, header, n);
    memcpy(text + n, lines, strlen(lines) + 1);
    help_write(folder, name, text, all);
    free(text);
}

void help_test(const char *folder, const char *name, const char *started, const char *vin,
               const char *conclusion)
{
    char lines[1024];
    const struct oxl_record_header h = help_header(started, "4711");
    snprintf(lines, sizeof lines,
             "{\"t\":1,\"event\":{\"event\":\"vehicle\",\"vin\":\"%s\"}}\n"
             "{\"t\":2,\"event\":{\"event\":\"state\",\"state\":\"baseline\"}}\n"
             "{\"t\":7,\"event\":{\"event\":\"state\",\"state\":\"done\"}}\n"
             "{\"t\":8,\"event\":{\"event\":\"result\",\"verdict\":\"x\",\"conclusion\":\"%s\","
             "\"lead\":{\"text\":\"a figure\"}}}\n" HELP_END,
             vin, conclusion);
    help_recording(folder, name, &h, lines);
}
