#include "lessons.h"

#include <stdio.h>
#include <string.h>

#include "class.h"
#include "commands.h"
#include "record/event_parts.h"

const struct oxl_lesson oxl_lessons[OXL_LESSONS] = {
    {"good", "front lean, then nothing at the rear for many seconds"},
    {"dead", "the rear follows the front, and the leak check comes first all the same"},
    {"aged", "between the limits: repeat hot, compare with the on-board monitor"},
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

static void add_lesson(const struct oxl_opts *o, const struct oxl_lesson *l, struct oxl_buf *out)
{
    char text[512];
    struct oxl_json j;
    if (!o->json) {
        oxl_buf_add(out, "%2u  %-18s %s\n", oxl_lesson_number(l), l->name, l->title);
        return;
    }
    oxl_json_start(&j, text, sizeof text);
    oxl_json_open(&j, '{');
    oxl_json_member_integer(&j, "lesson", oxl_lesson_number(l));
    oxl_json_member_text(&j, "name", l->name);
    oxl_json_member_text(&j, "title", l->title);
    oxl_json_close(&j, '}');
    oxl_buf_put(out, text, oxl_json_done(&j));
    oxl_buf_put(out, "\n", 1);
}

static enum oxl_status add_class(const struct oxl_opts *o, struct oxl_buf *out,
                                 struct oxl_error *err)
{
    struct oxl_class c;
    enum oxl_status st = oxl_class_read(&c, err);
    if (st == OXL_OK && c.damaged && !o->quiet)
        fprintf(stderr, "oxylag: %zu lines of the class's results are damaged and left out\n",
                c.damaged);
    if (st == OXL_OK && o->csv)
        oxl_class_csv(&c, out);
    else if (st == OXL_OK && !o->json)
        oxl_class_text(&c, out);
    for (size_t i = 0; i < c.n && o->json; i++)
        oxl_class_json(&c.list[i], out);
    oxl_class_free(&c);
    return st;
}

enum oxl_status oxl_cmd_lessons(const struct oxl_opts *o, struct oxl_error *err)
{
    struct oxl_buf out = {0};
    enum oxl_status st = OXL_OK;
    if (o->class)
        st = add_class(o, &out, err);
    else
        for (size_t i = 0; i < OXL_LESSONS; i++)
            add_lesson(o, &oxl_lessons[i], &out);
    fputs(out.data ? out.data : "", stdout);
    oxl_buf_free(&out);
    return st;
}
