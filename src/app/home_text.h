/* A text to read on the screen: a page, the class's table. */
#ifndef OXL_APP_HOME_TEXT_H
#define OXL_APP_HOME_TEXT_H

#include "home.h"

struct oxl_home_text {
    struct oxl_buf bytes; /* the line ends become NUL */
    const char **lines;
    size_t n;
};
/* Its bytes into lines. False: no memory. */
bool oxl_home_text_split(struct oxl_home_text *t);
void oxl_home_text_read(struct oxl_home *h, const struct oxl_home_text *t, const char *title,
                        const char *sentence, const char *command);
void oxl_home_text_free(struct oxl_home_text *t);

#endif
