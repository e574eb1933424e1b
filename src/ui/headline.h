/* What to do now: a few words for letters three rows high, a sentence, and how urgent it is. */
#ifndef OXYLAG_UI_HEADLINE_H
#define OXYLAG_UI_HEADLINE_H

#include "model.h"

struct oxl_headline {
    const char *words; /* capitals, static */
    enum oxl_ink band;
    char sentence[300];
    enum oxl_ink sentence_ink;
};

/* Advice that does not change what to do now: shown for some seconds, the headline stays. */
bool oxl_headline_is_note(enum oxl_advice a);
void oxl_headline(const struct oxl_model *m, struct oxl_headline *out);
bool oxl_headline_link_is_down(const struct oxl_model *m);

#endif
