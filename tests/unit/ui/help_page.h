/* What a frame says, for the tests of who is told what. */
#ifndef HELP_PAGE_H
#define HELP_PAGE_H

#include "help_scene.h"

/* The page as lines of text; to be freed. */
char *page_text(const struct oxl_model *m, int rows, int cols);
bool page_has(const struct oxl_model *m, int rows, int cols, const char *text);
/* The word beside the gauge's figures on a drawn page, "" when there is none; NULL when the page
 * has no gauge. Good until the next call. */
const char *page_gauge_word(const struct oxl_canvas *c);
/* A state of the test and live values as one wants them, on a model of its own. */
struct page_case {
    enum oxl_state state;
    enum oxl_advice advice;
    double shift_pct;
    bool link_down, gas;
};
struct oxl_model *page_of(const struct page_case *c);
/* The live values once more, changed. */
void page_live(struct oxl_model *m, const struct page_case *c, int64_t now_us);

#endif
