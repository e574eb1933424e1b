/* Leave: the program's end is not in the hand of whoever does not read its last words. */
#ifndef OXL_APP_FINAL_OUTPUT_H
#define OXL_APP_FINAL_OUTPUT_H

#include <stdbool.h>

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
