/* Progress: a line on standard error for work that takes longer than a second, when standard
 * error is a terminal. */
#ifndef OXL_APP_PROGRESS_H
#define OXL_APP_PROGRESS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct oxl_progress {
    const char *what;
    bool on, shown;
    int64_t start_us, next_us;
    unsigned calls;
};

void oxl_progress_start(struct oxl_progress *p, const char *what, bool quiet);
/* Cheap: looks at the clock every few hundred calls only. progress: a struct oxl_progress. */
void oxl_progress(void *progress, size_t done, size_t all);
/* Wipes the line. */
void oxl_progress_end(struct oxl_progress *p);

#endif
