#include "inspect_run.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

struct checking {
    struct oxl_connection p;
    struct oxl_opts opts;
    struct oxl_link_check *out;
    struct oxl_inspect_watch watch;
};

static struct oxl_link_line *line(struct oxl_link_check *c, const char *name, enum oxl_grade grade,
                                  const char *advice, const char *format, ...)
    __attribute__((format(printf, 5, 6)));

static struct oxl_link_line *line(struct oxl_link_check *c, const char *name, enum oxl_grade grade,
                                  const char *advice, const char *format, ...)
{
    struct oxl_link_line *l = &c->lines[c->n < OXL_LINK_LINES ? c->n++ : OXL_LINK_LINES - 1];
    va_list args;
    l->name = name;
    l->grade = grade;
    snprintf(l->advice, sizeof l->advice, "%s", advice);
    va_start(args, format);
    vsnprintf(l->found, sizeof l->found, format, args);
    va_end(args);
    return l;
}

/* What is known of the port before it is opened. */
static void look_at_port(struct checking *k)
{
    const char *path = k->p.port;
    char who[128];
    if (path[0] != '/')
        return;
    if (access(path, R_OK | W_OK) == 0)
        line(k->out, "rights", OXL_GRADE_PASS, "", "%s may be opened by you", path);
    if (oxl_port_holder(path, who, sizeof who))
        line(k->out, "in use", OXL_GRADE_CAUTION,
             "Close that program: two at one adapter disturb each other.", "also open in %s", who);
}

/* Why it did not open: a line of its own, with the sentence that says what to do. */
static void refused(struct checking *k, const struct oxl_error *why)
{
    line(k->out, why->status == OXL_ERR_PORT_PERMISSION ? "rights" : "port", OXL_GRADE_STOP,
         why->text, "%s",
         why->status == OXL_ERR_PORT_PERMISSION ? "you may not open it"
         : why->status == OXL_ERR_PORT_MISSING  ? "there is no such port"
                                                : "it does not open");
}

/* ---- what was found -------------------------------------------------------------------------- */
static void adapter_lines(struct checking *k, const struct oxl_inspection *v)
{
    line(k->out, "adapter", OXL_GRADE_PASS, "", "%s answers",
         v->vehicle.adapter[0] ? v->vehicle.adapter : "an adapter that gives no name");
    if (k->p.link && k->p.link->has_speed && k->p.speed_baud)
        line(k->out, "speed", OXL_GRADE_PASS, "", "%u baud", k->p.speed_baud);
}

static void vehicle_lines(struct checking *k, const struct oxl_inspection *v)
{
    static const char *const shown[][2] = {{"link", "vehicle"},
                                           {"sensors-bank-1", "sensors"},
                                           {"sensors-bank-2", "bank 2"},
                                           {"refresh", "refresh"},
                                           {"sample-rate", "readings"}};
    for (size_t s = 0; s < sizeof shown / sizeof shown[0]; s++)
        for (size_t i = 0; i < v->checks_n; i++)
            if (strcmp(v->checks[i].id, shown[s][0]) == 0)
                line(k->out, shown[s][1], v->checks[i].grade, v->checks[i].advice, "%s",
                     v->checks[i].found);
    k->out->two_banks = v->pair[1].front_kind != OXL_SENSOR_NONE;
}

static enum oxl_status what_came(struct checking *k, struct oxl_error *err)
{
    const char *text = "";
    const struct oxl_inspection *v = oxl_inspect_found(k->p.core.inspect);
    enum oxl_status st = oxl_core_outcome(&k->p.core, &text);
    if (st != OXL_OK)
        st = oxl_fail(err, st, "%s", text);
    oxl_connection_explain(&k->p, err);
    if (st == OXL_ERR_NO_ADAPTER)
        line(k->out, "adapter", OXL_GRADE_STOP, err->text, "none answers at this port");
    if (st == OXL_ERR_NO_VEHICLE || st == OXL_OK || st == OXL_ERR_UNSUITABLE)
        adapter_lines(k, v);
    if (st == OXL_ERR_NO_VEHICLE)
        line(k->out, "vehicle", OXL_GRADE_STOP, err->text, "none answers the adapter");
    if (st == OXL_ERR_LINK_LOST)
        line(k->out, "link", OXL_GRADE_STOP, err->text, "it was there, and is lost");
    if (st == OXL_OK || st == OXL_ERR_UNSUITABLE)
        vehicle_lines(k, v);
    return st;
}

enum oxl_status oxl_link_check(const char *port, unsigned speed_baud, struct oxl_link_check *out,
                               bool (*step)(void *ctx, const char *now), void *ctx,
                               struct oxl_error *err)
{
    static struct checking k;
    struct oxl_record_header header;
    k = (struct checking){.opts = {.command = OXL_CMD_INSPECT,
                                   .speed_baud = speed_baud,
                                   .rate = 1,
                                   .seed = 1,
                                   .port = port},
                          .out = out,
                          .watch = {.now = "opening the port", .going = step, .ctx = ctx}};
    out->n = 0;
    oxl_inspect_start(&k.p, &k.opts);
    snprintf(k.p.port, sizeof k.p.port, "%s", port);
    look_at_port(&k);
    (void)step(ctx, k.watch.now);
    enum oxl_status st = oxl_inspect_ready(&k.p, &k.opts, &header, err);
    if (st == OXL_OK) {
        oxl_inspect_run(&k.p, &k.watch);
        st = what_came(&k, err);
    } else {
        refused(&k, err);
    }
    oxl_connection_close(&k.p);
    return st;
}
