/* Output: the lines of --json and --plain on their way to a reader who may pause. In real time
 * nothing waits for the reader: up to 4 MiB are kept for them (OXL_WRITER_ROOM), lines after that
 * are counted, and when all that was kept has been taken the reader is told once how many there
 * were. In virtual time and in a replay nobody is held up, and every line waits for its reader. */
#ifndef OXL_APP_OUTPUT_H
#define OXL_APP_OUTPUT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "oxylag/out.h"

struct oxl_output {
    struct oxl_writer *writer; /* NULL: lines are printed, and waited for */
    bool json;
    uint64_t missed; /* lines since there was no more room */
    int error;       /* errno of printed lines that did not arrive; 0: all arrived */
};

/* live: in real time. False: no memory or no thread. */
bool oxl_output_open(struct oxl_output *o, bool json, bool live);
/* Whole lines, each with its newline. */
void oxl_output_lines(struct oxl_output *o, const char *text, size_t n, int64_t t_us);
/* Says what was missed once there is room again; t_us: the time by the session's clock. */
void oxl_output_tick(struct oxl_output *o, int64_t t_us);
/* All has been taken, and what was missed was said. */
bool oxl_output_done(struct oxl_output *o);
/* Why lines cannot be written, an errno; 0: they can. */
int oxl_output_error(const struct oxl_output *o);
void oxl_output_close(struct oxl_output *o);

/* ---- final_output.c: the program's end is not in the hand of whoever does not read its last words
 */
/* A test in real time or a dashboard is shown: what is printed from now on waits in memory until
 * the end, so that nothing is held up by a terminal or a pipe that takes nothing. */
void oxl_final_output_live(bool dashboard);
/* Whoever reads has had their time already. */
void oxl_final_output_hurry(void);

/* Around the last words, in main. In between the program ends with that code when they are not
 * taken: 0.2 s after a signal or in a hurry (true), else 1 s after a dashboard, 10 s after a test
 * that wrote lines, without limit after anything else. */
bool oxl_final_output_begin(int code);
void oxl_final_output_end(void);
/* Before a screen comes back: what was printed goes to the terminal, or is dropped where that takes
 * nothing. */
void oxl_final_output_pass(void);

#endif
