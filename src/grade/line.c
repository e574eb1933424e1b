#include "line.h"

#include <stdarg.h>
#include <stdio.h>

struct oxl_check oxl_grade_line(const char *id, enum oxl_grade grade, const char *advice,
                                const char *fmt, ...)
{
    struct oxl_check c = {.grade = grade};
    va_list ap;
    snprintf(c.id, sizeof c.id, "%s", id);
    snprintf(c.advice, sizeof c.advice, "%s", advice);
    va_start(ap, fmt);
    if (vsnprintf(c.found, sizeof c.found, fmt, ap) < 0)
        c.found[0] = '\0';
    va_end(ap);
    return c;
}
