/* Inside report: what the page of a vehicle's history takes from that of a test. */
#ifndef OXL_APP_REPORT_H
#define OXL_APP_REPORT_H

#include "opts.h"

/* Replays a file; of its test what was said is kept. */
enum oxl_status oxl_report_record(const struct oxl_opts *o, const char *file,
                                  struct oxl_test_record *out, struct oxl_error *err);
/* As text; as HTML or PDF in a process of its own. */
void oxl_report_page(const struct oxl_opts *o, const struct oxl_report_input *inputs, size_t n,
                     struct oxl_buf *out);
/* report --history */
enum oxl_status oxl_report_history(const struct oxl_opts *o, struct oxl_buf *out,
                                   struct oxl_error *err);

/* child_process.c: work in a process of its own, for libraries that end the process they run in. */
/* Lets `work` write into a buffer, in a child process, and adds what it wrote to *out. out->failed
 * is set when the work set it, when the child ended in any other way than in order, and when there
 * is no memory. `work` may change nothing else: what it changes is gone with the child. No other
 * thread may hold a lock that `work` needs, or memory's (a writer of a screen waits, and has none).
 */
void oxl_in_child_process(void (*work)(void *ctx, struct oxl_buf *out), void *ctx,
                          struct oxl_buf *out);

#endif
