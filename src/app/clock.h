/* Clock: the only door to the machine's time. */
#ifndef OXL_APP_CLOCK_H
#define OXL_APP_CLOCK_H

#include <stdbool.h>
#include <stdint.h>

/* Microseconds that never run backwards and go on while the machine sleeps. */
int64_t oxl_wall_us(void);

/* The same, but it stands still while the machine sleeps: the difference shows a sleep. */
int64_t oxl_awake_us(void);

/* Local date and time, ISO 8601 with offset; and in a form fit for file names. */
void oxl_wall_iso(char out[32]);
void oxl_wall_stamp(char out[24]);

/* Waits until one of the descriptors (-1 = none) is ready or until_us on the wall clock has come.
 * True: something was typed. */
bool oxl_wait(int link_fd, bool want_write, int keys_fd, int64_t until_us);

/* The program was stopped (SIGSTOP, job control) and continued since the last call. */
bool oxl_was_stopped(void);

/* Signals that end the program in an orderly way set a flag; it is read here. 0 = none. */
void oxl_signals_catch(void);
int oxl_signal_seen(void);
/* What it was, in words; NULL when none. */
const char *oxl_signal_words(void);

#endif
