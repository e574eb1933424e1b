#include "inspect_run.h"

#include <stdio.h>

#include "commands.h"

static void print_line(void *ctx, const char *text, size_t n)
{
    (void)ctx;
    printf("%.*s\n", (int)n, text);
}

void oxl_inspect_say(void *opts, const struct oxl_event *ev)
{
    const struct oxl_opts *o = opts;
    static char text[OXL_RECORD_LINE_MAX];
    if (o->json) {
        size_t n = oxl_event_json(ev, o->mask_vin, text, sizeof text);
        if (n)
            print_line(NULL, text, n);
        fflush(stdout);
        return;
    }
    if (ev->kind == OXL_EV_LINK && ev->u.link.text[0] && !o->quiet)
        fprintf(stderr, "%s\n", ev->u.link.text);
}

enum oxl_status oxl_inspect_tell(const struct oxl_opts *o, const struct oxl_inspect *core,
                                 const struct oxl_record_header *h, int64_t t_us,
                                 const char *stopped_why, struct oxl_error *err)
{
    const char *text;
    const struct oxl_inspection *found = oxl_inspect_found(core);
    enum oxl_status st = oxl_inspect_outcome(core, &text);
    bool whole = st == OXL_OK || st == OXL_ERR_UNSUITABLE;
    if (whole && o->json)
        oxl_inspection_json(found, t_us, print_line, NULL);
    if (whole && !o->json) {
        static struct oxl_test_record of; /* its header alone counts */
        const struct oxl_report_input input = {.record = &of, .inspection = found};
        struct oxl_buf page = {0};
        of.header = *h;
        oxl_report_text(&input, 1, &page);
        oxl_print(&page);
    }
    if (st == OXL_ERR_STOPPED && stopped_why && stopped_why[0])
        return oxl_fail(err, st, "%s: nothing is known of the rest", stopped_why);
    return st == OXL_OK ? OXL_OK : oxl_fail(err, st, "%s", text);
}
