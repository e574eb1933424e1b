#include "say.h"

#include <stdio.h>
#include <string.h>

void oxl_say_early(const struct oxl_result *r, char *line, size_t n)
{
    size_t used = strlen(line);
    if (r->ended_early && r->runs_wanted > 0)
        snprintf(line + used, n - used, "; ended early, %d were wanted", r->runs_wanted);
    else if (r->ended_early)
        snprintf(line + used, n - used, "; ended early");
}
