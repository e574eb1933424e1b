#include "progress.h"

#include <stdio.h>
#include <unistd.h>

#include "clock.h"

enum { CALLS = 256, FIRST_US = 1000000, STEP_US = 250000 };

void oxl_progress_start(struct oxl_progress *p, const char *what, bool quiet)
{
    *p = (struct oxl_progress){.what = what, .on = !quiet && isatty(STDERR_FILENO)};
    if (!p->on)
        return;
    p->start_us = oxl_wall_us();
    p->next_us = p->start_us + FIRST_US;
}

void oxl_progress(void *progress, size_t done, size_t all)
{
    struct oxl_progress *p = progress;
    if (!p->on || ++p->calls % CALLS || oxl_wall_us() < p->next_us)
        return;
    p->next_us = oxl_wall_us() + STEP_US;
    p->shown = true;
    fprintf(stderr, "\roxylag: %s, %3.0f %%", p->what,
            all ? 100.0 * (double)done / (double)all : 0.0);
    fflush(stderr);
}

void oxl_progress_end(struct oxl_progress *p)
{
    if (p->shown)
        fprintf(stderr, "\r%*s\r", 60, "");
    p->on = p->shown = false;
}
