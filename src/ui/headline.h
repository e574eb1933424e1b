/* What to do now: a few words for letters three rows high, a sentence, and how urgent it is. */
#ifndef OXYLAG_UI_HEADLINE_H
#define OXYLAG_UI_HEADLINE_H

#include "model.h"

struct oxl_headline {
    enum oxl_advice advice; /* what it is about, and so the hand: one source for every word */
    enum oxl_hand hand;
    const char *words; /* capitals, static */
    enum oxl_ink band;
    char sentence[OXL_DETAIL + 172],
        note[OXL_DETAIL + 172]; /* note: beside a sentence that asks for a hand; "" none */
    enum oxl_ink sentence_ink, note_ink;
};

/* The advice that stands, whatever was said last: the valve comes first. Never a note. */
enum oxl_advice oxl_headline_advice(const struct oxl_model *m);
struct oxl_headline oxl_headline(const struct oxl_model *m);
/* The headline is the verdict. */
bool oxl_headline_is_verdict(const struct oxl_model *m);
/* There is a verdict, and the headline has something more urgent to say. */
bool oxl_headline_hides_verdict(const struct oxl_model *m);
bool oxl_headline_link_is_down(const struct oxl_model *m);
/* The technician says that the converter is new. */
bool oxl_headline_is_new(const struct oxl_model *m);
/* ... where that had been asked: the question does not stay. */
bool oxl_headline_noted_new(const struct oxl_model *m);
/* It asks for somebody's hand now, at the valve or elsewhere: no other page may hide it. */
bool oxl_headline_asks_a_hand(enum oxl_advice a);

#endif
