/* Work in a process of its own, for libraries that end the process they run in. */
#ifndef OXL_APP_CHILD_PROCESS_H
#define OXL_APP_CHILD_PROCESS_H

#include "oxylag/report.h"

/* Lets `work` write into a buffer, in a child process, and adds what it wrote to *out. out->failed
 * is set when the work set it, when the child ended in any other way than in order, and when there
 * is no memory. `work` may change nothing else: what it changes is gone with the child. No other
 * thread may hold a lock that `work` needs, or memory's (a writer of a screen waits, and has none).
 */
void oxl_in_child_process(void (*work)(void *ctx, struct oxl_buf *out), void *ctx,
                          struct oxl_buf *out);

#endif
