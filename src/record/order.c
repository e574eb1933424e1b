/* Is a recording one test from its beginning to its end? Judged here alone, for replay and report.
 */
#include "oxylag/record.h"

#include <string.h>

/* A test begins in the pre-check, before its first run; one to which it comes back belongs to a
 * run. The event is compared as it is written. */
static bool begins_a_test(const struct oxl_line *line)
{
    static const char state[] = "{\"event\":\"state\",",
                      precheck[] = "\"state\":\"precheck\",\"run\":0}";
    if (line->kind != OXL_LINE_EVENT || line->n < sizeof state ||
        memcmp(line->bytes, state, sizeof state - 1) != 0)
        return false;
    for (size_t i = sizeof state - 1; i + sizeof precheck - 1 <= line->n; i++)
        if (memcmp(line->bytes + i, precheck, sizeof precheck - 1) == 0)
            return true;
    return false;
}

enum oxl_status oxl_record_in_order(struct oxl_record_order *o, const struct oxl_line *line,
                                    const char *file, unsigned lineno, struct oxl_error *err)
{
    if (o->ended)
        return oxl_fail(
            err, OXL_ERR_FORMAT,
            "%s line %u: goes on after the end of the test: it holds two recordings, or "
            "was added to; cut it before this line",
            file, lineno);
    if (line->t_us < o->last_us)
        return oxl_fail(
            err, OXL_ERR_FORMAT,
            "%s line %u: its time runs backwards, from %.6f to %.6f s: lines were moved "
            "or joined, and nothing can be timed from it",
            file, lineno, (double)o->last_us / 1e6, (double)line->t_us / 1e6);
    if (begins_a_test(line) && o->tests++ > 0)
        return oxl_fail(err, OXL_ERR_FORMAT,
                        "%s line %u: a second test begins here: give each a file of its own, with "
                        "its first line",
                        file, lineno);
    o->last_us = line->t_us;
    o->ended = line->kind == OXL_LINE_END;
    return OXL_OK;
}
