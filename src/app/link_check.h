/* The link check: may the port be opened, who else has it, does an adapter answer and a vehicle
 * behind it, which sensors, how often, how quickly. Each line says what to do next. */
#ifndef OXL_APP_LINK_CHECK_H
#define OXL_APP_LINK_CHECK_H

#include <stdbool.h>
#include <stddef.h>

#include "opts.h"
#include "oxylag/event.h"
#include "oxylag/status.h"

enum { OXL_LINK_LINES = 10 };
struct oxl_link_line {
    const char *name; /* in words; also the one of --json */
    enum oxl_grade grade;
    char found[256], advice[512];
};
struct oxl_link_check {
    struct oxl_link_line lines[OXL_LINK_LINES];
    size_t n;
    bool two_banks;
};

/* Fills *out line by line and calls `going` in between, ten times a second, with what the link does
 * just now; false leaves off. The status is that of `inspect`; the last line says why, too. */
enum oxl_status oxl_link_check(const char *port, unsigned speed_baud, struct oxl_link_check *out,
                               bool (*going)(void *ctx, const char *now), void *ctx,
                               struct oxl_error *err) OXL_MUST_CHECK;

/* ports --test */
enum oxl_status oxl_cmd_link_check(const struct oxl_opts *o, struct oxl_error *err);

/* Another process that has the file open: "name (process 123)". False: none that may be seen. */
bool oxl_port_holder(const char *path, char *out, size_t n);

#endif
