#include "lessons.h"

#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "class.h"
#include "commands.h"
#include "link/input_file.h"
#include "recordings.h"

const struct oxl_lesson oxl_lessons[OXL_LESSONS] = {
    {"good", "front lean, then nothing at the rear for many seconds"},
    {"dead", "the rear follows the front; yet the leak check comes first"},
    {"aged", "between the limits: repeat hot, compare the on-board monitor"},
    {"cool-converter", "too cool to store: warm it up, repeat at once"},
    {"over-propane", "too much gas makes the time short"},
    {"residual-propane", "gas that goes on coming: look at the front's slope"},
    {"switching-front", "which fall of a switching front is the release?"},
    {"kline", "three samples a second: the interval is what it is"},
    {"slow-rear", "a slow rear sensor lends a worn converter seconds"},
    {"dead-rear", "a rear that was never seen lean proves nothing"},
    {"leak-before-rear", "a leak ahead of the rear looks like a worn converter"},
    {"deeper-dead", "a fast trim takes out too little: one deeper run decides"},
};

const struct oxl_lesson *oxl_lesson_named(const char *name)
{
    const size_t n = strlen(name), stem = n > 6 && strcmp(name + n - 6, ".jsonl") == 0 ? n - 6 : n;
    for (size_t i = 0; i < OXL_LESSONS; i++)
        if (strlen(oxl_lessons[i].name) == stem && memcmp(oxl_lessons[i].name, name, stem) == 0)
            return &oxl_lessons[i];
    return NULL;
}

unsigned oxl_lesson_number(const struct oxl_lesson *l)
{
    return (unsigned)(l - oxl_lessons) + 1;
}

bool oxl_lesson_file(const struct oxl_lesson *l, char *out, size_t n)
{
    static const char *const folders[] = {"../share/oxylag/lessons", "../examples"};
    char program[PATH_MAX], path[PATH_MAX + 80], real[PATH_MAX];
    if (!realpath("/proc/self/exe", program))
        return false;
    const int folder = (int)(oxl_base_name(program) - program);
    for (size_t i = 0; i < sizeof folders / sizeof folders[0]; i++) {
        snprintf(path, sizeof path, "%.*s%s/%s.jsonl", folder, program, folders[i], l->name);
        if (access(path, R_OK) == 0 && realpath(path, real))
            return (size_t)snprintf(out, n, "%s", real) < n;
    }
    return false;
}

bool oxl_lesson_sha256(const char *path, char out[65])
{
    enum { MAX_BYTES = 16 << 20 };
    char *bytes;
    size_t n;
    if (oxl_read_bytes(path, MAX_BYTES, &bytes, &n, NULL) != OXL_OK)
        return false;
    oxl_sha256(bytes, n, out);
    free(bytes);
    return true;
}

static void print_lesson(const struct oxl_opts *o, const struct oxl_lesson *l)
{
    const unsigned number = oxl_lesson_number(l);
    if (o->json)
        oxl_print_json(json_pack("{s:i, s:s, s:s}", "lesson", (int)number, "name", l->name, "title",
                                 l->title));
    else
        printf("%2u  %-18s %s\n", number, l->name, l->title);
}

static enum oxl_status print_class(const struct oxl_opts *o, struct oxl_error *err)
{
    struct oxl_class c;
    struct oxl_buf out = {0};
    enum oxl_status st = oxl_class_read(&c, err);
    if (st == OXL_OK && c.damaged && !o->quiet)
        fprintf(stderr, "oxylag: %zu lines of the class's results are damaged and left out\n",
                c.damaged);
    if (st == OXL_OK && o->csv)
        oxl_class_csv(&c, &out);
    else if (st == OXL_OK && !o->json)
        oxl_class_text(&c, &out);
    for (size_t i = 0; i < c.n && o->json; i++)
        oxl_members_line(oxl_class_members, OXL_CLASS_MEMBERS, &c.list[i], &out);
    if (st == OXL_OK)
        st = oxl_print_whole(&out, err);
    oxl_class_free(&c);
    return st;
}

enum oxl_status oxl_cmd_lessons(const struct oxl_opts *o, struct oxl_error *err)
{
    if (o->class)
        return print_class(o, err);
    for (size_t i = 0; i < OXL_LESSONS; i++)
        print_lesson(o, &oxl_lessons[i]);
    return OXL_OK;
}
