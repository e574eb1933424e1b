#include "oxylag/status.h"

#include <stdarg.h>
#include <stdio.h>

#include "oxylag/safe.h"

enum oxl_status oxl_fail(struct oxl_error *err, enum oxl_status status, const char *fmt, ...)
{
    if (!err)
        return status;
    err->status = status;
    va_list args;
    va_start(args, fmt);
    int n = vsnprintf(err->text, sizeof err->text, fmt, args);
    va_end(args);
    if (n < 0)
        err->text[0] = '\0';
    /* File names, option values and adapter text end up here; none may steer the terminal. */
    oxl_make_safe(err->text, "");
    return status;
}

enum oxl_exit oxl_exit_code(enum oxl_status status)
{
    switch (status) {
    case OXL_OK:
        return OXL_EXIT_OK;
    case OXL_ERR_USAGE:
    case OXL_ERR_IO: /* an --out that cannot be written is refused before the test starts */
        return OXL_EXIT_USAGE;
    case OXL_ERR_FORMAT:
        return OXL_EXIT_INPUT;
    case OXL_ERR_PORT_MISSING:
    case OXL_ERR_PORT_PERMISSION:
    case OXL_ERR_PORT_OPEN:
        return OXL_EXIT_PORT;
    case OXL_ERR_NO_ADAPTER:
    case OXL_ERR_NO_VEHICLE:
        return OXL_EXIT_SILENT;
    case OXL_ERR_LINK_LOST:
    case OXL_ERR_STOPPED:
        return OXL_EXIT_STOPPED;
    case OXL_ERR_UNSUITABLE:
        return OXL_EXIT_UNSUITABLE;
    case OXL_ERR_NOMEM:
    case OXL_ERR_INTERNAL:
        break;
    }
    return OXL_EXIT_INTERNAL;
}
