/* ports, profiles, scenarios: lists for people and, with --json, for programs. */
#include <stdio.h>
#include <stdlib.h>

#include "commands.h"
#include "inspect_run.h"
#include "oxylag/sim.h"

enum { MAX_PORTS = 64 };

enum oxl_status oxl_cmd_ports(const struct oxl_opts *o, struct oxl_error *err)
{
    if (o->test)
        return oxl_cmd_link_check(o, err);
    static struct oxl_port_info ports[MAX_PORTS];
    size_t n;
    enum oxl_status st = oxl_ports(ports, MAX_PORTS, &n, err);
    if (st != OXL_OK)
        return st;
    if (n > MAX_PORTS)
        n = MAX_PORTS;
    for (size_t i = 0; i < n; i++)
        if (o->json)
            oxl_print_json(json_pack("{s:s, s:s, s:b}", "path", ports[i].path, "words",
                                     ports[i].words, "usable", (int)ports[i].usable));
        else
            printf("%-20s %s%s\n", ports[i].path, ports[i].words,
                   ports[i].usable ? "" : "  (no permission: join the group that owns it)");
    if (n == 0 && !o->json)
        printf("No serial port found. Plug the adapter in and look again; a wireless adapter\n"
               "must be paired first. Without a vehicle, try: oxylag demo\n");
    return OXL_OK;
}

static enum oxl_status print_profile(const char *name, struct oxl_error *err)
{
    struct oxl_profile p;
    enum oxl_status st = oxl_load_profile(name, &p, err);
    if (st != OXL_OK)
        return st;
    size_t n = oxl_profile_format(&p, NULL, 0);
    char *text = malloc(n + 1);
    if (!text)
        return oxl_fail(err, OXL_ERR_NOMEM, "no memory");
    oxl_profile_format(&p, text, n + 1);
    fputs(text, stdout);
    free(text);
    return OXL_OK;
}

static void print_name(const struct oxl_opts *o, const char *name, const char *title)
{
    if (o->json)
        oxl_print_json(json_pack("{s:s, s:s}", "name", name, "title", title));
    else
        printf("%-20s %s\n", name, title);
}

enum oxl_status oxl_cmd_profiles(const struct oxl_opts *o, struct oxl_error *err)
{
    if (o->files_n)
        return print_profile(o->files[0], err);
    for (size_t i = 0; i < oxl_profile_builtin_count(); i++) {
        struct oxl_profile p;
        enum oxl_status st = oxl_load_profile(oxl_profile_builtin_name(i), &p, err);
        if (st != OXL_OK)
            return st;
        print_name(o, oxl_profile_builtin_name(i), p.title);
    }
    return OXL_OK;
}

enum oxl_status oxl_cmd_scenarios(const struct oxl_opts *o, struct oxl_error *err)
{
    (void)err;
    for (size_t i = 0; i < oxl_scenario_builtin_count(); i++)
        print_name(o, oxl_scenario_builtin_name(i), oxl_scenario_builtin_title(i));
    return OXL_OK;
}
