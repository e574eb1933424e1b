/* ports --test: the link check on the command line. */
#include <stdio.h>
#include <string.h>

#include "clock.h"
#include "commands.h"
#include "inspect_run.h"

struct said {
    const struct oxl_opts *opts;
    char last[160];
};

/* Progress, as that of `inspect`. */
static bool going(void *ctx, const char *now)
{
    struct said *s = ctx;
    if (strcmp(now, s->last) != 0 && !s->opts->json)
        fprintf(stderr, "%s\n", now);
    snprintf(s->last, sizeof s->last, "%s", now);
    return true;
}

static void print_json(const struct oxl_link_line *l)
{
    oxl_print_json(json_pack("{s:s, s:s, s:s, s:s}", "check", l->name, "grade",
                             oxl_grade_name(l->grade), "found", l->found, "advice", l->advice));
}

static void print_line(const struct oxl_link_line *l)
{
    printf("%-8s %-9s %s\n", oxl_grade_name(l->grade), l->name, l->found);
    if (l->advice[0])
        printf("%-8s %-9s -> %s\n", "", "", l->advice);
}

enum oxl_status oxl_cmd_link_check(const struct oxl_opts *o, struct oxl_error *err)
{
    static struct oxl_link_check c;
    struct said said = {.opts = o};
    oxl_signals_catch();
    enum oxl_status st = oxl_link_check(o->test, o->speed_baud, &c, going, &said, err);
    for (size_t i = 0; i < c.n; i++)
        (o->json ? print_json : print_line)(&c.lines[i]);
    if (st == OXL_OK && !o->json)
        printf("The link works. Next: oxylag run --port %s\n", o->test);
    oxl_name_port(o->test, st == OXL_OK ? NULL : err);
    return st;
}
